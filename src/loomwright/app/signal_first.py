"""The first box on the page of a line's bits: what is wrong, where, how bad, and what to do first."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from loomwright.app.margin import row_of
from loomwright.app.project import Project
from loomwright.app.signal import LinePhysics
from loomwright.app.signal_others import of_line, thing_words
from loomwright.app.signal_remarks import long_pieces, rings_of
from loomwright.model.vehicle import Vehicle
from loomwright.propose.signal_cures import Effect
from loomwright.show.quantity import number
from loomwright.show.rule_words import rule_title
from loomwright.show.signal_first import harm, settling_sentence, size_text
from loomwright.show.signal_sizes import Size, there_s
from loomwright.show.signal_words import verdict_told
from loomwright.show.titled import Titles
from loomwright.show.words import finding_cure, finding_sentence, is_late_at_worst
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Path
from loomwright.terms.finding import Finding, Verdict, Weight

_TERMINATIONS = frozenset(
    {"two-terminations", "terminations-at-ends", "fixed-terminator-mid-trunk", "terminator-value"}
)
_CAUSES = _TERMINATIONS | {"cable-impedance", "way-exists", "station-once"}
"""What has to be right before late bits tell of anything else."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One place at which a rule is not kept. ``key`` names the finding in forms; ``try_it`` the change there is to try."""

    path: str
    also: str
    where: str
    size: str
    key: str
    try_it: str


@dataclass(frozen=True, slots=True)
class Wrong:
    """Something that is wrong, at one place or several. ``verdict`` is the shape, ``word`` what stands beside it."""

    rule: str
    title: str
    verdict: str
    word: str
    sentence: str
    cause: str
    cure: str
    spots: tuple[Spot, ...]


@dataclass(frozen=True, slots=True)
class First:
    """The box. ``head`` is its title, ``told`` a sentence under it, ``beside`` what it leaves to the margin."""

    head: str
    told: str
    wrong: tuple[Wrong, ...]
    beside: str


def first_box(
    project: Project, name: str, physics: LinePhysics | None, effects: Sequence[Effect] | None, asking: str
) -> First:
    """``physics`` is what was computed of the line as it is now, ``None`` while it is not there."""
    wiring = of_line(project, name)
    bits = () if physics is None else physics.findings
    counting = [own for own in bits if own.reading.weight is Weight.GOVERNS]
    out = [own for own in (*wiring, *counting) if own.verdict is Verdict.BROKEN]
    near = [own for own in counting if _word(own)[0] is Verdict.TIGHT]
    listed = sorted(out, key=harm) + sorted(near, key=harm)
    wrong = _grouped(project, name, physics, listed, effects, asking)
    beside = _beside(wiring, counting, _not_known(project.vehicle, physics, counting))
    if out:
        return First("What is wrong and what to do first", "", wrong, beside)
    if wrong:
        return First("What is wrong and what to do first", "Nothing is broken. This is near its limit:", wrong, beside)
    return First(*_nothing(physics, wiring, counting), (), beside)


def _grouped(
    project: Project,
    name: str,
    physics: LinePhysics | None,
    listed: Sequence[Finding],
    effects: Sequence[Effect] | None,
    asking: str,
) -> tuple[Wrong, ...]:
    """One entry for what is broken of a rule, and one for what is near; the same change is offered once."""
    titles = Titles(project.vehicle, name)
    wired = project.answers.topology(project.vehicle, name)
    topology = None if isinstance(wired, Blocked) else wired.value
    groups: dict[tuple[str, bool], list[Finding]] = {}
    for own in listed:
        groups.setdefault((own.rule, own.verdict is Verdict.BROKEN), []).append(own)
    rules = {own.rule for own in listed if own.verdict is Verdict.BROKEN}
    offered: list[tuple[Change, str]] = []
    found: list[Wrong] = []
    for (rule, _), group in groups.items():
        worst, title = group[0], rule_title(rule)
        same = _same(worst, offered)
        spots = []
        for own in group:
            spots.append(_spot(own, project.vehicle, titles, topology, new=not _same(own, offered)))
            if own.reading.change:
                offered.append((own.reading.change, title))
        verdict, word = _word(worst)
        sentence = settling_sentence(worst) if rule == "signal-settling" else finding_sentence(titles.finding(worst))
        cure = titles.text(finding_cure(replace(worst, verdict=verdict)))
        found.append(
            Wrong(
                rule,
                title,
                verdict.value,
                word,
                titles.text(sentence),
                ""
                if any(own.rule == rule for own in found)
                else _cause(project, name, physics, worst, rules, effects, asking),
                f"The change under “{same}” mends this too." if same else cure,
                tuple(spots),
            )
        )
    return tuple(found)


def _word(finding: Finding) -> tuple[Verdict, str]:
    return verdict_told(finding.verdict, late_at_worst=is_late_at_worst(finding))


def _same(finding: Finding, offered: list[tuple[Change, str]]) -> str:
    """The title under which the same edits were offered."""
    change = finding.reading.change
    return next((title for other, title in offered if change is not None and other.edits == change.edits), "")


