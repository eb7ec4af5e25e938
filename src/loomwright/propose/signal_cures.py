"""What another termination, another way of joining, a shorter branch or a lower bit rate would do to a line's bits."""

import math
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from loomwright.judge.changes import NOTEWORTHY, OF_A_RECEIVER, as_numbered, difference
from loomwright.judge.cures import nearer_joints
from loomwright.judge.evidence import evidence_of
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.model.line import Line, Station
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.solve.levels import LineLevels
from loomwright.solve.signal import LineSignal
from loomwright.solve.topology import LineTopology, Stop, port_of
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.errors import PathError
from loomwright.terms.fact import Assumed, Known, Unknown, value_of
from loomwright.terms.finding import Finding, Verdict, Weight

SHARES = (0.5, 0.25)
"""Cable and leads are tried at these shares of their length."""
LEAST_LEAD_M = 0.1
"""No lead is proposed shorter: a hand's width is needed to strip, crimp and seal a new connector (common practice)."""
WORTH_M = 0.02
"""Nobody takes a cable apart for less."""
TERMINATION_OHM = 120.0
RATES = ("bit rate", "data bit rate")
"""Kinds of changes that slow the line down: wiring goes before them."""
LEAD = "lead"
"""Kind of a change to a part as its maker built it: anything else goes before it."""
OF_THE_MARGIN = "rule"
"""Kind of a change that the rules of wiring offer."""
_FELT = ("stations", "bit_rate_bit_per_s", "data_bit_rate_bit_per_s")
"""What of a line's file the bits feel."""
_SIGNAL = frozenset(rule.code for rule in SIGNAL_RULES)
_OF_SETTINGS = ("bit-timing", "data-timing")
"""What no wire cures."""
_BIT_BY_BIT = frozenset((*OF_A_RECEIVER, "data-settling"))
"""Rules of which one receiver that is right helps nothing as long as another is not: the line works or does not."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A vehicle's answers for one line, and every finding: of the physical layer and of all other rules."""

    signal: Answer[LineSignal]
    levels: Answer[LineLevels]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Effect:
    """A change and what it does. Times in s, the least margin of all pairs; levels in V, the lowest of all receivers.

    ``kind`` is "termination", "branch", "joint", ``OF_THE_MARGIN``, ``LEAD`` or one of ``RATES``. ``window_s`` is how long
    a receiver may take with the change. The findings are of every rule, and no rule of a line stands on both sides:

    - ``cures``: what is cured, as it is now; of what every receiver must keep only if all do so then. What is cured of the
      worst corner is among them. ``eased``: of that, what is only tight then; ``left``: what else of its rules stays broken.
    - ``worsens``: what the change breaks. ``worse``: what is broken as it is, and farther out with the change.
    - ``narrowed``: what is tight then and was not.

    ``rewires``: the trunk or a branch lies otherwise, which is more work than a plug or a switch.

    ``offered``: judged again, it cures something, and breaks or worsens nothing anywhere.
    """

    kind: str
    change: Change
    typical_s: tuple[float, float]
    corner_s: tuple[float, float]
    lowest_v: tuple[float, float]
    cures: tuple[Finding, ...]
    worsens: tuple[Finding, ...]
    window_s: float = 0.0
    eased: tuple[Finding, ...] = ()
    left: tuple[Finding, ...] = ()
    narrowed: tuple[Finding, ...] = ()
    worse: tuple[Finding, ...] = ()
    rewires: bool = False

    @property
    def cured(self) -> tuple[str, ...]:
        """The rules of which it cures something."""
        return _rules(self.cures)

    @property
    def breaks(self) -> tuple[str, ...]:
        """The rules of which it breaks something."""
        return _rules(self.worsens)

    @property
    def harms(self) -> bool:
        """Whether something gets worse by it."""
        return bool(self.worsens or self.worse)

    @property
    def offered(self) -> bool:
        """Whether it can be written with a good conscience."""
        return bool(self.cures) and not self.harms

    @property
    def by_the_rules(self) -> bool:
        """Whether it puts something right that the rules of wiring find broken."""
        return any(_is_published(own) for own in self.cures)

    @property
    def gain_s(self) -> float:
        """Time that it gains at typical values, in s; 0 where that is not worth a word."""
        return _gain(*self.typical_s)


