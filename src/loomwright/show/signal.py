"""The physical layer of a line for a terminal: who is sure when, and with how much voltage."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from loomwright.show.data_timing import data_text, percent, taken_as_exact
from loomwright.show.quantity import bare, number
from loomwright.show.quantity import text as quantity
from loomwright.show.signal_sizes import there_s
from loomwright.show.signal_words import headline, left_text, verdict_told, worst_of
from loomwright.show.words import path_words
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.finding import Finding, Weight
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.console import Group
    from rich.text import Text

    from loomwright.solve.bit_timing import LineTiming
    from loomwright.solve.levels import LineLevels
    from loomwright.solve.signal import LineSignal
    from loomwright.solve.signal_draws import SignalDraws


def signal_text(
    name: str,
    signal: Answer[LineSignal],
    levels: Answer[LineLevels],
    left_out: str,
    *,
    beside: str = "",
    meets: Sequence[str] = (),
    waits: str = "",
    findings: Sequence[Finding] = (),
) -> Group | Text:
    """A line's receivers, each with its worst sender, what it needs, what is left, its lowest level and its verdict.

    ``findings`` are those of its bits, ``beside`` tells what else there is to know of the line, ``meets`` what an edge meets on it, ``waits`` what it waits for.
    """
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    if isinstance(signal, Blocked):
        why = waits or "A bit needs a sender and a receiver: put at least two nodes on this line."
        return Group(Text(f"Line {name}: {why}"), *([Text(beside)] if beside else []), Text(""))
    found = signal.value
    level = {} if isinstance(levels, Blocked) else {item.port: item for item in levels.value.receivers}
    called = short_ports([pair.receiver for pair in found.pairs])
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 1, 0, 0))
    longest = max(len(name) for name in called.values())
    for head in ("receiver", "worst sender"):
        table.add_column(head, overflow="fold", min_width=min(longest, 24))
    for head in ("needs,\nns", "left,\nns", "left at\nworst,\nns", "low-\nest,\nV"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("bits", overflow="fold", min_width=len("tight typically,"))
    left = there_s(found)
    for port in dict.fromkeys(pair.receiver for pair in found.pairs):
        pair = max((pair for pair in found.pairs if pair.receiver == port), key=lambda pair: pair.typical_s)
        corner = max(other.settle_s for other in found.pairs if other.receiver == port)
        volts = level.get(port)
        judged = [
            own.verdict
            for own in findings
            if ("port", port) in own.reading.because and own.reading.weight is Weight.GOVERNS
        ]
        table.add_row(
            called[port],
            "itself" if pair.sender == port else called[pair.sender],
            sure_text(pair.typical_s),
            left_text(left - pair.typical_s),
            left_text(left - corner),
            bare(volts.low_v if volts else None, Kind.VOLTAGE, "V"),
            verdict_told(worst_of(judged), late_at_worst=corner > left)[1],
        )
    head = (
        f"Line {name}: sampled {quantity(found.sample_s, Kind.TIME)} into a bit of {quantity(found.bit_s, Kind.TIME)}; "
        f"left is until then, {quantity(found.electronics_s, Kind.TIME)} of transceivers off"
    )
    told = [Text(headline(found, called.__getitem__)), *([Text(beside)] if beside else [])]
    edges = (
        [Text("What an edge meets on this line:"), *(Text(f"  - {own}") for own in meets), Text("")] if meets else []
    )
    return Group(Text(head, style="bold"), *told, *edges, table, Text(left_out, style="dim"), Text(""))


def short_ports(ports: Sequence[str]) -> dict[str, str]:
    """Each port by its component alone, where that has no other here."""
    counted = Counter(port.partition(".")[0] for port in dict.fromkeys(ports))
    return {port: port.partition(".")[0] if counted[port.partition(".")[0]] == 1 else port for port in ports}


def timing_text(timing: Answer[LineTiming]) -> Group | Text:
    """One line's common bit timing: each node's segments in quanta, or what is in the way."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    if isinstance(timing, Blocked):
        waits = ", ".join(path_words(path) for path in timing.by)
        return Text(f"Its bit timing waits for {waits}.\n" if waits else "")
    found = timing.value
    trip = found.round_trip
    head = (
        f"Bit timing: the answer of {trip.answering} is back and settled at {trip.asking} after "
        f"{quantity(trip.time_s, Kind.TIME)}"
    )
    if found.common is None:
        told = [f"  {' and '.join(reason.nodes)}: {reason.obstacle.value}" for reason in found.reasons]
        none = f"  no port tells a clock or a sample point; aim for {number(100.0 * found.aim, 1)} %"
        return Group(Text("\n".join((head, *(told or [none]), ""))), *data_text(found))
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("node", overflow="fold")
    for name in (
        "clock,\nMHz",
        "pre-\nscaler",
        "prop",
        "phase\n1",
        "phase\n2",
        "jump",
        "sample,\n%",
        "oscil-\nlators,\n%",
    ):
        table.add_column(name, justify="right", no_wrap=True)
    clocks = dict(found.clocks_hz)
    for node in found.common.nodes:
        setting = node.setting
        parts = (
            ("",) * 5
            if setting is None
            else tuple(
                str(part)
                for part in (setting.prescaler, setting.propagation, setting.phase_1, setting.phase_2, setting.jump)
            )
        )
        clock = number(clocks[node.name] / 1e6, 1) if node.name in clocks else "fixed"
        table.add_row(node.name, clock, *parts, percent(node.sample_point), f"± {number(100.0 * node.tolerance, 2)}")
    exact = taken_as_exact(found)
    notes = [f"{exact} Hold the real ones against the last column."] if exact else []
    if found.untold:
        notes.append(f"Nothing is told of {', '.join(found.untold)}: set them to the same sample point.")
    below = "".join(f"{note}\n" for note in notes)
    return Group(Text(head), table, Text(below), *data_text(found))


NEVER = "never"
"""Stands for a time after which a receiver would be sure, where the bit ends before."""
TRAPPED = (
    "In some draws ringing trapped between branches of like length outlasts the bit; the loss in the cable's insulation, "
    "which is left out here, would damp it a little more."
)


def sure_text(time_s: float) -> str:
    """Nanoseconds until a receiver is sure, or that it never is within the bit."""
    return NEVER if math.isinf(time_s) else bare(time_s, Kind.TIME, "ns")


def share(value: float) -> str:
    """A share of draws in percent, with a digit where it is small."""
    return f"{number(100.0 * value, 1 if value < 0.1 else 0)} %"


def draws_text(found: SignalDraws, count: int = 8) -> Group | Text:
    """The pairs that are late most often, or latest, over all draws."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    head = (
        f"{found.draws} draws of line {found.line} (seed {found.seed}): in {share(found.missed)} somebody misses a "
        f"sample point, in {share(found.never)} some bit never settles"
    )
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("receiver")
    table.add_column("sender")
    for name in ("half, ns", "95 %, ns", "99 %, ns", "slowest, ns", "late in"):
        table.add_column(name, justify="right")
    ranked = sorted(found.pairs, key=lambda pair: (pair.missed, pair.nearly_all_s, pair.most_s), reverse=True)
    for pair in ranked[:count]:
        times = (pair.half_s, pair.most_s, pair.nearly_all_s, pair.slowest_s)
        table.add_row(pair.receiver, pair.sender, *(sure_text(time) for time in times), share(pair.missed))
    never = [Text(f"{NEVER}: not within the bit", style="dim")] if found.never > 0.0 else []
    return Group(Text(head), table, *never, Text(TRAPPED, style="dim"), Text(""))
