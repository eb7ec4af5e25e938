"""Whole lines: begin one, take one out, end one with a plug-in terminator."""

from loomwright.app.edits.names import EditError, free, free_name, known
from loomwright.app.edits.stations import stations_edit
from loomwright.model.line import Line, Station
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Known


def add_line(vehicle: Vehicle, title: str, name: str = "") -> tuple[str, Change]:
    """An empty line; its bit rate is still to be asked. Its name and the change."""
    if not title.strip():
        raise EditError("what is the line called?", "title")
    name = name or free_name(vehicle.lines, title)
    free(vehicle.lines, name, "line")
    cable = next(iter(vehicle.cables), "")
    return name, Change(f"add line {name}", (Edit(("lines", name), Line(title.strip(), cable=cable)),))


def remove_line(vehicle: Vehicle, name: str) -> Change:
    """Take a line out with its stations, and the locks that hold a port to it."""
    known(vehicle.lines, name, "line")
    locks = [Edit(("locks", n), None) for n, lock in vehicle.locks.items() if lock.line == name]
    return Change(f"remove line {name}", (*locks, Edit(("lines", name), None)))


def add_terminator(vehicle: Vehicle, line: str, place: str, *, first: bool, ohm: float = 120.0) -> Change:
    """A plug-in terminator before the first or after the last stop."""
    stations = list(known(vehicle.lines, line, "line").stations)
    known(vehicle.places, place, "place", "place")
    if not ohm > 0.0:
        raise EditError("a terminator has more than 0 ohm", "ohm")
    plug = Station(terminator_ohm=Known(ohm), at=place)
    stations.insert(0 if first else len(stations), plug)
    return Change(f"{line}: terminator at {place}", (stations_edit(vehicle, line, stations),))
