"""The table of components: what is known of each, and which of them to show."""

from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.app.check import WORST_LAST
from loomwright.app.project import Project
from loomwright.app.session import Step
from loomwright.files.read import is_fact
from loomwright.model.component import ROLES, Component, Port
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title, spoken
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Unknown
from loomwright.terms.field import FieldOf, fields_of
from loomwright.terms.finding import Weight

STATUSES = ("known", "assumed", "unknown")
NOT_SAID = "not said"
"""The status of an optional fact that nobody wrote; only finer analyses ask for it."""


@dataclass(frozen=True, slots=True)
class Filter:
    """Which components to show; an empty field lets everything pass. ``line`` "-" means: on no line."""

    status: str = ""
    line: str = ""
    role: str = ""
    place: str = ""

    @property
    def narrow(self) -> bool:
        """Whether anything is left out."""
        return bool(self.status or self.line or self.role or self.place)


EVERYTHING = Filter()


@dataclass(frozen=True, slots=True)
class Mark:
    """How one fact is known: its name in words, and what ``status_of`` says."""

    label: str
    status: str


@dataclass(frozen=True, slots=True)
class PortRow:
    """One port in the table: its marks stand in the order of ``FACTS``."""

    name: str
    address: str
    path: str
    lines: tuple[tuple[str, str], ...]
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class ComponentRow:
    """One component in the table."""

    name: str
    title: str
    path: str
    also: str
    role: str
    place: str
    maker: str
    ports: tuple[PortRow, ...]
    known: int
    assumed: int
    unknown: int
    verdict: str


@dataclass(frozen=True, slots=True)
class Choices:
    """What the filters offer: (value, words)."""

    lines: tuple[tuple[str, str], ...]
    roles: tuple[str, ...]
    places: tuple[tuple[str, str], ...]


FACTS: tuple[FieldOf, ...] = tuple(item for item in fields_of(Port) if is_fact(item))
OWN_FACTS: tuple[FieldOf, ...] = tuple(item for item in fields_of(Component) if is_fact(item))
"""Facts of a port, and of the component itself, in the order in which they are asked."""


def component_rows(project: Project, wanted: Filter = EVERYTHING) -> tuple[ComponentRow, ...]:
    """The components that a filter lets pass, by title."""
    worst = _worst(project)
    names = [name for name, _ in in_order(project.vehicle) if _passes(project.vehicle, name, wanted)]
    return tuple(_row(project.vehicle, name, worst.get(name, 0)) for name in names)


def in_order(vehicle: Vehicle) -> tuple[tuple[str, str], ...]:
    """Name and title of every component, by title."""
    titled = [(name, component_title(name, component)) for name, component in vehicle.components.items()]
    return tuple(sorted(titled, key=lambda pair: pair[1].lower()))


def choices(vehicle: Vehicle) -> Choices:
    """What there is to filter by."""
    used = {component.role for component in vehicle.components.values()}
    mounted = {component.place for component in vehicle.components.values()}
    return Choices(
        (*((name, line.title or spoken(name)) for name, line in vehicle.lines.items()), ("-", "on no line")),
        tuple(role for role in ROLES if role in used),
        tuple((name, place.title or spoken(name)) for name, place in vehicle.places.items() if name in mounted),
    )


def lines_of(vehicle: Vehicle, address: str) -> tuple[tuple[str, int], ...]:
    """The lines a port is on, each with the number of its stop (from 0)."""
    return tuple(
        (name, index)
        for name, line in vehicle.lines.items()
        for index, station in enumerate(line.stations)
        if station.port == address
    )


def scope_of(vehicle: Vehicle, name: str) -> tuple[str, ...]:
    """The component and its stops: the paths whose findings are its own."""
    component = vehicle.components[name]
    stops = [
        f"lines.{line}.stations[{index}]"
        for port in component.ports
        for line, index in lines_of(vehicle, f"{name}.{port}")
    ]
    return (f"components.{name}", *stops)


