"""The smallest cut between two nodes of a network of capacities."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_SCALE = 1_000_000


@dataclass(frozen=True, slots=True)
class Cut:
    """Value of the smallest cut, and two sets of nodes on the sink's side: the smallest and the largest such set."""

    value: float
    inner: frozenset[int]
    outer: frozenset[int]


def smallest_cut(
    nodes: int,
    tails: NDArray[np.int32],
    heads: NDArray[np.int32],
    capacity: NDArray[np.float64],
    source: int,
    sink: int,
) -> Cut:
    """Smallest cut from source to sink; capacities at least 0 in any one unit, rounded to a millionth of it.

    Method: largest flow (Dinic), then what still reaches the sink, and what the source no longer reaches.
    """
    from scipy.sparse import coo_array, csr_array
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow

    units = np.rint(capacity * _SCALE).astype(np.int32)
    keep = units > 0
    shape = (nodes, nodes)
    network = csr_array(coo_array((units[keep], (tails[keep], heads[keep])), shape=shape))
    flow = maximum_flow(network, source, sink)
    rest = csr_array(network - flow.flow)
    rest.eliminate_zeros()
    inner = breadth_first_order(csr_array(rest.T), sink, return_predecessors=False)
    reached = breadth_first_order(rest, source, return_predecessors=False)
    outer = frozenset(range(nodes)) - frozenset(int(node) for node in reached)
    return Cut(flow.flow_value / _SCALE, frozenset(int(node) for node in inner), outer)
