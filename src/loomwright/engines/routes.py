"""Shortest ways through a network of named points, all pairs at once."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False, slots=True)
class Ways:
    """All shortest ways of one network. Names index rows and columns; unreachable pairs are infinitely far."""

    index: dict[str, int]
    names: tuple[str, ...]
    distance: NDArray[np.float64]
    before: NDArray[np.int32]
    edge_name: dict[tuple[int, int], str]

    def length(self, start: str, end: str) -> float:
        """Length of the shortest way; ``inf`` where there is none."""
        return float(self.distance[self.index[start], self.index[end]])

    def points(self, start: str, end: str) -> tuple[str, ...]:
        """Every point on the shortest way, both ends included; empty where there is none."""
        first, here = self.index[start], self.index[end]
        if not np.isfinite(self.distance[first, here]):
            return ()
        back = [here]
        while here != first:
            here = int(self.before[first, here])
            back.append(here)
        return tuple(self.names[point] for point in reversed(back))

    def edges(self, points: Sequence[str]) -> tuple[str, ...]:
        """Names of the edges between consecutive points."""
        steps = [self.index[point] for point in points]
        return tuple(self.edge_name[a, b] for a, b in itertools.pairwise(steps))


def shortest_ways(points: Iterable[str], edges: Iterable[tuple[str, str, str, float]]) -> Ways:
    """Solve all pairs. Edges are (name, point, point, length in any one unit, at least 0), walkable both ways.

    Where two edges join the same points the shorter one is used. Method: Dijkstra from every point, O(V E log V).
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    names = tuple(points)
    index = {name: number for number, name in enumerate(names)}
    best: dict[tuple[int, int], tuple[float, str]] = {}
    for name, start, end, length in edges:
        a, b = index[start], index[end]
        for pair in ((a, b), (b, a)):
            if pair not in best or length < best[pair][0]:
                best[pair] = (length, name)
    size = len(names)
    # csgraph reads a stored zero as "no edge"; a tiny length keeps a zero-length run walkable.
    rows = np.array([pair[0] for pair in best], dtype=np.int32)
    columns = np.array([pair[1] for pair in best], dtype=np.int32)
    lengths = np.array([max(length, 1e-12) for length, _ in best.values()], dtype=np.float64)
    if size == 0:
        empty: NDArray[Any] = np.zeros((0, 0))
        return Ways(index, names, empty, empty.astype(np.int32), {})
    graph = csr_array((lengths, (rows, columns)), shape=(size, size))
    distance, before = dijkstra(graph, directed=True, return_predecessors=True)
    return Ways(index, names, distance, before, {pair: name for pair, (_, name) in best.items()})