def effects(
    vehicle: Vehicle,
    name: str,
    topology: LineTopology,
    ask: Callable[[Vehicle], Outcome | None],
    progress: Callable[[int, int], bool] | None = None,
) -> tuple[Effect, ...] | None:
    """Try what the rules offer, every change at the ends, nearer joints and shorter cable of who rings, and lower bit rates.

    What cures most comes first. Of the bit rates only the nearest that cures is kept, of makers' leads only those that
    cure. ``ask`` judges a changed vehicle, or answers nothing where it cannot be computed. ``None`` if the line itself
    cannot be computed or the work was stopped.
    """
    before = ask(vehicle)
    if before is None or isinstance(before.signal, Blocked):
        return None
    tries = [
        *_of_the_margin(before.findings, name),
        *_terminations(vehicle, name, topology),
        *_branches(vehicle, name, topology, before.signal.value),
        *_data_rates(vehicle, name),
        *_rates(vehicle, name),
    ]
    found: list[Effect] = []
    seen = {vehicle}
    for number, (kind, change) in enumerate(tries):
        if progress is not None and not progress(number, len(tries)):
            return None
        if kind in RATES and any(effect.kind == kind for effect in found):
            continue
        tried = _tried(vehicle, change)
        if tried is None or tried in seen:
            continue
        seen.add(tried)
        effect = _effect(vehicle, name, tried, kind, change, before, ask)
        if effect is not None and (kind not in (*RATES, LEAD) or effect.offered):
            found.append(effect)
    return _told_apart(sorted(found, key=_rank))


def _tried(vehicle: Vehicle, change: Change) -> Vehicle | None:
    try:
        return changed(vehicle, change)
    except PathError:
        return None


def _told_apart(found: list[Effect]) -> tuple[Effect, ...]:
    """The same effects, no two of one title: the title is what a page asks for."""
    counted: Counter[str] = Counter()
    told: list[Effect] = []
    for effect in found:
        change = effect.change
        counted[change.title] += 1
        again = f" ({counted[change.title]})" if counted[change.title] > 1 else ""
        told.append(replace(effect, change=replace(change, title=change.title + again)))
    return tuple(told)


def _rank(effect: Effect) -> tuple[bool, bool, bool, bool, float, float, float, float, float]:
    """What may be offered before what may not, wiring before rates before leads, who cures most, with less work, gains more."""
    score = {own.rule: 0.0 for own in effect.cures}
    eased = {(own.rule, own.reading.subject) for own in effect.eased}
    for own in effect.cures:
        if own.reading.weight is Weight.GOVERNS:
            whole = own.verdict is Verdict.BROKEN and (own.rule, own.reading.subject) not in eased
            score[own.rule] = max(score[own.rule], 2.0 if whole else 1.0)
    return (
        not effect.offered,
        effect.harms,
        effect.kind == LEAD,
        effect.kind in RATES,
        -sum(score.values()),
        -float(effect.by_the_rules),
        float(effect.rewires),
        -_gain(*effect.typical_s),
        -_gain(*effect.corner_s),
    )


def _is_published(finding: Finding) -> bool:
    return finding.rule not in _SIGNAL and finding.verdict is not Verdict.TIGHT


def _gain(was: float, now: float) -> float:
    if was == now or (math.isfinite(was) and abs(now - was) < NOTEWORTHY * abs(was)):
        return 0.0
    return now - was if math.isfinite(now - was) else math.copysign(math.inf, now - was)


def _rules(findings: tuple[Finding, ...]) -> tuple[str, ...]:
    return tuple(sorted({finding.rule for finding in findings}))


def _effect(
    vehicle: Vehicle,
    name: str,
    tried: Vehicle,
    kind: str,
    change: Change,
    before: Outcome,
    ask: Callable[[Vehicle], Outcome | None],
) -> Effect | None:
    after = ask(tried)
    if after is None or isinstance(after.signal, Blocked) or isinstance(before.signal, Blocked):
        return None
    now = as_numbered(after.findings, tried, vehicle)
    found = difference(before.findings, now)
    harmed = {_group(own) for own in (*found.broken, *found.worse)}
    bad = [own for own in now if own.verdict in (Verdict.BROKEN, Verdict.TIGHT) and not own.accepted]

    def right(own: Finding) -> bool:
        """No rule is told as cured and harmed; one of all receivers only where none is left that is as badly off."""
        if _group(own) in harmed:
            return False
        return own.rule not in _BIT_BY_BIT or not any(
            _group(other) == _group(own) and (other.verdict is Verdict.BROKEN or own.verdict is Verdict.TIGHT)
            for other in bad
        )

    cured = tuple(own for own in (*found.cured, *_corners_cured(before.findings, now)) if right(own))
    groups = {_group(own) for own in cured}
    return Effect(
        kind,
        change,
        (_typical(before.signal.value), _typical(after.signal.value)),
        (_corner(before.signal.value), _corner(after.signal.value)),
        (_lowest(before.levels), _lowest(after.levels)),
        cured,
        found.broken,
        after.signal.value.sample_s - after.signal.value.electronics_s,
        tuple(own for own in found.eased if _group(own) in groups),
        tuple(own for own in bad if own.verdict is Verdict.BROKEN and _group(own) in groups),
        found.narrowed,
        found.worse,
        _laid(vehicle.lines[name]) != _laid(tried.lines[name]),
    )


