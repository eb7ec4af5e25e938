"""Command: what would a fault of a line change? The line with the fault beside the sound one."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.app.faults import FaultyLine, faulty_line
from loomwright.app.project import Project
from loomwright.app.signal import LinePhysics, physics_of
from loomwright.judge import judge_line
from loomwright.judge.changes import (
    Judged,
    ReceiverChange,
    as_numbered,
    difference,
    receiver_changes,
    worse_findings,
)
from loomwright.judge.evidence import cable_of, components_on
from loomwright.model.fault import FaultKind
from loomwright.model.line import Line
from loomwright.model.vehicle import Vehicle
from loomwright.show.fault_words import station_names
from loomwright.show.signal_fault import fault_text_table, fault_verdict, ohms_row, rights_sentence
from loomwright.solve.echoes import Mismatch, mismatches
from loomwright.solve.ohms import LineOhms, line_ohms
from loomwright.solve.signal_parts import signal_parts
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.finding import Finding

if TYPE_CHECKING:
    from rich.console import Group

NOT_AS_DRAWN = "This is the line with a fault, not the line as drawn. Nothing of it counts for the vehicle."

OF_TERMINATIONS = (
    "two-terminations",
    "terminations-at-ends",
    "fixed-terminator-mid-trunk",
    "terminator-value",
    "line-resistance",
)
"""Rules that a termination can break by being there."""


@dataclass(frozen=True, slots=True)
class OhmsChange:
    """What a meter reads at a station's connector, in ohm, sound and with the fault; ``None`` where no cable leads there."""

    station: int
    port: str
    sound_ohm: float
    faulty_ohm: float | None


@dataclass(frozen=True, slots=True)
class FaultLook:
    """A line with a fault: its answers beside those of the sound line. ``worse`` are the findings that the fault makes.

    ``rights`` says what a termination that goes puts right: it was one too many. Empty for every other fault.
    """

    line: FaultyLine
    sound_line: Line
    sound: LinePhysics
    faulty: LinePhysics
    receivers: tuple[ReceiverChange, ...]
    worse: tuple[Finding, ...]
    ohms: Answer[tuple[OhmsChange, ...]]
    spots: tuple[Mismatch, ...]
    rights: str


def fault_look(
    project: Project, name: str, text: str, progress: Callable[[str, int, int], bool] | None = None
) -> FaultLook:
    """Ask a line the same questions, sound and with the fault that the text names. ``progress`` hears (what, done, all).

    Raises ``NoSuchFaultError``, whose message lists the faults that the line can have.
    """
    line = faulty_line(project, name, text)
    sound = physics_of(project, project.vehicle, name, progress)
    faulty = physics_of(project, line.vehicle, name, progress, line.topology)
    before, after = (Judged(own.signal, own.levels, own.findings) for own in (sound, faulty))
    wired = line.vehicle.lines[name]
    parts = signal_parts(wired, components_on(line.vehicle, wired), cable_of(line.vehicle, wired), line.topology)
    return FaultLook(
        line,
        project.vehicle.lines[name],
        sound,
        faulty,
        receiver_changes(before, after),
        worse_findings(before, after),
        _ohms(project, line),
        () if isinstance(parts, Blocked) else mismatches(parts),
        _rights(project, line, before, after),
    )


def fault_report(found: FaultLook) -> "Group":
    """The comparison for a terminal."""
    line = found.line
    names = station_names(found.sound_line)
    ohms = () if isinstance(found.ohms, Blocked) else found.ohms.value
    rows = [ohms_row(names[own.station], own.sound_ohm, own.faulty_ohm) for own in ohms]
    head = f"Line {line.name} with a fault: {line.text}"
    told = told_of(found, lambda port: port.partition(".")[0])
    return fault_text_table(head, line.sentence, NOT_AS_DRAWN, told, found.receivers, found.worse, rows)


def told_of(found: FaultLook, title: Callable[[str], str]) -> str:
    """What the fault does to the bits, in words. ``title`` names a port."""
    told = fault_verdict(found.receivers, found.faulty.signal, title)
    return f"{found.rights} {told}" if found.rights else told


def _rights(project: Project, line: FaultyLine, sound: Judged, faulty: Judged) -> str:
    """What of terminations and readings is right only without this termination; nothing where something else goes wrong."""
    if line.fault.kind is not FaultKind.NO_TERMINATOR:
        return ""

    def judged(vehicle: Vehicle, own: Judged) -> tuple[Finding, ...]:
        of_line = judge_line(project.answers.line_evidence(vehicle, line.name))
        ended = tuple(finding for finding in of_line if finding.rule in OF_TERMINATIONS)
        return as_numbered((*ended, *own.findings), vehicle, project.vehicle)

    before, after = judged(project.vehicle, sound), judged(line.vehicle, faulty)
    found = difference(before, after)
    cured = [own for own in found.cured if own.rule in OF_TERMINATIONS]
    if found.broken or not cured:
        return ""
    now = {own.rule: own for own in after if len(own.reading.subject) == 2}
    return rights_sentence([(own, now.get(own.rule)) for own in cured])


def ohms_of(project: Project, line: FaultyLine) -> Answer[LineOhms]:
    """The readings of the line with its fault."""
    wired = line.vehicle.lines[line.name]
    asked = (wired, components_on(line.vehicle, wired), cable_of(line.vehicle, wired), line.topology)
    return project.answers.ask(line_ohms, *asked)


def _ohms(project: Project, line: FaultyLine) -> Answer[tuple[OhmsChange, ...]]:
    sound, faulty = project.answers.ohms(project.vehicle, line.name), ohms_of(project, line)
    if isinstance(sound, Blocked):
        return sound
    if isinstance(faulty, Blocked):
        return faulty
    kind, at = line.fault.kind, line.fault.station
    left = list(faulty.value.stops)
    if kind is FaultKind.STUB:  # the forgotten lead is a station of its own
        del left[at if at == len(left) - 2 else at + 1]
    changes = []
    for before, after in zip(sound.value.stops, left, strict=True):
        cut_off = kind is FaultKind.OPEN_BRANCH and before.port == sound.value.stops[at].port
        changes.append(OhmsChange(before.stop, before.port, before.ohm, None if cut_off else after.ohm))
    return Solved(tuple(changes), tuple(dict.fromkeys((*sound.assumed, *faulty.assumed))))
