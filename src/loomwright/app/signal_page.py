"""What the page of a line's bits shows: who is sure when, what its edges meet, what would help."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.app.plan_drawing import PAGE_PX
from loomwright.app.project import Project
from loomwright.app.session import Session
from loomwright.app.signal import LEFT_OUT, LinePhysics
from loomwright.app.signal_advice import SignalAdvice
from loomwright.app.signal_data import DataShown, data_shown
from loomwright.app.signal_jobs import Look, Stand, stand
from loomwright.app.signal_offers import Advised, advised_of
from loomwright.app.signal_others import Others, broken_others, others, why_blocked
from loomwright.app.signal_remarks import remarks_of
from loomwright.judge.evidence import cable_of, components_on
from loomwright.judge.rule import TIGHT_SHARE
from loomwright.model.vehicle import Vehicle
from loomwright.propose.signal_cures import Effect
from loomwright.show.data_timing import percent
from loomwright.show.names import component_title
from loomwright.show.quantity import bare, number
from loomwright.show.ruler import line_ruler
from loomwright.show.ruler.scale import WIDTH
from loomwright.show.signal import TRAPPED, share, sure_text
from loomwright.show.signal_strips import signal_strips
from loomwright.show.signal_words import headline, left_text
from loomwright.show.tokens import hue
from loomwright.show.words import finding_cure, finding_sentence, path_words, verdict_words
from loomwright.solve.signal import LineSignal
from loomwright.solve.signal_draws import SignalDraws
from loomwright.solve.signal_parts import SignalParts, signal_parts
from loomwright.terms.answer import Blocked
from loomwright.terms.change import path_text
from loomwright.terms.finding import Verdict, Weight
from loomwright.terms.quantity import Kind

TRY_BELOW = "Changes that may end it can be tried below."


@dataclass(frozen=True, slots=True)
class ReceiverRow:
    """A receiver with its worst sender; figures in words, units in the column's head."""

    path: str
    also: str
    title: str
    port: str
    sender: str
    sender_port: str
    sure: str
    margin: str
    corner: str
    level: str
    lowest: str
    verdict: str
    late_at_worst: bool


@dataclass(frozen=True, slots=True)
class Told:
    """A finding of the physical layer."""

    verdict: str
    sentence: str
    cure: str
    subject: str
    advice: bool


@dataclass(frozen=True, slots=True)
class Looked:
    """All that was computed of a line."""

    headline: str
    verdict: str
    sample: str
    bit: str
    electronics: str
    remarks: tuple[str, ...]
    rows: tuple[ReceiverRow, ...]
    findings: tuple[Told, ...]
    timing: tuple[tuple[str, ...], ...]
    timing_note: str
    data: DataShown | None
    ruler: str
    waits: str
    others: Others


@dataclass(frozen=True, slots=True)
class SignalPage:
    """The page of one line's bits. ``ports`` are the choices of the chart, none where nothing can be drawn.

    ``share`` tells beside the verdict in how many drawn vehicles it is so; ``now`` is what is left as the line is.
    """

    look: Stand
    looked: Looked | None
    draws: Stand
    drawn: tuple[str, tuple[tuple[str, ...], ...]] | None
    share: str
    now: str
    advice: Stand
    advised: Advised | None
    ports: tuple[tuple[str, str], ...]
    chosen: tuple[str, str]
    left_out: str
    trapped: str


def signal_page(session: Session, name: str) -> SignalPage:
    """The page of one line of the open project."""
    look, draws, tried = (stand(session, kind, name) for kind in ("look", "draws", "advice"))
    looked, chosen = None, ("", "")
    advised = tried.answer if isinstance(tried.answer, SignalAdvice) else None
    if isinstance(look.answer, Look):
        found = look.answer
        effects = None if advised is None or tried.old else advised.effects
        looked = session.ask(lambda project: _looked(project, name, found, effects))
        signal = found.physics.signal
        if not isinstance(signal, Blocked):
            worst = max(signal.value.pairs, key=lambda pair: pair.typical_s)
            chosen = worst.sender, worst.receiver
    vehicle = session.view().vehicle
    line = vehicle.lines[name]
    ports = dict.fromkeys(station.port for station in line.stations if station.port)
    nodes = [
        port for port in ports if (owner := vehicle.components.get(_component(port))) and owner.role != "service plug"
    ]
    blocked = session.ask(lambda project: isinstance(_parts(project, name), Blocked))
    return SignalPage(
        look,
        looked,
        draws,
        _drawn(vehicle, draws.answer) if isinstance(draws.answer, SignalDraws) else None,
        _share(draws),
        _now(look.answer),
        tried,
        advised_of(vehicle, tried.answer),
        () if blocked else tuple((port, _title(vehicle, port)) for port in nodes),
        chosen,
        LEFT_OUT,
        TRAPPED,
    )


