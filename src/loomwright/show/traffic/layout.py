"""The layout of a frame: whose each bit is, as a drawing with numbered parts and their list."""

from collections.abc import Iterator
from dataclasses import dataclass

from loomwright.model.message import Message
from loomwright.show.marks import verdict_mark
from loomwright.show.names import spoken
from loomwright.show.svg import Point, circle, drawing, group, line, words
from loomwright.show.traffic.cells import (
    BYTES,
    FOOT,
    HEAD,
    MOST_BYTES,
    Grid,
    Part,
    drawn_bytes,
    frame_cells,
    part_area,
    part_label,
    shared_cells,
)
from loomwright.show.traffic.items import ITEM, signal_item, value_spans
from loomwright.show.traffic.parts import MARGIN, WIDTH, fitted, hatched, head
from loomwright.solve.layouts import MOST_PAGES, Layout, Page, bits_of, layout_of, pages_of
from loomwright.terms.change import Path
from loomwright.terms.finding import Verdict

CELL = 46.0
SMALL_CELL = 29.0
"""Width of a bit in pixels: alone on the sheet, and one of several pages."""

TALL = 28.0
GAP = 26.0
HUES = (1, 5, 4)
"""Signals take these in turn; outline and number tell them apart without any colour."""

LIST = 360.0
"""Pixels that the list of signals needs beside a grid."""


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What is drawn, and how large."""

    path: Path
    message: Message
    parts: dict[str, Part]
    found: Layout
    bytes_drawn: int
    blocks: int
    cell: float
    width: float

    @property
    def grid_px(self) -> float:
        """Width of one page's grid, byte numbers included."""
        return self.blocks * (BYTES + 8 * self.cell) + (self.blocks - 1) * GAP

    def grid(self, x: float, y: float) -> Grid:
        """A grid of this sheet at a place."""
        return Grid(x, y, self.cell, TALL, self.message.length, self.bytes_drawn, self.blocks, GAP)


def frame_layout(name: str, message: Message, *, standalone: bool = True, width: float = WIDTH) -> str:
    """A frame as its bits, bit 7 left, a row for each byte, 16 rows in a block, ``width`` pixels wide, as SVG.

    Each signal is an outlined area with its number and, where there is room, its name; a ring marks its highest bit, a
    dot its lowest. Signals that are there by turns stand on pages of their own. Shared bits are hatched; bits beyond
    the end are drawn below the frame. The list beside or below tells each signal in words.
    """
    file, _, own = name.partition(".")
    path: Path = ("messages", file, "messages", own)
    pages = pages_of(message)
    sheet = _sheet(path, message, pages, width)
    title = message.title or spoken(own)
    top, y = head(title, _told(sheet, name, pages), 0, standalone=standalone)
    shapes = [group(path, top)]
    right, bottom = 0.0, y
    x, high = MARGIN, 0.0
    for page in pages:
        if x > MARGIN and x + sheet.grid_px > width - MARGIN + 0.5:
            x, y, high = MARGIN, y + high + 16.0, 0.0
        drawn, high = _page(sheet, page, (x, y))
        shapes.append(drawn)
        x += sheet.grid_px + GAP
        right, bottom = max(right, x), max(bottom, y + high)
    beside = len(pages) == 1 and width - MARGIN - right >= LIST
    if beside:
        items, foot = _list(sheet, right + 12.0, y + HEAD, columns=1 + (width - MARGIN - right >= 2 * LIST + 60.0))
    else:
        items, foot = _list(sheet, MARGIN, bottom + 14.0, columns=_columns(sheet))
    shapes.append(items)
    notes, bottom = _notes(sheet, pages, max(bottom, foot) + 16.0)
    return drawing(width, bottom + 12.0, f"{title}: layout of its bits", *shapes, notes, standalone=standalone)