def _laid(line: Line) -> tuple[tuple[str, str, float | None, float | None], ...]:
    """How a line's cable lies, whatever terminates it."""
    return tuple((own.port, own.at, own.section_m, own.branch_m) for own in line.stations if own.port)


def _group(finding: Finding) -> tuple[str, str, str, Weight]:
    """A rule on a line."""
    reading = finding.reading
    return finding.rule, reading.line, reading.rule_set, reading.weight


def _of_the_margin(findings: tuple[Finding, ...], name: str) -> Iterator[tuple[str, Change]]:
    """What the rules offer for this line's own findings, as far as the bits feel it."""
    for finding in findings:
        change = finding.reading.change
        if change is None or finding.reading.line != name or finding.verdict is not Verdict.BROKEN or finding.accepted:
            continue
        if all(edit.path[:2] == ("lines", name) and edit.path[2] in _FELT for edit in change.edits):
            yield OF_THE_MARGIN, change


def _terminations(vehicle: Vehicle, name: str, topology: LineTopology) -> Iterator[tuple[str, Change]]:
    """Switch or unplug each one that is on; switch or plug one in at each end; and both at once."""
    line = vehicle.lines[name]
    last = len(line.stations) - 1
    off = [(stop.index, change) for stop in topology.stops if (change := _taken_away(line, stop)) is not None]
    on = [
        (end, change)
        for end in dict.fromkeys((0, last))
        if (change := _put_on(vehicle, line, topology.stops[end], first=end == 0)) is not None
    ]
    for index, (stations, title) in (*off, *on):
        del index
        yield "termination", _stations(name, title, stations(line.stations))
    for _, (take, took) in off:
        for _, (put, did) in on:
            # From the back first, so that the stop's number still holds when it goes.
            title = f"{took}, and {did[:1].lower()}{did[1:]}"
            yield "termination", _stations(name, title, put(take(line.stations)))


Restation = Callable[[tuple[Station, ...]], tuple[Station, ...]]


def _stations(name: str, title: str, stations: tuple[Station, ...]) -> Change:
    return Change(title, (Edit(("lines", name, "stations"), stations),))


def _taken_away(line: Line, stop: Stop) -> tuple[Restation, str] | None:
    """Switch a termination off or take a plug-in one out; nothing where it is fixed or none is on."""
    station = line.stations[stop.index]
    if stop.termination != "on" or stop.repeated:
        return None
    if not station.port:
        if stop.index + 1 < len(line.stations) and stop.index and line.stations[stop.index + 1].section_m is not None:
            return None  # the measured section after it would tell another length
        return (lambda all_: tuple(one for one in all_ if one is not station)), f"Unplug the terminator at {station.at}"
    if not station.terminated:
        return None
    new = replace(station, terminated=False)
    return (
        lambda all_: tuple(new if one is station else one for one in all_)
    ), f"Switch the termination of {station.port} off"


def _put_on(vehicle: Vehicle, line: Line, stop: Stop, *, first: bool) -> tuple[Restation, str] | None:
    """Terminate an end of the trunk: by its own switch where it has one, else plugged in; nothing where one is on."""
    station = line.stations[stop.index]
    if stop.termination == "on":
        return None
    if station.port and value_of(port_of(vehicle.components, station.port).termination) == "switchable":
        new = replace(station, terminated=True)
        return (
            lambda all_: tuple(new if one is station else one for one in all_)
        ), f"Switch the termination of {station.port} on"
    place = stop.joint_place
    plug = Station(terminator_ohm=Known(TERMINATION_OHM), at=place)
    title = f"Plug a terminator of 120 ohm in at {place}"
    return (lambda all_: (plug, *all_) if first else (*all_, plug)), title


def _branches(vehicle: Vehicle, name: str, topology: LineTopology, signal: LineSignal) -> Iterator[tuple[str, Change]]:
    """Less cable, a nearer joint and a shorter lead, for the branches of the pair that is late and for the longest three."""
    ringing = {signal.worst.sender, signal.worst.receiver}
    typical = max(signal.pairs, key=lambda pair: pair.typical_s)
    ringing |= {typical.sender, typical.receiver}
    by_length = sorted(topology.stops, key=lambda stop: stop.branch_m, reverse=True)
    wanted = [stop for stop in topology.stops if stop.port in ringing]
    wanted += [stop for stop in by_length[:3] if stop not in wanted]
    evidence = evidence_of(vehicle, name, Solved(topology), Blocked(()))
    line = vehicle.lines[name]
    for stop in wanted:
        if stop.branch_m <= 0.0 or stop.repeated or not stop.port:
            continue
        path: Path = ("lines", name, "stations", stop.index, "branch_m")
        stated_m = line.stations[stop.index].branch_m
        if stated_m is not None and stop.way_m is not None and stop.way_m <= stated_m - WORTH_M:
            yield "branch", Change(f"Shorten the branch of {stop.port} to what its runs need", (Edit(path, None),))
        for length_m in _shorter_cables(stated_m, stop):
            title = f"Shorten the branch cable of {stop.port} to {length_m:.2f} m"
            yield "branch", Change(title, (Edit(path, length_m),))
        for change in nearer_joints(evidence, stop):
            yield "joint", change
        yield from _shorter_leads(vehicle, stop)


