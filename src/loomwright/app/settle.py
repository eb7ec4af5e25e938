"""A plan made to differ from the present lines as little as it can: same course, same joints, fewer changed words."""

import itertools
from dataclasses import replace

from loomwright.model.line import Line, Station
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Edit


def settled(change: Change, vehicle: Vehicle) -> Change:
    """The same plan with each line told from the end it is told from now, and present terminators kept as written."""
    edits = []
    for edit in change.edits:
        if edit.path[0] != "lines" or edit.path[2:] != ("stations",):
            edits.append(edit)
            continue
        line = vehicle.lines[str(edit.path[1])]
        stations = _kept_terminators(_from_the_same_end(edit.value, line), line)
        if stations != line.stations:
            edits.append(Edit(edit.path, stations))
    return Change(change.title, tuple(edits))


def turned(stations: tuple[Station, ...]) -> tuple[Station, ...]:
    """The same trunk told from its other end: each section's way and length move to the stop it now leads to."""
    new = []
    for before, station in zip([None, *reversed(stations)], reversed(stations), strict=False):
        via = before.via[::-1] if before is not None else ()
        section_m = before.section_m if before is not None else None
        new.append(replace(station, via=via, section_m=section_m))
    return tuple(new)


def _from_the_same_end(stations: tuple[Station, ...], line: Line) -> tuple[Station, ...]:
    now = {station.port: index for index, station in enumerate(line.stations) if station.port}
    order = [now[station.port] for station in stations if station.port in now]
    against = sum(a > b for a, b in itertools.combinations(order, 2))
    pairs = len(order) * (len(order) - 1) // 2
    return turned(stations) if 2 * against > pairs else stations


def _kept_terminators(stations: tuple[Station, ...], line: Line) -> tuple[Station, ...]:
    present = {station.at: station for station in line.stations if not station.port}
    return tuple(
        replace(station, terminator_ohm=present[station.at].terminator_ohm)
        if not station.port and station.at in present
        else station
        for station in stations
    )