def drawn_order(message: Message) -> tuple[str, ...]:
    """Signals in the order of their numbers in the drawing: as their first bits travel."""

    def first(name: str) -> tuple[tuple[int, int], tuple[int, ...]]:
        bits = bits_of(message.signals[name])
        return min((bit // 8, 7 - bit % 8) for bit in bits), bits

    return tuple(sorted(message.signals, key=first))


def _sheet(path: Path, message: Message, pages: tuple[Page, ...], width: float) -> _Sheet:
    bits = {name: bits_of(signal) for name, signal in message.signals.items()}
    order = drawn_order(message)
    parts = {
        name: Part(number + 1, name, HUES[number % len(HUES)], bits[name], (*path, "signals", name))
        for number, name in enumerate(order)
    }
    total = drawn_bytes(message.length, tuple(bits.values()))
    blocks = max(1, -(-min(message.length, MOST_BYTES) // 16))
    room = (width - 2 * MARGIN - blocks * BYTES - (blocks - 1) * GAP) / (8 * blocks)
    cell = min(room, SMALL_CELL if len(pages) > 1 else CELL)
    return _Sheet(path, message, parts, layout_of(message), total, blocks, cell, width)


def _told(sheet: _Sheet, name: str, pages: tuple[Page, ...]) -> str:
    length = sheet.message.length
    told = [name, f"{length} byte{'s' if length != 1 else ''}", f"{len(sheet.parts)} signals"]
    if len(pages) > 1:
        told.append(f"{len(pages)} pages by turns")
    else:
        taken = {bit for part in sheet.parts.values() for bit in part.bits if bit < 8 * length}
        told.append(f"{8 * length - len(taken)} bits free")
    return " · ".join(told)


def _page(sheet: _Sheet, page: Page, at: Point) -> tuple[str, float]:
    """One grid with the signals that are there together; its height."""
    x, y = at
    shapes = []
    if page.when:
        told = ", ".join(f"{name} {value_spans(values)}" for name, values in page.when)
        shapes.append(words((x + BYTES, y + 8.0), fitted(f"with {told}", sheet.grid_px - BYTES), "strong"))
        y += 16.0
    grid = sheet.grid(x, y + HEAD)
    shapes.append(frame_cells(grid))
    there = [sheet.parts[name] for name in page.signals]
    pairs = [
        (sheet.parts[one], sheet.parts[two])
        for one, two in sheet.found.shared
        if one in page.signals and two in page.signals
    ]
    shared = frozenset(bit for one, two in pairs for bit in set(one.bits) & set(two.bits))
    shapes += [part_area(grid, part) for part in there]
    shapes += [shared_cells(grid, one, two) for one, two in pairs]
    shapes += [part_label(grid, part, shared) for part in there]
    return "".join(shapes), grid.bottom + FOOT - at[1]


def _list(sheet: _Sheet, x: float, y: float, *, columns: int) -> tuple[str, float]:
    """Every signal by its number, in columns; returns shapes and the lower edge."""
    parts = sorted(sheet.parts.values(), key=lambda part: part.number)
    if not parts:
        return words((x, y + 12.0), "No signals of this message are written down.", "muted"), y + 20.0
    span = (sheet.width - MARGIN - x) / columns
    rows = -(-len(parts) // columns)
    shapes = [
        signal_item(
            sheet.message, part, (x + index // rows * span, y + index % rows * ITEM), span - 18.0, sheet.bytes_drawn
        )
        for index, part in enumerate(parts)
    ]
    return "".join(shapes), y + rows * ITEM


def _columns(sheet: _Sheet) -> int:
    """Columns of a list below the grids: more of them where it is long."""
    return (3 if sheet.width >= 1100.0 else 2) + (len(sheet.parts) > 20)


def _notes(sheet: _Sheet, pages: tuple[Page, ...], y: float) -> tuple[str, float]:
    """What does not fit, in words with its sign; what is not drawn; then what the shapes mean."""
    shapes = []
    broken = [(one, f"{one} and {two} share bits (hatched)") for one, two in sheet.found.shared]
    broken += [(name, f"{name} reaches beyond the last byte") for name in sheet.found.beyond]
    for name, told in broken:
        sign = verdict_mark((MARGIN + 5, y - 4), Verdict.BROKEN)
        text = words((MARGIN + 16, y), f"broken: {told}", "broken")
        shapes.append(group((*sheet.path, "signals", name), sign, text))
        y += 18.0
    for told in _left_out(sheet, pages):
        shapes.append(words((MARGIN, y), fitted(told, sheet.width - 2 * MARGIN)))
        y += 18.0
    if sheet.parts:
        shapes.append(_legend(sheet, y + 12.0))
        y += 18.0
    return "".join(shapes), y


def _left_out(sheet: _Sheet, pages: tuple[Page, ...]) -> Iterator[str]:
    """What the grids do not show."""
    if sheet.message.length > MOST_BYTES:
        yield f"The first {MOST_BYTES} of {sheet.message.length} bytes are drawn; the list has every signal."
    if len(pages) == MOST_PAGES:
        yield f"The first {MOST_PAGES} pages are drawn; the list has every signal."
        return
    drawn = {name for page in pages for name in page.signals}
    never = [name for name in sheet.message.signals if name not in drawn]
    if never:
        yield f"On no page, because no value of the selecting signal brings them: {', '.join(never)}."


def _legend(sheet: _Sheet, y: float) -> str:
    x = MARGIN
    shapes = [
        circle((x + 4, y - 4), 2.6, "rule"), words((x + 12, y), "highest bit", "muted", size=10.5),
        circle((x + 86, y - 4), 2.6, "solid"), words((x + 94, y), "lowest bit", "muted", size=10.5),
        words((x + 164, y), "empty: free", "muted", size=10.5),
    ]  # fmt: skip
    if sheet.found.shared:
        shapes.append(hatched(x + 240, y - 9, 16, 10, "mark broken"))
        shapes.append(words((x + 262, y), "shared", "muted", size=10.5))
    return line((x, y - 18), (sheet.width - MARGIN, y - 18), "fine") + "".join(shapes)
