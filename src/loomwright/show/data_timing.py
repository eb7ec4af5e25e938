"""The data phase of an FD line in words and figures: one setting for all nodes, a sender's own delay, what is in the way."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from loomwright.show.quantity import number
from loomwright.show.quantity import text as quantity
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.table import Table
    from rich.text import Text

    from loomwright.solve.bit_timing import DataTiming, LineTiming

HEADS = ("prescaler", "seg 1", "seg 2", "jump", "sample, %", "delay, tq", "delay, clocks", "offset, clocks")
"""Column heads of ``data_rows``, the node's own left out."""
CONDITIONS = (
    "The oscillators are held to all five conditions for nodes with a data phase, as public code repeats them from ISO "
    "11898-1; the standard itself was not at hand, nor CiA 601-3."
)
SENDER = (
    "A sender checks its own bits later by its delay: switch compensation on. Delay and offset are in periods of the "
    "node's clock; a controller that measures its delay is told the offset alone."
)


def percent(point: float | None) -> str:
    """A sample point in percent; nothing where none is told."""
    return "" if point is None else number(100.0 * point, 1)


def taken_as_exact(found: LineTiming, title: Callable[[str], str] = str) -> str:
    """Whose oscillators were taken as exact, because nobody told how far they may be off; nothing where all are told."""
    names = ", ".join(map(title, found.exact))
    return f"No tolerance is told for the oscillator of {names}: taken as exact." if names else ""


def data_rows(found: LineTiming) -> tuple[tuple[str, ...], ...]:
    """Every node that tells of its data phase: port, then the figures under ``HEADS``; ``fixed`` where it is stated."""
    if found.data is None or found.data.sample_point is None or found.common is None:
        return ()
    delays = dict(found.data.compensation)
    rows = []
    for node in found.common.nodes:
        if node.data_sample_point is None:
            continue
        parts = ("fixed", "", "", "")
        if node.data is not None:
            first = node.data.propagation + node.data.phase_1
            parts = (str(node.data.prescaler), str(first), str(node.data.phase_2), str(node.data.jump))
        own = delays.get(node.name)
        late = ("", "", "") if own is None else (str(own.delay_quanta), str(own.delay), str(own.offset))
        rows.append((node.name, *parts, percent(node.data_sample_point), *late))
    return tuple(rows)


def data_headline(data: DataTiming) -> str:
    """What there is in common, or that nothing is."""
    rate = quantity(1.0 / data.bit_s, Kind.BIT_RATE)
    if data.sample_point is not None:
        return f"Data phase at {rate}: sampled at {percent(data.sample_point)} % by all nodes that tell of it"
    if data.reasons:
        return f"Data phase at {rate}: no setting suits all nodes"
    return f"Data phase at {rate}: no port tells a clock or a sample point of it; aim for {percent(data.aim)} %"


def data_notes(data: DataTiming, title: Callable[[str], str] = str) -> tuple[str, ...]:
    """What is in the way, who told nothing, what a sender has to set, and what the figures lean on."""
    told = [f"{' and '.join(map(title, reason.nodes))}: {reason.obstacle.value}." for reason in data.reasons]
    if data.untold and (data.sample_point is not None or data.reasons):
        untold = ", ".join(map(title, data.untold))
        told.append(f"Nothing is told of the data phase of {untold}: set them to the same sample point.")
    if data.compensation:
        told.append(SENDER)
    if coarse := ", ".join(title(name) for name, own in data.compensation if not own.able):
        told.append(f"Too coarse to compensate: {coarse}; that needs a prescaler of 1 or 2 (from memory).")
    if data.sample_point is not None or data.reasons:
        told.append(CONDITIONS)
    return tuple(told)


def data_text(found: LineTiming) -> list[Text | Table]:
    """The data phase for a terminal; nothing for a classical line."""
    from rich.table import Table
    from rich.text import Text

    if found.data is None:
        return []
    shown: list[Text | Table] = [Text(data_headline(found.data))]
    if rows := data_rows(found):
        table = Table(box=None, pad_edge=False, header_style="dim")
        table.add_column("node")
        for head in HEADS:
            table.add_column(head, justify="right")
        for row in rows:
            table.add_row(*row)
        shown.append(table)
    return [*shown, *(Text(f"  {note}", style="dim") for note in data_notes(found.data)), Text("")]
