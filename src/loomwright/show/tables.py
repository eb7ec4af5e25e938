"""Results as renderables for a terminal. Rich is loaded when a table is made, so that ``--help`` stays quick."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from loomwright.show.gathered import gathered, more_text
from loomwright.show.marks import RANK
from loomwright.show.quantity import bare, fact_text
from loomwright.show.quantity import text as quantity
from loomwright.show.words import (
    SIGNS,
    finding_cure,
    finding_sentence,
    limit_source,
    limit_text,
    margin_text,
    path_words,
    value_text,
    verdict_words,
)
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.change import Path
from loomwright.terms.finding import Finding, Verdict, Weight
from loomwright.terms.limit import Bound
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    from loomwright.judge.about import About
    from loomwright.solve.ohms import LineOhms, StopOhms
    from loomwright.solve.topology import LineTopology
    from loomwright.solve.unknowns import OpenQuestion

STYLES = {Verdict.HOLDS: "green", Verdict.TIGHT: "yellow", Verdict.UNKNOWN: "cyan", Verdict.BROKEN: "bold red"}
"""Colours of a terminal, beside the sign and the word; never alone."""


def line_table(name: str, topology: Answer[LineTopology], ohms: Answer[LineOhms]) -> Group | Table | Text:
    """A line stop by stop: where it joins, how long its branch is, what the ohm-meter must read there."""
    from rich.text import Text

    if isinstance(topology, Blocked):
        return Text(f"Line {name} cannot be measured yet; unknown: {several(topology.by)}.\n")
    wired = topology.value
    total = (
        f"Line {name}: trunk {quantity(wired.trunk_m, Kind.LENGTH)}, branches {quantity(wired.branches_m, Kind.LENGTH)},"
        f" bus cable {quantity(wired.cable_m, Kind.LENGTH)}"
    )
    shown = table(total)
    for head in ("", "station"):
        shown.add_column(head, justify="right" if not head else "left", overflow="fold")
    for head in ("at, m", "branch, m", "ends in"):
        shown.add_column(head, justify="right")
    shown.add_column("reads, Ω", justify="right")
    shown.add_column("between", justify="right")
    read = {} if isinstance(ohms, Blocked) else {stop.stop: stop for stop in ohms.value.stops}
    for stop in wired.stops:
        ends = fact_text(stop.termination_ohm, Kind.RESISTANCE) if stop.termination == "on" else ""
        ohm = read.get(stop.index)
        shown.add_row(
            str(stop.index + 1),
            Text((stop.port or "plug-in terminator") + (" (again)" if stop.repeated else "")),
            bare(stop.distance_m, Kind.LENGTH, "m"),
            bare(stop.branch_m, Kind.LENGTH, "m") if stop.branch_m else "–",
            Text("?" if stop.termination == "unknown" else ends.partition(" (")[0]),
            bare(ohm.ohm, Kind.RESISTANCE, "Ω") if ohm else "?",
            _between(ohm) if ohm else "",
        )
    if isinstance(ohms, Blocked):
        return group(shown, Text(f"Readings wait for: {several(ohms.by)}.\n", style="dim"))
    return shown


def unplugged_table(name: str, ohms: Answer[LineOhms]) -> Table | Text:
    """With one station unplugged at a time: what the ohm-meter must read at the others' connectors."""
    from rich.text import Text

    if isinstance(ohms, Blocked):
        return Text(f"Line {name}: readings wait for {several(ohms.by)}.\n")
    shown = table(f"Line {name}: what the meter reads with one thing unplugged, by number of station")
    shown.add_column("unplugged", overflow="fold")
    shown.add_column("reads, Ω", overflow="fold")
    for unplugged, stops in ohms.value.unplugged:
        shown.add_row(Text(unplugged), Text(_alike(stops)))
    return shown


COUNTED = (Verdict.BROKEN, Verdict.UNKNOWN, Verdict.TIGHT)
"""What is told one by one; what holds is counted, or shown in a table."""


