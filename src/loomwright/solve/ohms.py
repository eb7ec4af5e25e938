"""What must an ohm-meter read between the two bus wires, at every connector, with everything asleep?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.node_equations import readings_without, resistance_matrix
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.topology import LineTopology, Stop, port_of
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Known, Unknown, bounds_of

CORNERS = 3
"""Low, typical and high: the network rises with every one of its resistances, so all-low and all-high bound it."""


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
    facts = _Facts(components)
    loop = facts.bounds(cable.conductor_resistance_ohm_per_m, ("cables", line.cable, "conductor_resistance_ohm_per_m"))
    shunts = [facts.shunt(stop, ("lines", topology.line, "stations", stop.index)) for stop in topology.stops]
    if facts.blocked:
        return Blocked(tuple(dict.fromkeys(facts.blocked)))
    if not topology.stops:
        return Solved(LineOhms(topology.line, (), ()), tuple(facts.assumed))
    nodes, pieces, connectors = _with_connectors(topology)
    siemens = np.zeros((CORNERS, nodes))
    for stop, shunt in zip(topology.stops, shunts, strict=True):
        siemens[:, stop.tip] += shunt
    matrices = [
        resistance_matrix(nodes, [(a, b, 2.0 * loop[corner] * length) for a, b, length in pieces], siemens[corner])
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
        for stop, shunt in zip(topology.stops, shunts, strict=True)
        if not stop.repeated
    )
    return Solved(LineOhms(topology.line, plugged, unplugged), tuple(dict.fromkeys(facts.assumed)))


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


class _Facts:
    """Reads facts, remembering which were unknown and which assumed."""

    def __init__(self, components: Table[Component]) -> None:
        self.components = components
        self.blocked: list[Path] = []
        self.assumed: list[Path] = []

    def bounds(self, fact: Known[float] | Assumed[float] | Unknown, path: Path) -> tuple[float, float, float]:
        if isinstance(fact, Unknown):
            self.blocked.append(path)
            return (1.0, 1.0, 1.0)
        if isinstance(fact, Assumed):
            self.assumed.append(path)
        return bounds_of(fact)

    def shunt(self, stop: Stop, station: Path) -> NDArray[np.float64]:
        """Conductance of a stop between the wires in siemens, for the three corners of resistance."""
        total = np.zeros(CORNERS)
        if stop.repeated:
            return total
        port: Path = ("components", stop.component, "ports", stop.port.partition(".")[2])
        if stop.port:
            component = self.components[stop.component]
            fact = port_of(self.components, stop.port).node_resistance_ohm
            # A service plug is bare contacts: nothing between its pins unless somebody measured it.
            if component.role != "service plug" or isinstance(fact, Known):
                total += 1.0 / np.array(self.bounds(fact, (*port, "node_resistance_ohm")))
        if stop.termination == "unknown":
            self.blocked.append((*port, "termination"))
        elif stop.termination == "on" and stop.termination_ohm is not None:
            where = (*port, "termination_ohm") if stop.port else (*station, "terminator_ohm")
            total += 1.0 / np.array(self.bounds(stop.termination_ohm, where))
        return total
