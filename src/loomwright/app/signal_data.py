"""What the page of a line's bits shows of the data phase of FD frames."""

from collections.abc import Callable
from dataclasses import dataclass

from loomwright.show.data_timing import HEADS, data_headline, data_notes, data_rows
from loomwright.solve.bit_timing import LineTiming
from loomwright.terms.answer import Answer, Blocked


@dataclass(frozen=True, slots=True)
class DataShown:
    """The data phase in words and a table; each row is a node and its figures under ``heads``."""

    headline: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]


def data_shown(timing: Answer[LineTiming], title: Callable[[str], str]) -> DataShown | None:
    """Nothing for a classical line, and where the timing waits for facts."""
    if isinstance(timing, Blocked) or timing.value.data is None:
        return None
    found = timing.value
    assert found.data is not None
    rows = tuple((title(port), *figures) for port, *figures in data_rows(found))
    return DataShown(f"{data_headline(found.data)}.", HEADS, rows, data_notes(found.data, title))
