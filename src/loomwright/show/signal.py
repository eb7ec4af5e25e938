"""The physical layer of a line for a terminal: who is sure when, and with how much voltage."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loomwright.show.quantity import bare
from loomwright.show.quantity import text as quantity
from loomwright.show.words import path_words
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.console import Group
    from rich.text import Text

    from loomwright.solve.levels import LineLevels
    from loomwright.solve.signal import LineSignal


def signal_text(name: str, signal: Answer[LineSignal], levels: Answer[LineLevels], left_out: str) -> Group | Text:
    """A line's receivers, each with its worst sender, settling time, margin and levels."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    if isinstance(signal, Blocked):
        waits = ", ".join(path_words(path) for path in signal.by) or "there are fewer than two nodes on it"
        return Text(f"Line {name} cannot be computed yet: {waits}.\n")
    found = signal.value
    level = {} if isinstance(levels, Blocked) else {item.port: item for item in levels.value.receivers}
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("receiver")
    table.add_column("worst sender")
    for head in ("sure after, ns", "worst corner, ns", "margin, ns", "level, V", "lowest, V", "highest, V"):
        table.add_column(head, justify="right")
    for port in dict.fromkeys(pair.receiver for pair in found.pairs):
        pair = max((pair for pair in found.pairs if pair.receiver == port), key=lambda pair: pair.typical_s)
        corner = max(other.settle_s for other in found.pairs if other.receiver == port)
        margin_s = found.sample_s - found.electronics_s - pair.typical_s
        volts = level.get(port)
        table.add_row(
            port,
            pair.sender,
            bare(pair.typical_s, Kind.TIME, "ns"),
            bare(corner, Kind.TIME, "ns"),
            bare(margin_s, Kind.TIME, "ns"),
            *(
                bare(v, Kind.VOLTAGE, "V")
                for v in ((volts.typical_v, volts.low_v, volts.high_v) if volts else (None,) * 3)
            ),
        )
    head = (
        f"Line {name}: sampled {quantity(found.sample_s, Kind.TIME)} into a bit of {quantity(found.bit_s, Kind.TIME)}, "
        f"transceivers take {quantity(found.electronics_s, Kind.TIME)} of it"
    )
    return Group(Text(head, style="bold"), table, Text(left_out, style="dim"), Text(""))
