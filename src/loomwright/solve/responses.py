"""How late can each message be on each line, at the worst?

Lines hang together by gateways: what is passed on late comes to the next line with that much more jitter. So all lines
are answered together, again and again until nothing moves (after K. Tindell and J. Clark, "Holistic schedulability
analysis for distributed hard real-time systems", 1994, from memory). Times only grow from round to round, so where it
ends, every bound is safe.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import reduce
from itertools import accumulate
from operator import or_

from loomwright.engines.flows import Faults, Flows, flows_of
from loomwright.engines.response_times import UNBOUNDED, response_times
from loomwright.laws.wire_order import wire_order
from loomwright.model.speech import Medium, Speech
from loomwright.solve.load import Frame, frame_of, rates_of, unknown_of
from loomwright.solve.streams import PACKETS, Stream
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Known, Unknown

TICK_S = 1e-12
"""Times are counted in whole picoseconds."""
ERROR_BITS = 31
"""Bits from an error to the next frame, where the sender is error passive: the longest case. Seen in a public course."""
LONGEST = 2**52
"""Ticks, 75 minutes: longer periods and deadlines count as this, which bounds no less; of longer jitter no bound is sought."""
MOST_PERIODS_LATE = 100_000
"""Periods by which a message may be late; what may be later yet comes in a crowd that nobody would wait for."""
MOST_ROUNDS = 60
"""Rounds after which jitter that still grows is taken to have no end."""


@dataclass(frozen=True, slots=True)
class Response:
    """One stream's times in s, from the moment it is due until it has arrived.

    ``worst_s`` is infinite where there is no bound. ``due_s``: what a gateway's line before may have cost already, which
    is in ``worst_s`` too. ``deadline_s`` counts from the same moment. ``state``: the state of the vehicle that is worst.
    A part that may be sent anywhere in its message's period is due when it is ready.
    ``assumed``: what the times lean on, of the message itself, of what goes before it, and of the lines it came by.
    """

    stream: Stream
    frame: Frame
    best_s: float
    worst_s: float
    deadline_s: float
    jitter_s: float
    due_s: float
    state: str
    assumed: tuple[Path, ...] = ()

    @property
    def slack_s(self) -> float:
        """What is left to the deadline."""
        return self.deadline_s - self.worst_s

    @property
    def here_s(self) -> float:
        """The worst time on this line alone, from when the gateway heard it; infinite where there is no bound."""
        return self.worst_s if math.isinf(self.worst_s) else self.worst_s - self.due_s

    @property
    def wanted_s(self) -> float:
        """The deadline counted from when the gateway heard it."""
        return self.deadline_s if math.isinf(self.due_s) else self.deadline_s - self.due_s


@dataclass(frozen=True, slots=True)
class LineResponses:
    """The responses of a line's streams, in the order in which the wire prefers them."""

    line: str
    responses: tuple[Response, ...]

    def inherited(self) -> dict[Path, float]:
        """What each forward brings along here, in s, as ``line_flows`` takes it."""
        found: dict[Path, float] = {}
        for each in self.responses:
            found[each.stream.path] = max(found.get(each.stream.path, 0.0), each.due_s)
        return found


@dataclass(frozen=True, slots=True)
class LineFlows:
    """A line in one state as the engine takes it: flows, the streams they stand for, and the ticks of a bit.

    ``endless``: the first flow that has no bound because a jitter is beyond all bounds, its own or that of one it waits
    for in a queue; neither it nor what it outranks has one. ``lowest``: by flow the last one that goes before it or
    waits in a queue with one that does. ``orders``: by flow how its port's order of sending was assumed, if it matters.
    """

    flows: Flows
    streams: tuple[Stream, ...]
    frames: tuple[Frame, ...]
    tick_per_bit: int
    faults: Faults
    endless: int
    lowest: tuple[int, ...]
    orders: tuple[tuple[Path, ...], ...]


def ticks(time_s: float) -> int:
    """Whole ticks, rounded up: a bound stays one. At most twice LONGEST."""
    return math.ceil(min(time_s / TICK_S, 2.0 * LONGEST) - 1e-3)


