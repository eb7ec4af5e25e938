"""Faults that a line may get in its life, each the same vehicle with a change."""

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from loomwright.model.component import Component, Port
from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.terms.fact import Known

OPEN_END = "open_end"
"""Name of what stands in a faulty vehicle where something is gone or left behind: bare contacts, nothing between them."""


class FaultKind(StrEnum):
    """What is wrong."""

    NO_TERMINATOR = "no terminator"
    OPEN_BRANCH = "open branch"
    UNPLUGGED = "unplugged"
    OPEN_TRUNK = "open trunk"
    STUB = "stub"


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a line. ``station`` is the index of the station that it is at; ``length_m`` that of a stub.

    ``NO_TERMINATOR``: its termination, plug-in or built in, is missing or broken. ``OPEN_BRANCH``: its branch is torn at
    the splice, so that neither cable nor component hangs there. ``UNPLUGGED``: the connector is off, the branch hangs open.
    ``OPEN_TRUNK``: the trunk is torn half-way from the station before; ``halves`` are what is left of it, and the whole
    with its gap is a matter of ``solve.topology.torn``, for no vehicle has it. ``STUB``: a forgotten lead hangs open
    beside the station's joint.
    """

    kind: FaultKind
    station: int
    length_m: float = 0.0


def with_fault(vehicle: Vehicle, line: str, fault: Fault) -> Vehicle:
    """The vehicle with a fault on one line; the same where only the trunk is torn. To be asked about that line alone."""
    station = vehicle.lines[line].stations[fault.station]
    own_place = vehicle.components[station.port.partition(".")[0]].place if station.port else station.at
    joint_place = station.at or own_place
    if fault.kind is FaultKind.OPEN_TRUNK:
        return vehicle
    if fault.kind is FaultKind.NO_TERMINATOR and station.port:
        return _without_termination(vehicle, station.port)
    if fault.kind is FaultKind.STUB:
        return _with_stub(vehicle, line, fault, joint_place)
    torn = fault.kind is FaultKind.OPEN_BRANCH
    faulty, port = _with_open_end(vehicle, joint_place if torn else own_place, 0.0)

    def instead(own: Station) -> Station:
        end = replace(own, port=port, terminator_ohm=None, terminated=False)
        return replace(end, at=joint_place, branch_m=0.0) if torn else end

    stations = vehicle.lines[line].stations
    # A trunk that comes back to a port has it twice.
    same = [own is station or bool(station.port and own.port == station.port) for own in stations]
    return _stationed(faulty, line, tuple(instead(own) if it else own for own, it in zip(stations, same, strict=True)))


def halves(vehicle: Vehicle, line: str, fault: Fault, half_m: float) -> tuple[Vehicle, Vehicle]:
    """The vehicle with what is left of a line on either side of its torn trunk, as if the other side were not there.

    Each side ends in bare contacts, ``half_m`` of trunk from its last station. Not for a trunk that comes back to a
    port: there both sides are still joined.
    """
    stations, at = vehicle.lines[line].stations, fault.station

    def ended(beside: Station) -> tuple[Vehicle, Station]:
        place = beside.at or vehicle.components[beside.port.partition(".")[0]].place
        faulty, port = _with_open_end(vehicle, place, 0.0)
        return faulty, Station(port, at=place)

    faulty, end = ended(stations[at - 1])
    first = _stationed(faulty, line, (*stations[:at], replace(end, section_m=half_m)))
    faulty, end = ended(stations[at])
    return first, _stationed(faulty, line, (end, replace(stations[at], via=(), section_m=half_m), *stations[at + 1 :]))


def _without_termination(vehicle: Vehicle, address: str) -> Vehicle:
    name, _, own = address.partition(".")
    component = vehicle.components[name]
    ports = component.ports.put(own, replace(component.ports[own], termination=Known("none")))
    return replace(vehicle, components=vehicle.components.put(name, replace(component, ports=ports)))


def _with_stub(vehicle: Vehicle, line: str, fault: Fault, joint_place: str) -> Vehicle:
    """Hang an open lead beside a station's joint, on its inner side, so that the ends of the trunk stay its ends."""
    stations = vehicle.lines[line].stations
    faulty, port = _with_open_end(vehicle, joint_place, fault.length_m)
    lead, at = Station(port, at=joint_place, section_m=0.0), fault.station
    if at < len(stations) - 1:
        return _stationed(faulty, line, (*stations[: at + 1], lead, *stations[at + 1 :]))
    before = replace(lead, via=stations[at].via, section_m=stations[at].section_m)
    last = replace(stations[at], via=(), section_m=0.0)
    return _stationed(faulty, line, (*stations[:at], before, last))


def _with_open_end(vehicle: Vehicle, place: str, lead_m: float) -> tuple[Vehicle, str]:
    """Put bare contacts at the end of an open lead into a place; the vehicle and the address of the port."""
    name = OPEN_END
    while name in vehicle.components:
        name += "_"
    port = Port(
        termination=Known("none"),
        pigtail_m=Known(lead_m),
        node_resistance_ohm=Known(math.inf),
        node_capacitance_f=Known(0.0),
    )
    end = Component("service plug", place, ports=Table({"bus": port}))
    return replace(vehicle, components=vehicle.components.put(name, end)), f"{name}.bus"


def _stationed(vehicle: Vehicle, line: str, stations: tuple[Station, ...]) -> Vehicle:
    return replace(vehicle, lines=vehicle.lines.put(line, replace(vehicle.lines[line], stations=stations)))