def findings_table(findings: Sequence[Finding], *, every: bool = False) -> Group:
    """Findings, worst first, line by line; advice apart. What holds is counted, or shown with its margin."""
    from rich.text import Text

    parts: list[object] = []
    told = [each for each in findings if each.verdict in COUNTED and not _is_idle(each)]
    more = {id(finding): rest for finding, rest in gathered(told)}
    for line in dict.fromkeys(finding.reading.line for finding in findings):
        own = [finding for finding in findings if finding.reading.line == line]
        parts.append(Text(f"Line {line}" if line else "The whole vehicle", style="bold"))
        counting = [finding for finding in own if finding.reading.weight is Weight.GOVERNS]
        parts += _blocks(_worst_first(counting), more)
        advice = [finding for finding in own if finding.reading.weight is Weight.ADVICE]
        if any(finding.verdict in (Verdict.BROKEN, Verdict.TIGHT) for finding in advice):
            parts.append(Text("  For information (nothing has to change):", style="dim"))
            parts += _blocks(_worst_first(advice), more)
        holding = [finding for finding in own if finding.verdict is Verdict.HOLDS]
        if holding and every:
            parts.append(_proof(holding))
        elif holding:
            count = sum(finding.reading.weight is Weight.GOVERNS for finding in holding)
            parts.append(Text(f"  {SIGNS[Verdict.HOLDS]} {count} hold; --all shows each with its margin", style="dim"))
        parts.append(Text(""))
    return group(*parts)


def verdict_line(findings: Sequence[Finding]) -> Text:
    """One line: how many are broken, unknown, tight, holding; and how many broken ones are accepted."""
    from rich.text import Text

    counting = [finding for finding in findings if finding.reading.weight is Weight.GOVERNS]
    text = Text()
    for verdict in reversed(RANK):
        count = sum(finding.verdict is verdict and not finding.accepted for finding in counting)
        if count or verdict is Verdict.HOLDS:
            text.append("   " if text else "")
            text.append(f"{SIGNS[verdict]} {count} {verdict.value}", style=STYLES[verdict])
    accepted = sum(bool(finding.accepted) for finding in counting)
    if accepted:
        text.append(f"   {accepted} accepted with a reason", style="dim")
    beyond = sum(item.verdict is Verdict.BROKEN and item.reading.weight is Weight.ADVICE for item in findings)
    if beyond:
        remarks = "remark" if beyond == 1 else "remarks"
        text.append(f"   ◇ {beyond} {remarks} for information", style="dim")
    return text


def unknowns_table(questions: Sequence[OpenQuestion]) -> Table | Text:
    """What to look up next, the most useful question first."""
    from rich.text import Text

    if not questions:
        return Text("Every fact is known or assumed; nothing to look up.")
    shown = table("What to look up, the most useful first")
    shown.add_column("frees", justify="right")
    shown.add_column("question", overflow="fold", ratio=3)
    shown.add_column("where", overflow="fold", ratio=2)
    for item in questions:
        asked = Text(item.question)
        asked.append(f"\n{path_words(item.path)}", style="dim")
        shown.add_row(
            str(len(item.blocks)), asked, Text(": ".join(part for part in (item.document, item.where) if part))
        )
    return shown


def about_text(rule: str, about: About) -> Group:
    """A rule's page."""
    from rich.padding import Padding
    from rich.text import Text

    parts: list[object] = [Text(rule, style="bold"), Text("")]
    for head, body in (
        ("What it measures", about.measures),
        ("Why it matters", about.why),
        ("Example", about.example),
        ("What cures it", about.cure),
        ("Where the limit comes from", about.source),
    ):
        parts += [Text(head, style="dim"), Padding(Text(body), (0, 0, 1, 2))]
    return group(*parts)


def _is_idle(finding: Finding) -> bool:
    """Advice that waits for a fact: nobody need look it up."""
    return finding.reading.weight is Weight.ADVICE and finding.verdict is Verdict.UNKNOWN


