"""The shortest tree in a network that joins given nodes, proved."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.cut_rounds import Point, Program, Row, Watch, cheapest
from loomwright.engines.cuts import Network

_SLACK = 1e-4


@dataclass(frozen=True, slots=True)
class Tree:
    """Numbers of the edges in the tree, and their total length in the unit of the input."""

    edges: tuple[int, ...]
    length: float


def shortest_tree(nodes: int, edges: Sequence[tuple[int, int, float]], ends: Iterable[int]) -> Tree | None:
    """Minimum Steiner tree: edges are (node, node, length at least 0), ``ends`` the nodes to be joined.

    ``None`` where they are not connected. Exact: directed cut formulation (Wong 1984), rows found by largest flows.
    """
    joined = sorted(set(ends))
    if len(joined) < 2:
        return Tree((), 0.0)
    root, others = joined[0], joined[1:]
    tails = np.array([node for a, b, _ in edges for node in (a, b)], dtype=np.int32)
    heads = np.array([node for a, b, _ in edges for node in (b, a)], dtype=np.int32)
    rows = _rows(nodes, tails, heads, root, frozenset(others))

    network = Network(nodes, tails.tolist(), heads.tolist())

    def broken(point: Point) -> list[Row]:
        found: dict[frozenset[int], None] = {}
        for end in others:
            cut = network.smallest_cut(np.clip(point, 0.0, 1.0), root, end)
            if cut.value < 1.0 - _SLACK:
                found.update(dict.fromkeys((cut.inner, cut.outer)))
        return [
            Row(
                tuple((arc, 1.0) for arc in range(len(tails)) if heads[arc] in side and tails[arc] not in side),
                1.0,
                math.inf,
            )
            for side in found
        ]

    lengths = tuple(length for _, _, length in edges for _ in range(2))
    upper = tuple(float(tails[arc] != heads[arc]) for arc in range(len(tails)))
    outcome = cheapest(Program(lengths, upper, rows), broken, Watch(clock=lambda: 0.0))
    if outcome.values is None:
        return None
    used = tuple(sorted(_grown(root, [arc for arc, value in enumerate(outcome.values) if value], tails, heads)))
    return Tree(used, sum(edges[edge][2] for edge in used))


def _rows(
    nodes: int, tails: NDArray[np.int32], heads: NDArray[np.int32], root: int, others: frozenset[int]
) -> tuple[Row, ...]:
    """A node is entered at most once; one that need not be joined is entered only to be left by another edge."""
    rows = []
    for node in range(nodes):
        entering = [int(arc) for arc in np.flatnonzero(heads == node)]
        most = 0.0 if node == root else 1.0
        rows.append(Row(tuple((arc, 1.0) for arc in entering), 1.0 if node in others else 0.0, most))
        if node == root or node in others:
            continue
        leaving = [int(arc) for arc in np.flatnonzero(tails == node)]
        rows.append(Row((*((arc, -1.0) for arc in entering), *((arc, 1.0) for arc in leaving)), 0.0, math.inf))
        # An edge is two arcs next to each other in number, so arc ^ 1 is the way back.
        rows.extend(
            Row((*((arc, 1.0) for arc in entering if arc != away ^ 1), (away, -1.0)), 0.0, math.inf) for away in leaving
        )
    return tuple(rows)


def _grown(root: int, arcs: list[int], tails: NDArray[np.int32], heads: NDArray[np.int32]) -> set[int]:
    """Edges that hang together with the root; rings of length 0 may lie apart."""
    reached, waiting = {root}, arcs
    used: set[int] = set()
    while fresh := [arc for arc in waiting if int(tails[arc]) in reached]:
        reached.update(int(heads[arc]) for arc in fresh)
        used.update(arc // 2 for arc in fresh)
        waiting = [arc for arc in waiting if arc not in fresh]
    return used
