"""Command: what would a fault of a line change? The line with the fault beside the sound one."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from loomwright.app.faults import FaultyLine, LinePart, faulty_line
from loomwright.app.project import Project
from loomwright.app.signal import LinePhysics, drawn, physics_of
from loomwright.judge import judge_line
from loomwright.judge.changes import (
    AtReceiver,
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
from loomwright.show.fault_finding import FindingShown, finding_words
from loomwright.show.fault_words import caller, open_end_words, station_names
from loomwright.show.signal_fault import (
    PartShown,
    fault_remarks,
    fault_text_table,
    fault_verdict,
    half_facts,
    half_title,
    halves_verdict,
    of_the_line,
    ohms_row,
    rights_sentence,
)
from loomwright.solve.echoes import Mismatch, mismatches
from loomwright.solve.fault_finding import FaultFinding, Faulty, fault_finding
from loomwright.solve.levels import is_node
from loomwright.solve.ohms import LineOhms, line_ohms
from loomwright.solve.signal_draws import SignalDraws
from loomwright.solve.signal_parts import signal_parts
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Unknown
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
    """What a meter reads at a station's connector, in ohm, sound and with the fault; infinite where nothing is joined."""

    station: int
    port: str
    sound_ohm: float
    faulty_ohm: float


@dataclass(frozen=True, slots=True)
class PartLook:
    """The answers for a faulty line that is in one piece, or for one half of a torn one, asked as a line of its own.

    ``nodes`` are the ports that still send and listen, ``spots`` where its edges come back from, ``worse`` the findings
    that the fault makes.
    """

    part: LinePart
    nodes: tuple[str, ...]
    physics: LinePhysics
    ohms: Answer[LineOhms]
    spots: tuple[Mismatch, ...]
    worse: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class FaultLook:
    """A line with a fault: its answers beside those of the sound line, piece by piece.

    ``rights`` says what a termination that goes puts right: it was one too many. Empty for every other fault.
    ``blocked_by`` are the facts that are missing.
    """

    line: FaultyLine
    sound_line: Line
    sound: LinePhysics
    parts: tuple[PartLook, ...]
    receivers: tuple[ReceiverChange, ...]
    ohms: Answer[tuple[OhmsChange, ...]]
    finding: Answer[FaultFinding]
    rights: str
    blocked_by: tuple[Path, ...]


def fault_look(
    project: Project, name: str, text: str, progress: Callable[[str, int, int], bool] | None = None
) -> FaultLook:
    """Ask a line the same questions, sound and with the fault that the text names. ``progress`` hears (what, done, all).

    A line that is torn in two is asked half by half. Raises ``NoSuchFaultError``, whose message lists the faults that the
    line can have.
    """
    line = faulty_line(project, name, text)
    sound = physics_of(project, project.vehicle, name, progress)
    before = Judged(sound.signal, sound.levels, sound.findings)
    parts: list[PartLook] = []
    after: dict[str, AtReceiver] = {}
    for part in line.parts:
        physics = physics_of(project, part.vehicle, name, progress, part.topology)
        judged = Judged(physics.signal, physics.levels, physics.findings)
        parts.append(_part_look(project, name, part, physics, worse_findings(before, judged)))
        after |= {own.port: own.after for own in receiver_changes(before, judged) if own.after is not None}
    receivers = tuple(replace(own, after=after.get(own.port)) for own in receiver_changes(before, before))
    blocked = tuple(dict.fromkeys(path for own in parts for path in _waits(own.physics)))
    whole = parts[0].physics
    finding = finding_of(project, line)
    return FaultLook(
        line,
        project.vehicle.lines[name],
        sound,
        tuple(parts),
        receivers,
        _ohms(finding),
        finding,
        _rights(project, line, before, Judged(whole.signal, whole.levels, whole.findings)),
        # A half numbers its stations anew; what is missing of it is missing of the sound line too.
        _waits(sound) if blocked and line.is_parted else blocked,
    )


def _waits(physics: LinePhysics) -> tuple[Path, ...]:
    return physics.signal.by if isinstance(physics.signal, Blocked) else ()


def _part_look(
    project: Project, name: str, part: LinePart, physics: LinePhysics, worse: tuple[Finding, ...]
) -> PartLook:
    wired = part.vehicle.lines[name]
    asked = (wired, components_on(part.vehicle, wired), cable_of(part.vehicle, wired), part.topology)
    parts = signal_parts(*asked)
    nodes = tuple(
        stop.port
        for stop in part.topology.stops
        if stop.port and not stop.repeated and is_node(part.vehicle.components, stop)
    )
    spots = () if isinstance(parts, Blocked) else mismatches(parts)
    return PartLook(part, nodes, physics, project.answers.ask(line_ohms, *asked), spots, worse)


