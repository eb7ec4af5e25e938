"""What level does every receiver see from every driver, and how far may their grounds be apart?"""

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
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Unknown, bounds_of

LEAKAGE_V = 0.1
"""A recessive line is pulled this far from zero at the most: device limit of the TTControl D-156-G-02-001 manual, p. 28."""


@dataclass(frozen=True, slots=True)
class ReceiverLevel:
    """Dominant differential level in V at one receiver: lowest of all drivers and corners, typical, highest.

    ``weakest`` is the port whose driver gives the lowest.
    """

    stop: int
    port: str
    low_v: float
    typical_v: float
    high_v: float
    weakest: str


@dataclass(frozen=True, slots=True)
class LineLevels:
    """Levels of a line. ``offset_v`` is the largest difference of stated grounds; ``offsets`` the two ports."""

    line: str
    receivers: tuple[ReceiverLevel, ...]
    recessive_v: float
    offset_v: float | None
    offsets: tuple[str, str] | None
    unstated: tuple[str, ...]


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
    assumed = list(loads.assumed)
    nodes, loop = topology.nodes, loads.value.loop_ohm_per_m
    siemens = loads.value.siemens(topology, nodes)
    speakers = [stop for stop in topology.stops if stop.port and not stop.repeated and is_node(components, stop)]
    low = _levels(topology, nodes, siemens[0], copper_ohm(loop[2], ambient_k[1]), speakers, WEAK_DRIVER)
    low = np.minimum(
        low, _levels(topology, nodes, siemens[0], copper_ohm(loop[0], ambient_k[0]), speakers, WEAK_DRIVER)
    )
    typical = _levels(topology, nodes, siemens[1], loop[1], speakers, TYPICAL_DRIVER)
    high = _levels(topology, nodes, siemens[2], copper_ohm(loop[0], ambient_k[0]), speakers, STRONG_DRIVER)
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
    offset_v, pair, unstated, guessed = _offsets(components, speakers)
    levels = LineLevels(topology.line, receivers, LEAKAGE_V, offset_v, pair, unstated)
    return Solved(levels, tuple(dict.fromkeys((*assumed, *guessed))))


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


def _offsets(
    components: Table[Component], speakers: list[Stop]
) -> tuple[float | None, tuple[str, str] | None, tuple[str, ...], tuple[Path, ...]]:
    """Largest difference of the stated grounds, between whom, who states none, and what is assumed."""
    stated: list[tuple[float, float, str]] = []
    unstated: list[str] = []
    assumed: list[Path] = []
    for stop in speakers:
        fact = components[stop.component].ground_offset_v
        if fact is None or isinstance(fact, Unknown):
            unstated.append(stop.component)
            continue
        if isinstance(fact, Assumed):
            assumed.append(("components", stop.component, "ground_offset_v"))
        low, _, high = bounds_of(fact)
        stated.append((low, high, stop.component))
    if not stated:
        return None, None, tuple(unstated), ()
    highest, lowest = max(stated, key=lambda item: item[1]), min(stated, key=lambda item: item[0])
    return highest[1] - lowest[0], (highest[2], lowest[2]), tuple(unstated), tuple(assumed)
