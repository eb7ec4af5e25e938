"""How full each line is in each state of the vehicle, and who fills it."""

from collections.abc import Mapping
from dataclasses import dataclass

from loomwright.model.vehicle import Vehicle
from loomwright.show.quantity import text as quantity
from loomwright.show.svg import box, drawing, group, line, words
from loomwright.show.traffic.parts import MARGIN, WIDTH, head, hue_of
from loomwright.solve.load import LineLoad, Share, StateLoad
from loomwright.terms.quantity import Kind

LEFT = 120.0
RIGHT = 150.0
ROW = 22.0
BAR = 12.0
NAMED = 4
"""Senders that are named; the others are one piece."""


@dataclass(frozen=True, slots=True)
class _Page:
    vehicle: Vehicle
    end: float
    right: float

    def x(self, share: float) -> float:
        """A share of a line's time on the sheet."""
        return LEFT + min(share, self.end) / self.end * (self.right - LEFT)


def load_bars(
    vehicle: Vehicle,
    loads: Mapping[str, LineLoad],
    limits: Mapping[str, float],
    *,
    standalone: bool = True,
    width: float = WIDTH,
) -> str:
    """Every line in every state: its mean load by sender, the worst as an outline, and the limit, as SVG."""
    top, y = head("Load of the lines", "share of each line's time", 0, standalone=standalone)
    most = max((state.worst for load in loads.values() for state in load.states), default=0.0)
    end = max(1.0, min(most * 1.05, 2.0))
    page = _Page(vehicle, end, width - RIGHT)
    shapes = [top]
    for name, load in loads.items():
        drawn, y = _line(page, name, load, limits.get(name), y + 10.0)
        shapes.append(drawn)
    return drawing(width, y + 30.0, "Load of the lines", *shapes, standalone=standalone)


def _line(page: _Page, name: str, load: LineLoad, limit: float | None, y: float) -> tuple[str, float]:
    ink = hue_of(page.vehicle, name)
    item = page.vehicle.lines.get(name)
    shapes = [words((MARGIN, y + 12), (item.title if item else "") or name, "strong")]
    named = tuple(share.name for share in load.fullest.senders[:NAMED]) if load.states else ()
    y += 20.0
    for state in load.states:
        shapes.append(_state(page, state, named, ink, y))
        y += ROW
    if limit is not None and load.states:
        x = page.x(limit)
        shapes.append(line((x, y - ROW * len(load.states)), (x, y), "rule"))
    return group(("lines", name), *shapes), y


def _state(page: _Page, state: StateLoad, named: tuple[str, ...], ink: int, y: float) -> str:
    shapes = [words((LEFT - 10, y + 12), state.state or "always", "muted", anchor="end")]
    at = 0.0
    for number, (share, _) in enumerate(_pieces(state, named)):
        first, last = page.x(at), page.x(at + share.mean)
        if last > first:
            shapes.append(box(first, y + 4, last - first, BAR, f"bar ink-{ink}"))
        at += share.mean
        del number
    shapes.append(box(LEFT, y + 4, max(page.x(state.worst) - LEFT, 0.5), BAR, f"fine hue-{ink}"))
    x = page.right + 8
    shapes.append(words((x, y + 14), quantity(state.mean, Kind.RATIO), "figure strong"))
    return "".join(shapes)


def _pieces(state: StateLoad, named: tuple[str, ...]) -> list[tuple[Share, int]]:
    """The named senders in their order, then the others together."""
    by_name = {share.name: share for share in state.senders}
    found = [(by_name.get(name, Share(name, 0.0, 0.0)), number + 1) for number, name in enumerate(named)]
    rest = [share for share in state.senders if share.name not in named]
    if rest:
        found.append((Share("others", sum(s.mean for s in rest), sum(s.worst for s in rest)), len(named) + 1))
    return found
