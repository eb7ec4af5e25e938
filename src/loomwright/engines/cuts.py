"""The smallest cut between two nodes of a network of capacities."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

_SCALE = 1_000_000


@dataclass(frozen=True, slots=True)
class Cut:
    """Value of the smallest cut, and two sets of nodes on the sink's side: the smallest and the largest such set."""

    value: float
    inner: frozenset[int]
    outer: frozenset[int]


class Network:
    """Nodes and arcs that stay while capacities change. Arcs are numbered as given and go one way."""

    def __init__(self, nodes: int, tails: Sequence[int], heads: Sequence[int]) -> None:
        self.nodes = nodes
        # Every arc with its way back, so that a flow has the same pattern as the network.
        pairs = sorted(
            {pair for a, b in zip(tails, heads, strict=True) for pair in ((int(a), int(b)), (int(b), int(a)))}
        )
        place = {pair: number for number, pair in enumerate(pairs)}
        self.slot = np.array([place[int(a), int(b)] for a, b in zip(tails, heads, strict=True)], dtype=np.int64)
        self.indices = np.array([b for _, b in pairs], dtype=np.int32)
        counts = np.bincount(np.array([a for a, _ in pairs], dtype=np.int64), minlength=nodes)
        self.indptr = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)
        self.out: list[list[tuple[int, int, int]]] = [[] for _ in range(nodes)]
        for (a, b), number in place.items():
            self.out[a].append((b, number, place[b, a]))

    def smallest_cut(self, capacity: NDArray[np.float64], source: int, sink: int) -> Cut:
        """Smallest cut from source to sink; capacities at least 0 in any one unit, rounded to a millionth of it.

        Method: largest flow (Dinic), then what still reaches the sink, and what the source no longer reaches.
        """
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import maximum_flow

        units = np.bincount(self.slot, np.rint(capacity * _SCALE), minlength=len(self.indices)).astype(np.int32)
        network = csr_array((units, self.indices, self.indptr), shape=(self.nodes, self.nodes))
        flow: Any = maximum_flow(network, source, sink)
        left = (units - flow.flow.data).tolist()
        inner = self._reached(sink, left, backward=True)
        outer = frozenset(range(self.nodes)) - self._reached(source, left, backward=False)
        return Cut(flow.flow_value / _SCALE, inner, outer)

    def _reached(self, start: int, left: list[int], *, backward: bool) -> frozenset[int]:
        """Nodes reached over arcs with capacity left, or those from which the start is reached."""
        seen, waiting = {start}, [start]
        while waiting:
            for node, there, back in self.out[waiting.pop()]:
                if node not in seen and left[back if backward else there] > 0:
                    seen.add(node)
                    waiting.append(node)
        return frozenset(seen)
