"""Voltages that sources drive into a resistive network at rest, for a whole batch of corner cases at once."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.node_equations import merged

Floats = NDArray[np.float64]

LEAK_S = 1e-9
"""A gigaohm to the reference at every node, so that an island without any shunt has a voltage; it weighs below 1e-6."""


def transfer_matrix(nodes: int, resistors: Iterable[tuple[int, int, float | Floats]], shunt_s: Floats) -> Floats:
    """Open-circuit transfer resistances in ohm, shape (batch, nodes, nodes): volts at one node for 1 A into another.

    ``resistors`` join two nodes (ohm, at least 0; a number or one value a case), ``shunt_s`` in siemens to the reference
    has shape (nodes,) or (batch, nodes). Where no shunt is near, ``LEAK_S`` decides. Kirchhoff's current law, G v = i.
    """
    joins = [(a, b, np.atleast_1d(np.asarray(ohm, dtype=np.float64))) for a, b, ohm in resistors]
    shunts = np.atleast_2d(np.asarray(shunt_s, dtype=np.float64))
    batch = max(shunts.shape[0], *(ohm.shape[0] for _, _, ohm in joins), 1)
    number = merged(nodes, [(a, b, float(ohm.max())) for a, b, ohm in joins])
    size = int(number.max(initial=-1)) + 1
    conductance = np.zeros((batch, size, size))
    conductance[:, np.arange(size), np.arange(size)] = LEAK_S
    for node, place in enumerate(number):
        conductance[:, place, place] += shunts[:, node]
    for first, second, ohm in joins:
        a, b = number[first], number[second]
        if a == b:
            continue
        siemens = 1.0 / ohm
        conductance[:, a, a] += siemens
        conductance[:, b, b] += siemens
        conductance[:, a, b] -= siemens
        conductance[:, b, a] -= siemens
    solved = np.linalg.inv(conductance)
    return np.asarray(solved[:, number[:, None], number[None, :]])


def driven_volts(matrix: Floats, node: int, volts: float | Floats, ohm: float | Floats) -> Floats:
    """Voltages of all nodes, shape (batch, nodes), with one source of ``volts`` behind ``ohm`` at a node.

    ``matrix`` is that of ``transfer_matrix`` without the source; volts and ohm are numbers or shape (batch,). An ideal
    source has 0 ohm. Thevenin: the source feeds the node's own resistance, the others follow in proportion.
    """
    own = matrix[:, node, node]
    amperes = np.asarray(volts) / (np.asarray(ohm) + own)
    return np.asarray(matrix[:, :, node] * amperes[:, None])


def injected_volts(matrix: Floats, amperes: Floats) -> Floats:
    """Voltages of all nodes, shape (batch, nodes), for currents into all of them, shape (nodes,) or (batch, nodes)."""
    return np.asarray(np.einsum("bij,bj->bi", matrix, np.broadcast_to(amperes, matrix.shape[:2])))
