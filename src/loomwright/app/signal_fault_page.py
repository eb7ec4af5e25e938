"""What the page of a line's bits shows of a fault: the choices, and the line with the fault beside the sound one."""

from dataclasses import dataclass, replace

from loomwright.app.faults import (
    FaultChoices,
    FaultyLine,
    NoSuchFaultError,
    fault_choices,
    faulty_line,
    station_choices,
)
from loomwright.app.plan_drawing import PAGE_PX
from loomwright.app.project import Project
from loomwright.app.session import Session
from loomwright.app.signal_fault import NOT_AS_DRAWN, FaultLook, PartLook, finding_shown, parts_shown, told_of
from loomwright.app.signal_jobs import Stand, stand
from loomwright.judge.evidence import components_on
from loomwright.model.fault import FaultKind
from loomwright.model.vehicle import Vehicle
from loomwright.show.fault_finding import FindingShown
from loomwright.show.fault_words import caller, first_capital
from loomwright.show.names import component_title
from loomwright.show.ruler import line_ruler
from loomwright.show.signal_fault import ohms_row, receiver_row
from loomwright.show.signal_strips import signal_strips
from loomwright.show.tokens import hue
from loomwright.show.words import finding_sentence
from loomwright.solve.faults import STUB_M
from loomwright.terms.answer import Blocked
from loomwright.terms.finding import Verdict


@dataclass(frozen=True, slots=True)
class FaultForm:
    """Choices: kinds with their faults, and which is chosen; stations, named and in words, for a forgotten lead of any length."""

    groups: tuple[FaultChoices, ...]
    stations: tuple[tuple[str, str], ...]
    chosen: str
    stub: str


@dataclass(frozen=True, slots=True)
class PiecePage:
    """A line in one piece, or a half of it: ``title`` and ``facts`` are of a half alone. ``worse``: verdict, sentence."""

    title: str
    facts: tuple[str, ...]
    remarks: tuple[str, ...]
    worse: tuple[tuple[str, str], ...]
    ruler: str


@dataclass(frozen=True, slots=True)
class FaultFigures:
    """What was computed; rows of words."""

    told: str
    verdict: str
    parts: tuple[PiecePage, ...]
    receivers: tuple[tuple[tuple[str, ...], str, str], ...]
    ohms: tuple[tuple[str, str, str], ...]
    finding: FindingShown
    chosen: tuple[str, str]


@dataclass(frozen=True, slots=True)
class FaultPage:
    """A line with a fault. ``error`` says why it cannot have that one; then there is nothing else."""

    text: str
    sentence: str
    notice: str
    error: str
    look: Stand
    figures: FaultFigures | None
    ports: tuple[tuple[str, str], ...]


def fault_form(session: Session, name: str, text: str = "") -> FaultForm:
    """The choices of one line of the open project."""
    groups = session.ask(lambda project: fault_choices(project, name))
    stations = session.ask(lambda project: station_choices(project, name))
    chosen = " ".join(text.split())
    is_stub = chosen.lower().startswith(FaultKind.STUB.value)
    kept = tuple(group for group in groups if group.kind is not FaultKind.STUB)
    length = (
        " ".join(chosen.split()[1 : chosen.split().index("at")]) if is_stub and " at " in chosen else f"{STUB_M:g} m"
    )
    return FaultForm(kept, stations if groups else (), chosen, length)


def fault_page(session: Session, name: str, text: str) -> FaultPage:
    """The page of a line of the open project with the fault that the text names."""
    try:
        line = session.ask(lambda project: faulty_line(project, name, text))
    except NoSuchFaultError as error:
        return FaultPage(text, "", NOT_AS_DRAWN, str(error), stand(session, "fault", name, text), None, ())
    look = stand(session, "fault", name, line.text)
    found = look.answer
    figures = session.ask(lambda project: _figures(project, found)) if isinstance(found, FaultLook) else None
    nodes = dict.fromkeys(station.port for station in line.vehicle.lines[name].stations if station.port)
    ports = tuple((port, _title(line.vehicle, port)) for port in nodes if _is_node(line.vehicle, port))
    return FaultPage(line.text, line.sentence, NOT_AS_DRAWN, "", look, figures, ports)


def _figures(project: Project, found: FaultLook) -> FaultFigures:
    line = found.line

    def title(port: str) -> str:
        return _title(project.vehicle, port)

    receivers = tuple(
        (receiver_row(change, title), change.port, change.after.sender if change.after else "")
        for change in found.receivers
    )
    ohms = () if isinstance(found.ohms, Blocked) else found.ohms.value
    called = caller(project.vehicle, found.sound_line)
    rows = tuple(ohms_row(first_capital(called(own.station)), own.sound_ohm, own.faulty_ohm) for own in ohms)
    return FaultFigures(
        told_of(found, title),
        _verdict(found).value,
        tuple(
            PiecePage(
                shown.title,
                shown.facts,
                shown.remarks,
                tuple((finding.verdict.value, finding_sentence(finding)) for finding in shown.worse),
                _ruler(project, line, own, shown.title),
            )
            for own, shown in zip(found.parts, parts_shown(project, found, title), strict=True)
        ),
        receivers,
        rows,
        finding_shown(project, found),
        _slowest(found),
    )


def _verdict(found: FaultLook) -> Verdict:
    """The worst of the receivers; a line that is torn apart is broken whatever its halves are."""
    verdicts = {change.after.verdict if change.after else Verdict.BROKEN for change in found.receivers}
    if found.blocked_by or not verdicts:
        return Verdict.UNKNOWN
    if found.line.is_parted:
        return Verdict.BROKEN
    return next((own for own in (Verdict.BROKEN, Verdict.UNKNOWN, Verdict.TIGHT) if own in verdicts), Verdict.HOLDS)


def _slowest(found: FaultLook) -> tuple[str, str]:
    """The pair whose bit is sure last, to be drawn first; empty where nothing can be drawn."""
    pairs = [
        pair
        for own in found.parts
        if not isinstance(own.physics.signal, Blocked)
        for pair in own.physics.signal.value.pairs
        if pair.sender != pair.receiver  # what a node hears of itself is no way along the line
    ]
    worst = max(pairs, key=lambda pair: pair.typical_s, default=None)
    return ("", "") if worst is None else (worst.sender, worst.receiver)


def _ruler(project: Project, line: FaultyLine, own: PartLook, half: str) -> str:
    vehicle, wired = own.part.vehicle, own.part.vehicle.lines[line.name]
    what = half[:1].lower() + half[1:] if half else f"with a fault: {line.text}"
    titled = replace(wired, title=f"{wired.title or line.name}, {what}")
    return line_ruler(
        line.name,
        titled,
        own.part.topology,
        None if isinstance(own.ohms, Blocked) else own.ohms.value,
        components_on(vehicle, wired),
        (),
        signal_strips(own.part.topology, own.physics.signal, own.physics.levels),
        hue=hue(list(project.vehicle.lines).index(line.name))[0],
        standalone=False,
        width=PAGE_PX,
    )


def _is_node(vehicle: Vehicle, port: str) -> bool:
    return vehicle.components[port.partition(".")[0]].role != "service plug"


def _title(vehicle: Vehicle, port: str) -> str:
    component = port.partition(".")[0]
    return component_title(component, vehicle.components.get(component))
