"""A line with a fault beside the sound one: rows for a page, and tables for a terminal."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from loomwright.judge.changes import OF_A_RECEIVER, AtReceiver, ReceiverChange
from loomwright.show.quantity import bare
from loomwright.show.rule_words import rule_title
from loomwright.show.words import SIGNS, finding_sentence, path_words, value_text
from loomwright.solve.signal import LineSignal
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.finding import Finding, Verdict
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.console import Group

OFF = "cut off"
"""Stands for every figure of a receiver that is not on the line any more."""
Title = Callable[[str], str]


def receiver_row(change: ReceiverChange, title: Title) -> tuple[str, ...]:
    """Receiver, worst sender with the fault, then in pairs sound and faulty: left in ns, lowest V, verdict."""
    before, after = change.before, change.after
    pairs = zip(_figures(before), (OFF, "", OFF) if after is None else _figures(after), strict=True)
    return (
        title(change.port),
        "" if after is None else title(after.sender),
        *(figure for pair in pairs for figure in pair),
    )


def ohms_row(name: str, sound_ohm: float, faulty_ohm: float | None) -> tuple[str, str, str]:
    """Station, and what the meter reads there, sound and with the fault."""
    faulty = OFF if faulty_ohm is None else bare(faulty_ohm, Kind.RESISTANCE, "Ω")
    return name, bare(sound_ohm, Kind.RESISTANCE, "Ω"), faulty


def fault_verdict(changes: Sequence[ReceiverChange], faulty: Answer[LineSignal], title: Title) -> str:
    """What the fault does to the bits, in a few sentences. ``title`` names a port."""
    if isinstance(faulty, Blocked):
        waits = ", ".join(path_words(path) for path in faulty.by)
        return f"Nothing can be said yet; look up: {waits}." if waits else "Fewer than two nodes are left on the line."
    off = sum(change.after is None for change in changes)
    left = [change for change in changes if change.after is not None]
    now = [own.port for own in left if own.after is not None and own.after.verdict is Verdict.BROKEN]
    was = [own.port for own in left if own.before.verdict is Verdict.BROKEN]
    gone = f"{_nodes(off)} cut off. " if off else ""
    if not now:
        rest = (
            "The others hear every bit in time."
            if off
            else "Every bit still arrives in time: traffic does not show this fault."
        )
        return gone + (f"Every bit arrives in time with it. {_named('No longer unsure', was, title)}" if was else rest)
    if now == was:
        return f"{gone}{_nodes(len(now))} unsure of some bits, as without the fault."
    told = f"{gone}{_nodes(len(now))} unsure of some bits, without the fault {len(was) or 'none'}."
    if not was:
        return told
    groups = (
        ("No longer unsure", [port for port in was if port not in now]),
        ("Now unsure", [port for port in now if port not in was]),
        ("Unsure with and without it", [port for port in now if port in was]),
    )
    return " ".join((told, *(_named(words, ports, title) for words, ports in groups if ports)))


def rights_sentence(cured: Sequence[tuple[Finding, Finding | None]]) -> str:
    """What a missing termination puts right, each finding beside the one that takes its place, if there is one."""
    parts = []
    for before, after in cured:
        figures = before.reading.value is not None and after is not None and after.reading.value is not None
        told = f": {value_text(before.reading)} becomes {value_text(after.reading)}" if figures and after else ""
        parts.append(f"{rule_title(before.rule)}{told}")
    return f"This makes it right: {'; '.join(parts)}. That termination was one too many."


def _named(words: str, ports: Sequence[str], title: Title) -> str:
    return f"{words}: {', '.join(title(port) for port in ports)}."


def of_the_line(worse: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings that no row of a receiver tells."""
    return tuple(finding for finding in worse if finding.rule not in OF_A_RECEIVER)


def fault_text_table(
    head: str,
    sentence: str,
    notice: str,
    told: str,
    changes: Sequence[ReceiverChange],
    worse: Sequence[Finding],
    ohms: Sequence[tuple[str, str, str]],
) -> Group:
    """The whole comparison for a terminal."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("receiver", no_wrap=True)
    for name in ("left, ns", "with it", "lowest, V", "with it"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("verdict", no_wrap=True)
    table.add_column("with it", no_wrap=True)
    for change in changes:
        receiver, _, *figures = receiver_row(change, lambda port: port.partition(".")[0])
        table.add_row(receiver, *figures)
    meter = Table(box=None, pad_edge=False, header_style="dim")
    meter.add_column("ohm-meter at")
    for name in ("reads, Ω", "with it"):
        meter.add_column(name, justify="right")
    for row in ohms:
        meter.add_row(*row)
    found = [Text(f"  {SIGNS[own.verdict]} {own.verdict.value:8}{finding_sentence(own)}") for own in of_the_line(worse)]
    found = [Text("Worse for the line as a whole:"), *found] if found else []
    return Group(
        Text(head, style="bold"),
        Text(sentence),
        Text(notice, style="bold"),
        Text(told),
        table,
        Text(""),
        meter,
        Text(""),
        *found,
    )


def _figures(own: AtReceiver) -> tuple[str, str, str]:
    left = "never sure" if math.isinf(own.left_s) else bare(own.left_s, Kind.TIME, "ns")
    return left, bare(own.lowest_v, Kind.VOLTAGE, "V"), own.verdict.value


def _nodes(count: int) -> str:
    return "1 node is" if count == 1 else f"{count} nodes are"
