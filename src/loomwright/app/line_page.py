"""What the page of one line shows: the vehicle with that line, its ruler, its stops, and what is settled about it."""

import math
from dataclasses import dataclass

from loomwright.app.cells import Cell, cell
from loomwright.app.component_sheet import FactForm, fact_form
from loomwright.app.fields import FieldForm, field_form
from loomwright.app.lines import LineRow, line_row
from loomwright.app.margin import shown_in
from loomwright.app.plan_drawing import PAGE_PX, plan
from loomwright.app.project import Project
from loomwright.model.component import Port
from loomwright.model.vehicle import RULE_SETS, Vehicle
from loomwright.show.names import component_title
from loomwright.show.quantity import bare
from loomwright.show.quantity import text as quantity
from loomwright.show.ruler import line_ruler
from loomwright.show.tokens import hue
from loomwright.solve.ohms import LineOhms, StopOhms
from loomwright.solve.topology import LineTopology, Stop
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import path_text
from loomwright.terms.fact import Unknown, value_of
from loomwright.terms.quantity import Kind

PLAIN = (
    "title",
    "protocol",
    "frames",
    "cable",
    "rule_set",
    "controller",
    "load_limit",
    "errors_at_once",
    "error_gap_s",
)
FACTS = ("bit_rate_bit_per_s", "identifiers", "propagation_segment_s")
DATA_FACTS = ("data_bit_rate_bit_per_s",)
"""Asked of an FD line alone."""
Option = tuple[str, str]


@dataclass(frozen=True, slots=True)
class StopRow:
    """A stop in the table; figures in words, units in the column's head.

    ``at`` is where its branch leaves the trunk; a plug-in terminator stands there. ``switch`` is "on" or "off" where
    the termination can be switched, ``without`` the reading that is left with something unplugged.
    """

    index: int
    path: str
    also: str
    title: str
    port: str
    place: str
    at: Cell
    leads_through: bool
    distance: str
    branch: str
    termination: str
    switch: str
    ohm: str
    low: str
    high: str
    without: str


@dataclass(frozen=True, slots=True)
class LinePage:
    """A line by itself. ``unplugged`` are the things that can be pulled off, ``without`` the one that is."""

    row: LineRow
    plan: str
    ruler: str
    stops: tuple[StopRow, ...]
    waits_for: tuple[str, ...]
    unplugged: tuple[Option, ...]
    without: str
    plain: tuple[tuple[FieldForm, tuple[Option, ...]], ...]
    facts: tuple[FactForm, ...]
    free_ports: tuple[Option, ...]
    taken_ports: tuple[Option, ...]
    places: tuple[Option, ...]


def line_page(project: Project, name: str, without: str = "") -> LinePage:
    """One line, with its ruler where it can be drawn; ``without`` names what is unplugged for the readings."""
    vehicle, answers = project.vehicle, project.answers
    topology, ohms = answers.topology(vehicle, name), answers.ohms(vehicle, name)
    waits = [path for answer in (topology, ohms) if isinstance(answer, Blocked) for path in answer.by]
    left = dict(ohms.value.unplugged) if isinstance(ohms, Solved) else {}
    without = without if without in left else ""
    free, taken = _ports(vehicle, name)
    facts = (*FACTS, *(DATA_FACTS if vehicle.lines[name].frames == "FD" else ()))
    return LinePage(
        line_row(project, name),
        plan(project, name),
        ruler(project, vehicle, name, without),
        _stops(vehicle, name, topology, ohms, left.get(without, ())),
        tuple(dict.fromkeys(path_text(path) for path in waits)),
        tuple((key, _unplugged_title(vehicle, key)) for key in left),
        without,
        tuple(_plain(vehicle, name)),
        tuple(fact_form(vehicle, ("lines", name, item)) for item in facts),
        free,
        taken,
        tuple((place, spot.title) for place, spot in vehicle.places.items()),
    )


def ruler(project: Project, vehicle: Vehicle, name: str, without: str = "") -> str:
    """The ruler of a line, of the project's vehicle or a changed one; empty where it cannot be drawn."""
    answers = project.answers
    topology, ohms = answers.topology(vehicle, name), answers.ohms(vehicle, name)
    if not isinstance(topology, Solved):
        return ""
    readings = ohms.value if isinstance(ohms, Solved) else None
    if readings is not None and without in dict(readings.unplugged):
        readings = LineOhms(name, dict(readings.unplugged)[without], ())
    return line_ruler(
        name,
        vehicle.lines[name],
        topology.value,
        readings,
        vehicle.components,
        tuple(finding for finding in answers.findings(vehicle) if shown_in(finding, (f"lines.{name}",))),
        hue=hue(list(vehicle.lines).index(name))[0],
        standalone=False,
        width=PAGE_PX,
        handles=True,
    )


