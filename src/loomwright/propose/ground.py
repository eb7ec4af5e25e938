"""The places and runs that a plan may use: every run of known length that is no detour."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.model.vehicle import Vehicle
from loomwright.solve.ways import RunWays, run_ways

_EQUAL_M = 1e-9


@dataclass(frozen=True, eq=False, slots=True)
class Ground:
    """Places by number, edges between them (place, place, millimetres), and ways for branches.

    ``way_mm`` (places, places) is the length of the way a branch takes, infinite where none of known length leads.
    """

    net: RunWays
    names: tuple[str, ...]
    edges: tuple[tuple[int, int, int], ...]
    way_mm: NDArray[np.float64]

    def number(self, place: str) -> int:
        """The number of a place."""
        return self.names.index(place)


def ground_of(vehicle: Vehicle) -> Ground:
    """Leave out runs of unknown length, runs with a shorter way round, and dead ends where no component sits."""
    net = run_ways(vehicle.places, vehicle.runs)
    lengths: dict[tuple[str, str], float] = {}
    for name, run in vehicle.runs.items():
        a, b = sorted((run.start, run.end))
        if a == b or name in net.unknown:
            continue
        direct = net.ways.length(a, b)
        known = net.ways.edge_name[net.ways.index[a], net.ways.index[b]] == name
        if known and run.length_m.value <= direct + _EQUAL_M and not crosses_unknown(net, a, b):  # type: ignore[union-attr]
            lengths[a, b] = direct
    homes = {component.place for component in vehicle.components.values() if component.ports}
    lengths = _without_dead_ends(lengths, homes)
    names = tuple(sorted(homes | {place for pair in lengths for place in pair}))
    edges = tuple((names.index(a), names.index(b), round(1000 * length)) for (a, b), length in sorted(lengths.items()))
    way_mm = np.full((len(names), len(names)), np.inf)
    for i, a in enumerate(names):
        for k, b in enumerate(names):
            length = net.ways.length(a, b)
            if math.isfinite(length) and not crosses_unknown(net, a, b):
                way_mm[i, k] = round(1000 * length)
    return Ground(net, names, edges, way_mm)


def crosses_unknown(net: RunWays, start: str, end: str) -> bool:
    """Whether the shortest way takes a run of unknown length."""
    if not net.unknown:
        return False
    return any(run in net.unknown for run in net.ways.edges(net.ways.points(start, end)))


def _without_dead_ends(lengths: dict[tuple[str, str], float], homes: set[str]) -> dict[tuple[str, str], float]:
    while True:
        ends = [place for pair in lengths for place in pair]
        dead = {place for place in ends if ends.count(place) == 1 and place not in homes}
        if not dead:
            return lengths
        lengths = {pair: length for pair, length in lengths.items() if not dead & set(pair)}
