"""How full each line is in each state of the vehicle, and who fills it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from loomwright.model.vehicle import Vehicle
from loomwright.show.lettering import figures_px, words_px
from loomwright.show.marks import verdict_mark, worst
from loomwright.show.names import component_title
from loomwright.show.quantity import number
from loomwright.show.quantity import text as quantity
from loomwright.show.svg import box, drawing, group, line, tag, words
from loomwright.show.traffic.parts import MARGIN, WIDTH, fitted, head, hue_of, round_step, ticks
from loomwright.show.words import finding_sentence
from loomwright.solve.load import LineLoad, StateLoad
from loomwright.terms.finding import Finding, Verdict
from loomwright.terms.quantity import Kind

LEFT = 124.0
RIGHT = 166.0
ROW = 22.0
BAR = 14.0
NAMED = 4
"""Senders that are named; the others are one piece."""

SMALL = 10.5
FULL = 1.0
"""All of a line's time: more than that is drawn only as far as one and a half."""


@dataclass(frozen=True, slots=True)
class _Page:
    """The scale that all lines share."""

    vehicle: Vehicle
    end: float
    right: float
    width: float

    def x(self, share: float) -> float:
        """A share of a line's time on the sheet, at the most the end of the axis."""
        return LEFT + min(share, self.end) / self.end * (self.right - LEFT)


@dataclass(frozen=True, slots=True)
class _Piece:
    """One sender's part of a bar: number in the list (0 for the others), name, and mean share."""

    number: int
    name: str
    mean: float


def load_bars(
    vehicle: Vehicle,
    loads: Mapping[str, LineLoad],
    limits: Mapping[str, float],
    findings: tuple[Finding, ...] = (),
    *,
    standalone: bool = True,
    width: float = WIDTH,
) -> str:
    """Every line in every state of the vehicle as shares of its time, ``width`` pixels wide, as SVG.

    The mean load is filled, piece by piece, for the senders that take most and for the others together; the outline
    ends at the worst load; a flag stands at the limit of the mean. Where findings are given, a line's verdict stands
    beside its name. The scale is the same for all lines.
    """
    told = "share of each line's time · filled: mean, by sender · outline: every frame at its longest, events as often as they may"
    top, y = head("Load of the lines", fitted(told, width - 2 * MARGIN), 0, standalone=standalone)
    page = _Page(vehicle, _end(loads, limits), width - RIGHT, width)
    shapes = [top]
    if not any(load.states for load in loads.values()):
        shapes.append(words((MARGIN, y + 12.0), "No line's load is known yet.", "muted"))
        return drawing(width, y + 34.0, "Load of the lines", *shapes, standalone=standalone)
    y += 14.0
    axis_y, rows = y, []
    for name, load in loads.items():
        own = tuple(each for each in findings if each.reading.subject == ("lines", name) and each.rule == "line-load")
        drawn, y = _line(page, name, load, limits.get(name), own, y + 8.0)
        rows.append(drawn)
    shapes += [_axis(page, axis_y), *rows]
    return drawing(width, y + 14.0, "Load of the lines", *shapes, standalone=standalone)


