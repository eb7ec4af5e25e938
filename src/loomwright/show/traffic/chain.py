"""A chain pulled straight: the time of every hop to scale, from the cause to the effect."""

import itertools
import math
from dataclasses import dataclass

from loomwright.model.vehicle import Vehicle
from loomwright.show.lettering import figures_px, words_px
from loomwright.show.marks import verdict_mark
from loomwright.show.names import component_title, spoken
from loomwright.show.quantity import bare
from loomwright.show.quantity import text as quantity
from loomwright.show.ruler.scale import columns
from loomwright.show.svg import box, drawing, group, line, polyline, tag, words
from loomwright.show.traffic.parts import MARGIN, WIDTH, fitted, hatched, head, hue_of, ticks
from loomwright.solve.chains import ChainTimes, Hop
from loomwright.terms.change import Path
from loomwright.terms.finding import Verdict
from loomwright.terms.quantity import Kind

LEFT = 112.0
RIGHT = 56.0
SLANT = math.sqrt(0.5)
BAND = 22.0
"""Height of the strip in pixels."""

NAME_PX = 190.0


@dataclass(frozen=True, slots=True)
class _Strip:
    """Scale of the strip, and where each hop and its column stand."""

    vehicle: Vehicle
    chain: ChainTimes
    end_s: float
    right: float
    starts: tuple[float, ...]
    at: tuple[float, ...]

    def x(self, time_s: float) -> float:
        """A time on the sheet; what has no bound stands at the end."""
        return LEFT + min(time_s, self.end_s) / self.end_s * (self.right - LEFT)


def chain_strip(
    vehicle: Vehicle, chain: ChainTimes, within_s: float | None, *, standalone: bool = True, width: float = WIDTH
) -> str:
    """A chain's hops one after the other, to scale in time, ``width`` pixels wide, as SVG.

    Of every hop the waiting is outlined and the taking filled: messages in their line's hue, gateways and cycles in
    ink. Under it a column of figures for each hop, the whole against the time allowed, and the age of the oldest value.
    """
    stated = vehicle.chains.get(chain.name)
    title = (stated.title if stated else "") or spoken(chain.name)
    path: Path = ("chains", chain.name)
    if chain.broken_at or not chain.hops:
        return _broken(vehicle, chain, title, path, standalone=standalone, width=width)
    top, y = head(title, _told(chain, within_s), 0, standalone=standalone)
    strip = _strip(vehicle, chain, within_s, width)
    labels = [_label(vehicle, hop) for hop in chain.hops]
    y += max(words_px(label, 11.5) for label in labels) * SLANT + 24.0
    shapes = [group(path, top), _marks(strip, within_s, y, path)]
    shapes += [_hop(strip, index, labels[index], y) for index in range(len(chain.hops))]
    y += BAND + 34.0
    shapes.append(_axis(strip, y))
    figures, bottom = _figures(strip, y + 36.0)
    sums, bottom = _sums(strip, within_s, bottom + 12.0, path)
    shapes += [figures, sums]
    return drawing(width, bottom + 14.0, f"{title}: hops of the chain", *shapes, standalone=standalone)


def _told(chain: ChainTimes, within_s: float | None) -> str:
    whole = "no bound" if math.isinf(chain.reaction_s) else f"{quantity(chain.reaction_s, Kind.TIME)} at the worst"
    allowed = "time allowed unknown" if within_s is None else f"{quantity(within_s, Kind.TIME)} allowed"
    return f"{len(chain.hops)} hops · {whole} · {allowed}"


def _strip(vehicle: Vehicle, chain: ChainTimes, within_s: float | None, width: float) -> _Strip:
    bounded = [hop.whole_s if math.isfinite(hop.whole_s) else 0.0 for hop in chain.hops]
    total = sum(bounded)
    # A limit far away would press the hops together: it stands at the edge with its figure.
    end = max(total, within_s if within_s is not None and within_s <= 2.5 * total else 0.0) or 1e-3
    end *= 1.02 if all(math.isfinite(hop.whole_s) for hop in chain.hops) else 1.15
    starts = tuple(itertools.accumulate(bounded, initial=0.0))
    right = width - RIGHT
    scale = (right - LEFT) / end
    wished = [LEFT + (start + size / 2) * scale for start, size in zip(starts, bounded, strict=False)]
    return _Strip(vehicle, chain, end, right, starts, columns(wished, left=LEFT + 14.0, right=right - 60.0))


def _label(vehicle: Vehicle, hop: Hop) -> str:
    if hop.kind == "message":
        return fitted(hop.name.partition(".")[2] or hop.name, NAME_PX)
    title = component_title(hop.name, vehicle.components.get(hop.name))
    return fitted(f"{title}: {hop.kind}" if hop.kind == "gateway" else title, NAME_PX)


def _path(hop: Hop) -> Path:
    if hop.kind == "message":
        file, _, name = hop.name.partition(".")
        return ("messages", file, "messages", name)
    return ("components", hop.name)


