"""What the pages of lines show: the plan, the rulers, and tables that say the same in numbers."""

from dataclasses import dataclass

from loomwright.app.cells import Cell, cell
from loomwright.app.check import WORST_LAST
from loomwright.app.margin import shown_in
from loomwright.app.project import Project
from loomwright.app.session import View
from loomwright.model.vehicle import LOCK_KINDS, Vehicle
from loomwright.show.quantity import bare, fact_text
from loomwright.solve.ohms import LineOhms
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import path_text
from loomwright.terms.finding import Weight
from loomwright.terms.quantity import Kind

__all__ = ["LOCK_KINDS", "LineRow", "LockRow", "line_names", "line_row", "line_rows", "lock_rows", "port_names"]


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
class LockRow:
    """A lock in the table of locks: ``keeps`` is what it asks of the port."""

    name: str
    path: str
    port: str
    also: str
    keeps: str
    why: Cell


def line_rows(project: Project) -> tuple[LineRow, ...]:
    """Every line of the vehicle."""
    return tuple(line_row(project, name) for name in project.vehicle.lines)


def lock_rows(vehicle: Vehicle) -> tuple[LockRow, ...]:
    """Every lock of the vehicle."""
    rows = []
    for name, lock in vehicle.locks.items():
        path = ("locks", name)
        why = cell(vehicle, (*path, "why"), f"Reason of the lock on {lock.port}")
        also = " ".join(f"components.{port.partition('.')[0]}" for port in (lock.port, lock.other) if port)
        line = vehicle.lines[lock.line].title or lock.line if lock.line in vehicle.lines else lock.line
        rows.append(
            LockRow(name, path_text(path), lock.port, also, " ".join((lock.must, line, lock.other)).strip(), why)
        )
    return tuple(rows)


def port_names(vehicle: Vehicle) -> tuple[str, ...]:
    """Every port as it is addressed."""
    return tuple(f"{name}.{port}" for name, component in vehicle.components.items() for port in component.ports)


def line_names(view: View) -> tuple[tuple[str, str], ...]:
    """Name and title of every line."""
    return tuple((name, line.title or name) for name, line in view.vehicle.lines.items())


def line_row(project: Project, name: str) -> LineRow:
    """One line in the table."""
    vehicle, answers = project.vehicle, project.answers
    line, topology, ohms = vehicle.lines[name], answers.topology(vehicle, name), answers.ohms(vehicle, name)
    wired = topology.value if isinstance(topology, Solved) else None
    findings = (finding for finding in answers.findings(vehicle) if finding.reading.weight is Weight.GOVERNS)
    own = [finding for finding in findings if shown_in(finding, (f"lines.{name}",))]
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
