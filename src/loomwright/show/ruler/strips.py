"""Rows of figures under the ruler, one column for each stop."""

from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.show.lettering import figures_px
from loomwright.show.marks import verdict_mark
from loomwright.show.ruler.scale import LEFT, is_narrow
from loomwright.show.svg import box, line, words
from loomwright.terms.finding import Verdict

ROW = 17.0
BARS = 30.0


@dataclass(frozen=True, slots=True)
class Strip:
    """Something computed at every stop, in the unit of its title; ``None`` where there is no answer.

    ``texts`` are the figures as they shall stand; without them the values are shown with three figures. Where ``late`` is
    true a mark stands instead of a bar: there is less than nothing left.
    """

    title: str
    unit: str
    values: tuple[float | None, ...]
    texts: tuple[str, ...] = ()
    late: tuple[bool, ...] = ()


def figure_row(
    title: str, texts: Sequence[str], at: Sequence[float], top: float, *, strong: bool = False, hue: int = 0
) -> tuple[str, float]:
    """One row of figures below its columns; upright where columns are narrow. Returns shapes and height."""
    narrow = is_narrow(at)
    size = 11.5 if strong else 10.5
    longest = max((figures_px(text, size) for text in texts), default=0.0)
    height = longest + 10.0 if narrow else ROW
    middle = top + height / 2
    style = "figure" + (" strong" if strong else " muted") + (f" ink-{hue}" if hue else "")
    shapes = [words((LEFT - 26, middle + 4), title, "muted", anchor="end")]
    for x, text in zip(at, texts, strict=False):
        if narrow:
            place = (x + size * 0.36, top + height - 5.0)
            turn = f"rotate(-90 {place[0]:.2f} {place[1]:.2f})"
            shapes.append(words(place, text, style, size=size, transform=turn))
        else:
            shapes.append(words((x, middle + 4), text, style, size=size, anchor="middle"))
    return "".join(shapes), height


def strip_rows(strip: Strip, at: Sequence[float], top: float, hue: int) -> tuple[str, float]:
    """A strip: bars as high as the values, and the figures below. Returns shapes and height."""
    known = [abs(value) for value in strip.values if value is not None]
    most = max(known, default=0.0) or 1.0
    shapes = [line((LEFT - 14, top + BARS), (max(at, default=LEFT) + 14, top + BARS), "fine")]
    for x, value, late in zip(at, strip.values, strip.late or (False,) * len(strip.values), strict=False):
        if late:
            shapes.append(verdict_mark((x, top + BARS - 9), Verdict.BROKEN))
        elif value is not None:
            high = abs(value) / most * (BARS - 4)
            shapes.append(box(x - 4, top + BARS - high, 8, high, f"bar ink-{hue}"))
    texts = strip.texts or tuple("?" if value is None else f"{value:.3g}" for value in strip.values)
    title = f"{strip.title}, {strip.unit}" if strip.unit else strip.title
    row, height = figure_row(title, texts, at, top + BARS + 1)
    return "".join(shapes) + row, BARS + 1 + height
