"""What the pages of lines show: the plan, the rulers, and tables that say the same in numbers."""

import math
from dataclasses import dataclass

from loomwright.app.check import WORST_LAST
from loomwright.app.project import Project
from loomwright.app.session import View
from loomwright.model.line import Line
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title
from loomwright.show.plan import vehicle_plan
from loomwright.show.quantity import bare, fact_text
from loomwright.show.ruler import line_ruler
from loomwright.show.tokens import hue
from loomwright.solve.ohms import LineOhms
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import path_text
from loomwright.terms.finding import Finding, Weight
from loomwright.terms.quantity import Kind


PAGE_PX = 900.0
"""Width of a drawing on a page: narrower than on paper, so that its words stay readable beside the margin."""


@dataclass(frozen=True, slots=True)
class LineRow:
    """A line in the table of lines; figures in words, units in the column's head."""

    name: str
    title: str
    path: str
    protocol: str
    bit_rate: str
    stops: int
    trunk: str
    branches: str
    cable: str
    ohms: str
    verdict: str


@dataclass(frozen=True, slots=True)
class StopRow:
    """A stop in a line's table."""

    number: int
    path: str
    also: str
    title: str
    port: str
    place: str
    joint: str
    distance: str
    branch: str
    termination: str
    ohm: str
    low: str
    high: str


@dataclass(frozen=True, slots=True)
class LinePage:
    """A line by itself."""

    row: LineRow
    drawing: str
    stops: tuple[StopRow, ...]
    waits_for: tuple[str, ...]


def plan(project: Project) -> str:
    """The vehicle plan for a page, as SVG; remembered, because placing the labels takes a while."""
    vehicle, answers = project.vehicle, project.answers
    wired = tuple((name, answers.topology(vehicle, name)) for name in vehicle.lines)
    return answers.ask(_plan, vehicle, wired, answers.findings(vehicle))


def _plan(vehicle: Vehicle, wired: tuple[tuple[str, Answer[LineTopology]], ...], findings: tuple[Finding, ...]) -> str:
    return vehicle_plan(vehicle, dict(wired), findings, standalone=False, width=PAGE_PX)


def line_rows(project: Project) -> tuple[LineRow, ...]:
    """Every line of the vehicle."""
    return tuple(_row(project, name) for name in project.vehicle.lines)


def line_page(project: Project, name: str) -> LinePage:
    """One line, with its ruler where it can be drawn."""
    vehicle, answers = project.vehicle, project.answers
    line, topology, ohms = vehicle.lines[name], answers.topology(vehicle, name), answers.ohms(vehicle, name)
    waits = [path for answer in (topology, ohms) if isinstance(answer, Blocked) for path in answer.by]
    drawing = ""
    if isinstance(topology, Solved):
        of_line = tuple(f for f in answers.findings(vehicle) if f.reading.line == name)
        readings = ohms.value if isinstance(ohms, Solved) else None
        number = list(vehicle.lines).index(name)
        drawing = line_ruler(
            name,
            line,
            topology.value,
            readings,
            vehicle.components,
            of_line,
            hue=hue(number)[0],
            standalone=False,
            width=PAGE_PX,
        )
    return LinePage(
        _row(project, name),
        drawing,
        _stops(vehicle, name, topology, ohms),
        tuple(dict.fromkeys(path_text(path) for path in waits)),
    )


def line_names(view: View) -> tuple[tuple[str, str], ...]:
    """Name and title of every line."""
    return tuple((name, line.title or name) for name, line in view.vehicle.lines.items())


def _row(project: Project, name: str) -> LineRow:
    vehicle, answers = project.vehicle, project.answers
    line, topology, ohms = vehicle.lines[name], answers.topology(vehicle, name), answers.ohms(vehicle, name)
    wired = topology.value if isinstance(topology, Solved) else None
    own = [f for f in answers.findings(vehicle) if f.reading.line == name and f.reading.weight is Weight.GOVERNS]
    worst = max((WORST_LAST.index(f.verdict) for f in own if not f.accepted), default=0)
    return LineRow(
        name,
        line.title or name,
        f"lines.{name}",
        line.protocol,
        fact_text(line.bit_rate_bit_per_s, Kind.BIT_RATE),
        len(line.stations),
        bare(wired.trunk_m if wired else None, Kind.LENGTH, "m"),
        bare(wired.branches_m if wired else None, Kind.LENGTH, "m"),
        bare(wired.cable_m if wired else None, Kind.LENGTH, "m"),
        _ohms_of(ohms),
        WORST_LAST[worst].value,
    )


def _ohms_of(ohms: Answer[LineOhms]) -> str:
    """The reading at the stop where it is highest: the one figure that tells whether a termination is missing."""
    if isinstance(ohms, Blocked) or not ohms.value.stops:
        return "?"
    return bare(max(stop.ohm for stop in ohms.value.stops), Kind.RESISTANCE, "Ω")


def _stops(vehicle: Vehicle, name: str, topology: Answer[LineTopology], ohms: Answer[LineOhms]) -> tuple[StopRow, ...]:
    line: Line = vehicle.lines[name]
    wired = {stop.index: stop for stop in topology.value.stops} if isinstance(topology, Solved) else {}
    read = {stop.stop: stop for stop in ohms.value.stops} if isinstance(ohms, Solved) else {}
    rows = []
    for index, station in enumerate(line.stations):
        component = station.port.partition(".")[0]
        stop, ohm = wired.get(index), read.get(index)
        low, typical, high = (ohm.low_ohm, ohm.ohm, ohm.high_ohm) if ohm else (math.nan,) * 3
        own_place = vehicle.components[component].place if component in vehicle.components else ""
        rows.append(
            StopRow(
                index + 1,
                f"lines.{name}.stations[{index}]",
                f"components.{component}" if component else "",
                component_title(component, vehicle.components.get(component)) if component else "Plug-in terminator",
                station.port,
                own_place.replace("_", " "),
                station.at.replace("_", " "),
                bare(stop.distance_m if stop else None, Kind.LENGTH, "m"),
                bare(stop.branch_m if stop else None, Kind.LENGTH, "m"),
                stop.termination if stop else "?",
                bare(typical, Kind.RESISTANCE, "Ω"),
                bare(low, Kind.RESISTANCE, "Ω"),
                bare(high, Kind.RESISTANCE, "Ω"),
            )
        )
    return tuple(rows)
