"""Faults of a line in words: the short text that names one, and the sentence that says what it is."""

from collections.abc import Callable

from loomwright.model.fault import Fault, FaultKind
from loomwright.model.line import Line
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title, spoken
from loomwright.show.quantity import text as quantity
from loomwright.solve.topology import LineTopology
from loomwright.terms.quantity import Kind

_UNPLUGGED = {True: "; the trunk ends open there.", False: ". The wires of the trunk stay joined in it."}
"""What becomes of the trunk where a component without a branch is unplugged, at an end of it or on the way."""

_OPEN_ENDS = {
    FaultKind.NO_TERMINATOR: ("No terminator", "the place of {}"),
    FaultKind.OPEN_BRANCH: ("Torn branch", "the stump of the branch to {}"),
    FaultKind.UNPLUGGED: ("Loose plug", "the loose plug of {}"),
    FaultKind.OPEN_TRUNK: ("Tear", "the tear between {} and {}"),
    FaultKind.STUB: ("Forgotten lead", "the forgotten lead at {}"),
}
"""What stands where something is gone or left behind is called: over a stop of a drawing, and in a sentence."""
Called = Callable[[int], str]
"""Names a station of the line as drawn."""


def caller(vehicle: Vehicle, line: Line) -> Called:
    """What people call each station in a sentence: its component's title, or the terminator with its place."""

    def called(index: int) -> str:
        station = line.stations[index]
        component = station.port.partition(".")[0]
        if component:
            return component_title(component, vehicle.components.get(component))
        return f"the terminator ({place_title(vehicle, station.at)})"

    return called


def first_capital(words: str) -> str:
    """The words as they begin a sentence or a row."""
    return words[:1].upper() + words[1:]


def place_title(vehicle: Vehicle, place: str) -> str:
    """What the workshop calls a place."""
    return (vehicle.places[place].title if place in vehicle.places else "") or spoken(place).lower()


def open_end_title(fault: Fault) -> str:
    """What stands over the stop where something is gone or left behind."""
    return _OPEN_ENDS[fault.kind][0]


def open_end_words(fault: Fault, called: Called) -> str:
    """The same in a sentence, with the station or the two that it is at."""
    words = _OPEN_ENDS[fault.kind][1]
    if fault.kind is FaultKind.OPEN_TRUNK:
        return words.format(called(fault.station - 1), called(fault.station))
    return words.format(called(fault.station).replace("the terminator", "the missing terminator"))


def station_names(line: Line) -> tuple[str, ...]:
    """What each station is called in a fault.

    Its component; the port where that has several here; a plug-in terminator's place, marked where it sounds the same.
    """
    components = [station.port.partition(".")[0] for station in line.stations]
    names: list[str] = []
    for index, (station, component) in enumerate(zip(line.stations, components, strict=True)):
        if station.port:
            ports = {own.port for own in line.stations if own.port.partition(".")[0] == component}
            names.append(component if len(ports) == 1 else station.port)
            continue
        place = f"{station.at} (plug)" if station.at in components else station.at
        names.append(f"station {index + 1}" if place in names else place)
    return tuple(names)


def station_titles(vehicle: Vehicle, line: Line) -> tuple[str, ...]:
    """What each station is called in a list: title and place; what it is called in a fault too, where two sound alike."""
    titles = []
    for station in line.stations:
        component = station.port.partition(".")[0]
        own = vehicle.components.get(component)
        place = own.place if own is not None else station.at
        titles.append(
            f"{component_title(component, own) if component else 'Terminator'}, {place_title(vehicle, place)}"
        )
    return tuple(
        title if titles.count(title) == 1 else f"{title} ({name})"
        for title, name in zip(titles, station_names(line), strict=True)
    )


def fault_title(fault: Fault, vehicle: Vehicle, line: Line) -> str:
    """A fault in a list under its kind: where it is, in the workshop's words."""
    titles = station_titles(vehicle, line)
    if fault.kind is FaultKind.OPEN_TRUNK:
        called = caller(vehicle, line)
        return f"between {called(fault.station - 1)} and {called(fault.station)}"
    return titles[fault.station]


def fault_text(fault: Fault, line: Line) -> str:
    """The text that names a fault on a command line and in an address, such as ``no terminator at pedal_box``."""
    names = station_names(line)
    if fault.kind is FaultKind.OPEN_TRUNK:
        return f"open trunk between {names[fault.station - 1]} and {names[fault.station]}"
    long = f" {fault.length_m:g} m" if fault.kind is FaultKind.STUB else ""
    return f"{fault.kind.value}{long} at {names[fault.station]}"


def fault_sentence(fault: Fault, line: Line, called: Called, sound: LineTopology) -> str:
    """What is wrong, in one sentence."""
    name, stop = called(fault.station), sound.stops[fault.station]
    terminated = " with its termination" if stop.termination == "on" else ""
    if fault.kind is FaultKind.NO_TERMINATOR:
        return f"The termination inside {name} is broken or off." if stop.port else f"T{name[1:]} is missing."
    if fault.kind is FaultKind.OPEN_BRANCH:
        return f"The branch to {name} is torn off where it meets the trunk; {name}{terminated} is cut off."
    if fault.kind is FaultKind.OPEN_TRUNK:
        return (
            f"The trunk is torn, half-way between {called(fault.station - 1)} and {name}: neither side hears the other."
        )
    if fault.kind is FaultKind.STUB:
        return f"A forgotten lead of {quantity(fault.length_m, Kind.LENGTH)} hangs open at {name}."
    off = f"The connector of {name} is off{', its termination with it' if terminated else ''}"
    cable_m = stop.branch_m - stop.lead_m
    hanging = f"; {quantity(cable_m, Kind.LENGTH)} of branch hang open."
    at_an_end = fault.station in (0, len(line.stations) - 1)
    return off + (hanging if stop.branch_m and cable_m > 0.0 else _UNPLUGGED[at_an_end])
