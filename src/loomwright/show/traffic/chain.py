"""A chain pulled straight: the time of every hop to scale, from the cause to the effect."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.model.vehicle import Vehicle
from loomwright.show.lettering import figures_px, words_px
from loomwright.show.marks import verdict_mark, worst
from loomwright.show.names import component_title, spoken
from loomwright.show.quantity import bare
from loomwright.show.quantity import text as quantity
from loomwright.show.ruler.scale import COLUMN, columns
from loomwright.show.svg import box, circle, drawing, group, line, polyline, tag, words
from loomwright.show.traffic.parts import MARGIN, WIDTH, fitted, hatched, head, hue_of, ticks
from loomwright.show.words import finding_sentence
from loomwright.solve.chains import ChainTimes, Hop
from loomwright.terms.change import Path
from loomwright.terms.finding import Finding, Verdict
from loomwright.terms.quantity import Kind

LEFT = 112.0
RIGHT = 56.0
SLANT = math.sqrt(0.5)
BAND = 22.0
"""Height of the strip in pixels; what a component does itself is a little lower than what is on a line."""

LOWER = 3.0
NAME_PX = 190.0
SMALL = 10.5
ENDLESS = 0.15
"""A hop without a bound is drawn torn, as long as this part of the others together."""

FAR = 2.5
"""A limit more than this times the whole stands at the edge with its figure: it would press the hops together."""


@dataclass(frozen=True, slots=True)
class _Strip:
    """Scale of the strip, and where each hop and its column stand; to scale only as far as there is a bound."""

    vehicle: Vehicle
    hops: tuple[Hop, ...]
    end_s: float
    right: float
    starts: tuple[float, ...]
    at: tuple[float, ...]
    scaled_s: float

    def x(self, time_s: float) -> float:
        """A time on the sheet; what has no bound stands at the end."""
        return LEFT + min(time_s, self.end_s) / self.end_s * (self.right - LEFT)

    def ink(self, hop: Hop) -> int:
        """The hue of the line that a message travels on; 0 for what a component does."""
        return hue_of(self.vehicle, hop.line) if hop.kind == "message" else 0


def chain_strip(
    vehicle: Vehicle,
    chain: ChainTimes,
    within_s: float | None,
    findings: tuple[Finding, ...] = (),
    *,
    standalone: bool = True,
    width: float = WIDTH,
) -> str:
    """A chain's hops one after the other, to scale in time, ``width`` pixels wide, as SVG.

    Of every hop the waiting is hatched and the taking filled: messages in their line's hue, gateways and cycles of
    components in ink and lower. Under it a column of figures for each hop; then the whole, a flag where the time
    allowed ends, and the age of the oldest value the effect acts on. With findings the chain's verdict is told.
    """
    stated = vehicle.chains.get(chain.name)
    title = (stated.title if stated else "") or spoken(chain.name)
    path: Path = ("chains", chain.name)
    own = tuple(each for each in findings if each.reading.subject[:2] == path)
    if chain.broken_at or not chain.hops:
        return _broken(vehicle, chain, title, standalone=standalone, width=width)
    top, y = head(title, _told(chain, within_s), 0, standalone=standalone)
    labels = [_label(vehicle, hop) for hop in chain.hops]
    strip = _strip(vehicle, chain, labels, within_s, width)
    y += max(words_px(label, 11.5, strong=True) for label in labels) * SLANT + 24.0
    shapes = [group(path, top, _verdict(own, width, standalone=standalone))]
    shapes += [_hop(strip, index, labels[index], y) for index in range(len(chain.hops))]
    shapes += [_limit(strip, within_s, y, path), _axis(strip, y + BAND + 26.0)]
    figures, bottom = _figures(strip, y + BAND + 62.0)
    sums, bottom = _sums(strip, chain, bottom + 10.0, path)
    shapes += [figures, sums, _legend(strip, bottom + 8.0)]
    return drawing(width, bottom + 24.0, f"{title}: hops of the chain", *shapes, standalone=standalone)


def _told(chain: ChainTimes, within_s: float | None) -> str:
    whole = "no bound" if math.isinf(chain.reaction_s) else f"{quantity(chain.reaction_s, Kind.TIME)} at the worst"
    allowed = "time allowed unknown" if within_s is None else f"{quantity(within_s, Kind.TIME)} allowed"
    return f"{len(chain.hops)} hops · {whole} · {allowed}"


def _verdict(findings: tuple[Finding, ...], width: float, *, standalone: bool) -> str:
    verdict = worst(findings)
    if verdict is None:
        return ""
    y = 34.0 if standalone else 21.0
    x = width - MARGIN - words_px(verdict.value, 11.5)
    said = "\n".join(finding_sentence(each) for each in findings)
    return group(None, verdict_mark((x - 10, y - 4), verdict), words((x, y), verdict.value, verdict.value), title=said)


def _strip(vehicle: Vehicle, chain: ChainTimes, labels: Sequence[str], within_s: float | None, width: float) -> _Strip:
    total = sum(hop.whole_s for hop in chain.hops if math.isfinite(hop.whole_s))
    torn = ENDLESS * (total or 1e-3)
    lengths = [hop.whole_s if math.isfinite(hop.whole_s) else torn for hop in chain.hops]
    bounded = all(math.isfinite(hop.whole_s) for hop in chain.hops)
    near = within_s if bounded and within_s is not None and within_s <= FAR * total else 0.0
    end = max(sum(lengths), near) or 1e-3
    starts = tuple(itertools.accumulate(lengths, initial=0.0))
    right = width - RIGHT
    scale = (right - LEFT) / end
    wished = [LEFT + (start + size / 2) * scale for start, size in zip(starts, lengths, strict=False)]
    # The last slanted names must end on the sheet.
    count = len(labels)
    fit = [
        width - 16.0 - words_px(label, 11.5, strong=True) * SLANT + COLUMN * (count - 1 - index)
        for index, label in enumerate(labels)
    ]
    first = next((start for start, hop in zip(starts, chain.hops, strict=False) if math.isinf(hop.whole_s)), end)
    at = columns(wished, LEFT + 14.0, min([right - 10.0, *fit]))
    return _Strip(vehicle, chain.hops, end, right, starts, at, first)


def _label(vehicle: Vehicle, hop: Hop) -> str:
    if hop.kind == "message":
        return fitted(hop.name.partition(".")[2] or hop.name, NAME_PX)
    title = component_title(hop.name, vehicle.components.get(hop.name))
    return fitted(f"{title} {'passes on' if hop.kind == 'gateway' else hop.kind}", NAME_PX)


def _path(hop: Hop) -> Path:
    if hop.kind == "message":
        file, _, name = hop.name.partition(".")
        return ("messages", file, "messages", name)
    return ("components", hop.name)


def _hop(strip: _Strip, index: int, label: str, y: float) -> str:
    """One hop: waiting hatched, taking filled, its name slanted above its column."""
    hop, ink = strip.hops[index], strip.ink(strip.hops[index])
    first = strip.x(strip.starts[index])
    endless = math.isinf(hop.whole_s)
    last = strip.x(strip.starts[index + 1])
    split = first if endless else strip.x(strip.starts[index] + hop.period_s)
    outline, fill = (f"fine hue-{ink}", f"ink-{ink}") if ink else ("leader", "bar solid")
    top, high = (y, BAND) if ink else (y + LOWER, BAND - 2 * LOWER)
    shapes = []
    if split > first:
        shapes.append(hatched(first, top, split - first, high, outline))
        shapes.append(box(first, top, split - first, high, outline))
    shapes.append(box(split, top, max(last - split, 1.5), high, fill))
    if endless:
        shapes += _tear((first + last) / 2, top, high)
    column = strip.at[index]
    middle = (first + last) / 2
    shapes.append(polyline(((column, y - 14), (column, y - 12), (middle, y - 3), (middle, top)), "leader"))
    place = (column + 3.0, y - 18.0)
    turn = f"rotate(-45 {place[0]:.2f} {place[1]:.2f})"
    shapes.append(words(place, label, f"ink-{ink} strong" if ink else "", transform=turn))
    where = f" on {_line_title(strip.vehicle, hop.line)}" if ink else ""
    taking = "then has no bound" if endless else f"then takes {quantity(hop.response_s, Kind.TIME)}"
    said = f"{hop.kind} {hop.name}{where}: waits up to {quantity(hop.period_s, Kind.TIME)}, {taking}"
    return group(_path(hop), *shapes, title=said)


def _tear(x: float, top: float, high: float) -> list[str]:
    """Two slanted strokes with paper between them: what is drawn here is not to scale."""
    gap = tag(
        "path", d=f"M{x - 8:.2f} {top + high + 2:.2f} l6 {-high - 4:.2f} h10 l-6 {high + 4:.2f} Z", class_="ground"
    )
    return [gap, *(line((at - 3, top + high + 2), (at + 3, top - 2), "rule") for at in (x - 5, x + 5))]


def _line_title(vehicle: Vehicle, name: str) -> str:
    return (vehicle.lines[name].title if name in vehicle.lines else "") or name


def _limit(strip: _Strip, within_s: float | None, y: float, path: Path) -> str:
    """Where the time allowed ends: a flag on the strip, or an arrow at the edge where it is far beyond."""
    if within_s is None:
        return ""
    text = f"{quantity(within_s, Kind.TIME)} allowed"
    if strip.scaled_s < strip.end_s:
        return ""
    if within_s > strip.end_s * (1.0 + 1e-9):
        x = strip.right + 4.0
        sign = tag("path", d=f"M{x:.2f} {y + 7:.2f} l7 4 l-7 4 Z", class_="solid")
        place = (strip.right + RIGHT - 12.0, y + BAND + 12.0)
        return group(path, sign, words(place, text, "halo", size=SMALL, anchor="end"), title=f"{text}, beyond the axis")
    x = strip.x(within_s)
    foot = y + BAND + 8.0
    cloth = tag("path", d=f"M{x:.2f} {foot + 6:.2f} h-8 l8 -6 Z", class_="solid")
    label = words((x - 12.0, foot + 5.0), text, "halo", size=SMALL, anchor="end")
    return group(path, line((x, y - 8), (x, foot + 6.0), "rule"), cloth, label, title=text)


def _axis(strip: _Strip, y: float) -> str:
    end = strip.x(strip.scaled_s)
    shapes = [line((LEFT, y), (end, y), "rule"), words((LEFT - 26, y + 4), "time, ms", "muted", anchor="end")]
    for time_s in ticks(strip.scaled_s, max(2, round(10 * strip.scaled_s / strip.end_s))):
        x = strip.x(time_s)
        shapes.append(line((x, y - 4), (x, y + 4), "rule"))
        shapes.append(words((x, y + 15), bare(time_s, Kind.TIME, "ms"), "figure muted", size=9.5, anchor="middle"))
    return "".join(shapes)


def _figures(strip: _Strip, y: float) -> tuple[str, float]:
    """Two rows under the strip: how long each hop waits, and how long it takes then."""
    shapes = []
    for title, values in (
        ("waits, ms", [hop.period_s for hop in strip.hops]),
        ("takes, ms", [hop.response_s for hop in strip.hops]),
    ):
        shapes.append(words((LEFT - 26, y), title, "muted", anchor="end"))
        for hop, value, x in zip(strip.hops, values, strip.at, strict=True):
            text = "–" if value == 0.0 else bare(value, Kind.TIME, "ms")
            ink = strip.ink(hop)
            shapes.append(words((x, y), text, f"figure ink-{ink}" if ink else "figure", size=SMALL, anchor="middle"))
        y += 17.0
    return "".join(shapes), y


def _sums(strip: _Strip, chain: ChainTimes, y: float, path: Path) -> tuple[str, float]:
    """The whole and the age as lengths on the same scale, and a line that tells from when age counts.

    The age is no stretch of the strip above: it begins when the value is read, and then goes through the same hops,
    without the wait of the last component's cycle where there is one. So both are drawn from the left.
    """
    shapes = []
    for title, value in (("whole", chain.reaction_s), ("age", chain.age_s)):
        end = strip.x(value) if math.isfinite(value) else strip.x(chain.reaction_s)
        text = "no bound" if math.isinf(value) else quantity(value, Kind.TIME)
        wide = figures_px(text, 11.5)
        middle = (LEFT + end) / 2
        shapes.append(words((LEFT - 26, y + 4), title, "muted", anchor="end"))
        shapes.append(line((LEFT, y), (end, y), "rule"))
        shapes += [line((x, y - 4), (x, y + 4), "rule") for x in (LEFT, end)]
        shapes.append(box(middle - wide / 2 - 5, y - 8, wide + 10, 16, "ground"))
        shapes.append(words((middle, y + 4), text, "figure strong", anchor="middle"))
        y += 22.0
    wait_s = chain.reaction_s - chain.age_s if math.isfinite(chain.reaction_s) else 0.0
    less = f"; the last wait, {quantity(wait_s, Kind.TIME)}, is not in it" if wait_s > 0.0 else ""
    told = f"age: since what is acted on was read{less}"
    shapes.append(words((LEFT, y - 2), told, "muted", size=SMALL))
    return group(path, *shapes), y + 20.0


def _legend(strip: _Strip, y: float) -> str:
    """The lines by their hue, then what hatched, filled and grey mean."""
    shapes, x = [], MARGIN
    for name in dict.fromkeys(hop.line for hop in strip.hops if hop.kind == "message"):
        title = _line_title(strip.vehicle, name)
        shapes.append(box(x, y - 8, 14, 9, f"ink-{hue_of(strip.vehicle, name)}"))
        shapes.append(words((x + 19, y), title, "muted", size=SMALL))
        x += 19 + words_px(title, SMALL) + 18
    shapes.append(box(x, y - 8, 14, 9, "bar solid") + words((x + 19, y), "in a component", "muted", size=SMALL))
    x += 19 + words_px("in a component", SMALL) + 18
    shapes.append(hatched(x, y - 8, 14, 9, "leader") + box(x, y - 8, 14, 9, "leader"))
    shapes.append(words((x + 19, y), "waiting for the next time; filled: taking", "muted", size=SMALL))
    return "".join(shapes)


def _broken(vehicle: Vehicle, chain: ChainTimes, title: str, *, standalone: bool, width: float) -> str:
    """A chain with a link that is not heard: its steps in order, torn before the one who does not hear."""
    path: Path = ("chains", chain.name)
    stated = vehicle.chains.get(chain.name)
    steps = stated.steps if stated else (chain.missing,)
    top, y = head(title, f"{len(steps)} messages, broken on the way", 0, standalone=standalone)
    right = width - RIGHT - 90.0
    at = [LEFT + index * (right - LEFT) / len(steps) for index in range(len(steps) + 1)]
    names = [step.partition(".")[2] or step for step in steps]
    y += max(words_px(each, 11.5, strong=True) for each in [*names, _title(vehicle, stated, chain)]) * SLANT + 26.0
    broken = steps.index(chain.missing) if chain.missing in steps else 0
    shapes = []
    for index, (here, after) in enumerate(itertools.pairwise(at)):
        shapes.append(_link(here, after, y, torn=index == broken, beyond=index > broken))
        place = (here + 3.0, y - 12.0)
        file, _, name = steps[index].partition(".")
        label = words(place, names[index], "strong", transform=f"rotate(-45 {place[0]:.2f} {place[1]:.2f})")
        shapes.append(group(("messages", file, "messages", name), circle((here, y), 4.5, "place"), label))
    place = (at[-1] + 3.0, y - 12.0)
    last = words(place, _title(vehicle, stated, chain), transform=f"rotate(-45 {place[0]:.2f} {place[1]:.2f})")
    effect = stated.effect if stated else chain.broken_at
    shapes.append(group(("components", effect), circle((at[-1], y), 4.5, "place"), last))
    listener = component_title(chain.broken_at, vehicle.components.get(chain.broken_at))
    told = f"broken: {listener} does not hear {chain.missing}"
    sign = verdict_mark((LEFT + 5, y + 32), Verdict.BROKEN) + words((LEFT + 16, y + 36), told, "broken")
    return drawing(
        width,
        y + 54.0,
        f"{title}: broken at {chain.broken_at}",
        group(path, top),
        *shapes,
        group(path, sign),
        standalone=standalone,
    )


def _title(vehicle: Vehicle, stated: object, chain: ChainTimes) -> str:
    name = getattr(stated, "effect", chain.broken_at)
    return fitted(component_title(name, vehicle.components.get(name)), NAME_PX)


def _link(start: float, end: float, y: float, *, torn: bool, beyond: bool) -> str:
    """From one step to the next; torn in the middle where it is not heard, dashed where nothing comes any more."""
    if not torn:
        return line((start, y), (end, y), "run open" if beyond else "rule")
    middle = (start + end) / 2
    slants = [line((x - 3, y + 7), (x + 3, y - 7), "rule") for x in (middle - 5, middle + 5)]
    return line((start, y), (middle - 5, y), "rule") + line((middle + 5, y), (end, y), "run open") + "".join(slants)