def _ns(margin_s: float) -> str:
    return left_text(margin_s) if math.isinf(margin_s) else f"{left_text(margin_s)} ns"


def _parts(project: Project, name: str) -> SignalParts | Blocked:
    vehicle = project.vehicle
    line, wired = vehicle.lines[name], project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        return wired
    return signal_parts(line, components_on(vehicle, line), cable_of(vehicle, line), wired.value)


def _share(draws: Stand) -> str:
    """In how many of the vehicles that were built the bits come too late, to stand beside the verdict."""
    found = draws.answer
    if not isinstance(found, SignalDraws):
        return ""
    before = "before the last change, " if draws.old else ""
    return (
        f"Built {found.draws} times within its tolerances, {before}somebody looks too early in {share(found.missed)} of the "
        "vehicles."
    )


def _now(look: object) -> str:
    """What is left as the line is, to compare offers with."""
    if not isinstance(look, Look) or isinstance(look.physics.signal, Blocked):
        return ""
    signal = look.physics.signal.value
    left = signal.sample_s - signal.electronics_s
    typical, corner = (
        left - max(times) for times in ([p.typical_s for p in signal.pairs], [p.settle_s for p in signal.pairs])
    )
    return f"As it is, the tightest receiver has left: {_ns(typical)}; at the worst corner: {_ns(corner)}."


def _looked(project: Project, name: str, found: Look, effects: Sequence[Effect] | None) -> Looked:
    vehicle, physics = project.vehicle, found.physics
    findings = tuple(
        Told(
            verdict_words(finding)[1],
            finding_sentence(finding),
            finding_cure(finding),
            path_text(finding.reading.subject),
            finding.reading.weight is Weight.ADVICE,
        )
        for finding in physics.findings
        if finding.verdict is not Verdict.HOLDS
    )
    if isinstance(physics.signal, Blocked):
        waits = why_blocked(project.vehicle, physics.signal.by) if physics.signal.by else ""
        beside = others(project, name, physics)
        return Looked("", "unknown", "", "", "", (), (), findings, (), "", None, "", waits, beside)
    signal = physics.signal.value
    wired = project.answers.topology(vehicle, name)
    told: tuple[str, ...] = ()
    drawing = ""
    if not isinstance(wired, Blocked):
        told = remarks_of(project, name, physics, found.spots, effects, TRY_BELOW)
        drawing = ruler_with_signal(project, name, physics)
    timing, note = _timing(vehicle, physics)
    return Looked(
        headline(signal, lambda port: _title(vehicle, port)),
        _worst([finding.verdict for finding in physics.findings if finding.reading.weight is Weight.GOVERNS]),
        bare(signal.sample_s, Kind.TIME, "ns"),
        bare(signal.bit_s, Kind.TIME, "ns"),
        bare(signal.electronics_s, Kind.TIME, "ns"),
        told,
        _rows(vehicle, physics, signal),
        findings,
        timing,
        note,
        data_shown(physics.timing, lambda port: _title(vehicle, port)),
        drawing,
        "",
        others(project, name, physics),
    )


def ruler_with_signal(project: Project, name: str, physics: LinePhysics, *, standalone: bool = False) -> str:
    """The line's ruler with strips of margin and level; empty where it cannot be drawn."""
    vehicle, answers = project.vehicle, project.answers
    wired, ohms = answers.topology(vehicle, name), answers.ohms(vehicle, name)
    if isinstance(wired, Blocked):
        return ""
    return line_ruler(
        name,
        vehicle.lines[name],
        wired.value,
        None if isinstance(ohms, Blocked) else ohms.value,
        vehicle.components,
        (*physics.findings, *broken_others(project, name)),
        signal_strips(wired.value, physics.signal, physics.levels),
        hue=hue(list(vehicle.lines).index(name))[0],
        standalone=standalone,
        width=WIDTH if standalone else PAGE_PX,
    )


