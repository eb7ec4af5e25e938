"""Node equations of a resistive network: what an ohm-meter reads between a node and the reference."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

JOINED_OHM = 1e-6
"""Below this two nodes count as one: it is far under what a meter shows, and keeps the equations well conditioned."""


def merged(nodes: int, resistors: Iterable[tuple[int, int, float]]) -> NDArray[np.intp]:
    """Number the nodes anew so that those joined by less than ``JOINED_OHM`` are one. Returns shape (nodes,)."""
    parent = list(range(nodes))

    def root(node: int) -> int:
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for first, second, ohm in resistors:
        if ohm < JOINED_OHM:
            parent[root(first)] = root(second)
    roots = {node: number for number, node in enumerate(dict.fromkeys(root(node) for node in range(nodes)))}
    return np.array([roots[root(node)] for node in range(nodes)], dtype=np.intp)


def resistance_matrix(
    nodes: int, resistors: Iterable[tuple[int, int, float]], shunt_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Open-circuit resistance matrix in ohm, shape (nodes, nodes).

    ``resistors`` join two nodes (ohm, at least 0), ``shunt_s`` (nodes,) are conductances in siemens from each node to
    the reference. Entry [i, i] is the reading between node i and the reference; [i, k] the transfer resistance.
    Where no shunt is joined to a node its reading is infinite. Kirchhoff's current law in matrix form, G v = i.
    """
    joined = tuple(resistors)
    if not np.any(shunt_s > 0.0):
        return np.full((nodes, nodes), np.inf)
    islands = merged(nodes, [(first, second, 0.0) for first, second, _ in joined])
    adrift = np.bincount(islands, weights=shunt_s, minlength=nodes)[islands] <= 0.0
    if adrift.any():
        matrix = resistance_matrix(nodes, joined, np.where(adrift, 1.0, shunt_s))
        matrix[np.ix_(adrift, adrift)] = np.inf
        return matrix
    number = merged(nodes, joined)
    size = int(number.max()) + 1
    conductance = np.zeros((size, size))
    np.add.at(conductance, (number, number), shunt_s)
    for first, second, ohm in joined:
        a, b = number[first], number[second]
        if a == b:
            continue
        siemens = 1.0 / ohm
        conductance[a, a] += siemens
        conductance[b, b] += siemens
        conductance[a, b] -= siemens
        conductance[b, a] -= siemens
    solved = np.linalg.inv(conductance)
    return np.asarray(solved[np.ix_(number, number)])


def readings_without(matrix: NDArray[np.float64], node: int, siemens: float) -> NDArray[np.float64]:
    """Every node's reading in ohm, shape (nodes,), once a shunt of ``siemens`` at ``node`` is taken away.

    Sherman and Morrison's rank-one update, so that the network need not be solved again. Infinite where it was the
    only path to the reference.
    """
    diagonal = np.diagonal(matrix)
    if siemens == 0.0:
        return diagonal.copy()
    left = 1.0 - siemens * matrix[node, node]
    if left <= 1e-12:
        return np.where(matrix[:, node] > 0.0, np.inf, diagonal)
    return np.asarray(diagonal + matrix[:, node] ** 2 * siemens / left)
