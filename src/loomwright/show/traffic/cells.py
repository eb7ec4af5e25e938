"""The bits of a frame as cells: a block of 16 bytes after the other, bit 7 left, what is beyond the end set apart."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from loomwright.show.lettering import figures_px, words_px
from loomwright.show.svg import box, circle, figure, group, line, tag, words
from loomwright.show.traffic.parts import fitted, hatched
from loomwright.terms.change import Path

BLOCK = 16
"""Bytes below each other."""

MOST_BYTES = 64
MOST_BEYOND = 4
"""Bytes beyond the end that are drawn: enough to see where a signal went."""

BYTES = 24.0
HEAD = 16.0
FOOT = 10.0
APART = 20.0
"""Pixels for the byte numbers, the bit numbers, below a grid, and between the frame and what is beyond it."""

SIZE = 11.0
TICK = 4.0

Cell = tuple[int, int, int]
"""Block, row in it, and column from the left."""


@dataclass(frozen=True, slots=True)
class Part:
    """A signal as it is drawn: number in the list, hue, bits with the lowest first, and its path."""

    number: int
    name: str
    hue: int
    bits: tuple[int, ...]
    path: Path


@dataclass(frozen=True, slots=True)
class Grid:
    """Where each bit stands. ``length`` bytes belong to the frame, ``drawn`` are drawn, those beyond the end included."""

    left: float
    top: float
    wide: float
    tall: float
    length: int
    drawn: int
    blocks: int
    gap: float

    def cell(self, bit: int) -> Cell:
        """The cell of a bit; bytes beyond the last block hang below it."""
        byte = bit // 8
        block = min(byte // BLOCK, self.blocks - 1)
        return block, byte - BLOCK * block, 7 - bit % 8

    def x(self, block: int, column: int) -> float:
        """Left edge of a column."""
        return self.left + BYTES + block * (BYTES + 8 * self.wide + self.gap) + column * self.wide

    def y(self, block: int, row: int) -> float:
        """Upper edge of a row; further down beyond the end of the frame."""
        beyond = block * BLOCK + row >= self.length
        return self.top + row * self.tall + (APART if beyond else 0.0)

    @property
    def bottom(self) -> float:
        """Lower edge of the lowest row."""
        last = max(self.drawn, 1) - 1
        rows = min(BLOCK, self.drawn) if last < BLOCK * self.blocks else self.drawn - BLOCK * (self.blocks - 1)
        return self.top + rows * self.tall + (APART if self.drawn > self.length else 0.0)


def drawn_bytes(length: int, taken: Iterable[Sequence[int]]) -> int:
    """How many bytes are drawn: the frame's, and some beyond its end where signals go there."""
    if length > MOST_BYTES:
        return MOST_BYTES
    needed = max((max(bits, default=0) // 8 + 1 for bits in taken), default=0)
    return max(length, min(needed, length + MOST_BEYOND))


def frame_cells(grid: Grid) -> str:
    """The empty frame with the numbers of bits and bytes; dashed, what lies beyond its end."""
    shapes = []
    for block in range(grid.blocks):
        first = block * BLOCK
        inside = min(grid.length - first, BLOCK, MOST_BYTES - first)
        x, end = grid.x(block, 0), grid.x(block, 8)
        for column in range(8):
            middle = grid.x(block, column) + grid.wide / 2
            shapes.append(words((middle, grid.top - 5), str(7 - column), "figure muted", size=9.5, anchor="middle"))
        if inside > 0:
            shapes.append(box(x, grid.top, 8 * grid.wide, inside * grid.tall, "body"))
            shapes += [_rule(grid, block, row) for row in range(1, inside)]
            shapes += [_tick(grid, block, row, column) for row in range(inside) for column in range(1, 8)]
        last = block == grid.blocks - 1
        rows = (grid.drawn if last else first + BLOCK) - first
        for row in range(rows):
            y = grid.y(block, row)
            shapes.append(
                words((x - 6, y + grid.tall / 2 + 3.5), str(first + row), "figure muted", size=9.5, anchor="end")
            )
            if first + row >= grid.length:
                shapes.append(box(x, y, 8 * grid.wide, grid.tall, "run open"))
        if last and grid.drawn > grid.length:
            y = grid.y(block, grid.length - first) - 6.0
            shapes.append(words((end, y), "beyond the end", "broken", size=10.0, anchor="end"))
    return "".join(shapes)


def _rule(grid: Grid, block: int, row: int) -> str:
    y = grid.top + row * grid.tall
    return line((grid.x(block, 0), y), (grid.x(block, 8), y), "fine")


def _tick(grid: Grid, block: int, row: int, column: int) -> str:
    """Where one bit ends, at the foot of its byte as on a ruler."""
    x, foot = grid.x(block, column), grid.top + (row + 1) * grid.tall
    return line((x, foot - TICK), (x, foot), "leader")


def part_area(grid: Grid, part: Part) -> str:
    """A signal's area with its outline, a ring at the highest bit and a dot at the lowest."""
    shown = [bit for bit in part.bits if bit // 8 < grid.drawn]
    if not shown:
        return ""
    cells = {grid.cell(bit) for bit in shown}
    runs = _runs(cells)
    shapes = [
        box(grid.x(block, first), grid.y(block, row), (last - first + 1) * grid.wide, grid.tall, f"bar ink-{part.hue}")
        for block, row, first, last in runs
    ]
    shapes.append(_outline(grid, cells))
    block, row, column = grid.cell(part.bits[0])
    if part.bits[0] // 8 < grid.drawn:
        dot = (grid.x(block, column) + grid.wide - 6.0, grid.y(block, row) + grid.tall - 6.0)
        shapes.append(circle(dot, 2.4, "solid"))
    block, row, column = grid.cell(part.bits[-1])
    if part.bits[-1] // 8 < grid.drawn and len(part.bits) > 1:
        shapes.append(circle((grid.x(block, column) + 6.0, grid.y(block, row) + 6.0), 2.4, "rule"))
    return group(part.path, *shapes, title=f"{part.number} {part.name}")


def shared_cells(grid: Grid, one: Part, two: Part) -> str:
    """The bits that two signals both take, hatched."""
    both = {grid.cell(bit) for bit in set(one.bits) & set(two.bits) if bit // 8 < grid.drawn}
    shapes = [
        hatched(
            grid.x(block, first), grid.y(block, row), (last - first + 1) * grid.wide, grid.tall, "mark broken"
        )
        for block, row, first, last in _runs(both)
    ]  # fmt: skip
    return group(one.path, *shapes, title=f"{one.name} and {two.name} share these bits")


def _runs(cells: set[Cell]) -> list[tuple[int, int, int, int]]:
    """Cells side by side as runs: block, row, first and last column."""
    runs: list[tuple[int, int, int, int]] = []
    for block, row, column in sorted(cells):
        if runs and runs[-1][:2] == (block, row) and runs[-1][3] == column - 1:
            runs[-1] = (block, row, runs[-1][2], column)
        else:
            runs.append((block, row, column, column))
    return runs


def _outline(grid: Grid, cells: set[Cell]) -> str:
    """The edges of an area that no other of its cells lies behind."""
    edges = []
    for block, row, column in sorted(cells):
        x, y = grid.x(block, column), grid.y(block, row)
        right, foot = x + grid.wide, y + grid.tall
        apart = block * BLOCK + row == grid.length
        for (other_row, other_column), (ax, ay, bx, by) in (
            ((row - 1, column), (x, y, right, y)),
            ((row + 1, column), (x, foot, right, foot)),
            ((row, column - 1), (x, y, x, foot)),
            ((row, column + 1), (right, y, right, foot)),
        ):
            split = (apart and other_row == row - 1) or (block * BLOCK + other_row == grid.length and other_row > row)
            if split or (block, other_row, other_column) not in cells:
                edges.append(f"M{figure(ax)} {figure(ay)} L{figure(bx)} {figure(by)}")
    return tag("path", d=" ".join(edges), class_="rule")


def part_label(grid: Grid, part: Part, shared: frozenset[int]) -> str:
    """Number and name in the widest place of the area, half way down; the number alone where it is narrow.

    Bits that are shared are left free where the area has others. A signal that goes on in another block is named there too.
    """
    shown = [bit for bit in part.bits if bit // 8 < grid.drawn]
    own = [bit for bit in shown if bit not in shared]
    runs = _runs({grid.cell(bit) for bit in own or shown})
    blocks = sorted({run[0] for run in runs})
    labels = [_written(grid, part, [run for run in runs if run[0] == block], halo=not own) for block in blocks]
    return group(part.path, *labels) if labels else ""


def _written(grid: Grid, part: Part, runs: list[tuple[int, int, int, int]], *, halo: bool) -> str:
    widest = max(last - first for _, _, first, last in runs)
    stack: list[tuple[int, int, int, int]] = []
    for run in runs:
        goes_on = bool(stack) and run[1] == stack[-1][1] + 1 and run[2] == stack[-1][2]
        if run[3] - run[2] == widest and (goes_on or not stack):
            stack.append(run)
    # In the middle row, where no hairline between bytes goes through it.
    block, row, first, last = stack[(len(stack) - 1) // 2]
    middle, room = (grid.x(block, first) + grid.x(block, last + 1)) / 2, (last - first + 1) * grid.wide - 14.0
    base = grid.y(block, row) + grid.tall / 2 + 4.0
    number = str(part.number)
    before = figures_px(number, 10.5) + 5.0
    name = fitted(part.name, room - before, SIZE)
    style = "halo" if halo else ""
    if len(name) < min(4, len(part.name)):
        return words((middle, base), number, f"figure {style}", size=10.5, anchor="middle")
    start = middle - (before + words_px(name, SIZE)) / 2
    figures = words((start, base), number, f"figure {style}", size=10.5)
    return figures + words((start + before, base), name, style, size=SIZE)
