"""From metres of trunk to pixels, and columns that keep their distance where stations are close together."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.solve.topology import LineTopology

WIDTH = 1280.0
LEFT, RIGHT = 154.0, 118.0
DEEPEST = 360.0
COLUMN = 44.0
"""Pixels a column of figures likes to have."""

NARROW = 42.0
"""Below this a column's figures stand upright."""

FAN = 8.0
"""Pixels between branches that leave the trunk at one spot."""

TICKS_M = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)


@dataclass(frozen=True, slots=True)
class Scale:
    """Pixels for a metre, the same along the trunk and along branches."""

    per_m: float

    def x(self, distance_m: float) -> float:
        """A distance along the trunk on the sheet."""
        return LEFT + distance_m * self.per_m

    @property
    def tick_m(self) -> float:
        """Distance of the ticks: a round number of metres, at least 60 pixels apart."""
        return next((step for step in TICKS_M if step * self.per_m >= 60.0), TICKS_M[-1])


def scale_for(topology: LineTopology, width: float = WIDTH) -> Scale:
    """The largest scale at which the trunk fits the width and the longest branch a third of a page."""
    span = width - LEFT - RIGHT
    longest_m = max((stop.branch_m for stop in topology.stops), default=0.0)
    fitting = [span / topology.trunk_m] if topology.trunk_m > 0.0 else [span]
    if longest_m > 0.0:
        fitting.append(DEEPEST / longest_m)
    return Scale(min(fitting))


def fans(topology: LineTopology, scale: Scale) -> tuple[float, ...]:
    """Pixels by which each stop's branch stands aside, so that branches from one spot do not hide each other."""
    aside = [0.0] * len(topology.stops)
    bunch: list[int] = []
    hanging = [number for number, stop in enumerate(topology.stops) if stop.branch_m > 0.0 and not stop.repeated]
    for number in [*hanging, -1]:
        first = topology.stops[bunch[0]].distance_m if bunch else 0.0
        if bunch and (number < 0 or (topology.stops[number].distance_m - first) * scale.per_m > FAN):
            for place, member in enumerate(bunch):
                aside[member] = (place - (len(bunch) - 1) / 2) * FAN
            bunch = []
        bunch.append(number)
    return tuple(aside)


def columns(wished: Sequence[float], left: float = LEFT, right: float = WIDTH - 58.0) -> tuple[float, ...]:
    """Positions in the wished order, as near to the wished ones as a least distance between them allows.

    Least squares under order: pooling of adjacent violators. The distance shrinks where the sheet is too narrow.
    """
    if not wished:
        return ()
    gap = min(COLUMN, (right - left) / max(1, len(wished) - 1))
    pools: list[tuple[float, int]] = []
    for index, position in enumerate(wished):
        total, count = position - index * gap, 1
        while pools and pools[-1][0] / pools[-1][1] >= total / count:
            before = pools.pop()
            total, count = total + before[0], count + before[1]
        pools.append((total, count))
    level = [total / count for total, count in pools for _ in range(count)]
    last = right - (len(wished) - 1) * gap
    return tuple(min(max(value, left), max(last, left)) + index * gap for index, value in enumerate(level))


def is_narrow(at: Sequence[float]) -> bool:
    """Whether columns stand so close that figures must stand upright."""
    return any(after - before < NARROW for before, after in itertools.pairwise(at))
