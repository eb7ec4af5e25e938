"""What another termination, a shorter branch or a lower bit rate would do to a line's bits."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from loomwright.judge.changes import as_numbered, difference
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.model.line import Line, Station
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.solve.levels import LineLevels
from loomwright.solve.signal import LineSignal
from loomwright.solve.topology import LineTopology, Stop, port_of
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.errors import PathError
from loomwright.terms.fact import Known, Unknown, value_of
from loomwright.terms.finding import Finding, Verdict, Weight

SHORTER = (0.5, 0.25)
"""A branch is tried at these shares of its length."""
LEAST_M = 0.05
"""No branch is proposed shorter than a connector needs."""
TERMINATION_OHM = 120.0
RATES = ("bit rate", "data bit rate")
"""Kinds of changes that slow the line down: wiring goes before them."""
_SIGNAL = frozenset(rule.code for rule in SIGNAL_RULES)
_OF_SETTINGS = ("bit-timing", "data-timing")
"""What no wire cures."""
NOTEWORTHY = 0.05
"""A margin that a change moves by a lesser share than this counts as unmoved when changes are put in order."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A vehicle's answers for one line, and every finding: of the physical layer and of all other rules."""

    signal: Answer[LineSignal]
    levels: Answer[LineLevels]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Effect:
    """A change and what it does. Times in s, the least margin of all pairs; levels in V, the lowest of all receivers.

    ``kind`` is "termination", "branch" or one of ``RATES``. ``cures`` and ``worsens`` are findings of every rule: those that
    the change cures, in their present state, and those that it breaks. What is cured of the worst corner is among them.
    ``offered``: judged again, it cures something and breaks nothing anywhere.
    """

    kind: str
    change: Change
    typical_s: tuple[float, float]
    corner_s: tuple[float, float]
    lowest_v: tuple[float, float]
    cures: tuple[Finding, ...]
    worsens: tuple[Finding, ...]

    @property
    def cured(self) -> tuple[str, ...]:
        """The rules of which it cures something."""
        return _rules(self.cures)

    @property
    def breaks(self) -> tuple[str, ...]:
        """The rules of which it breaks something."""
        return _rules(self.worsens)

    @property
    def offered(self) -> bool:
        """Whether it can be written with a good conscience."""
        return bool(self.cures) and not self.worsens


def effects(
    vehicle: Vehicle,
    name: str,
    topology: LineTopology,
    ask: Callable[[Vehicle], Outcome | None],
    progress: Callable[[int, int], bool] | None = None,
) -> tuple[Effect, ...] | None:
    """Try every change at the ends, every shorter branch of who rings, and lower bit rates; what cures first.

    Of the bit rates only the nearest that cures is kept. ``ask`` judges a changed vehicle, or answers nothing where it
    cannot be computed. ``None`` if the line itself cannot be computed or the work was stopped.
    """
    before = ask(vehicle)
    if before is None or isinstance(before.signal, Blocked):
        return None
    tries = [*_terminations(vehicle, name, topology), *_branches(vehicle, name, topology, before.signal.value)]
    rates = [*_data_rates(vehicle, name), *_rates(vehicle, name)]
    found: list[Effect] = []
    for number, (kind, change) in enumerate((*tries, *rates)):
        if progress is not None and not progress(number, len(tries) + len(rates)):
            return None
        if kind in RATES and any(effect.kind == kind for effect in found):
            continue
        effect = _effect(vehicle, kind, change, before, ask)
        if effect is not None and (kind not in RATES or effect.offered):
            found.append(effect)

    return tuple(sorted(found, key=_rank))


def _rank(effect: Effect) -> tuple[bool, bool, bool, int, float, float]:
    """What may be offered before what may not, wiring before rates, who cures most, then who gains most time."""
    counting = sum(finding.reading.weight is Weight.GOVERNS for finding in effect.cures)
    gains = (_gain(*effect.typical_s), _gain(*effect.corner_s))
    return not effect.offered, bool(effect.worsens), effect.kind in RATES, -counting, -gains[0], -gains[1]


def _gain(was: float, now: float) -> float:
    if was == now or (math.isfinite(was) and abs(now - was) < NOTEWORTHY * abs(was)):
        return 0.0
    return now - was if math.isfinite(now - was) else math.copysign(math.inf, now - was)


def _rules(findings: tuple[Finding, ...]) -> tuple[str, ...]:
    return tuple(sorted({finding.rule for finding in findings}))


def _effect(
    vehicle: Vehicle, kind: str, change: Change, before: Outcome, ask: Callable[[Vehicle], Outcome | None]
) -> Effect | None:
    try:
        tried = changed(vehicle, change)
    except PathError:
        return None
    after = ask(tried)
    if after is None or isinstance(after.signal, Blocked) or isinstance(before.signal, Blocked):
        return None
    now = as_numbered(after.findings, tried, vehicle)
    found = difference(before.findings, now)
    return Effect(
        kind,
        change,
        (_typical(before.signal.value), _typical(after.signal.value)),
        (_corner(before.signal.value), _corner(after.signal.value)),
        (_lowest(before.levels), _lowest(after.levels)),
        (*found.cured, *_corners_cured(before.findings, now)),
        found.broken,
    )


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
    """Shorter branches of the pair that is late, and of the longest three."""
    ringing = {signal.worst.sender, signal.worst.receiver}
    typical = max(signal.pairs, key=lambda pair: pair.typical_s)
    ringing |= {typical.sender, typical.receiver}
    by_length = sorted(topology.stops, key=lambda stop: stop.branch_m, reverse=True)
    wanted = [stop for stop in topology.stops if stop.port in ringing]
    wanted += [stop for stop in by_length[:3] if stop not in wanted]
    for stop in wanted:
        if stop.branch_m <= LEAST_M or stop.repeated or not stop.port:
            continue
        for share in SHORTER:
            length_m = round(max(LEAST_M, stop.branch_m * share), 2)
            if length_m < stop.branch_m:
                yield "branch", _shortened(vehicle, name, stop, length_m)


def _shortened(vehicle: Vehicle, name: str, stop: Stop, length_m: float) -> Change:
    """Less branch cable; where that is not enough, the component's own lead too."""
    component, _, port = stop.port.partition(".")
    edits: list[Edit] = []
    cable_m = stop.branch_m - stop.lead_m
    if cable_m > 0.0:
        edits.append(
            Edit(("lines", name, "stations", stop.index, "branch_m"), round(max(0.0, length_m - stop.lead_m), 3))
        )
    if length_m < stop.lead_m:
        path: Path = ("components", component, "ports", port, "pigtail_m")
        lead = vehicle.components[component].ports[port].pigtail_m
        if not isinstance(lead, Unknown):
            edits.append(Edit(path, replace(lead, value=length_m, low=None, high=None)))
    what = "branch and lead" if len(edits) == 2 else "branch" if cable_m > 0.0 else "lead"
    return Change(f"Shorten the {what} of {stop.port} to {length_m:.2f} m", tuple(edits))


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