def _spot(
    finding: Finding,
    vehicle: Vehicle,
    titles: Titles,
    topology: LineTopology | None,
    *,
    new: bool,
) -> Spot:
    """``new``: its change is not offered above."""
    row = row_of(finding, vehicle)
    change = finding.reading.change
    try_it = titles.text(change.title.rstrip(".")) if change and new and row.curable else ""
    return Spot(
        row.subject, row.also, _where(finding.reading.subject, titles, topology), size_text(finding), row.key, try_it
    )


def _where(subject: Path, titles: Titles, topology: LineTopology | None) -> str:
    """The station or component with its place and its distance along the trunk; the whole line otherwise."""
    stops = topology.stops if topology else ()
    port = f"{subject[1]}.{subject[3]}" if subject[0] == "components" and len(subject) > 3 else ""
    index = subject[3] if subject[0] == "lines" and len(subject) > 3 and isinstance(subject[3], int) else -1
    stop = next((own for own in stops if own.index == index or (port and own.port == port)), None)
    if stop is not None:
        told = titles.stop(stop.index)
        place = f" ({titles.place(stop.place)})" if stop.port else ""
        return f"{told[:1].upper()}{told[1:]}{place}, {stop.distance_m:.2f} m along the trunk"
    if port:
        return titles.port(port)
    if subject[0] == "runs":
        return titles.run(str(subject[1]))
    return titles.stop(index) if index >= 0 else "The whole line"


def _cause(
    project: Project,
    name: str,
    physics: LinePhysics | None,
    finding: Finding,
    rules: set[str],
    effects: Sequence[Effect] | None,
    asking: str,
) -> str:
    """What is behind a finding, where something is known of it."""
    if finding.rule == "trunk-length":
        return " ".join(long_pieces(project, name))
    if finding.rule != "signal-settling" or physics is None:
        return ""
    rings = rings_of(project, name, physics, effects, asking)
    causes = [rule_title(rule) for rule in sorted(rules & _CAUSES)]
    first = f"Put right first what is told under: {', '.join(causes)}. Then look again." if causes else ""
    return " ".join(part for part in (rings, first) if part)


def _not_known(vehicle: Vehicle, physics: LinePhysics | None, bits: Sequence[Finding]) -> str:
    """What of the bits waits for facts, where the page tells of the rest; where it cannot, its headline says why."""
    if physics is None or isinstance(physics.signal, Blocked):
        return ""
    waiting: dict[str, list[str]] = {}
    for own in bits:
        if own.verdict is Verdict.UNKNOWN:
            things = waiting.setdefault(rule_title(own.rule), [])
            things += [thing_words(vehicle, path) for path in own.reading.blocked_by]
    told = "; ".join(f"{title} (look up: {' and '.join(dict.fromkeys(things))})" for title, things in waiting.items())
    return f" Not known yet: {told}." if told else ""


def _beside(wiring: Sequence[Finding], bits: Sequence[Finding], not_known: str) -> str:
    """Both populations counted, each by itself; ``not_known`` behind them."""
    parts = [
        f"{what}: {', '.join(counted)}"
        for what, counted in (("Checks of the bits", _counted(bits)), ("Other rules of this line", _counted(wiring)))
        if counted
    ]
    return f"{'. '.join(parts)}.{not_known} The margin tells all of the wiring." if parts else ""


def _counted(findings: Sequence[Finding]) -> list[str]:
    verdicts = [own.verdict for own in findings]
    one = {
        Verdict.HOLDS: "holds",
        Verdict.TIGHT: "is tight",
        Verdict.BROKEN: "is broken",
        Verdict.UNKNOWN: "is unknown",
    }
    more = {
        Verdict.HOLDS: "hold",
        Verdict.TIGHT: "are tight",
        Verdict.BROKEN: "are broken",
        Verdict.UNKNOWN: "are unknown",
    }
    return [
        f"{count} {(one if count == 1 else more)[verdict]}"
        for verdict in (Verdict.HOLDS, Verdict.TIGHT, Verdict.BROKEN, Verdict.UNKNOWN)
        if (count := verdicts.count(verdict))
    ]


def _nothing(physics: LinePhysics | None, wiring: Sequence[Finding], bits: Sequence[Finding]) -> tuple[str, str]:
    """Nothing is wrong, as far as anybody can say."""
    open_facts = any(own.verdict is Verdict.UNKNOWN for own in (*wiring, *bits))
    waits = " Some facts are missing still; the margin names them." if open_facts else ""
    if physics is None:
        return "Nothing is wrong with the wiring", f"Whether the bits arrive is not computed yet.{waits}"
    if isinstance(physics.signal, Blocked):
        return "Nothing is known to be wrong", f"Whether the bits arrive cannot be said yet.{waits}"
    signal = physics.signal.value
    left = [
        number(100.0 * (1.0 - Size(settle_s, there_s(signal)).share), 0)
        for settle_s in (max(pair.typical_s for pair in signal.pairs), signal.worst.settle_s)
    ]
    unjudged = any(own.verdict is Verdict.UNKNOWN for own in bits)
    return (
        "Nothing is known to be wrong" if unjudged else "Nothing is wrong on this line",
        f"Every rule{' that can be judged' if unjudged else ''} is kept, and every bit is in time: {left[0]} % of the time there is are left at typical values, "
        f"{left[1]} % at the worst of ten extremes of tolerance.{waits}",
    )
