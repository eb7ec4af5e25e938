"""A line with a fault beside the sound one: rows for a page, and tables for a terminal."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.judge.changes import OF_A_RECEIVER, AtReceiver, ReceiverChange
from loomwright.model.fault import Fault, FaultKind
from loomwright.show.data_timing import percent
from loomwright.show.fault_finding import FindingShown, finding_text
from loomwright.show.fault_words import Called, open_end_words
from loomwright.show.quantity import bare, number, span
from loomwright.show.quantity import text as quantity
from loomwright.show.rule_words import rule_title
from loomwright.show.signal_words import EDGE_NS, Name, remarks
from loomwright.show.words import SIGNS, finding_sentence, path_words, value_text
from loomwright.solve.bit_timing import LineTiming
from loomwright.solve.echoes import Mismatch, Spot
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.change import Path
from loomwright.terms.finding import Finding, Verdict
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.console import Group
    from rich.text import Text

OFF = "cut off"
"""Stands for every figure of a receiver that is not on the line any more."""
Title = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class PartShown:
    """A line with a fault, or a half of it, in words: ``title`` and ``facts`` are of a half alone."""

    title: str
    facts: tuple[str, ...]
    remarks: tuple[str, ...]
    worse: tuple[Finding, ...]


def receiver_row(change: ReceiverChange, title: Title) -> tuple[str, ...]:
    """Receiver, worst sender with the fault, then in pairs sound and faulty: left in ns, lowest V, verdict.

    A sender hears itself too, and its own edges may come back latest.
    """
    before, after = change.before, change.after
    pairs = zip(_figures(before), (OFF, "", OFF) if after is None else _figures(after), strict=True)
    return (
        title(change.port),
        "" if after is None else "itself" if after.sender == change.port else title(after.sender),
        *(figure for pair in pairs for figure in pair),
    )


def ohms_row(name: str, sound_ohm: float, faulty_ohm: float) -> tuple[str, str, str]:
    """Station, and what the meter reads there, sound and with the fault."""
    return name, bare(sound_ohm, Kind.RESISTANCE, "Ω"), bare(faulty_ohm, Kind.RESISTANCE, "Ω")


def halves_verdict(changes: Sequence[ReceiverChange], halves: Sequence[Sequence[str]], title: Title) -> str:
    """Who still hears whom on a line that is torn in two; ``halves`` are the ports on either side of the tear."""
    after = {change.port: change.after for change in changes}
    told = []
    for ports in halves:
        unsure = [port for port in ports if (own := after.get(port)) is not None and own.verdict is Verdict.BROKEN]
        names = several_words([title(port) for port in ports])
        if len(ports) < 2:
            told.append(f"{names} is alone" if ports else "no node is left on one side")
        elif unsure:
            told.append(f"{names} are joined, but {_nodes(len(unsure))} unsure of some bits")
        else:
            told.append(f"{names} hear each other")
    return f"Two halves: {'; '.join(told)}; nothing passes between."


def several_words(names: Sequence[str]) -> str:
    """Names in a row."""
    return ", ".join(names[:-1]) + f" and {names[-1]}" if len(names) > 1 else "".join(names)


def half_title(ends: Sequence[str]) -> str:
    """A half by its first and last station, or by its only one."""
    return f"Half from {ends[0]} to {ends[-1]}" if len(ends) > 1 else f"Half of {ends[0]} alone"


def half_facts(
    terminations: Sequence[str], ohms: tuple[float, float] | None, timing: Answer[LineTiming], title: Title
) -> tuple[str, ...]:
    """What a half is by itself: its terminations, what the meter reads on it (lowest and highest, in ohm), its timing."""
    count = {0: "No termination is", 1: "1 termination is"}.get(
        len(terminations), f"{len(terminations)} terminations are"
    )
    names = f": {several_words(terminations)}" if terminations else ""
    read = "" if ohms is None else f" The meter reads {span(*ohms, Kind.RESISTANCE)} here."
    sentence = timing_sentence(timing, title)
    return (f"{count} on{names}.{read}", *([sentence] if sentence else []))


def timing_sentence(timing: Answer[LineTiming], title: Title) -> str:
    """One line's bit timing in a sentence; empty where fewer than two nodes are on it."""
    if isinstance(timing, Blocked):
        waits = ", ".join(path_words(path) for path in timing.by)
        return f"Its bit timing waits for {waits}." if waits else ""
    found, data = timing.value, timing.value.data
    reasons = (*found.reasons, *(data.reasons if data else ()))
    if reasons:
        told = "; ".join(f"{several_words([title(port) for port in own.nodes])}: {own.obstacle}" for own in reasons)
        return f"No bit timing suits all its nodes: {told}."
    if found.common is None:
        return f"Bit timing: no node of it tells a clock or a sample point; aim for {percent(found.aim)} %."
    points = [f"sampled at {percent(found.common.sample_point)} %"]
    if data and data.sample_point is not None:
        points.append(f"at {percent(data.sample_point)} % in the data phase")
    trip = found.round_trip
    return (
        f"Bit timing: {', '.join(points)} by all its nodes that tell of it; the answer of {title(trip.answering)} is back "
        f"and settled at {title(trip.asking)} after {quantity(trip.time_s, Kind.TIME)}."
    )


