"""What an edge meets on a line, in sentences: the same for a page and for a terminal."""

from collections.abc import Sequence

from loomwright.app.project import Project
from loomwright.app.signal import LinePhysics
from loomwright.judge.evidence import cable_of, components_on
from loomwright.propose.signal_cures import Effect
from loomwright.show.signal_words import (
    Ends,
    long_piece,
    remarks,
    ringing,
    ringing_cures,
    short_branches,
    slowest_apart,
)
from loomwright.show.titled import Titles
from loomwright.solve.echoes import Mismatch, mismatches
from loomwright.solve.signal import PairSignal
from loomwright.solve.signal_parts import signal_parts
from loomwright.solve.ways import way_through
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Unknown

FAR_LONGER = 2.0
"""A trunk piece entered by hand is odd from so many times the way along the runs on."""
FAR_LONGER_M = 1.0
"""And from so many metres more: a short piece may well go round a corner."""


def spots_of(project: Project, name: str) -> tuple[Mismatch, ...]:
    """Where the edges of a line come back from; none where it cannot be computed."""
    vehicle = project.vehicle
    line, wired = vehicle.lines[name], project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        return ()
    parts = signal_parts(line, components_on(vehicle, line), cable_of(vehicle, line), wired.value)
    return () if isinstance(parts, Blocked) else mismatches(parts)


def remarks_of(
    project: Project,
    name: str,
    physics: LinePhysics,
    spots: tuple[Mismatch, ...],
    effects: Sequence[Effect] | None,
    asking: str,
) -> tuple[str, ...]:
    """What an edge meets on a line. ``effects`` are the changes that were tried; ``asking`` says how to have them tried."""
    rings = rings_of(project, name, physics, effects, asking)
    met = met_by_an_edge(project, name, physics, spots)
    return (rings, *met) if rings else met


def rings_of(project: Project, name: str, physics: LinePhysics, effects: Sequence[Effect] | None, asking: str) -> str:
    """The two branches between which the latest bit rings, and what ends it; nothing where none was found."""
    pair = ringing_pair(project, name, physics)
    if pair is None or isinstance(physics.signal, Blocked):
        return ""
    rings = ringing(physics.signal.value, _branches_m(project, name), Titles(project.vehicle, name).port)
    return f"{rings} {ringing_cures(effects, asking)}"


def ringing_pair(project: Project, name: str, physics: LinePhysics) -> PairSignal | None:
    """The pair whose branches ring, where that makes the line's latest bit late."""
    if isinstance(physics.signal, Blocked):
        return None
    signal = physics.signal.value
    found = ringing(signal, _branches_m(project, name), Titles(project.vehicle, name).port)
    return slowest_apart(signal) if found else None


def met_by_an_edge(project: Project, name: str, physics: LinePhysics, spots: tuple[Mismatch, ...]) -> tuple[str, ...]:
    """Terminations, cable and branches as an edge meets them, and trunk that is longer than its way."""
    vehicle = project.vehicle
    wired = project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked) or isinstance(physics.signal, Blocked):
        return ()
    cable = cable_of(vehicle, vehicle.lines[name])
    delay_s, ohm = (
        otherwise if isinstance(fact, Unknown) else fact.value
        for fact, otherwise in ((cable.delay_s_per_m, 5e-9), (cable.impedance_ohm, 0.0))
    )
    stops = wired.value.stops
    on = [stop for stop in stops if stop.termination == "on" and not stop.repeated]
    own_ohm = {
        stop.index: stop.termination_ohm.value
        for stop in on
        if stop.termination_ohm is not None and not isinstance(stop.termination_ohm, Unknown)
    }
    signal = physics.signal.value
    left_s = signal.sample_s - signal.electronics_s
    pair, branches_m = ringing_pair(project, name, physics), _branches_m(project, name)
    told = short_branches(
        rings=[branches_m[port] for port in (pair.sender, pair.receiver)] if pair else (),
        delay_s_per_m=delay_s,
        late=max(pair.typical_s for pair in signal.pairs) > left_s,
        late_at_worst=signal.worst.settle_s > left_s,
    )
    ends = Ends(own_ohm, ohm)
    met = remarks(spots, len(on), delay_s, Titles(vehicle, name).stop, ends=ends, short_ones=told)
    return (*met, *long_pieces(project, name))


def long_pieces(project: Project, name: str) -> tuple[str, ...]:
    """Pieces of trunk that were entered by hand and are far longer than the way along the runs."""
    vehicle = project.vehicle
    wired = project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        return ()
    net, titles, stops = project.answers.ways(vehicle), Titles(vehicle, name), wired.value.stops
    told = []
    for station, before, stop in zip(vehicle.lines[name].stations[1:], stops, stops[1:], strict=False):
        way = way_through(net, (before.joint_place, *station.via, stop.joint_place))
        if station.section_m is None or way is None or way.unknown:
            continue
        if station.section_m > FAR_LONGER * way.length_m and station.section_m > way.length_m + FAR_LONGER_M:
            told.append(long_piece(station.section_m, way.length_m, titles.stop(before.index), titles.stop(stop.index)))
    return tuple(told)


def _branches_m(project: Project, name: str) -> dict[str, float]:
    wired = project.answers.topology(project.vehicle, name)
    if isinstance(wired, Blocked):
        return {}
    return {stop.port: stop.branch_m for stop in wired.value.stops if stop.port and not stop.repeated}
