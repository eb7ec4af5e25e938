"""The order in which to visit points: shortest, proved, for small numbers of points; good, unproved, for more."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MOST_POINTS = 18


@dataclass(frozen=True, slots=True)
class Order:
    """Point numbers in the order of visiting, and the total length in the unit of the input."""

    points: tuple[int, ...]
    length: float


def shortest_cycle(distance: Sequence[Sequence[float]]) -> Order:
    """Shortest round trip through all points, starting at point 0; the step back to it is counted.

    ``distance[i][j]`` is the way from i to j. Raises ``ValueError`` above 18 points. Exact: Held and Karp 1962.
    """
    matrix = _checked(distance)
    if len(matrix) == 0:
        return Order((), 0.0)
    return _order(matrix, first=matrix[0, 1:], last=matrix[1:, 0], lead=(0,))


def shortest_path(distance: Sequence[Sequence[float]], start: int | None = None, end: int | None = None) -> Order:
    """Shortest open path through all points, with given ends where ``start`` or ``end`` say so.

    Raises ``ValueError`` above 18 points, or where one point of several is to be both ends. Exact: Held and Karp 1962.
    """
    matrix = _checked(distance)
    size = len(matrix)
    if size > 1 and start is not None and start == end:
        raise ValueError(f"an open path through {size} points cannot start and end at the same point {start}")
    if size == 0:
        return Order((), 0.0)
    # An outer point that is free to leave and to reach turns the path into a round trip.
    whole = np.zeros((size + 1, size + 1))
    whole[1:, 1:] = matrix
    first = np.zeros(size) if start is None else np.where(np.arange(size) == start, 0.0, np.inf)
    last = np.zeros(size) if end is None else np.where(np.arange(size) == end, 0.0, np.inf)
    found = _order(whole, first, last, lead=())
    return Order(tuple(point - 1 for point in found.points), found.length)


def good_path(distance: Sequence[Sequence[float]], start: int | None = None, end: int | None = None) -> Order:
    """A short open path through all points, not proved shortest; distances the same both ways.

    Nearest neighbour from every allowed start, then stretches turned round while that helps (2-opt, Croes 1958).
    """
    size = len(distance)
    best = Order((), 0.0 if size == 0 else math.inf)
    for first in [start] if start is not None else [point for point in range(size) if point != end or size == 1]:
        order = [first]
        free = [point for point in range(size) if point not in (first, end)]
        while free:
            steps = distance[order[-1]]
            order.append(min(free, key=steps.__getitem__))
            free.remove(order[-1])
        if end is not None and end != first:
            order.append(end)
        _turn(order, distance, fixed_start=start is not None, fixed_end=end is not None)
        length = sum(distance[a][b] for a, b in itertools.pairwise(order))
        if length < best.length:
            best = Order(tuple(order), length)
    return best


def _turn(order: list[int], distance: Sequence[Sequence[float]], *, fixed_start: bool, fixed_end: bool) -> None:
    """Turn stretches of the order round while the path gets shorter."""
    size = len(order)
    better = True
    while better:
        better = False
        for first in range(int(fixed_start), size):
            for last in range(first + 1, size - int(fixed_end)):
                before, after = order[first - 1] if first else None, order[last + 1] if last + 1 < size else None
                gain = 0.0
                if before is not None:
                    gain += distance[before][order[first]] - distance[before][order[last]]
                if after is not None:
                    gain += distance[order[last]][after] - distance[order[first]][after]
                if gain > 1e-9:
                    order[first : last + 1] = order[first : last + 1][::-1]
                    better = True


def _checked(distance: Sequence[Sequence[float]]) -> NDArray[np.float64]:
    matrix = np.array(distance, dtype=np.float64).reshape(len(distance), len(distance))
    if len(matrix) > MOST_POINTS:
        raise ValueError(f"{len(matrix)} points are too many for an exact order; at most {MOST_POINTS}")
    return matrix


def _order(
    matrix: NDArray[np.float64], first: NDArray[np.float64], last: NDArray[np.float64], lead: tuple[int, ...]
) -> Order:
    """Cheapest order of points 1.. of the matrix, with the cost to begin at and to end at each of them."""
    size = len(matrix) - 1
    if size == 0:
        return Order(lead, 0.0)
    step = matrix[1:, 1:]
    cost = np.full((1 << size, size), np.inf)
    before = np.full((1 << size, size), -1, dtype=np.int8)
    for point in range(size):
        cost[1 << point, point] = first[point]
    points = np.arange(size)
    for visited in range(1, 1 << size):
        inside = points[(visited >> points & 1) == 1]
        if len(inside) == 1:
            continue
        ways = cost[visited ^ (1 << inside)] + step[:, inside].T
        best = np.argmin(ways, axis=1)
        cost[visited, inside], before[visited, inside] = ways[np.arange(len(inside)), best], best
    visited = (1 << size) - 1
    ends = cost[visited] + last
    here = int(np.argmin(ends))
    length = float(ends[here])
    order = []
    while here >= 0:
        order.append(here + 1)
        visited, here = visited ^ (1 << here), int(before[visited, here])
    return Order((*lead, *reversed(order)), length)
