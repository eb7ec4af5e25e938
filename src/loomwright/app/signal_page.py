"""What the page of a line's bits shows: who is sure when, what its edges meet, what would help."""

import math
from dataclasses import dataclass

from loomwright.app.plan_drawing import PAGE_PX
from loomwright.app.project import Project
from loomwright.app.session import Session
from loomwright.app.signal import LEFT_OUT, LinePhysics
from loomwright.app.signal_advice import SignalAdvice
from loomwright.app.signal_data import DataShown, data_shown
from loomwright.app.signal_first import First, first_box
from loomwright.app.signal_jobs import Look, Stand, stand
from loomwright.app.signal_offers import Advised, advised_of
from loomwright.app.signal_others import of_line, why_blocked
from loomwright.app.signal_remarks import met_by_an_edge, ringing_pair
from loomwright.app.signal_told import BITS, bits_told
from loomwright.judge.evidence import cable_of, components_on
from loomwright.model.vehicle import Vehicle
from loomwright.show.data_timing import percent, taken_as_exact
from loomwright.show.names import component_title
from loomwright.show.quantity import bare, number
from loomwright.show.ruler import line_ruler
from loomwright.show.ruler.scale import WIDTH
from loomwright.show.signal import TRAPPED, share, sure_text
from loomwright.show.signal_sizes import SHARES, Size, there_s
from loomwright.show.signal_strips import signal_strips
from loomwright.show.signal_words import headline, left_text, verdict_told, worst_of
from loomwright.show.titled import Titles
from loomwright.show.tokens import hue
from loomwright.show.words import finding_sentence, path_words, verdict_words
from loomwright.solve.signal import LineSignal, PairSignal
from loomwright.solve.signal_draws import SignalDraws
from loomwright.solve.signal_parts import SignalParts, signal_parts
from loomwright.terms.answer import Blocked
from loomwright.terms.change import path_text
from loomwright.terms.finding import Finding, Verdict, Weight
from loomwright.terms.quantity import Kind

TRY_BELOW = "Changes that may end it can be tried below."


@dataclass(frozen=True, slots=True)
class ReceiverRow:
    """A receiver with its worst sender; figures in words, units in the column's head.

    ``share`` is what it needs of the time there is, from 0 to 1 at most, for a bar; ``size`` the same in words. ``cause``
    is told of the pair that rings.
    """

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
    word: str
    share: float
    size: str
    cause: str


@dataclass(frozen=True, slots=True)
class Told:
    """A finding of the physical layer that is told for information: nothing has to change."""

    verdict: str
    sentence: str
    subject: str


@dataclass(frozen=True, slots=True)
class Looked:
    """All that was computed of a line."""

    headline: str
    verdict: str
    word: str
    sample: str
    bit: str
    there: str
    electronics: str
    remarks: tuple[str, ...]
    rows: tuple[ReceiverRow, ...]
    shares: str
    advice: tuple[Told, ...]
    timing: tuple[tuple[str, ...], ...]
    timing_note: str
    data: DataShown | None
    ruler: str
    waits: str


@dataclass(frozen=True, slots=True)
class SignalPage:
    """The page of one line's bits. ``ports`` are the choices of the chart, none where nothing can be drawn.

    ``bits`` is what the margin says of them. ``share`` tells beside the verdict in how many drawn vehicles it is so; ``now`` is what is left as the line is.
    """

    look: Stand
    first: First
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
    bits: str