def _hop(strip: _Strip, index: int, label: str, y: float) -> str:
    """One hop: waiting outlined, taking filled, its name slanted above its column."""
    hop = strip.chain.hops[index]
    first = strip.x(strip.starts[index])
    split = strip.x(strip.starts[index] + hop.period_s)
    last = strip.x(strip.starts[index + 1]) if math.isfinite(hop.whole_s) else strip.right
    ink = hue_of(strip.vehicle, hop.line) if hop.kind == "message" else 0
    outline, fill = (f"fine hue-{ink}", f"ink-{ink}") if ink else ("leader", "bar solid")
    shapes = []
    if split > first:
        shapes.append(box(first, y, split - first, BAND, outline))
        shapes.append(hatched(first, y, split - first, BAND, outline))
    if hop.kind == "message":
        shapes.append(box(split, y, max(last - split, 1.5), BAND, fill))
    else:
        shapes.append(box(split, y + 3, max(last - split, 1.5), BAND - 6, fill))
    column = strip.at[index]
    middle = (first + last) / 2
    shapes.append(polyline(((column, y - 14), (column, y - 12), (middle, y - 3), (middle, y)), "leader"))
    place = (column + 3.0, y - 18.0)
    style = f"ink-{ink} strong" if ink else ""
    shapes.append(words(place, label, style, transform=f"rotate(-45 {place[0]:.2f} {place[1]:.2f})"))
    where = f" on {strip.vehicle.lines[hop.line].title or hop.line}" if hop.kind == "message" else ""
    said = f"{hop.kind} {hop.name}{where}: waits up to {quantity(hop.period_s, Kind.TIME)}, then takes {quantity(hop.response_s, Kind.TIME)}"
    return group(_path(hop), *shapes, title=said)


def _marks(strip: _Strip, within_s: float | None, y: float, path: Path) -> str:
    """Where the time allowed ends: a rule across the strip, or a figure at the edge where it is far beyond."""
    if within_s is None:
        return ""
    if within_s > strip.end_s:
        x = strip.right + 6.0
        sign = tag("path", d=f"M{x:.2f} {y + 7:.2f} l6 4 l-6 4 Z", class_="solid")
        return group(path, sign, title=f"{quantity(within_s, Kind.TIME)} allowed, beyond the axis")
    x = strip.x(within_s)
    return group(
        path,
        line((x, y - 8), (x, y + BAND + 8), "rule"),
        tag("path", d=f"M{x:.2f} {y - 8:.2f} h7 l-7 6 Z", class_="solid"),
        title=f"{quantity(within_s, Kind.TIME)} allowed",
    )


def _axis(strip: _Strip, y: float) -> str:
    shapes = [line((LEFT, y), (strip.right, y), "rule"), words((LEFT - 26, y + 4), "time, ms", "muted", anchor="end")]
    for time_s in ticks(strip.end_s, 10):
        x = strip.x(time_s)
        shapes.append(line((x, y - 4), (x, y + 4), "rule"))
        shapes.append(words((x, y - 8), bare(time_s, Kind.TIME, "ms"), "figure muted", size=9.5, anchor="middle"))
    return "".join(shapes)


def _figures(strip: _Strip, y: float) -> tuple[str, float]:
    """Two rows under the strip: how long each hop waits, and how long it takes then."""
    shapes = []
    for title, pick in (("waits, ms", "period_s"), ("takes, ms", "response_s")):
        shapes.append(words((LEFT - 26, y), title, "muted", anchor="end"))
        for hop, x in zip(strip.chain.hops, strip.at, strict=True):
            value = getattr(hop, pick)
            text = "–" if value == 0.0 else bare(value, Kind.TIME, "ms")
            shapes.append(words((x, y), text, "figure", size=10.5, anchor="middle"))
        y += 17.0
    return "".join(shapes), y


def _sums(strip: _Strip, within_s: float | None, y: float, path: Path) -> tuple[str, float]:
    """The whole against what is allowed, and the age."""
    chain = strip.chain
    shapes = []
    for title, value in (("whole", chain.reaction_s), ("age", chain.age_s)):
        start = strip.x(max(chain.reaction_s - value, 0.0)) if math.isfinite(value) else LEFT
        end = strip.x(chain.reaction_s)
        shapes.append(words((LEFT - 26, y + 4), title, "muted", anchor="end"))
        shapes.append(polyline(((start, y - 4), (start, y + 4)), "rule"))
        shapes.append(line((start, y), (end, y), "rule"))
        shapes.append(polyline(((end, y - 4), (end, y + 4)), "rule"))
        text = "no bound" if math.isinf(value) else quantity(value, Kind.TIME)
        wide = figures_px(text, 11.5)
        shapes.append(box((start + end) / 2 - wide / 2 - 5, y - 8, wide + 10, 16, "ground"))
        shapes.append(words(((start + end) / 2, y + 4), text, "figure strong", size=11.5, anchor="middle"))
        y += 22.0
    if within_s is not None and not chain.reaction_s <= within_s:
        shapes.append(verdict_mark((LEFT + 5, y), Verdict.BROKEN))
    return group(path, *shapes), y


def _broken(vehicle: Vehicle, chain: ChainTimes, title: str, path: Path, *, standalone: bool, width: float) -> str:
    """A chain with a link that is not heard: its steps in order, torn at that link."""
    top, y = head(title, "broken", 0, standalone=standalone)
    told = f"{component_title(chain.broken_at, vehicle.components.get(chain.broken_at))} does not hear {chain.missing}."
    mark = verdict_mark((MARGIN + 5, y + 8), Verdict.BROKEN) + words((MARGIN + 18, y + 12), told)
    return drawing(width, y + 40.0, f"{title}: broken", group(path, top, mark), standalone=standalone)