def _end(loads: Mapping[str, LineLoad], limits: Mapping[str, float]) -> float:
    """The end of the axis: a round share beyond all that is drawn, at the most one and a half of the line's time."""
    most = max((state.worst for load in loads.values() for state in load.states), default=0.0)
    wanted = min(max([most * 1.05, *(limits[name] * 1.1 for name in loads if name in limits)]), 1.5 * FULL) or FULL
    step = round_step(wanted, 8)
    return -(-wanted // step) * step


def _axis(page: _Page, top: float) -> str:
    shapes = []
    for share in ticks(page.end, 8):
        x = page.x(share)
        shapes.append(words((x, top - 4), quantity(share, Kind.RATIO), "figure muted", size=9.5, anchor="middle"))
    shapes.append(words((page.right + 62.0, top - 4), "mean", "muted", size=SMALL, anchor="end"))
    shapes.append(words((page.right + 118.0, top - 4), "worst", "muted", size=SMALL, anchor="end"))
    return "".join(shapes)


def _line(
    page: _Page, name: str, load: LineLoad, limit: float | None, findings: tuple[Finding, ...], y: float
) -> tuple[str, float]:
    """A line: its name and senders, a row for each state, and the limit across them; the lower edge."""
    ink = hue_of(page.vehicle, name)
    item = page.vehicle.lines.get(name)
    title = (item.title if item else "") or name
    shapes = [box(MARGIN, y + 2.0, 4, 14, f"ink-{ink}"), words((MARGIN + 11, y + 13.0), title, "strong")]
    named = tuple(share.name for share in load.fullest.senders[:NAMED]) if load.states else ()
    x = MARGIN + 11 + words_px(title, 11.5, strong=True) + 18.0
    verdict = worst(findings)
    if verdict is not None and verdict is not Verdict.HOLDS:
        shapes += [verdict_mark((x, y + 9.0), verdict), words((x + 10, y + 13.0), verdict.value, verdict.value)]
        x += 24.0 + words_px(verdict.value, 11.5)
    shapes.append(_senders(page, load, named, max(x, LEFT), y + 13.0))
    top = y + 20.0
    bottom = top + ROW * len(load.states)
    shapes += [line((page.x(share), top), (page.x(share), bottom), "fine") for share in ticks(page.end, 8)]
    shapes += [_state(page, state, named, ink, top + index * ROW) for index, state in enumerate(load.states)]
    if limit is not None and load.states:
        flag = page.x(limit)
        shapes.append(line((flag, top - 1.0), (flag, bottom - 1.0), "rule"))
        shapes.append(tag("path", d=f"M{flag:.2f} {top - 1:.2f} h6 l-6 5 Z", class_="solid"))
        # The figure stands beside the first bar, not on it.
        x = max(flag + 9.0, page.x(load.states[0].worst) + 8.0)
        shapes.append(words((x, top + ROW / 2 + 3.5), f"limit {quantity(limit, Kind.RATIO)}", "halo", size=9.5))
    said = [title, *(finding_sentence(each) for each in findings)]
    return group(("lines", name), *shapes, title="\n".join(said)), bottom + 4.0


def _senders(page: _Page, load: LineLoad, named: tuple[str, ...], x: float, y: float) -> str:
    """Who the numbers in the bars are."""
    shapes = []
    others = max((len(state.senders) for state in load.states), default=0) - len(named)
    listed = [(str(index + 1), port.partition(".")[0]) for index, port in enumerate(named)]
    for figure, component in listed:
        title = component_title(component, page.vehicle.components.get(component))
        wide = figures_px(figure, SMALL) + 5.0 + words_px(title, SMALL)
        if x + wide > page.width - MARGIN - 70.0:
            break
        shapes.append(words((x, y), figure, "figure", size=SMALL))
        shapes.append(words((x + figures_px(figure, SMALL) + 5.0, y), title, "muted", size=SMALL))
        x += wide + 16.0
    if others > 0:
        shapes.append(words((x, y), f"and {others} other{'s' if others > 1 else ''}", "muted", size=SMALL))
    return "".join(shapes)


def _state(page: _Page, state: StateLoad, named: tuple[str, ...], ink: int, y: float) -> str:
    """One bar: pieces of the mean with their numbers, the outline of the worst, and both figures."""
    middle = y + ROW / 2
    top = middle - BAR / 2
    name = fitted(state.state or "always", LEFT - MARGIN - 12.0)
    shapes = [words((LEFT - 10, middle + 4), name, "muted", anchor="end")]
    at = 0.0
    for piece in _pieces(state, named):
        first, last = page.x(at), page.x(at + piece.mean)
        at += piece.mean
        if last - first < 0.3:
            continue
        shapes.append(box(first, top, last - first, BAR, f"bar ink-{ink}"))
        shapes.append(line((last, top), (last, top + BAR), f"fine hue-{ink}"))
        if piece.number and last - first >= 10.0:
            figure = str(piece.number)
            shapes.append(words(((first + last) / 2, middle + 3.5), figure, "figure", size=9.5, anchor="middle"))
    end = page.x(state.worst)
    shapes.append(box(LEFT, top, max(end - LEFT, 0.5), BAR, f"fine hue-{ink}"))
    if state.worst > page.end:
        shapes.append(tag("path", d=f"M{end + 3:.2f} {middle - 4:.2f} l6 4 l-6 4 Z", class_="solid"))
    shapes.append(words((page.right + 62.0, middle + 4), _percent(state.mean), "figure strong", anchor="end"))
    shapes.append(
        words((page.right + 118.0, middle + 4), _percent(state.worst), "figure muted", size=SMALL, anchor="end")
    )
    said = [f"{piece.name} {_percent(piece.mean)}" for piece in _pieces(state, named)]
    return group(None, *shapes, title=f"{state.state or 'always'}: {', '.join(said)}")


def _percent(share: float) -> str:
    return f"{number(share * 100.0, 1)} %"


def _pieces(state: StateLoad, named: tuple[str, ...]) -> Iterator[_Piece]:
    """The named senders in their order, the same in every state, then the others together."""
    by_name = {share.name: share.mean for share in state.senders}
    for index, name in enumerate(named):
        yield _Piece(index + 1, name, by_name.get(name, 0.0))
    yield _Piece(0, "others", sum(share.mean for share in state.senders if share.name not in named))