def fault_draws(
    project: Project, found: FaultLook, draws: int, seed: int, progress: Callable[[str, int, int], bool] | None = None
) -> tuple[Answer[SignalDraws], ...]:
    """Every piece of the line in many vehicles built from the same plan."""
    line = found.line
    pieces = [replace(line, vehicle=own.part.vehicle, topology=own.part.topology) for own in found.parts]
    return tuple(drawn(project, line.name, draws, seed, progress, piece) for piece in pieces)


def fault_report(project: Project, found: FaultLook) -> "Group":
    """The comparison for a terminal."""
    line = found.line
    names = station_names(found.sound_line)
    ohms = () if isinstance(found.ohms, Blocked) else found.ohms.value
    rows = [ohms_row(names[own.station], own.sound_ohm, own.faulty_ohm) for own in ohms]
    head = f"Line {line.name} with a fault: {line.text}"

    def title(port: str) -> str:
        return port.partition(".")[0]

    told = told_of(found, title)
    shown = parts_shown(project, found, title)
    return fault_text_table(
        head, line.sentence, NOT_AS_DRAWN, told, found.receivers, shown, rows, finding_shown(project, found)
    )


def told_of(found: FaultLook, title: Callable[[str], str]) -> str:
    """What the fault does to the bits, in words. ``title`` names a port."""
    if found.line.is_parted and not found.blocked_by:
        return halves_verdict(found.receivers, [own.nodes for own in found.parts], title)
    told = fault_verdict(found.receivers, found.blocked_by, found.parts[0].nodes, title)
    return f"{found.rights} {told}" if found.rights else told


def parts_shown(project: Project, found: FaultLook, title: Callable[[str], str]) -> tuple[PartShown, ...]:
    """Every piece in words: what stands on it, what an edge meets on it, what is worse. ``title`` names a port."""
    vehicle, line = project.vehicle, found.line
    called = caller(vehicle, found.sound_line)
    cable = vehicle.cables.get(found.sound_line.cable)
    delay = cable.delay_s_per_m if cable is not None else None
    delay_s = 5e-9 if delay is None or isinstance(delay, Unknown) else delay.value
    shown = []
    for own in found.parts:
        stops = own.part.topology.stops
        on = [stop.index for stop in stops if stop.termination == "on" and not stop.repeated]
        numbers = own.part.stations
        names = _names(numbers, own.part.open_end, line, called)
        told = fault_remarks(own.spots, line.fault, own.part.open_end, len(on), delay_s, names, called)
        facts: tuple[str, ...] = ()
        if line.is_parted:
            ended = [names(index) for index in on]
            facts = half_facts(ended, _span(own), own.physics.timing, title)
        real = [number for number in numbers if number is not None]
        title_of_half = half_title([called(number) for number in dict.fromkeys((real[0], real[-1]))])
        heard = told if len(own.nodes) > 1 else ()
        shown.append(PartShown(title_of_half if line.is_parted else "", facts, heard, of_the_line(own.worse)))
    return tuple(shown)


def _names(
    numbers: tuple[int | None, ...], open_end: int | None, line: FaultyLine, called: Callable[[int], str]
) -> Callable[[int], str]:
    """Names the stops of a piece as the line as drawn calls them, and what stands where something is gone or left."""

    def name(stop: int) -> str:
        number = numbers[stop]
        return open_end_words(line.fault, called) if stop == open_end or number is None else called(number)

    return name


def _span(own: PartLook) -> tuple[float, float] | None:
    """The lowest and the highest typical reading at the stations of a piece, in ohm."""
    if isinstance(own.ohms, Blocked):
        return None
    read = [stop.ohm for stop in own.ohms.value.stops if own.part.stations[stop.stop] is not None]
    return min(read), max(read)


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


def finding_of(project: Project, line: FaultyLine) -> Answer[FaultFinding]:
    """How the fault of a line is told from its look-alikes with an ohm-meter."""
    vehicle, sound = project.vehicle, project.vehicle.lines[line.name]
    wired = line.vehicle.lines[line.name]
    stations = tuple(range(len(line.topology.stops))) if line.is_parted else line.parts[0].stations
    faulty = Faulty(wired, components_on(line.vehicle, wired), line.topology, stations)
    return project.answers.ask(
        fault_finding, sound, components_on(vehicle, sound), cable_of(vehicle, sound), line.sound, line.fault, faulty
    )


def finding_shown(project: Project, found: FaultLook) -> FindingShown:
    """How to find the fault, in words."""
    cable = cable_of(project.vehicle, found.sound_line)
    delay = None if isinstance(cable.delay_s_per_m, Unknown) else cable.delay_s_per_m.value
    return finding_words(found.finding, found.line.fault, delay, caller(project.vehicle, found.sound_line))


def _ohms(finding: Answer[FaultFinding]) -> Answer[tuple[OhmsChange, ...]]:
    if isinstance(finding, Blocked):
        return finding
    pairs = zip(finding.value.sound, finding.value.steps[0].readings, strict=True)
    return Solved(tuple(OhmsChange(own.stop, own.port, own.ohm, now.ohm) for own, now in pairs), finding.assumed)