def fault_remarks(
    spots: Sequence[Mismatch],
    fault: Fault,
    open_end: int | None,
    terminations: int,
    delay_s_per_m: float,
    name: Name,
    called: Called,
) -> tuple[str, ...]:
    """What an edge meets on a line with a fault, the fault first. ``name`` names its stops, ``called`` those as drawn."""
    if fault.kind is FaultKind.STUB:
        left = tuple(spot for spot in spots if spot.stop != open_end)
        lead = f"T{open_end_words(fault, called)[1:]} is {quantity(fault.length_m, Kind.LENGTH)} long: each edge comes"
        late_ns = 2e9 * fault.length_m * delay_s_per_m
        after = (
            f"after the edge of {number(EDGE_NS, 0)} ns is over, and looks like a step of its own."
            if late_ns > EDGE_NS
            else "before the edge is over; with branches of like length it rings on."
        )
        own = f"{lead} back from its open end {number(late_ns, 0)} ns late, {after}"
        return (own, *remarks(left, terminations, delay_s_per_m, name))
    told = remarks(tuple(spots), terminations, delay_s_per_m, name)
    if any(spot.spot is Spot.TORN for spot in spots):
        where = open_end_words(fault, called)
        return (f"Both ends of {where} are open: each edge comes back whole from there.", *told)
    return told


def fault_verdict(
    changes: Sequence[ReceiverChange], waits_for: Sequence[Path], nodes: Sequence[str], title: Title
) -> str:
    """What the fault does to the bits, in a few sentences. ``nodes`` are the ports that are left; ``title`` names one."""
    if waits_for:
        return f"Nothing can be said yet; look up: {', '.join(path_words(path) for path in waits_for)}."
    if len(nodes) < 2:
        return "Fewer than two nodes are left on the line."
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
    parts: Sequence[PartShown],
    ohms: Sequence[tuple[str, str, str]],
    finding: FindingShown,
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
    return Group(
        Text(head, style="bold"),
        Text(sentence),
        Text(notice, style="bold"),
        Text(told),
        *(text for part in parts for text in _part_text(part)),
        table,
        Text(""),
        meter,
        Text(""),
        *finding_text(finding),
        Text(""),
    )


def _part_text(part: PartShown) -> Iterator[Text]:
    """A piece of the line for a terminal."""
    from rich.text import Text

    if part.title:
        yield Text(f"{part.title}:")
    for own in part.facts:
        yield Text(f"  {own}")
    if part.remarks:
        yield Text("What an edge meets there:" if part.title else "What an edge meets on the line with the fault:")
    for own in part.remarks:
        yield Text(f"  - {own}")
    if part.worse:
        yield Text("Worse there:" if part.title else "Worse for the line as a whole:")
    for finding in part.worse:
        yield Text(f"  {SIGNS[finding.verdict]} {finding.verdict.value:8}{finding_sentence(finding)}")
    if part.title or part.remarks or part.worse:
        yield Text("")


def _figures(own: AtReceiver) -> tuple[str, str, str]:
    left = "never sure" if math.isinf(own.left_s) else bare(own.left_s, Kind.TIME, "ns")
    return left, bare(own.lowest_v, Kind.VOLTAGE, "V"), own.verdict.value


def _nodes(count: int) -> str:
    return "1 node is" if count == 1 else f"{count} nodes are"