def _shorter_cables(stated_m: float | None, stop: Stop) -> list[float]:
    """Lengths to which the branch cable could be cut besides: longer than the way it has to go along the runs."""
    if stated_m is None or stop.way_m is None:
        return []
    tried = [_up_to_the_centimetre(stated_m * share) for share in SHARES]
    return [length_m for length_m in tried if stop.way_m + WORTH_M <= length_m <= stated_m - WORTH_M]


def _up_to_the_centimetre(length_m: float) -> float:
    return math.ceil(round(100.0 * length_m, 6)) / 100.0


def _shorter_leads(vehicle: Vehicle, stop: Stop) -> Iterator[tuple[str, Change]]:
    """The lead as its maker built it, cut; what is left is no figure of the maker's any more."""
    component, _, port = stop.port.partition(".")
    lead = vehicle.components[component].ports[port].pigtail_m
    if isinstance(lead, Unknown):
        return
    path: Path = ("components", component, "ports", port, "pigtail_m")
    for length_m in dict.fromkeys(max(LEAST_LEAD_M, _up_to_the_centimetre(lead.value * share)) for share in SHARES):
        if length_m <= lead.value - WORTH_M:
            why = f"the maker's lead of {lead.value:.2f} m, to be cut: measure it when it is done"
            edit = Edit(path, Assumed(length_m, why))
            yield LEAD, Change(f"Cut the maker's lead of {stop.port} to {length_m:.2f} m", (edit,))


def _rates(vehicle: Vehicle, name: str) -> Iterator[tuple[str, Change]]:
    """Bit rates below the present one that every port can run at, the nearest first."""
    line = vehicle.lines[name]
    for rate in _lower(vehicle, line, "bit_rate_bit_per_s", "bit_rates_bit_per_s"):
        edit = Edit(("lines", name, "bit_rate_bit_per_s"), Known(rate))
        yield "bit rate", Change(f"Run the line at {rate / 1e3:g} kbit/s", (edit,))


def _data_rates(vehicle: Vehicle, name: str) -> Iterator[tuple[str, Change]]:
    """The same for the data phase of an FD line, down to the bit rate of the rest."""
    line = vehicle.lines[name]
    least = value_of(line.bit_rate_bit_per_s)
    if line.frames != "FD" or least is None:
        return
    for rate in _lower(vehicle, line, "data_bit_rate_bit_per_s", "data_bit_rates_bit_per_s"):
        if rate >= least:
            edit = Edit(("lines", name, "data_bit_rate_bit_per_s"), Known(rate))
            yield "data bit rate", Change(f"Run the data phase at {rate / 1e3:g} kbit/s", (edit,))


def _lower(vehicle: Vehicle, line: Line, of_line: str, of_port: str) -> list[float]:
    """Rates below the line's that all ports which tell theirs can run at, the highest first."""
    now = value_of(getattr(line, of_line))
    lists = []
    for station in line.stations:
        told = getattr(port_of(vehicle.components, station.port), of_port) if station.port else None
        rates = None if told is None else value_of(told)
        if rates is not None:
            lists.append(set(rates))
    common = set.intersection(*lists) if lists and now is not None else set()
    return sorted((rate for rate in common if rate < now), reverse=True)


def _typical(signal: LineSignal) -> float:
    return signal.sample_s - signal.electronics_s - max(pair.typical_s for pair in signal.pairs)


def _corner(signal: LineSignal) -> float:
    return signal.margin_s(signal.worst)


def _lowest(levels: Answer[LineLevels]) -> float:
    return 0.0 if isinstance(levels, Blocked) else min(receiver.low_v for receiver in levels.value.receivers)


def _corners_cured(before: tuple[Finding, ...], after: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Advice of the physical layer that is broken, and with the change is not, whoever is the worst then."""

    def broken(findings: tuple[Finding, ...]) -> dict[tuple[str, str], Finding]:
        return {
            (finding.rule, finding.reading.rule_set): finding
            for finding in findings
            if finding.reading.weight is Weight.ADVICE
            and finding.verdict is Verdict.BROKEN
            and finding.rule in _SIGNAL
            and finding.rule not in _OF_SETTINGS
        }

    left = broken(after)
    return tuple(finding for key, finding in broken(before).items() if key not in left)