def _blocks(findings: Iterable[Finding], more: Mapping[int, tuple[Finding, ...]]) -> list[object]:
    """Each finding as a block, below it how many more wait for the same facts. Those are not told by themselves."""
    from rich.text import Text

    blocks: list[object] = []
    for finding in findings:
        if id(finding) in more:
            blocks.append(_block(finding))
            if rest := more_text(more[id(finding)]):
                blocks.append(Text(f"  ? {rest}", style=STYLES[Verdict.UNKNOWN]))
    return blocks


def _block(finding: Finding) -> object:
    from rich.padding import Padding
    from rich.text import Text

    verdict, reading = finding.verdict, finding.reading
    sign, word = verdict_words(finding)
    head = Text(f"  {sign} {word:8}", style=STYLES[verdict] if word == verdict.value else "dim")
    head.append(finding.rule, style="bold")
    if reading.rule_set:
        head.append(f"  {reading.rule_set}", style="dim")
    if finding.accepted:
        head.append(f"  accepted: {finding.accepted}", style="dim")
    body = Text(finding_sentence(finding))
    cure = finding_cure(finding)
    if cure and verdict is not Verdict.TIGHT:
        body.append(f"\n{cure}", style="italic")
    if verdict is not Verdict.UNKNOWN:
        # A demand that is met or not has no figure worth repeating.
        limit = "" if reading.limit.kind is Kind.COUNT else f"Limit: {limit_text(reading.limit)}. "
        body.append(f"\n{limit}Source: {limit_source(reading.limit)}", style="dim")
    return group(head, Padding(body, (0, 0, 0, 12)))


def _proof(findings: Iterable[Finding]) -> Table:
    """What holds, each with value, limit and margin."""
    from rich.text import Text

    shown = table("")
    shown.add_column("  holds", no_wrap=True)
    for head in ("value", "limit", "margin"):
        shown.add_column(head, justify="right")
    shown.add_column("of", overflow="fold")
    for finding in findings:
        reading = finding.reading
        rule = Text(f"{SIGNS[Verdict.HOLDS]} {finding.rule}")
        margin = "" if reading.limit.bound is Bound.EXACTLY else margin_text(finding)
        of = ", ".join(part for part in (path_words(reading.subject), reading.rule_set) if part)
        shown.add_row(rule, value_text(reading), limit_text(reading.limit), margin, Text(of, style="dim"))
    return shown


def _worst_first(findings: Iterable[Finding]) -> list[Finding]:
    """Broken before unknown before tight; within one verdict as the rules stand."""
    return sorted(findings, key=lambda finding: (bool(finding.accepted), -RANK.index(finding.verdict)))


def _between(ohm: StopOhms) -> str:
    return f"{bare(ohm.low_ohm, Kind.RESISTANCE, 'Ω')} … {bare(ohm.high_ohm, Kind.RESISTANCE, 'Ω')}"


def _alike(stops: Sequence[StopOhms]) -> str:
    """Readings by station, neighbours with the same figure taken together: ``1 to 4: 120, 5: 119``."""
    runs: list[tuple[int, int, str]] = []
    for stop in stops:
        shown = bare(stop.ohm, Kind.RESISTANCE, "Ω")
        if runs and runs[-1][2] == shown:
            runs[-1] = (runs[-1][0], stop.stop + 1, shown)
        else:
            runs.append((stop.stop + 1, stop.stop + 1, shown))
    return ", ".join(f"{a}: {shown}" if a == b else f"{a} to {b}: {shown}" for a, b, shown in runs)


def several(paths: Sequence[Path]) -> str:
    """The first few facts by name, the rest counted."""
    shown = ", ".join(path_words(path) for path in paths[:4])
    return f"{shown} and {len(paths) - 4} more" if len(paths) > 4 else shown


def table(title: str) -> Table:
    """A plain table, as all of this program look."""
    from rich import box
    from rich.table import Table

    return Table(
        title=title or None,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1),
    )


def group(*parts: object) -> Group:
    """Renderables one below the other."""
    from rich.console import Group

    return Group(*parts)  # type: ignore[arg-type]
