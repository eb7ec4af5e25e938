"""Other identifiers for the messages of a line that can be given one, so that everything is in time.

The order of deadlines is tried first, with only the late ones free and then with all that can be chosen; where that is not
enough, levels are filled from the lowest up (`engines/priority_orders.py`). All states of the vehicle must hold. What no choice
can help is set aside, so that the others are. Every proposal is judged by all rules before it is offered.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from loomwright.engines.flows import Flows
from loomwright.engines.priority_orders import Assignment, assign, order_of
from loomwright.laws.wire_order import wire_order
from loomwright.model.speech import Speech, speech_of
from loomwright.model.vehicle import Vehicle
from loomwright.propose.traffic_free import FreeIdentifiers, fewest_new, is_awaited
from loomwright.propose.traffic_judged import Ask, Judged, tried
from loomwright.solve.responses import LineFlows, LineResponses, Response, line_flows
from loomwright.solve.streams import Stream
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Known

Told = Callable[[int, int], bool]

IN_TIME = "everything is in time"
FOUND = "everything would be in time"
FEWER = "fewer would be late"
FIRMER = "everything stays in time, with more to spare"
NONE = "no choice of identifiers puts everything in time"
UNDECIDED = "no better choice was found"
NOTHING = "no identifier can be chosen"
BLOCKED = "waits for open facts"

_LONG = 1 << 56
"""Deadline in ticks of what no choice can help: so long that it always holds, and still fits the engine."""
_SLOT = 1 << 8
"""Ranks on the wire are spread by so much, that two of the same identifier are two."""
HALVINGS = 8
"""So often the range of the least slack is halved: to a 256th of the deadlines."""
MOST_TESTS = 5_000
"""A search asks so often whether a deadline is met, at most; then it says "undecided"."""
WORTH = 0.01
"""Firmer identifiers are offered where the least slack grows by so much of its deadline."""


@dataclass(frozen=True, slots=True)
class NewIdentifier:
    """A message of the line and the identifiers it has and would have."""

    message: str
    path: Path
    sender: str
    extended: bool
    before: int
    after: int


@dataclass(frozen=True, slots=True)
class IdentifierProposal:
    """What other identifiers would do for a line.

    ``late`` and ``least_share`` (the smallest slack of any message over its deadline; minus infinity without a bound)
    are before and after. ``set_aside``: late messages that were given up so that the others are in time; ``proved``: that
    no choice puts everything in time, as far as identifiers go. ``change`` is there only if it was judged and broke nothing;
    ``breaks`` names what a choice would have broken.
    """

    line: str
    status: str
    change: Change | None = None
    new: tuple[NewIdentifier, ...] = ()
    late: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
    least_share: tuple[float, float] = (0.0, 0.0)
    by: str = ""
    set_aside: tuple[str, ...] = ()
    proved: bool = False
    cured: tuple[tuple[str, str], ...] = ()
    breaks: tuple[tuple[str, str], ...] = ()
    blocked_by: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True)
class _Line:
    """A line as the engine takes it, all states at once: who is sent with whom, and which flows have to keep their rank."""

    streams: tuple[Stream, ...]
    flows: LineFlows
    together: tuple[frozenset[int], ...]
    ranks: tuple[int, ...]
    choosable: frozenset[int]
    free: FreeIdentifiers


def identifiers(
    vehicle: Vehicle,
    line: str,
    before: Judged,
    ask: Ask,
    *,
    firmer: bool = False,
    told: Told = lambda _done, _all: True,
) -> IdentifierProposal:
    """Look for other identifiers on a line. ``firmer``: also where all is in time, for the most to spare.

    Raises StoppedError if ``told`` answers no.
    """
    found = before.traffic.responses[line]
    if isinstance(found, Blocked):
        return IdentifierProposal(line, BLOCKED, blocked_by=found.by)
    responses = found.value.responses
    late = _late(responses)
    was = (late, late), (_least(responses),) * 2
    speech = speech_of(vehicle)
    built = _line(speech, line, before.traffic.on(line), found.value)
    if isinstance(built, Blocked):
        return IdentifierProposal(line, BLOCKED, blocked_by=built.by)
    if not late and not firmer:
        return IdentifierProposal(line, IN_TIME, None, (), *was)
    if built is None or not built.choosable:
        return IdentifierProposal(line, NOTHING if late else IN_TIME, None, (), *was)
    best = IdentifierProposal(line, UNDECIDED if late else IN_TIME, None, (), *was)
    late_now = {(each.stream.path, each.stream.part) for each in responses if each.slack_s < 0.0}
    late_flows = frozenset(at for at, each in enumerate(built.streams) if (each.path, each.part) in late_now)
    attempts = [late_flows & built.choosable, built.choosable] if late else [built.choosable]
    for choosable in filter(None, attempts):
        if late:
            found_one = _assigned(built, choosable, late_flows, told)
        else:
            found_one = _Found(_firmest(built, choosable, best.least_share[0], told))
        best = replace(best, proved=best.proved or (found_one.proved and choosable == built.choosable))
        if found_one.assignment.status == "found":
            one = _judged(vehicle, line, before, ask, built, found_one, best)
            best = one if one is not None and _better(one, best) else best
        if best.change is not None and not best.late[1]:
            break
    if best.change is None and late and best.proved:
        return replace(best, status=NONE)
    return best


def _line(speech: Speech, line: str, streams: tuple[Stream, ...], found: LineResponses) -> _Line | Blocked | None:
    """``None`` where what a gateway brings along, or a jitter, has no bound: that must be cured first."""
    inherited = found.inherited()
    if any(due == float("inf") for due in inherited.values()):
        return None
    # Without a state everything counts as sent.
    built = line_flows(speech, line, streams, "", inherited)
    if isinstance(built, Blocked):
        return built
    own = built.value.streams
    if not own or built.value.endless < len(own):
        return None
    together = tuple(
        frozenset(at for at, each in enumerate(own) if each.is_sent_in(state)) for state in speech.states or ("",)
    )
    free = FreeIdentifiers(speech, line, own)
    choosable = frozenset(
        at
        for at, each in enumerate(own)
        if each.programmable and not each.part and not is_awaited(speech, each) and not free.is_kept(each)
    )
    ranks = tuple(
        wire_order(each.identifier or 0, extended=each.extended) * _SLOT + at % _SLOT for at, each in enumerate(own)
    )
    return _Line(own, built.value, together, ranks, choosable, free)


@dataclass(frozen=True, slots=True)
class _Found:
    """An assignment, the flows that were set aside for it, and whether it is proved that all together cannot hold."""

    assignment: Assignment
    aside: frozenset[int] = frozenset()
    proved: bool = False


def _assigned(line: _Line, choosable: frozenset[int], late: frozenset[int], told: Told) -> _Found:
    """An assignment; where there is none, one with late flows set aside, as few as the search comes upon."""
    aside: frozenset[int] = frozenset()
    proved = False
    while True:
        found = _asked(line, choosable, _with_long_deadlines(line.flows.flows, aside), told)
        proved = proved or (not aside and found.status == "none")
        more = [flow for flow in found.stuck if flow in late and flow not in aside]
        if found.status == "found" or not more:
            return _Found(found, aside, proved)
        # Of several late ones the one that is soonest due is set aside first.
        flows = line.flows.flows
        aside |= {min(more, key=lambda flow: int(flows.deadline[flow] - flows.jitter[flow]))}


def _firmest(line: _Line, choosable: frozenset[int], share: float, told: Told) -> Assignment:
    """The assignment with the largest least slack, by halving: every deadline is cut by the same share of itself."""
    low, high, best = max(share, 0.0), 1.0, Assignment("undecided")
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        flows = line.flows.flows
        cut = replace(flows, deadline=np.maximum(1, (flows.deadline * (1.0 - middle)).astype(np.int64)))
        found = _asked(line, choosable, cut, told)
        low, high, best = (middle, high, found) if found.status == "found" else (low, middle, best)
    return best


def _asked(line: _Line, choosable: frozenset[int], flows: Flows, told: Told) -> Assignment:
    fixed = [None if at in choosable else rank for at, rank in enumerate(line.ranks)]
    slots = _slots(line, choosable)
    if len(slots) < len(choosable):
        return Assignment("undecided")
    bit, faults = line.flows.tick_per_bit, line.flows.faults
    return assign(flows, fixed, slots, bit, faults, together=line.together, most_tests=MOST_TESTS, told=told)


def _with_long_deadlines(flows: Flows, aside: frozenset[int]) -> Flows:
    deadline = flows.deadline.copy()
    deadline[np.array(sorted(aside), dtype=np.int64)] = _LONG
    return replace(flows, deadline=deadline)


def _names(line: _Line, flows: frozenset[int]) -> tuple[str, ...]:
    return tuple(line.streams[flow].name for flow in sorted(flows))


def _slots(line: _Line, choosable: frozenset[int]) -> tuple[int, ...]:
    """Ranks that are free, as many between two fixed flows as could be wanted there, spread evenly."""
    given = frozenset(each for at in choosable if (each := line.streams[at].identifier) is not None)
    ranks = {
        wire_order(number, extended=line.streams[at].extended) * _SLOT
        for at in choosable
        for number in line.free.of(line.streams[at], given=given)
    }
    marks = sorted(rank for at, rank in enumerate(line.ranks) if at not in choosable)
    chosen: list[int] = []
    for low, high in zip([-1, *marks], [*marks, 1 << 62], strict=True):
        between = sorted(
            rank for rank in ranks if low < rank < high and rank // _SLOT not in (low // _SLOT, high // _SLOT)
        )
        step = max(1, len(between) // len(choosable))
        chosen += between[::step][: len(choosable)]
    return tuple(chosen)


def _judged(
    vehicle: Vehicle,
    line: str,
    before: Judged,
    ask: Ask,
    built: _Line,
    found: _Found,
    best: IdentifierProposal,
) -> IdentifierProposal | None:
    """The proposal of an order, with the fewest new identifiers, tried on the vehicle."""
    order = order_of(found.assignment.identifiers)
    fixed = {at for at, flow in enumerate(order) if flow not in built.choosable}
    streams = [built.streams[flow] for flow in order]
    numbers = fewest_new(streams, fixed, built.free)
    if not numbers:
        return None
    new = tuple(
        NewIdentifier(each.message, each.path, each.sender, each.extended, each.identifier or 0, numbers[at])
        for at, each in enumerate(streams)
        if at in numbers
    )
    edits = tuple(Edit((*each.path, "identifier"), Known(each.after)) for each in new)
    title = (
        f"Send {new[0].message} under another identifier" if len(new) == 1 else "Send messages under other identifiers"
    )
    change = Change(f"{title} on line {line}", edits)
    difference = tried(vehicle, change, before, ask)
    if difference is None:
        return None
    after = difference.after.traffic.responses[line]
    if isinstance(after, Blocked):
        return None
    late, share = _late(after.value.responses), _least(after.value.responses)
    more_to_spare = share > best.least_share[0] + WORTH
    if best.late[0]:
        status = FOUND if not late else FEWER if len(late) < len(best.late[0]) else UNDECIDED
        offered = bool(difference.cured) and not difference.breaks and status != UNDECIDED
    else:
        status = FIRMER
        offered = more_to_spare and not difference.breaks
    return IdentifierProposal(
        line, status if offered else best.status, change if offered else None, new, (best.late[0], late),
        (best.least_share[0], share), found.assignment.by, _names(built, found.aside), best.proved,
        difference.cured, difference.breaks,
    )  # fmt: skip


def _better(one: IdentifierProposal, other: IdentifierProposal) -> bool:
    """Offered before not offered, then fewer late, then fewer new identifiers."""

    def rank(each: IdentifierProposal) -> tuple[bool, int, int]:
        return each.change is None, len(each.late[1]), len(each.new)

    return (other.change is None and not other.new) or rank(one) < rank(other)


def _late(responses: tuple[Response, ...]) -> tuple[str, ...]:
    return tuple(each.stream.name for each in responses if each.slack_s < 0.0)


def _least(responses: tuple[Response, ...]) -> float:
    return min((each.slack_s / each.deadline_s for each in responses if each.deadline_s), default=1.0)
