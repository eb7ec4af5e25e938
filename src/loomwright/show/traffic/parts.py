"""What the drawings of traffic share: a round scale, hatching, words that fit, and a head."""

import math
from collections.abc import Iterable, Iterator

from loomwright.model.vehicle import Vehicle
from loomwright.show.lettering import words_px
from loomwright.show.marks import RANK, verdict_mark
from loomwright.show.svg import box, figure, tag, words
from loomwright.show.tokens import hue
from loomwright.terms.finding import Finding, Weight

WIDTH = 1280.0
"""Pixels of a drawing that stands alone."""

MARGIN = 28.0
SIZE = 11.5
HATCH = 5.0
"""Pixels between the strokes of a hatched area."""


def hue_of(vehicle: Vehicle, line: str) -> int:
    """Number of a line's hue, by its place in the vehicle."""
    names = list(vehicle.lines)
    return hue(names.index(line))[0] if line in names else 1


def round_step(span: float, most: int) -> float:
    """The smallest step of 1, 2 or 5 times a power of ten that divides a span into so many parts at the most."""
    if not 0.0 < span < math.inf:
        return 1.0
    least = span / most
    power = 10.0 ** math.floor(math.log10(least))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= least * (1.0 - 1e-9))


def ticks(end: float, most: int) -> Iterator[float]:
    """Round figures from zero up to an end."""
    step = round_step(end, most)
    yield from (number * step for number in range(math.floor(end / step + 1e-9) + 1))


def hatched(x: float, y: float, width: float, height: float, class_: str) -> str:
    """Slanted strokes that fill a rectangle; areas side by side join without a seam."""
    strokes = []
    level = (math.floor((x + y) / HATCH) + 1) * HATCH
    while level < x + y + width + height:
        top = (level - y, y) if level - y <= x + width else (x + width, level - x - width)
        foot = (x, level - x) if level - x <= y + height else (level - y - height, y + height)
        strokes.append(f"M{figure(top[0])} {figure(top[1])} L{figure(foot[0])} {figure(foot[1])}")
        level += HATCH
    return tag("path", d=" ".join(strokes), class_=class_) if strokes else ""


def fitted(text: str, most_px: float, size: float = SIZE) -> str:
    """The text, or its beginning with an ellipsis where it is wider than that; empty where not even a letter fits."""
    if words_px(text, size) <= most_px:
        return text
    for letters in range(len(text) - 1, 0, -1):
        short = text[:letters].rstrip(" ._") + "…"
        if words_px(short, size) <= most_px:
            return short
    return ""


def head(title: str, told: str, ink: int, *, standalone: bool) -> tuple[str, float]:
    """Title and a line of facts; on a page the title stands above the drawing. Returns shapes and their lower edge."""
    if not standalone:
        bar = box(MARGIN, 10, 5, 14, f"ink-{ink}") if ink else ""
        return bar + words((MARGIN + (14 if ink else 0), 21), told, "muted"), 36.0
    bar = box(MARGIN, 22, 5, 34, f"ink-{ink}") if ink else ""
    x = MARGIN + (14 if ink else 0)
    return bar + words((x, 34), title, "title", size=17.0) + words((x, 53), told, "muted"), 70.0


def tally(findings: Iterable[Finding], right: float, y: float, what: str = "") -> str:
    """How many findings there are of each verdict: word and shape, written from the right; ``what`` they are about."""
    governing = [finding.verdict for finding in findings if finding.reading.weight is Weight.GOVERNS]
    shapes, x = [], right
    for verdict in reversed(RANK):
        count = governing.count(verdict)
        if count:
            text = f"{count} {verdict.value}"
            x -= words_px(text, SIZE)
            shapes += [words((x, y), text, verdict.value), verdict_mark((x - 10, y - 4), verdict)]
            x -= 34.0
    if what and shapes:
        shapes.append(words((x + 10.0, y), what, "muted", anchor="end"))
    return "".join(shapes)
