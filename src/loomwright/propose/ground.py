"""The places and runs that a plan may use: every run of known length that is no detour."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loomwright.model.vehicle import Vehicle
from loomwright.solve.ways import RunWays, run_ways

_EQUAL_M = 1e-9


@dataclass(frozen=True, eq=False, slots=True)
class Ground:
    """Places by number, edges between them (place, place, millimetres), and ways for branches.

    ``way_mm`` (places, places) is the length of the way a branch takes, infinite where none of known length leads.
    ``places`` are the numbers in use, ``spans`` the places that each edge passes, its ends included.
    """

    net: RunWays
    names: tuple[str, ...]
    edges: tuple[tuple[int, int, int], ...]
    way_mm: NDArray[np.float64]
    places: tuple[int, ...]
    spans: tuple[tuple[int, ...], ...]

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
    return Ground(net, names, edges, way_mm, tuple(range(len(names))), tuple(edge[:2] for edge in edges))


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


def contracted(ground: Ground, homes: frozenset[int]) -> Ground:
    """The same ground with fewer places, for trunks that stop at ``homes`` alone.

    A place between two edges becomes part of one longer edge, dead ends go, and of two edges between the same places
    the shorter one stays: no shortest walk needs more.
    """
    edges: dict[tuple[int, int], tuple[int, tuple[int, ...]]] = {}
    for (a, b, length), span in zip(ground.edges, ground.spans, strict=True):
        edges[a, b] = (length, span)
    while True:
        around: dict[int, list[tuple[int, int]]] = {}
        for pair in edges:
            for place in pair:
                around.setdefault(place, []).append(pair)
        loose = next((place for place in sorted(around) if place not in homes and len(around[place]) < 3), None)
        if loose is None:
            break
        joined = [edges.pop(pair) for pair in around[loose]]
        if len(joined) == 2:
            _put(edges, loose, *joined)
    places = tuple(sorted(homes | {place for pair in edges for place in pair}))
    pairs = sorted(edges)
    return replace(
        ground,
        edges=tuple((a, b, edges[a, b][0]) for a, b in pairs),
        places=places,
        spans=tuple(edges[pair][1] for pair in pairs),
    )


def _put(
    edges: dict[tuple[int, int], tuple[int, tuple[int, ...]]],
    middle: int,
    first: tuple[int, tuple[int, ...]],
    second: tuple[int, tuple[int, ...]],
) -> None:
    """Make one edge of two that meet in the middle, unless a shorter one is there."""
    before = first[1] if first[1][-1] == middle else first[1][::-1]
    after = second[1] if second[1][0] == middle else second[1][::-1]
    span, length = before + after[1:], first[0] + second[0]
    if span[0] > span[-1]:
        span = span[::-1]
    pair = (span[0], span[-1])
    if pair[0] != pair[1] and (pair not in edges or edges[pair][0] > length):
        edges[pair] = (length, span)
