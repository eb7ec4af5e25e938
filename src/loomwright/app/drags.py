"""What a thing on the move would do, before it is dropped: lines as they would run, lengths, findings. Nothing is written."""

from collections import Counter
from dataclasses import dataclass

from loomwright.app import edits
from loomwright.app.line_page import ruler
from loomwright.app.margin import WORST_FIRST, key_of, rule_title
from loomwright.app.plan_drawing import page_sheet, wires
from loomwright.app.project import Project
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.show.quantity import bare
from loomwright.show.quantity import text as quantity
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Solved
from loomwright.terms.change import Change
from loomwright.terms.fact import Known
from loomwright.terms.finding import Finding, Verdict, Weight
from loomwright.terms.quantity import Kind

TOLD = 3
"""New findings told by their title; more are counted."""


@dataclass(frozen=True, slots=True)
class Was:
    """A figure before and with the change."""

    was: str
    now: str

    @property
    def changed(self) -> bool:
        """Whether it would be another one."""
        return self.was != self.now


@dataclass(frozen=True, slots=True)
class LineLengths:
    """Lengths of a line in metres. ``branch`` is that of the component on the move, else of all branches together."""

    title: str
    path: str
    what: str
    branch: Was
    trunk: Was


@dataclass(frozen=True, slots=True)
class Drag:
    """A change as it would show. ``wires`` is SVG for the plan, ``spot`` where a place would lie on it in pixels."""

    title: str
    wires: str
    lines: tuple[LineLengths, ...]
    counts: tuple[tuple[str, Was], ...]
    new: tuple[tuple[str, str], ...]
    gone: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    spot: tuple[float, float] | None = None


def drag(project: Project, change: Change, *, component: str = "", place: str = "", emphasis: str = "") -> Drag:
    """Try a change. ``component`` or ``place`` is what moves."""
    before, answers = project.vehicle, project.answers
    after = changed(before, change)
    found = answers.findings(before), answers.findings(after)
    counts = tuple(Counter(f.verdict for f in part if _counts(f)) for part in found)
    told = (Verdict.BROKEN, Verdict.UNKNOWN, Verdict.TIGHT)
    return Drag(
        change.title + (_spot(after, place) if place else ""),
        wires(project, after, emphasis),
        tuple(_lines(project, after, component, emphasis)),
        tuple((v.value, Was(str(counts[0][v]), str(counts[1][v]))) for v in told if counts[0][v] or counts[1][v]),
        _only(found[1], found[0]),
        _only(found[0], found[1]),
        _notes(before, place) if place else (),
        page_sheet(before).at(after.places[place]) if place else None,
    )


def station_change(vehicle: Vehicle, line: str, index: int, to: int | None, at: str | None) -> Change:
    """A stop on the move: to another number along the trunk, or with its branch from another place."""
    if to is not None:
        return edits.move_station(vehicle, line, index, to)
    return edits.set_station_at(vehicle, line, index, at or "")


def drag_station(
    project: Project, line: str, index: int, to: int | None, at: str | None, without: str = ""
) -> tuple[Drag, str]:
    """Try a stop somewhere else; the ruler as it would be comes along."""
    change = station_change(project.vehicle, line, index, to, at)
    component = project.vehicle.lines[line].stations[index].port.partition(".")[0]
    return drag(project, change, component=component, emphasis=line), ruler(
        project, changed(project.vehicle, change), line, without
    )


def _lines(project: Project, after: Vehicle, component: str, emphasis: str) -> list[LineLengths]:
    """Lines that would be wired otherwise, and those that the component is on; with ``emphasis`` of these that one."""
    rows = []
    for name, line in after.lines.items():
        was, now = project.answers.topology(project.vehicle, name), project.answers.topology(after, name)
        on_it = any(station.port.partition(".")[0] == component for station in line.stations if component)
        if was == now and not (on_it and emphasis in ("", name)):
            continue
        own = component if on_it else ""
        what = "branch" if own else "branches"
        branch = Was(_branch(was, own), _branch(now, own))
        rows.append(LineLengths(line.title or name, f"lines.{name}", what, branch, Was(_trunk(was), _trunk(now))))
    return rows


def _branch(topology: Answer[LineTopology], component: str) -> str:
    if not isinstance(topology, Solved):
        return "?"
    wired = topology.value
    if not component:
        return bare(wired.branches_m, Kind.LENGTH, "m")
    own = [stop.branch_m for stop in wired.stops if stop.component == component and not stop.repeated]
    return bare(sum(own), Kind.LENGTH, "m")


def _trunk(topology: Answer[LineTopology]) -> str:
    return bare(topology.value.trunk_m, Kind.LENGTH, "m") if isinstance(topology, Solved) else "?"


def _only(these: tuple[Finding, ...], others: tuple[Finding, ...]) -> tuple[tuple[str, str], ...]:
    """Findings that count in these and do not, or not as badly, in the others: verdict and title."""
    rank = WORST_FIRST.index
    known = {key_of(finding): finding for finding in others if _counts(finding)}
    found = [
        finding
        for finding in these
        if _counts(finding)
        and (key_of(finding) not in known or rank(finding.verdict) < rank(known[key_of(finding)].verdict))
    ]
    found.sort(key=lambda finding: rank(finding.verdict))
    told = [(finding.verdict.value, rule_title(finding.rule)) for finding in found[:TOLD]]
    return (*told, ("", f"{len(found) - TOLD} more")) if len(found) > TOLD else tuple(told)


def _spot(vehicle: Vehicle, place: str) -> str:
    spot = vehicle.places[place]
    return f" to x {quantity(spot.x_m, Kind.LENGTH)}, y {quantity(spot.y_m, Kind.LENGTH)}"


def _notes(vehicle: Vehicle, place: str) -> tuple[str, ...]:
    measured = [
        name for name, run in vehicle.runs.items() if place in (run.start, run.end) and isinstance(run.length_m, Known)
    ]
    if not measured:
        return ()
    few = ", ".join(measured[:3]) + (f" and {len(measured) - 3} more" if len(measured) > 3 else "")
    return (f"The measured length of {few} stays: lay the string again.",)


def _counts(finding: Finding) -> bool:
    return finding.reading.weight is Weight.GOVERNS and finding.verdict is not Verdict.HOLDS and not finding.accepted
