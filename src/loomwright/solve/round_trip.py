"""How long is the way there and back between the two nodes farthest from each other?"""

import heapq
import math
from collections.abc import Callable
from dataclasses import dataclass

from loomwright.laws.bit_timing import round_trip_s
from loomwright.solve.topology import LineTopology, Stop


@dataclass(frozen=True, slots=True)
class RoundTrip:
    """The slowest pair: their ports, the cable between their pins in metres, and the time there and back in s."""

    asking: str
    answering: str
    length_m: float
    time_s: float


def distances_m(topology: LineTopology, start: int) -> list[float]:
    """Cable from one node to every node along the shortest way, in metres; infinite where nothing leads."""
    away: list[list[tuple[int, float]]] = [[] for _ in range(topology.nodes)]
    for piece in topology.pieces:
        away[piece.start].append((piece.end, piece.length_m))
        away[piece.end].append((piece.start, piece.length_m))
    found = [math.inf] * topology.nodes
    found[start] = 0.0
    open_ends = [(0.0, start)]
    while open_ends:
        here_m, node = heapq.heappop(open_ends)
        if here_m > found[node]:
            continue
        for other, length_m in away[node]:
            if here_m + length_m < found[other]:
                found[other] = here_m + length_m
                heapq.heappush(open_ends, (found[other], other))
    return found


def slowest_round_trip(
    topology: LineTopology,
    stops: tuple[Stop, ...],
    delay_s_per_m: float,
    electronics_s: tuple[float, ...],
    answer_s: Callable[[str, str], float] | None = None,
) -> RoundTrip:
    """The pair whose question and answer take longest; ``electronics_s`` is each stop's transceiver, in order.

    There by cable delay. Back by ``answer_s(sender, receiver)``, the time until the answer has settled, or by cable
    delay too where no waveform was computed. Needs two stops.
    """
    best: RoundTrip | None = None
    for row, asking in enumerate(stops):
        away = distances_m(topology, asking.tip)
        for column, answering in enumerate(stops):
            if row == column:
                continue
            length_m = away[answering.tip]
            there_s = length_m * delay_s_per_m
            back_s = there_s if answer_s is None else answer_s(answering.port, asking.port)
            time_s = round_trip_s(there_s, back_s, electronics_s[row], electronics_s[column])
            if best is None or time_s > best.time_s:
                best = RoundTrip(asking.port, answering.port, length_m, time_s)
    assert best is not None, "a way there and back needs two nodes"
    return best
