"""What must an ohm-meter read between the two bus wires, at every connector, with everything asleep?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.node_equations import readings_without, resistance_matrix
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.loads import CORNERS, loads_of
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Blocked, Solved


@dataclass(frozen=True, slots=True)
class StopOhms:
    """The reading at one stop's harness connector in ohm: lowest, typical, highest."""

    stop: int
    port: str
    low_ohm: float
    ohm: float
    high_ohm: float


@dataclass(frozen=True, slots=True)
class LineOhms:
    """All readings of a line: everything plugged in, and with each station in turn unplugged.

    ``unplugged`` pairs the name of what was unplugged (a port, or ``terminator 7`` for the plug-in terminator at stop
    7) with the readings that are left at every connector.
    """

    line: str
    stops: tuple[StopOhms, ...]
    unplugged: tuple[tuple[str, tuple[StopOhms, ...]], ...]


def line_ohms(line: Line, components: Table[Component], cable: Cable, topology: LineTopology) -> Answer[LineOhms]:
    """Solve the node equations of the line as wired. Blocked by unknown terminations, resistances or cable data.

    The cable's loop resistance is twice the conductor's, at the temperature its figure holds for. Contact resistance
    and the temperature of the copper are left out (2.5 to 10 mohm a contact, 0.4 % per kelvin of a few ohm).
    """
    loads = loads_of(line, components, cable, topology)
    if isinstance(loads, Blocked):
        return loads
    if not topology.stops:
        return Solved(LineOhms(topology.line, (), ()), loads.assumed)
    nodes, pieces, connectors = _with_connectors(topology)
    loop, siemens = loads.value.loop_ohm_per_m, loads.value.siemens(topology, nodes)
    matrices = [
        resistance_matrix(nodes, [(a, b, loop[corner] * length) for a, b, length in pieces], siemens[corner])
        for corner in range(CORNERS)
    ]
    plugged = _stops(topology, [np.diagonal(matrix) for matrix in matrices], connectors)
    unplugged = tuple(
        (
            stop.port or f"terminator {stop.index + 1}",
            _stops(
                topology,
                [readings_without(matrices[corner], stop.tip, shunt[corner]) for corner in range(CORNERS)],
                connectors,
            ),
        )
        for stop, shunt in zip(topology.stops, loads.value.shunts_s, strict=True)
        if not stop.repeated
    )
    return Solved(LineOhms(topology.line, plugged, unplugged), loads.assumed)


def _with_connectors(topology: LineTopology) -> tuple[int, list[tuple[int, int, float]], list[int]]:
    """Cut each stub where the component's own lead begins: that is where a meter can be put.

    Returns the number of nodes, the pieces as (node, node, metres), and each stop's connector node.
    """
    nodes = topology.nodes
    pieces: list[tuple[int, int, float]] = []
    connectors = [stop.joint for stop in topology.stops]
    for piece in topology.pieces:
        stop = topology.stops[piece.stop]
        if piece.end == stop.tip and piece.start == stop.joint and stop.tip != stop.joint:
            connectors[piece.stop] = nodes
            pieces.append((piece.start, nodes, max(piece.length_m - stop.lead_m, 0.0)))
            pieces.append((nodes, piece.end, stop.lead_m))
            nodes += 1
        else:
            pieces.append((piece.start, piece.end, piece.length_m))
    for index, stop in enumerate(topology.stops):
        if stop.repeated:
            connectors[index] = next(
                c for c, first in zip(connectors, topology.stops, strict=True) if first.tip == stop.tip
            )
    return nodes, pieces, connectors


def _stops(topology: LineTopology, readings: list[NDArray[np.float64]], connectors: list[int]) -> tuple[StopOhms, ...]:
    return tuple(
        StopOhms(stop.index, stop.port, *(float(reading[connector]) for reading in readings))
        for stop, connector in zip(topology.stops, connectors, strict=True)
    )