def _least_ticks(time_s: float) -> int:
    """Whole ticks of what bounds more the shorter it is, a period or a deadline: rounded down, at least one."""
    return max(1, math.floor(min(time_s / TICK_S, 2.0 * LONGEST) + 1e-3))


def _period(time_s: float) -> int:
    """Ticks of what comes again and again: at least one, at most LONGEST."""
    return min(_least_ticks(time_s), LONGEST)


def line_flows(
    speech: Speech, line: str, streams: tuple[Stream, ...], state: str, inherited: Mapping[Path, float]
) -> Answer[LineFlows]:
    """A line's streams in one state, the highest priority first. ``inherited``: jitter in s that a forward brings along."""
    medium = speech.media[line]
    rates = rates_of(medium, line)
    sent = [stream for stream in streams if stream.is_sent_in(state)]
    orders = _orders(speech, sent)
    unknown = (*unknown_of(streams), *dict.fromkeys(path for path, order in orders if isinstance(order, Unknown)))
    if isinstance(rates, Blocked) or unknown:
        return Blocked((*(rates.by if isinstance(rates, Blocked) else ()), *unknown))
    assert all(stream.identifier is not None for stream in sent), "an unknown identifier blocks its line"
    rate = rates.value.rate
    frames = [frame_of(stream, rates.value) for stream in sent]
    queues = _queues(speech, sent)
    periods = [_period(stream.period_s or 0.0) for stream in sent]
    late = [ticks(stream.jitter_s + before_of(stream, inherited)) for stream in sent]
    beyond = [at for at, each in enumerate(late) if each > min(LONGEST, MOST_PERIODS_LATE * periods[at])]
    for at in beyond:
        late[at] = 0
    flows = flows_of(
        [ticks(frame.worst_s) for frame in frames],
        periods,
        late,
        [_least_ticks(deadline_of(stream) + before_of(stream, inherited)) for stream in sent],
        queues,
        [_least_ticks(frame.best_s) for frame in frames],
    )
    return Solved(
        LineFlows(
            flows,
            tuple(sent),
            tuple(frames),
            ticks(1.0 / rate),
            faults_of(medium, rate),
            _without_bound(queues, min(beyond, default=len(sent))),
            _lowest(queues),
            tuple((path,) if isinstance(order, Assumed) else () for path, order in orders),
        ),
        rates.assumed,
    )


def _without_bound(queues: list[int], first: int) -> int:
    """The first flow without bound, if ``first`` has none: whoever shares a queue with it or with a lower one has none."""
    while True:
        fellows = {queue for queue in queues[first:] if queue >= 0}
        higher = next((at for at, queue in enumerate(queues[:first]) if queue in fellows), first)
        if higher == first:
            return first
        first = higher


def _lowest(queues: list[int]) -> tuple[int, ...]:
    """By flow the last that has a say in when it goes: its queue's last, that of each queue that reaches above it, and so on."""
    last = {queue: at for at, queue in enumerate(queues) if queue >= 0}
    reach = list(accumulate((last.get(queue, at) for at, queue in enumerate(queues)), max))
    for at in reversed(range(len(reach))):
        reach[at] = reach[reach[at]]
    return tuple(reach)


def before_of(stream: Stream, inherited: Mapping[Path, float]) -> float:
    """What a forward brings along, in s. Packets to everybody keep their distance, whenever the message came."""
    return 0.0 if stream.part == PACKETS and not stream.spread_s else inherited.get(stream.path, 0.0)


def deadline_of(stream: Stream) -> float:
    """By when it must have arrived, in s: as stated, else before the next one is due."""
    return stream.deadline_s if stream.deadline_s is not None else stream.period_s or 0.0


def _orders(speech: Speech, sent: list[Stream]) -> list[tuple[Path, Known[str] | Assumed[str] | Unknown]]:
    """By stream the path of its port's transmit order, and that; known where nothing else waits in the port."""
    found: dict[str, tuple[Path, Known[str] | Assumed[str] | Unknown]] = {}
    for sender, count in Counter(stream.sender for stream in sent).items():
        component, _, port = sender.partition(".")
        order = speech.voices[component].ports[port].transmit_order if count > 1 else Known("by priority")
        found[sender] = ("components", component, "ports", port, "transmit_order"), order
    return [found[stream.sender] for stream in sent]


