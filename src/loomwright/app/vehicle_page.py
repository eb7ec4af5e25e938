"""What the vehicle's page shows: the plan to work on, and tables that say the same in numbers."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from loomwright.app.cells import Cell, cell, name_cell
from loomwright.app.check import WORST_LAST
from loomwright.app.component_sheet import FactForm, fact_form
from loomwright.app.fields import FieldForm, field_form
from loomwright.app.plan_drawing import plan
from loomwright.app.project import Project
from loomwright.files.read import is_fact
from loomwright.model.vehicle import Cable, Vehicle
from loomwright.show.names import component_title
from loomwright.show.quantity import bare
from loomwright.solve.ways import straight_m
from loomwright.terms.answer import Solved
from loomwright.terms.change import path_text
from loomwright.terms.field import fields_of
from loomwright.terms.finding import Weight
from loomwright.terms.quantity import Kind

OWN_FIELDS = ("name", "length_m", "width_m", "rule_set", "wet", "ambient_low_k", "ambient_high_k")


@dataclass(frozen=True, slots=True)
class OnLine:
    """A component's stop on a line: title, path of the station, length of the branch."""

    title: str
    path: str
    branch: str


@dataclass(frozen=True, slots=True)
class ComponentRow:
    """A component in the table beside the plan."""

    name: str
    path: str
    title: str
    role: str
    place: Cell
    lines: tuple[OnLine, ...]
    locks: tuple[tuple[str, str], ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A place; ``holds`` names what is mounted there."""

    name: str
    path: str
    cells: tuple[Cell, ...]
    wet: Cell
    holds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RunRow:
    """A run; ``straight`` is the distance between its places, which no cable can undercut."""

    name: str
    path: str
    ends: tuple[Cell, Cell]
    length: Cell
    straight: str
    clearance: Cell


@dataclass(frozen=True, slots=True)
class CableSheet:
    """A kind of cable: what is known of it, and the lines that are made of it."""

    name: str
    path: str
    own: tuple[FieldForm, ...]
    facts: tuple[FactForm, ...]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class VehiclePage:
    """Everything on the page."""

    drawing: str
    components: tuple[ComponentRow, ...]
    places: tuple[PlaceRow, ...]
    runs: tuple[RunRow, ...]
    cables: tuple[CableSheet, ...]
    fields: tuple[FieldForm, ...]
    place_names: tuple[tuple[str, str], ...]


def vehicle_page(project: Project) -> VehiclePage:
    """The page of the open project."""
    vehicle = project.vehicle
    return VehiclePage(
        plan(project),
        tuple(_components(project)),
        tuple(_places(vehicle)),
        tuple(_runs(vehicle)),
        tuple(_cables(vehicle)),
        tuple(_fields(vehicle)),
        tuple((name, place.title) for name, place in vehicle.places.items()),
    )


def _components(project: Project) -> Iterator[ComponentRow]:
    vehicle, on = project.vehicle, _on_lines(project)
    worst: dict[str, int] = {}
    for finding in project.answers.findings(vehicle):
        if finding.reading.weight is Weight.GOVERNS and not finding.accepted:
            for name in _components_of(vehicle, finding.reading.subject):
                worst[name] = max(worst.get(name, 0), WORST_LAST.index(finding.verdict))
    for name, component in vehicle.components.items():
        path = ("components", name)
        locks = [(path_text(("locks", key)), lock.why or lock.must) for key, lock in vehicle.locks.items()
                 if lock.port.partition(".")[0] == name]  # fmt: skip
        yield ComponentRow(
            name,
            path_text(path),
            component_title(name, component),
            component.role,
            cell(vehicle, (*path, "place"), f"Place of {component_title(name, component)}", names="place-names"),
            on.get(name, ()),
            tuple(locks),
            WORST_LAST[worst[name]].value if name in worst else "",
        )


def _on_lines(project: Project) -> dict[str, tuple[OnLine, ...]]:
    """For every component its stops, in the order of lines."""
    found: dict[str, tuple[OnLine, ...]] = {}
    for name, line in project.vehicle.lines.items():
        topology = project.answers.topology(project.vehicle, name)
        stops = {stop.index: stop for stop in topology.value.stops} if isinstance(topology, Solved) else {}
        for index, station in enumerate(line.stations):
            component = station.port.partition(".")[0]
            stop = stops.get(index)
            if component and not (stop and stop.repeated):
                branch = bare(stop.branch_m if stop else None, Kind.LENGTH, "m")
                one = OnLine(line.title or name, f"lines.{name}.stations[{index}]", branch)
                found[component] = (*found.get(component, ()), one)
    return found


def _components_of(vehicle: Vehicle, subject: tuple[str | int, ...]) -> tuple[str, ...]:
    """The component that a finding is about: by itself, or as a station."""
    if subject[:1] == ("components",) and len(subject) > 1:
        return (str(subject[1]),)
    if len(subject) > 3 and subject[2] == "stations" and isinstance(subject[3], int) and subject[1] in vehicle.lines:
        stations = vehicle.lines[str(subject[1])].stations
        if subject[3] < len(stations) and stations[subject[3]].port:
            return (stations[subject[3]].port.partition(".")[0],)
    return ()


def _places(vehicle: Vehicle) -> Iterator[PlaceRow]:
    holds: dict[str, tuple[str, ...]] = {}
    for name, component in vehicle.components.items():
        holds[component.place] = (*holds.get(component.place, ()), component_title(name, component))
    for name in vehicle.places:
        path = ("places", name)
        cells = (
            name_cell(path, f"Name of place {name}"),
            cell(vehicle, (*path, "title"), f"What the workshop calls {name}"),
            *(cell(vehicle, (*path, f"{axis}_m"), f"{axis} of {name}", "m") for axis in "xyz"),
        )
        wet = cell(vehicle, (*path, "wet"), f"Wet at {name}")
        yield PlaceRow(name, path_text(path), cells, wet, holds.get(name, ()))


def _runs(vehicle: Vehicle) -> Iterator[RunRow]:
    for name, run in vehicle.runs.items():
        path = ("runs", name)
        yield RunRow(
            name,
            path_text(path),
            (
                cell(vehicle, (*path, "start"), f"Run {name} from", names="place-names"),
                cell(vehicle, (*path, "end"), f"Run {name} to", names="place-names"),
            ),
            cell(vehicle, (*path, "length_m"), f"Length of run {name}", "m"),
            bare(straight_m(vehicle.places[run.start], vehicle.places[run.end]), Kind.LENGTH, "m"),
            cell(vehicle, (*path, "high_voltage_clearance_m"), f"High-voltage clearance of run {name}", "m"),
        )


def _cables(vehicle: Vehicle) -> Iterator[CableSheet]:
    for name in vehicle.cables:
        path = ("cables", name)
        fields = fields_of(Cable)
        yield CableSheet(
            name,
            path_text(path),
            tuple(field_form(vehicle, (*path, item.name)) for item in fields if not is_fact(item)),
            tuple(fact_form(vehicle, (*path, item.name)) for item in fields if is_fact(item)),
            tuple(line.title or key for key, line in vehicle.lines.items() if line.cable == name),
        )


def _fields(vehicle: Vehicle) -> Iterator[FieldForm]:
    for name in OWN_FIELDS:
        yield field_form(vehicle, (name,))
    for number in range(len(vehicle.axles)):
        for name in ("x_m", "track_m"):
            form = field_form(vehicle, ("axles", number, name))
            yield replace(form, label=f"axle {number + 1}, {form.label}")
