"""A component's sheet: every fact as a question to its manual, what refers to it, what was computed of its stops."""

from dataclasses import dataclass

from loomwright.app.components import FACTS, NOT_SAID, OWN_FACTS, in_order, lines_of
from loomwright.app.fields import FieldForm, FieldWords, field_form
from loomwright.app.project import Project
from loomwright.app.role_questions import CAUTION, HIGH_VOLTAGE, questions_of
from loomwright.model.component import Component
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title, spoken
from loomwright.show.quantity import text as quantity
from loomwright.terms.answer import Solved
from loomwright.terms.change import Path
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.quantity import Kind

OWN_ORDER = ("title", "role", "place", "maker", "manual")


class NoSuchComponentError(LoomwrightError):
    """A component that the vehicle does not have."""


@dataclass(frozen=True, slots=True)
class FactForm:
    """A fact on the sheet: its form, the question in its role's words, where its answer is usually found."""

    form: FieldForm
    status: str
    question: str
    where: str


@dataclass(frozen=True, slots=True)
class Figure:
    """Something computed of a stop: its name in words, its value with unit, the path to ask why."""

    label: str
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class StopFigures:
    """A stop of the component on a line."""

    line: str
    title: str
    path: str
    number: int
    of: int
    termination: str
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class PortSheet:
    """One port with its facts."""

    name: str
    address: str
    path: str
    facts: tuple[FactForm, ...]
    needed: FieldForm
    stops: tuple[StopFigures, ...]


@dataclass(frozen=True, slots=True)
class Reference:
    """Something that names the component: what it is, in words, and its path."""

    words: str
    path: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A component by itself; ``before`` and ``after`` are its neighbours in the table."""

    name: str
    title: str
    path: str
    role: str
    place: str
    manual: str
    own: tuple[FieldForm, ...]
    facts: tuple[FactForm, ...]
    ports: tuple[PortSheet, ...]
    also: tuple[str, ...]
    caution: str
    references: tuple[Reference, ...]
    before: tuple[str, str] | None
    after: tuple[str, str] | None


def component_sheet(project: Project, name: str) -> Sheet:
    """The sheet of a component. Raises ``NoSuchComponentError``."""
    vehicle = project.vehicle
    if name not in vehicle.components:
        raise NoSuchComponentError(f"there is no component {name!r}")
    component: Component = vehicle.components[name]
    order = in_order(vehicle)
    at = [other for other, _ in order].index(name)
    path: Path = ("components", name)
    return Sheet(
        name,
        component_title(name, component),
        f"components.{name}",
        component.role,
        vehicle.places[component.place].title or spoken(component.place),
        component.manual,
        tuple(field_form(vehicle, (*path, name)) for name in OWN_ORDER),
        tuple(fact_form(vehicle, (*path, item.name)) for item in OWN_FACTS),
        tuple(_port(project, name, port) for port in component.ports),
        questions_of(component.role).also,
        CAUTION if component.role in HIGH_VOLTAGE else "",
        references(vehicle, name),
        order[at - 1] if at else None,
        order[at + 1] if at + 1 < len(order) else None,
    )


def fact_form(vehicle: Vehicle, path: Path, given: FieldWords | None = None, wrong: str = "") -> FactForm:
    """A fact of a port as it stands on the sheet; with ``given`` what somebody typed, and why it is ``wrong``."""
    form = field_form(vehicle, path, given, wrong)
    owner = vehicle.components.get(str(path[1])) if path[0] == "components" else None
    asked = questions_of(owner.role).sharper.get(str(path[-1]), form.ask) if owner else form.ask
    return FactForm(form, form.now.status or NOT_SAID, form.now.ask or asked or form.meaning, form.where)


def references(vehicle: Vehicle, name: str) -> tuple[Reference, ...]:
    """Everything that names a component or its ports: stops, controllers, locks, accepted deviations."""
    ports = {f"{name}.{port}" for port in vehicle.components[name].ports}
    found = []
    for line_name, line in vehicle.lines.items():
        title = line.title or spoken(line_name)
        for index, station in enumerate(line.stations):
            if station.port in ports:
                found.append(Reference(f"{title}, stop {index + 1}", f"lines.{line_name}.stations[{index}]"))
        if line.controller in ports:
            found.append(Reference(f"{title}: its controller", f"lines.{line_name}"))
    for lock_name, lock in vehicle.locks.items():
        if {lock.port, lock.other} & ports:
            found.append(Reference(f"Lock {lock_name.replace('_', ' ')}: {lock.must}", f"locks.{lock_name}"))
    for key, deviation in vehicle.deviations.items():
        if f"[{name}." in deviation.subject or deviation.subject.startswith(f"components.{name}"):
            found.append(Reference(f"Accepted deviation: {deviation.reason}", f"deviations.{key}"))
    return tuple(found)


def _port(project: Project, name: str, port: str) -> PortSheet:
    vehicle, address = project.vehicle, f"{name}.{port}"
    path: Path = ("components", name, "ports", port)
    return PortSheet(
        port,
        address,
        f"components.{name}.ports.{port}",
        tuple(fact_form(vehicle, (*path, item.name)) for item in FACTS),
        field_form(vehicle, (*path, "needed")),
        tuple(_stop(project, line, index) for line, index in lines_of(vehicle, address)),
    )


def _stop(project: Project, name: str, index: int) -> StopFigures:
    vehicle = project.vehicle
    line, wired, ohms = (
        vehicle.lines[name],
        project.answers.topology(vehicle, name),
        project.answers.ohms(vehicle, name),
    )
    path = f"lines.{name}.stations[{index}]"
    figures = []
    termination = "unknown"
    if isinstance(wired, Solved):
        stop = next(stop for stop in wired.value.stops if stop.index == index)
        termination = stop.termination
        figures = [
            Figure("along the trunk", quantity(stop.distance_m, Kind.LENGTH), f"{path}.distance_m"),
            Figure("branch", quantity(stop.branch_m, Kind.LENGTH), f"{path}.branch_m"),
        ]
    if isinstance(ohms, Solved):
        ohm = next(stop.ohm for stop in ohms.value.stops if stop.stop == index)
        figures.append(Figure("meter reading", quantity(ohm, Kind.RESISTANCE), f"{path}.ohm"))
    return StopFigures(
        name, line.title or spoken(name), path, index + 1, len(line.stations), termination, tuple(figures)
    )