def signal_page(session: Session, name: str) -> SignalPage:
    """The page of one line of the open project."""
    look, draws, tried = (stand(session, kind, name) for kind in ("look", "draws", "advice"))
    looked, chosen, physics = None, ("", ""), None
    advised = tried.answer if isinstance(tried.answer, SignalAdvice) else None
    effects = None if advised is None or tried.old else advised.effects
    if isinstance(look.answer, Look):
        found = look.answer
        looked = session.ask(lambda project: _looked(project, name, found))
        physics = None if look.old else found.physics
        signal = found.physics.signal
        if not isinstance(signal, Blocked):
            worst = max(signal.value.pairs, key=lambda pair: pair.typical_s)
            chosen = worst.sender, worst.receiver
    first = session.ask(lambda project: first_box(project, name, physics, effects, TRY_BELOW))
    vehicle = session.view().vehicle
    line = vehicle.lines[name]
    ports = dict.fromkeys(station.port for station in line.stations if station.port)
    nodes = [
        port for port in ports if (owner := vehicle.components.get(_component(port))) and owner.role != "service plug"
    ]
    blocked = session.ask(lambda project: isinstance(_parts(project, name), Blocked))
    return SignalPage(
        look,
        first,
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
        bits_told(session, (f"{BITS}.{name}",)),
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


def _looked(project: Project, name: str, found: Look) -> Looked:
    vehicle, physics = project.vehicle, found.physics
    titles = Titles(vehicle, name)
    told = tuple(
        Told(
            verdict_words(finding)[1],
            titles.text(finding_sentence(titles.finding(finding))),
            path_text(finding.reading.subject),
        )
        for finding in physics.findings
        if finding.reading.weight is Weight.ADVICE and finding.verdict is not Verdict.HOLDS
    )
    if isinstance(physics.signal, Blocked):
        waits = why_blocked(project.vehicle, physics.signal.by) if physics.signal.by else ""
        return Looked("", "unknown", "unknown", "", "", "", "", (), (), "", told, (), "", None, "", waits)
    signal = physics.signal.value
    timing, note = _timing(vehicle, physics)
    judged = [finding.verdict for finding in physics.findings if _governs(finding)]
    # What was judged is told first: a fact that is missing beside it must not hide that bits are near their limit.
    worst = worst_of(own for own in judged if own is not Verdict.UNKNOWN)
    verdict, word = verdict_told(worst, late_at_worst=signal.margin_s(signal.worst) < 0.0)
    if verdict is Verdict.HOLDS:
        verdict, word = worst_of(judged), worst_of(judged).value
    return Looked(
        headline(signal, titles.port),
        verdict.value,
        word,
        bare(signal.sample_s, Kind.TIME, "ns"),
        bare(signal.bit_s, Kind.TIME, "ns"),
        bare(there_s(signal), Kind.TIME, "ns"),
        bare(signal.electronics_s, Kind.TIME, "ns"),
        met_by_an_edge(project, name, physics, found.spots),
        _rows(titles, physics, signal, ringing_pair(project, name, physics)),
        SHARES,
        told,
        timing,
        note,
        data_shown(physics.timing, titles.port),
        ruler_with_signal(project, name, physics),
        "",
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
        (*physics.findings, *of_line(project, name)),
        signal_strips(wired.value, physics.signal, physics.levels),
        hue=hue(list(vehicle.lines).index(name))[0],
        standalone=standalone,
        width=WIDTH if standalone else PAGE_PX,
        verdict_title="all rules",
    )


def _rows(
    titles: Titles, physics: LinePhysics, signal: LineSignal, rings: PairSignal | None
) -> tuple[ReceiverRow, ...]:
    level = {} if isinstance(physics.levels, Blocked) else {own.port: own for own in physics.levels.value.receivers}
    left = there_s(signal)
    rows = []
    for port in dict.fromkeys(pair.receiver for pair in signal.pairs):
        pair = max((own for own in signal.pairs if own.receiver == port), key=lambda own: own.typical_s)
        volts = level.get(port)
        component, _, name = port.partition(".")
        path = ("components", component, "ports", name)
        corner_s = signal.at(port).settle_s
        size = Size(pair.typical_s, left)
        judged = [own.verdict for own in physics.findings if own.reading.subject == path and _governs(own)]
        verdict, word = verdict_told(worst_of(judged), late_at_worst=corner_s > left)
        rows.append(
            ReceiverRow(
                path_text(path),
                f"components.{component}",
                titles.port(port),
                port,
                "itself" if pair.sender == port else titles.port(pair.sender),
                pair.sender,
                left_text(pair.typical_s),
                left_text(left - pair.typical_s),
                left_text(left - corner_s),
                bare(volts.typical_v if volts else None, Kind.VOLTAGE, "V"),
                bare(volts.low_v if volts else None, Kind.VOLTAGE, "V"),
                verdict.value,
                word,
                min(size.share, 1.0),
                " ".join(filter(None, (size.percent, size.word))),
                "rings, see above" if rings is not None and port in (rings.sender, rings.receiver) else "",
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
        if found.untold
        else ""
    )
    note = " ".join(filter(None, (untold, taken_as_exact(found, lambda port: _title(vehicle, port)))))
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
    return tuple(rows), note


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


def _governs(finding: Finding) -> bool:
    return finding.reading.weight is Weight.GOVERNS


def _component(port: str) -> str:
    return port.partition(".")[0]


def _title(vehicle: Vehicle, port: str) -> str:
    component = _component(port)
    return component_title(component, vehicle.components.get(component))