def _rows(vehicle: Vehicle, physics: LinePhysics, signal: LineSignal) -> tuple[ReceiverRow, ...]:
    level = {} if isinstance(physics.levels, Blocked) else {own.port: own for own in physics.levels.value.receivers}
    left = signal.sample_s - signal.electronics_s
    rows = []
    for port in dict.fromkeys(pair.receiver for pair in signal.pairs):
        pair = max((own for own in signal.pairs if own.receiver == port), key=lambda own: own.typical_s)
        volts = level.get(port)
        margin_s = left - pair.typical_s
        verdict = (
            Verdict.BROKEN
            if margin_s < 0.0
            else Verdict.TIGHT
            if margin_s < TIGHT_SHARE * signal.sample_s
            else Verdict.HOLDS
        )
        component, _, name = port.partition(".")
        rows.append(
            ReceiverRow(
                f"components.{component}.ports.{name}",
                f"components.{component}",
                _title(vehicle, port),
                port,
                _title(vehicle, pair.sender),
                pair.sender,
                bare(pair.typical_s, Kind.TIME, "ns"),
                left_text(margin_s),
                left_text(left - signal.at(port).settle_s),
                bare(volts.typical_v if volts else None, Kind.VOLTAGE, "V"),
                bare(volts.low_v if volts else None, Kind.VOLTAGE, "V"),
                verdict.value,
                margin_s >= 0.0 and left - signal.at(port).settle_s < 0.0,
            )
        )
    return tuple(rows)


def _timing(vehicle: Vehicle, physics: LinePhysics) -> tuple[tuple[tuple[str, ...], ...], str]:
    if isinstance(physics.timing, Blocked):
        waits = ", ".join(path_words(path) for path in physics.timing.by)
        return (), f"It waits for {waits}." if waits else ""
    found = physics.timing.value
    clocks = dict(found.clocks_hz)
    untold = (
        f"Nothing is told of {', '.join(_title(vehicle, port) for port in found.untold)}: set them to the same point."
    )
    if found.common is None:
        told = "; ".join(f"{' and '.join(reason.nodes)}: {reason.obstacle.value}" for reason in found.reasons)
        aim = f"No port tells a clock or a sample point; aim for {number(100.0 * found.aim, 1)} % at every node."
        return (), told or aim
    rows = []
    for node in found.common.nodes:
        setting = node.setting
        quanta = (
            ("fixed", "", "", "", "", "")
            if setting is None
            else (
                number(clocks[node.name] / 1e6, 1),
                str(setting.prescaler),
                str(setting.propagation),
                str(setting.phase_1),
                str(setting.phase_2),
                str(setting.jump),
            )
        )
        rows.append((_title(vehicle, node.name), *quanta, percent(node.sample_point)))
    return tuple(rows), untold if found.untold else ""


def _drawn(vehicle: Vehicle, found: SignalDraws) -> tuple[str, tuple[tuple[str, ...], ...]]:
    head = (
        f"Built {found.draws} times within its tolerances: in {share(found.missed)} of the vehicles somebody looks too "
        f"early, in {share(found.never)} some bit never settles."
    )
    ranked = sorted(found.pairs, key=lambda pair: (pair.missed, pair.nearly_all_s, pair.most_s), reverse=True)
    rows = []
    for pair in ranked[:8]:
        times = (pair.half_s, pair.most_s, pair.nearly_all_s, pair.slowest_s)
        figures = tuple(sure_text(time) for time in times)
        rows.append((_title(vehicle, pair.receiver), _title(vehicle, pair.sender), *figures, share(pair.missed)))
    return head, tuple(rows)


def _worst(verdicts: list[Verdict]) -> str:
    for verdict in (Verdict.BROKEN, Verdict.UNKNOWN, Verdict.TIGHT):
        if verdict in verdicts:
            return verdict.value
    return Verdict.HOLDS.value


def _component(port: str) -> str:
    return port.partition(".")[0]


def _title(vehicle: Vehicle, port: str) -> str:
    component = _component(port)
    return component_title(component, vehicle.components.get(component))
