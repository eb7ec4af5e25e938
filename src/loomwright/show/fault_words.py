"""Faults of a line in words: the short text that names one, and the sentence that says what it is."""

from loomwright.model.component import Component
from loomwright.model.fault import Fault, FaultKind
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.show.names import component_title
from loomwright.show.quantity import text as quantity
from loomwright.solve.topology import LineTopology
from loomwright.terms.quantity import Kind

_UNPLUGGED = {True: "; the trunk ends open there.", False: ". The wires of the trunk stay joined in it."}
"""What becomes of the trunk where a component without a branch is unplugged, at an end of it or on the way."""


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


def fault_text(fault: Fault, line: Line) -> str:
    """The text that names a fault on a command line and in an address, such as ``no terminator at pedal_box``."""
    names = station_names(line)
    if fault.kind is FaultKind.OPEN_TRUNK:
        return f"open trunk between {names[fault.station - 1]} and {names[fault.station]}"
    long = f" {fault.length_m:g} m" if fault.kind is FaultKind.STUB else ""
    return f"{fault.kind.value}{long} at {names[fault.station]}"


def fault_sentence(fault: Fault, line: Line, components: Table[Component], sound: LineTopology) -> str:
    """What is wrong, in one sentence."""

    def called(index: int) -> str:
        station = line.stations[index]
        component = station.port.partition(".")[0]
        return component_title(component, components.get(component)) if component else f"the terminator at {station.at}"

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