def faults_of(medium: Medium, rate: float) -> Faults:
    """The disturbed frames after which the line must still be in time."""
    gap = medium.error_gap_s
    if not medium.errors_at_once and gap is None:
        return Faults()
    return Faults(max(medium.errors_at_once, 1), None if gap is None else _period(gap), ticks(ERROR_BITS / rate))


def responses(speech: Speech, streams: tuple[Stream, ...]) -> dict[str, Answer[LineResponses]]:
    """The responses on every line, gateways and all."""
    by_line = {line: tuple(each for each in streams if each.line == line) for line in speech.media}
    inherited = {stream.path: stream.delay_s for stream in streams if stream.source_line and not stream.own_cycle}
    endless: dict[Path, float] = {}
    found: dict[str, Answer[LineResponses]] = {}
    built: dict[str, list[Solved[LineFlows]]] = {}
    anew = set(by_line)
    while True:
        for _ in range(MOST_ROUNDS):
            for line in anew:
                found[line], built[line] = _line_responses(speech, line, by_line[line], inherited)
            grown = _inherited(streams, found) | endless
            moving = {path for path in inherited if not _same(grown[path], inherited[path])}
            if not moving:
                return _waiting_for_others(_with_assumed(streams, found, built), by_line)
            inherited = grown
            anew = {stream.line for stream in streams if stream.path in moving}
        # A ring of gateways that wait for each other: what they pass on has no bound, nor has what waits for that.
        endless |= dict.fromkeys(moving, math.inf)
        inherited |= endless


def _line_responses(
    speech: Speech, line: str, streams: tuple[Stream, ...], inherited: Mapping[Path, float]
) -> tuple[Answer[LineResponses], list[Solved[LineFlows]]]:
    """A line's responses, and what the engine took in each state; what was assumed is not in them yet."""
    worst: dict[tuple[Path, str], Response] = {}
    states: list[Solved[LineFlows]] = []
    for state in speech.states or ("",):
        answer = line_flows(speech, line, streams, state, inherited)
        if isinstance(answer, Blocked):
            return answer, []
        built = answer.value
        if not built.streams:
            continue
        states.append(answer)
        times = response_times(built.flows, built.tick_per_bit, built.faults)
        for at, stream in enumerate(built.streams):
            # Whose own past has no bound may come in any crowd: it leaves no bound to what it outranks either.
            bounded = times.worst[at] != UNBOUNDED and at < built.endless
            before_s = before_of(stream, inherited)
            known_s = before_s if math.isfinite(before_s) else 0.0
            response = Response(
                stream,
                built.frames[at],
                float(times.best[at]) * TICK_S,
                float(times.worst[at]) * TICK_S - stream.spread_s if bounded else math.inf,
                deadline_of(stream) - stream.spread_s + known_s,
                stream.jitter_s - stream.spread_s + known_s,
                before_s,
                state,
            )
            before = worst.get((stream.path, stream.part))
            if before is None or response.worst_s > before.worst_s:
                worst[stream.path, stream.part] = response
    ordered = tuple(worst[each.path, each.part] for each in streams if (each.path, each.part) in worst)
    return Solved(LineResponses(line, ordered)), states


def _with_assumed(
    streams: tuple[Stream, ...],
    found: Mapping[str, Answer[LineResponses]],
    built: Mapping[str, list[Solved[LineFlows]]],
) -> dict[str, Answer[LineResponses]]:
    """The responses with what they lean on, from line to line until nothing is added.

    Which state is the worst leans on what is assumed in any of them. Sets of paths are whole numbers here, a bit for each.
    """
    bits: dict[Path, int] = {}
    leans: dict[tuple[str, Path, str], int] = defaultdict(int)
    told: dict[Path, int] = {}
    while True:
        for line, states in built.items():
            for each in states:
                _lean(line, each, told, bits, leans)
        heard: dict[tuple[str, str], int] = defaultdict(int)
        for stream in streams:
            heard[stream.line, stream.message] |= leans[stream.line, stream.path, stream.part]
        before = told
        told = {
            each.path: heard[each.source_line, each.message]
            for each in streams
            if each.source_line and not each.own_cycle
        }
        if told == before:
            break
    paths = tuple(bits)
    result = dict(found)
    for line, answer in found.items():
        if isinstance(answer, Solved):
            masks = [leans[line, each.stream.path, each.stream.part] for each in answer.value.responses]
            told_of = tuple(
                replace(each, assumed=_paths(mask, paths))
                for each, mask in zip(answer.value.responses, masks, strict=True)
            )
            every = reduce(or_, masks, 0)
            result[line] = Solved(replace(answer.value, responses=told_of), _paths(every, paths))
    return result


