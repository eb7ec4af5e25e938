"""What level does every receiver see from every driver?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.source_equations import driven_volts, transfer_matrix
from loomwright.laws.levels import STRONG_DRIVER, TYPICAL_DRIVER, WEAK_DRIVER, DriverSource, copper_ohm
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.loads import loads_of
from loomwright.solve.topology import LineTopology, Stop
from loomwright.terms.answer import Answer, Blocked, Solved


@dataclass(frozen=True, slots=True)
class ReceiverLevel:
    """Dominant differential level in V at one receiver: lowest of all drivers and corners, typical, highest.

    ``weakest`` is the port whose driver gives the lowest. No rule asks for the highest: ISO 11898-2:2016 lets a receiver see
    up to 8 V (``laws.levels.DOMINANT_INPUT``), and the strongest driver gives 4.5 V into no load at all.
    """

    stop: int
    port: str
    low_v: float
    typical_v: float
    high_v: float
    weakest: str


@dataclass(frozen=True, slots=True)
class LineLevels:
    """Levels of a line, by receiver in trunk order."""

    line: str
    receivers: tuple[ReceiverLevel, ...]


def line_levels(
    line: Line, components: Table[Component], cable: Cable, topology: LineTopology, ambient_k: tuple[float, float]
) -> Answer[LineLevels]:
    """Solve the DC network for every driver at its corners.

    Corners: weakest, typical and strongest driver that ISO 11898-2 permits; every termination and node resistance low,
    typical and high; the cable's copper at the coldest and hottest ambient. A port's own driver figures are not in
    the model. Blocked as the ohm-meter readings are.
    """
    loads = loads_of(line, components, cable, topology)
    if isinstance(loads, Blocked):
        return loads
    nodes, loop = topology.nodes, loads.value.loop_ohm_per_m
    siemens = loads.value.siemens(topology, nodes)
    speakers = [stop for stop in topology.stops if stop.port and not stop.repeated and is_node(components, stop)]
    # Copper between two nodes takes volts away from the one that listens, but unloads the one that drives, at its own
    # pins: neither end of its resistance gives the lowest or the highest level everywhere.
    coldest, hottest = copper_ohm(loop[0], ambient_k[0]), copper_ohm(loop[2], ambient_k[1])
    weak = [_levels(topology, nodes, siemens[0], ohm, speakers, WEAK_DRIVER) for ohm in (coldest, hottest)]
    strong = [_levels(topology, nodes, siemens[2], ohm, speakers, STRONG_DRIVER) for ohm in (coldest, hottest)]
    low, high = np.minimum(*weak), np.maximum(*strong)
    typical = _levels(topology, nodes, siemens[1], loop[1], speakers, TYPICAL_DRIVER)
    receivers = tuple(
        ReceiverLevel(
            stop.index,
            stop.port,
            float(low[:, column].min()),
            float(np.median(typical[:, column])),
            float(high[:, column].max()),
            speakers[int(low[:, column].argmin())].port,
        )
        for column, stop in enumerate(speakers)
    )
    return Solved(LineLevels(topology.line, receivers), loads.assumed)


def is_node(components: Table[Component], stop: Stop) -> bool:
    """Whether a stop drives and listens; a service plug is bare contacts."""
    return components[stop.component].role != "service plug"


def _levels(
    topology: LineTopology,
    nodes: int,
    siemens: NDArray[np.float64],
    loop_ohm_per_m: float,
    speakers: list[Stop],
    driver: DriverSource,
) -> NDArray[np.float64]:
    """Level in V of every driver (rows) at every receiver (columns)."""
    resistors = [(piece.start, piece.end, loop_ohm_per_m * piece.length_m) for piece in topology.pieces]
    matrix = transfer_matrix(nodes, resistors, siemens)
    tips = [stop.tip for stop in speakers]
    return np.array([driven_volts(matrix, tip, driver.volts, driver.ohm)[0, tips] for tip in tips])