def _stops(
    vehicle: Vehicle,
    name: str,
    topology: Answer[LineTopology],
    ohms: Answer[LineOhms],
    left: tuple[StopOhms, ...],
) -> tuple[StopRow, ...]:
    wired = {stop.index: stop for stop in topology.value.stops} if isinstance(topology, Solved) else {}
    read = {stop.stop: stop for stop in ohms.value.stops} if isinstance(ohms, Solved) else {}
    rest = {stop.stop: stop for stop in left}
    rows = []
    for index, station in enumerate(vehicle.lines[name].stations):
        component, _, port_name = station.port.partition(".")
        owner = vehicle.components.get(component)
        port = owner.ports.get(port_name) if owner else None
        stop, ohm, gone = wired.get(index), read.get(index), rest.get(index)
        low, typical, high = (ohm.low_ohm, ohm.ohm, ohm.high_ohm) if ohm else (math.nan,) * 3
        title = component_title(component, owner) if component else "Plug-in terminator"
        rows.append(
            StopRow(
                index,
                f"lines.{name}.stations[{index}]",
                f"components.{component}" if component else "",
                title,
                station.port,
                owner.place if owner else "",
                cell(
                    vehicle, ("lines", name, "stations", index, "at"), f"Branch of {title} leaves at", "", "place-names"
                ),
                bool(station.at and station.port),
                bare(stop.distance_m if stop else None, Kind.LENGTH, "m"),
                bare(stop.branch_m if stop else None, Kind.LENGTH, "m"),
                _termination(stop, port),
                _switch(port, on=station.terminated),
                bare(typical, Kind.RESISTANCE, "Ω"),
                bare(low, Kind.RESISTANCE, "Ω"),
                bare(high, Kind.RESISTANCE, "Ω"),
                bare(gone.ohm, Kind.RESISTANCE, "Ω") if gone else "",
            )
        )
    return tuple(rows)


def _termination(stop: Stop | None, port: Port | None) -> str:
    """``120 Ω`` where one is on, else what there is."""
    if stop is None or stop.termination == "unknown":
        return "?"
    if stop.repeated:
        return "as above"
    ohms = quantity(value_of(stop.termination_ohm), Kind.RESISTANCE) if stop.termination_ohm is not None else ""
    if stop.termination == "on":
        return ohms
    return f"off ({ohms})" if port is not None and ohms else "none"


def _switch(port: Port | None, *, on: bool) -> str:
    if port is None or isinstance(port.termination, Unknown) or port.termination.value != "switchable":
        return ""
    return "on" if on else "off"


def _plain(vehicle: Vehicle, name: str) -> list[tuple[FieldForm, tuple[Option, ...]]]:
    """Plain fields; those that name something else offer what there is."""
    on_it = dict.fromkeys(station.port for station in vehicle.lines[name].stations if station.port)
    offered: dict[str, tuple[Option, ...]] = {
        "cable": (("", "nominal bus cable"), *((key, cable.title or key) for key, cable in vehicle.cables.items())),
        "rule_set": (("", f"the vehicle's: {vehicle.rule_set}"), *((key, key) for key in RULE_SETS)),
        "controller": (("", "none"), *((port, port) for port in on_it)),
    }
    held = vehicle.lines[name].controller
    if held and held not in on_it:
        offered["controller"] += ((held, f"{held} (not on the line)"),)
    return [(field_form(vehicle, ("lines", name, item)), offered.get(item, ())) for item in PLAIN]


def _ports(vehicle: Vehicle, name: str) -> tuple[tuple[Option, ...], tuple[Option, ...]]:
    """Ports that could join: those on no line yet, and those on another one."""
    on = {station.port: key for key, line in vehicle.lines.items() for station in line.stations if station.port}
    free, taken = [], []
    for key, component in vehicle.components.items():
        for port in component.ports:
            address = f"{key}.{port}"
            title = f"{component_title(key, component)}, {port}"
            if address not in on:
                free.append((address, title))
            elif on[address] != name:
                taken.append((address, f"{title} (on {vehicle.lines[on[address]].title or on[address]})"))
    return tuple(free), tuple(taken)


def _unplugged_title(vehicle: Vehicle, key: str) -> str:
    component = key.partition(".")[0]
    return component_title(component, vehicle.components[component]) if component in vehicle.components else key
