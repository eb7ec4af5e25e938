"""Which readings of an ohm-meter tell a fault of a line from the faults that look alike?"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from loomwright.model.component import Component
from loomwright.model.fault import Fault, FaultKind
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.faults import possible_faults
from loomwright.solve.ohms import LineOhms, StopOhms, line_ohms
from loomwright.solve.topology import LineTopology, Stop, torn
from loomwright.terms.answer import Answer, Blocked, Solved

APART = 0.1
"""Readings nearer than this share are not told apart: contacts, warm copper and the meter's own error; common practice."""
ALIKE = (FaultKind.NO_TERMINATOR, FaultKind.OPEN_BRANCH, FaultKind.OPEN_TRUNK)
"""Faults that are taken for each other with a meter in the hand; a loose plug and a forgotten lead are found by eye."""

OPEN_OHM = 1e9
"""More than this is nothing joined: no meter reads it, and it is what rounding leaves of an infinite resistance."""

Readings = tuple[StopOhms, ...]


@dataclass(frozen=True, slots=True)
class Faulty:
    """A line with a fault as wired. ``stations``: the numbers of its stations in the line as drawn, ``None`` for one more."""

    line: Line
    components: Table[Component]
    topology: LineTopology
    stations: tuple[int | None, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """What one fault reads in a step, at each station of the line as drawn; ``fault`` is ``None`` for the sound line.

    ``apart``: somewhere it reads something else than the fault that is looked for.
    """

    fault: Fault | None
    readings: Readings
    apart: bool


@dataclass(frozen=True, slots=True)
class Step:
    """One walk along the line with the meter. ``unplugged`` is the station whose plug is off, ``None`` for none.

    ``others`` are those that no step before has told apart.
    """

    unplugged: int | None
    readings: Readings
    others: tuple[Look, ...]


@dataclass(frozen=True, slots=True)
class FaultFinding:
    """Walks that tell a fault from its look-alikes. ``left``: those that no walk does; ``seen``: the sound line is not one.

    ``sound`` are the readings of the line as drawn.

    Every walk but the first takes one plug off, and is there because it tells more than any other one.
    """

    fault: Fault
    steps: tuple[Step, ...]
    left: tuple[Fault, ...]
    seen: bool
    sound: Readings


@dataclass(frozen=True, slots=True)
class _Case:
    """Readings of a fault with everything plugged in, and with each station unplugged."""

    fault: Fault | None
    plugged: Readings
    without: tuple[tuple[int, Readings], ...]

    def at(self, unplugged: int | None) -> Readings:
        return self.plugged if unplugged is None else dict(self.without)[unplugged]


def fault_finding(
    line: Line, components: Table[Component], cable: Cable, topology: LineTopology, fault: Fault, faulty: Faulty
) -> Answer[FaultFinding]:
    """Compare readings along the line, plugged in and with one termination off, of the fault and of its look-alikes.

    ``topology`` is the sound line's. Two faults are told apart where the ranges of their readings, tolerances included,
    are ``APART`` from each other at any station. Blocked as the readings are.
    """
    sound = line_ohms(line, components, cable, topology)
    if isinstance(sound, Blocked):
        return sound
    same = tuple(range(len(topology.stops)))
    cases = [_case(None, sound.value, topology, same)]
    for other in possible_faults(topology, components):
        if other.kind in ALIKE:
            wired = wired_with(topology, other)
            read = line_ohms(line, components, cable, wired)
            assert not isinstance(read, Blocked), "a fault asks for no fact that the sound line does not"
            cases.append(_case(other, read.value, wired, same))
    own = next((case for case in cases if case.fault == fault), None)
    if own is None:
        read = line_ohms(faulty.line, faulty.components, cable, faulty.topology)
        if isinstance(read, Blocked):
            return read
        own = _case(fault, read.value, faulty.topology, faulty.stations)
    others = [case for case in cases if case is not own]
    # A loose plug is found by eye, and put on again before any other one is taken off.
    pulled = [] if fault.kind is FaultKind.UNPLUGGED else _unpluggable(topology)
    return Solved(_finding(own, others, pulled, topology), sound.assumed)


def wired_with(topology: LineTopology, fault: Fault) -> LineTopology:
    """The line as wired with one of the faults in ``ALIKE``: for readings, not for waves.

    Nodes and stops keep their numbers. A torn branch hangs on its component still, and is joined to nothing else.
    """
    stop = topology.stops[fault.station]
    if fault.kind is FaultKind.OPEN_TRUNK:
        return torn(topology, fault.station)
    if fault.kind is FaultKind.NO_TERMINATOR:
        gone = replace(stop, termination="off", termination_ohm=None)
        return replace(topology, stops=_put(topology, gone))
    end = topology.nodes
    pieces = tuple(
        replace(piece, start=end) if piece.end == stop.tip and piece.start == stop.joint else piece
        for piece in topology.pieces
    )
    return replace(topology, nodes=end + 1, pieces=pieces, stops=_put(topology, replace(stop, joint=end)))


def _put(topology: LineTopology, stop: Stop) -> tuple[Stop, ...]:
    return tuple(stop if own.index == stop.index else own for own in topology.stops)


def _case(fault: Fault | None, ohms: LineOhms, topology: LineTopology, stations: Sequence[int | None]) -> _Case:
    def told(readings: Readings) -> Readings:
        numbered = zip(readings, stations, strict=True)
        return tuple(_numbered(own, number) for own, number in numbered if number is not None)

    unplugged = [stations[stop.index] for stop in topology.stops if not stop.repeated]
    without = zip(unplugged, (readings for _, readings in ohms.unplugged), strict=True)
    return _Case(fault, told(ohms.stops), tuple((at, told(own)) for at, own in without if at is not None))


def _numbered(own: StopOhms, number: int) -> StopOhms:
    low, typical, high = (ohm if ohm < OPEN_OHM else math.inf for ohm in (own.low_ohm, own.ohm, own.high_ohm))
    return StopOhms(number, own.port, low, typical, high)


def _unpluggable(topology: LineTopology) -> list[int]:
    """Stations whose plug takes a termination off. Components first: a plug-in terminator may be what is missing.

    Not a component on the way that the trunk goes through: with its plug the trunk would come apart too.
    """
    ends = (0, len(topology.stops) - 1)
    on = [
        stop
        for stop in topology.stops
        if stop.termination == "on"
        and not stop.repeated
        and (not stop.port or stop.tip != stop.joint or stop.index in ends)
    ]
    return [stop.index for stop in sorted(on, key=lambda stop: not stop.port)]


def _finding(own: _Case, others: list[_Case], unpluggable: list[int], topology: LineTopology) -> FaultFinding:
    assert own.fault is not None
    steps = [_step(own, others, None)]
    left = _left(others, steps[0])
    if own.fault.kind is FaultKind.OPEN_BRANCH and topology.stops[own.fault.station].termination != "on":
        # The readings tell it already; with its plug off they tell the cable from the component too.
        steps.append(_step(own, [case for case in others if case.fault is None], own.fault.station))
    while left and unpluggable:
        tried = [_step(own, left, at) for at in unpluggable]
        best = min(tried, key=lambda step: len(_left(left, step)))
        if len(_left(left, best)) == len(left):
            break
        steps.append(best)
        left = _left(left, best)
    faults = tuple(case.fault for case in left if case.fault is not None)
    seen = all(case.fault is not None for case in left)
    sound = next(case for case in others if case.fault is None)
    return FaultFinding(own.fault, tuple(steps), faults, seen, sound.plugged)


def _step(own: _Case, others: Sequence[_Case], unplugged: int | None) -> Step:
    mine = own.at(unplugged)
    looks = ((case.fault, case.at(unplugged)) for case in others)
    return Step(unplugged, mine, tuple(Look(fault, read, _apart(mine, read)) for fault, read in looks))


def _left(others: Sequence[_Case], step: Step) -> list[_Case]:
    """Those that a step does not tell apart."""
    return [case for case, look in zip(others, step.others, strict=True) if not look.apart]


def _apart(one: Readings, other: Readings) -> bool:
    more = 1.0 + APART
    return any(
        mine.high_ohm * more < read.low_ohm or read.high_ohm * more < mine.low_ohm
        for mine, read in zip(one, other, strict=True)
    )