def _lean(
    line: str,
    state: Solved[LineFlows],
    told: Mapping[Path, int],
    bits: dict[Path, int],
    leans: dict[tuple[str, Path, str], int],
) -> None:
    """Add what a line's flows lean on in one state: what is assumed of each, and of all that have a say in when it goes."""

    def mask(paths: tuple[Path, ...]) -> int:
        return reduce(or_, (1 << bits.setdefault(path, len(bits)) for path in paths), 0)

    flows = state.value
    each = (
        told.get(stream.path, 0) | mask((*stream.assumed, *order))
        for stream, order in zip(flows.streams, flows.orders, strict=True)
    )
    upto = list(accumulate(each, or_, initial=mask(state.assumed)))
    for stream, lowest in zip(flows.streams, flows.lowest, strict=True):
        leans[line, stream.path, stream.part] |= upto[lowest + 1]


def _paths(mask: int, paths: tuple[Path, ...]) -> tuple[Path, ...]:
    return tuple(path for at, path in enumerate(paths) if mask >> at & 1)


def _same(one: float, other: float) -> bool:
    """Whether two times are the same tick; without bound both is the same too."""
    return one == other or abs(one - other) < TICK_S


def _inherited(streams: tuple[Stream, ...], found: Mapping[str, Answer[LineResponses]]) -> dict[Path, float]:
    """What each forward's message may have lost before the gateway sends it on, in s: its worst response and the delay."""
    heard: dict[tuple[str, str], float] = {}
    for line, answer in found.items():
        for each in answer.value.responses if isinstance(answer, Solved) else ():
            key = (line, each.stream.message)
            heard[key] = max(heard.get(key, 0.0), each.worst_s + each.stream.carrying_s)
    return {
        stream.path: heard.get((stream.source_line, stream.message), 0.0) + stream.delay_s
        for stream in streams
        if stream.source_line and not stream.own_cycle
    }


def _waiting_for_others(
    found: Mapping[str, Answer[LineResponses]], by_line: Mapping[str, tuple[Stream, ...]]
) -> dict[str, Answer[LineResponses]]:
    """A line that is fed from a blocked one is blocked by the same facts."""
    result = dict(found)
    for _ in by_line:
        for line, of_line in by_line.items():
            sources = {each.source_line for each in of_line if each.source_line and not each.own_cycle}
            blocking = [path for source in sources if isinstance(here := result[source], Blocked) for path in here.by]
            if blocking and isinstance(result[line], Solved):
                result[line] = Blocked(tuple(dict.fromkeys(blocking)))
    return result


def _queues(speech: Speech, streams: list[Stream]) -> list[int]:
    """The number of the transmit queue each stream waits in, -1 where its port sends by priority.

    Frames with one identifier (two transported messages of one sender) have no rank among themselves: they queue too.
    """
    numbers: dict[str, int] = {}
    found = []
    ranks = [wire_order(each.identifier or 0, extended=each.extended) for each in streams]
    for stream, rank in zip(streams, ranks, strict=True):
        component, _, port = stream.sender.partition(".")
        order = speech.voices[component].ports[port].transmit_order
        if not isinstance(order, Unknown) and order.value == "first in first out":
            found.append(numbers.setdefault(stream.sender, len(numbers)))
        elif ranks.count(rank) > 1:
            found.append(numbers.setdefault(f"identifier {rank}", len(numbers)))
        else:
            found.append(-1)
    return found
