"""Shapes of SVG as text: everything escaped, figures rounded, nothing that a page would forbid (no style attributes)."""

import math
import re
from collections.abc import Iterable
from xml.sax.saxutils import escape

from loomwright.show.lettering import figures_px, words_px
from loomwright.show.quantity import THIN
from loomwright.show.tokens import drawing_style
from loomwright.terms.change import Path, path_text

Point = tuple[float, float]

_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_QUOTES = {'"': "&quot;", "\n": "&#10;", "\t": "&#9;", "\r": "&#13;"}


def safe(text: object) -> str:
    """Text for the inside of an element; characters that XML cannot hold become a replacement sign."""
    return escape(_FORBIDDEN.sub("\ufffd", str(text)))


def figure(value: float) -> str:
    """A coordinate with at most two decimals, without a negative zero; what is not finite becomes 0."""
    if not math.isfinite(value):
        return "0"
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def tag(name: str, *inside: str, **attributes: object) -> str:
    """One element. In attribute names ``_`` stands for ``-``, a trailing one is dropped (``class_``); ``None`` is left out."""
    parts = [name]
    for key, value in attributes.items():
        if value is None or value == "":
            continue
        text = figure(value) if isinstance(value, float) else str(value)
        attribute = key.rstrip("_").replace("_", "-") if key != "viewBox" else key
        parts.append(f'{attribute}="{escape(_FORBIDDEN.sub(chr(0xFFFD), text), _QUOTES)}"')
    head = " ".join(parts)
    return f"<{head}>{''.join(inside)}</{name}>" if inside else f"<{head}/>"


def group(path: Path | None, *inside: str, title: str = "", class_: str = "", **more: object) -> str:
    """Shapes that draw one thing: they carry the path of what they draw, and a title that is shown on hovering."""
    spoken = (tag("title", safe(title)),) if title else ()
    return tag("g", *spoken, *inside, data_path=None if path is None else path_text(path), class_=class_, **more)


def line(start: Point, end: Point, class_: str, **more: object) -> str:
    """A straight line."""
    return tag("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], class_=class_, **more)


def polyline(points: Iterable[Point], class_: str, **more: object) -> str:
    """Straight lines through points."""
    return tag("polyline", points=" ".join(f"{figure(x)},{figure(y)}" for x, y in points), class_=class_, **more)


def circle(centre: Point, radius: float, class_: str, **more: object) -> str:
    """A circle."""
    return tag("circle", cx=centre[0], cy=centre[1], r=float(radius), class_=class_, **more)


def box(x: float, y: float, width: float, height: float, class_: str, radius: float = 0.0, **more: object) -> str:
    """A rectangle; ``radius`` rounds its corners."""
    return tag(
        "rect",
        x=float(x),
        y=float(y),
        width=float(width),
        height=float(height),
        rx=float(radius) if radius else None,
        class_=class_,
        **more,
    )


def words(at: Point, text: str, class_: str = "", *, size: float = 11.5, anchor: str = "", **more: object) -> str:
    """A text whose width is fixed to that of the shipped font, so that another font cannot make labels collide."""
    if not text:
        return ""
    text = text.replace(THIN, "\u00a0")  # the shipped fonts have no narrow space
    kinds = class_.split()
    wide = figures_px(text, size) if "figure" in kinds else words_px(text, size, strong="strong" in kinds)
    return tag(
        "text",
        safe(text),
        x=at[0],
        y=at[1],
        class_=class_,
        text_anchor=anchor or None,
        **{"textLength": wide, "lengthAdjust": "spacingAndGlyphs"} if len(text) > 1 else {},
        **more,
    )


def drawing(width: float, height: float, title: str, *inside: str, standalone: bool, handles: bool = False) -> str:
    """The whole drawing. ``standalone`` puts the style in; a page has it from ``tokens.css`` and ``drawing.css``.

    With ``handles`` some shapes can be focused, so the drawing is a group to those who hear it, not one picture.
    """
    style = (tag("style", "\n" + drawing_style()),) if standalone else ()
    return tag(
        "svg",
        *(() if handles else (tag("title", safe(title)),)),
        *style,
        box(0, 0, width, height, "ground"),
        *inside,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {figure(width)} {figure(height)}",
        width=float(width),
        height=float(height),
        class_="drawing",
        role="group" if handles else "img",
        aria_label=title if handles else None,
    )