def gone_to(history: Sequence[Step], name: str) -> str:
    """The name that a component has now which was renamed in this session; empty where there is none.

    A page or a link may still have the old name. It is told by the texts: one file is gone, another one has its bytes.
    """
    for step in reversed(history):
        was, now = step.texts.get(f"components/{name}.toml", (b"", b""))
        if was and not now:
            for file, (before, after) in step.texts.items():
                if file.startswith("components/") and not before and after == was:
                    return file.removeprefix("components/").removesuffix(".toml")
            return ""
    return ""


def status_of(fact: object) -> str:
    """One of ``STATUSES``, or ``NOT_SAID``."""
    if fact is None:
        return NOT_SAID
    return "unknown" if isinstance(fact, Unknown) else "assumed" if isinstance(fact, Assumed) else "known"


def label_of(item: FieldOf) -> str:
    """A field's name in words: that of the key in the files."""
    return item.key.replace("_", " ")


def _passes(vehicle: Vehicle, name: str, wanted: Filter) -> bool:
    component = vehicle.components[name]
    lines = {line for port in component.ports for line, _ in lines_of(vehicle, f"{name}.{port}")}
    facts = [*_facts(component, OWN_FACTS), *(f for port in component.ports.values() for f in _facts(port, FACTS))]
    return (
        (not wanted.role or component.role == wanted.role)
        and (not wanted.place or component.place == wanted.place)
        and (not wanted.line or wanted.line in lines or (wanted.line == "-" and not lines))
        and (not wanted.status or any(status_of(fact) == wanted.status for fact in facts))
    )


def _facts(owner: Component | Port, items: tuple[FieldOf, ...]) -> list[object]:
    return [getattr(owner, item.name) for item in items]


def _worst(project: Project) -> dict[str, int]:
    """For each component the place in ``WORST_LAST`` of the worst finding on it or on one of its stops."""
    vehicle = project.vehicle
    worst: dict[str, int] = {}
    for finding in project.answers.findings(vehicle):
        if finding.reading.weight is Weight.GOVERNS and not finding.accepted:
            name = _component_at(vehicle, finding.reading.subject)
            worst[name] = max(worst.get(name, 0), WORST_LAST.index(finding.verdict))
    return worst


def _component_at(vehicle: Vehicle, path: Path) -> str:
    """The component that a path lies in, or whose stop it is; empty where it is none's."""
    if path[:1] == ("components",) and len(path) > 1:
        return str(path[1])
    if path[:1] == ("lines",) and len(path) > 3 and isinstance(path[3], int) and path[1] in vehicle.lines:
        stations = vehicle.lines[str(path[1])].stations
        return stations[path[3]].port.partition(".")[0] if path[3] < len(stations) else ""
    return ""


def _row(vehicle: Vehicle, name: str, worst: int) -> ComponentRow:
    component: Component = vehicle.components[name]
    ports = tuple(_port(vehicle, name, port) for port in component.ports)
    marks = [mark.status for port in ports for mark in port.marks]
    marks += [status_of(fact) for fact in _facts(component, OWN_FACTS)]
    scope = scope_of(vehicle, name)
    return ComponentRow(
        name,
        component_title(name, component),
        f"components.{name}",
        " ".join(scope[1:]),
        component.role,
        vehicle.places[component.place].title or spoken(component.place)
        if component.place in vehicle.places
        else component.place,
        component.maker,
        ports,
        marks.count("known"),
        marks.count("assumed"),
        marks.count("unknown"),
        WORST_LAST[worst].value,
    )


def _port(vehicle: Vehicle, name: str, port: str) -> PortRow:
    address = f"{name}.{port}"
    lines = dict.fromkeys(line for line, _ in lines_of(vehicle, address))
    marks = tuple(
        Mark(label_of(item), status_of(getattr(vehicle.components[name].ports[port], item.name))) for item in FACTS
    )
    titled = tuple((line, vehicle.lines[line].title or spoken(line)) for line in lines)
    return PortRow(port, address, f"components.{name}.ports.{port}", titled, marks)


__all__ = ["EVERYTHING", "FACTS", "NOT_SAID", "OWN_FACTS", "ROLES", "STATUSES", "Choices", "ComponentRow", "Filter", "Mark", "PortRow",
           "choices", "component_rows", "gone_to", "in_order", "label_of", "lines_of", "scope_of", "status_of"]  # fmt: skip
