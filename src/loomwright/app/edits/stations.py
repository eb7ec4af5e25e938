"""Stations of a line: order, branch points, terminations."""

from collections.abc import Callable
from dataclasses import replace

from loomwright.app.edits.names import EditError, known
from loomwright.model.line import Line, Station
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Edit

PortMap = Callable[[str], str | None]


def move_station(vehicle: Vehicle, line: str, index: int, to: int) -> Change:
    """Another order along the trunk. Where a stop gets another stop before it, its measured section goes."""
    stations = list(_line(vehicle, line).stations)
    moved = stations.pop(_index(stations, index))
    stations.insert(max(0, min(to, len(stations))), moved)
    return Change(f"reorder {line}: {_called(moved)}", (stations_edit(vehicle, line, stations),))


def set_station_at(vehicle: Vehicle, line: str, index: int, at: str) -> Change:
    """Let a branch leave the trunk at a place; with no place, or its own, the trunk passes through the component."""
    stations = list(_line(vehicle, line).stations)
    station = stations[_index(stations, index)]
    if at:
        known(vehicle.places, at, "place", "at")
    elif not station.port:
        raise EditError("a plug-in terminator needs its place", "at")
    if station.port and at == vehicle.components[station.port.partition(".")[0]].place:
        at = ""
    stations[index] = replace(station, at=at, via=(), section_m=None, branch_m=None)
    if index + 1 < len(stations):
        stations[index + 1] = replace(stations[index + 1], via=(), section_m=None)
    where = f"branches at {at}" if at else "on the trunk"
    return Change(f"{line}: {_called(station)} {where}", (Edit(("lines", line, "stations"), tuple(stations)),))


def set_terminated(vehicle: Vehicle, line: str, index: int, *, on: bool) -> Change:
    """Switch a switchable termination."""
    stations = _line(vehicle, line).stations
    station = stations[_index(stations, index)]
    title = f"{line}: termination of {_called(station)} {'on' if on else 'off'}"
    return Change(title, (Edit(("lines", line, "stations", index, "terminated"), on),))


def add_station(vehicle: Vehicle, line: str, port: str, index: int | None = None) -> Change:
    """Put a port on a line, at the end or before another stop."""
    stations = list(_line(vehicle, line).stations)
    known_port(vehicle, port)
    stations.insert(len(stations) if index is None else index, Station(port))
    return Change(f"{line}: add {port}", (stations_edit(vehicle, line, stations),))


def remove_station(vehicle: Vehicle, line: str, index: int) -> Change:
    """Take a stop off a line."""
    stations = list(_line(vehicle, line).stations)
    gone = stations.pop(_index(stations, index))
    return Change(f"{line}: remove {_called(gone)}", (stations_edit(vehicle, line, stations),))


def stations_edit(vehicle: Vehicle, line: str, wanted: list[Station]) -> Edit:
    """The new list; what was measured or told of a section goes where the section is another one now."""
    old = vehicle.lines[line].stations
    before = {id(station): old[number - 1] if number else None for number, station in enumerate(old)}
    made = []
    for number, station in enumerate(wanted):
        previous = wanted[number - 1] if number else None
        kept = id(station) in before and before[id(station)] is previous
        made.append(station if kept else replace(station, via=(), section_m=None))
    return Edit(("lines", line, "stations"), tuple(made))


def station_edits(vehicle: Vehicle, port_of: PortMap) -> list[Edit]:
    """Edits that give stations other ports, or take out those that ``port_of`` knows none for."""
    edits = []
    after = vehicle
    for name, line in vehicle.lines.items():
        kept = [station for station in line.stations if not station.port or port_of(station.port) is not None]
        if len(kept) != len(line.stations):
            edits.append(stations_edit(after, name, kept))
            after = changed(after, Change("", (edits[-1],)))
            continue
        for index, station in enumerate(line.stations):
            port = port_of(station.port) if station.port else station.port
            if port != station.port:
                edits.append(Edit(("lines", name, "stations", index, "port"), port))
    return edits


def known_port(vehicle: Vehicle, port: str, field: str = "port") -> None:
    """Refuse a port that no component has."""
    component, _, inner = port.partition(".")
    if inner not in known(vehicle.components, component, "component", field).ports:
        raise EditError(f"there is no port {port!r}", field)


def _line(vehicle: Vehicle, name: str) -> Line:
    return known(vehicle.lines, name, "line")


def _called(station: Station) -> str:
    return station.port or f"terminator at {station.at}"


def _index(stations: list[Station] | tuple[Station, ...], index: int) -> int:
    if not 0 <= index < len(stations):
        raise EditError(f"the line has no stop {index + 1}")
    return index
