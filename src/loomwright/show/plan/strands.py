"""Which lines lie side by side on a run, and in which order, as on a city's transport map."""

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from loomwright.show.svg import Point
from loomwright.solve.topology import LineTopology

Edge = tuple[str, str]
Leg = tuple[int, int]
"""Number of the strand and of its step from one place to the next."""

ROUNDS = 4


@dataclass(frozen=True, slots=True)
class Strand:
    """One cable as drawn: a trunk, or a branch of ``stop``. ``stops`` tells at which of its places each stop joins."""

    line: str
    hue: int
    kind: str
    places: tuple[str, ...]
    stop: int = -1
    stops: tuple[tuple[int, int], ...] = ()


def strands_of(name: str, hue: int, topology: LineTopology, spots: Mapping[str, Point]) -> tuple[Strand, ...]:
    """The trunk and the branches of a line. Places that fall together on the sheet count as one."""
    walk: list[str] = []
    stops: dict[int, int] = {}
    branches = []
    ends_at_tip = {stop.index for stop in topology.stops if stop.tip != stop.joint}
    for piece in topology.pieces:
        own_stub = piece.stop in ends_at_tip and piece.end == topology.stops[piece.stop].tip
        if piece.kind != "trunk":
            places = _apart(piece.places, spots)
            branches.append(Strand(name, hue, "branch", places, piece.stop))
            continue
        if own_stub and piece.stop == 0:
            walk = list(_apart(piece.places[::-1], spots))
        else:
            walk = list(_apart((*walk, *piece.places), spots))
        if not own_stub or piece.stop == 0:
            stops[piece.stop] = len(walk) - 1
    if not walk and topology.stops:
        walk = [topology.stops[0].joint_place]
    # A first stop whose trunk begins at its joint has no piece of its own.
    if topology.stops:
        stops.setdefault(0, 0)
    return (Strand(name, hue, "trunk", tuple(walk), -1, tuple(sorted(stops.items()))), *branches)


def _apart(places: tuple[str, ...], spots: Mapping[str, Point]) -> tuple[str, ...]:
    kept: list[str] = []
    for place in places:
        if not kept or (place != kept[-1] and math.dist(spots[place], spots[kept[-1]]) > 0.5):
            kept.append(place)
    return tuple(kept)


def edge_of(start: str, end: str, spots: Mapping[str, Point]) -> Edge:
    """The run between two places, always in the same direction: left to right on the sheet."""
    return (start, end) if (spots[start], start) <= (spots[end], end) else (end, start)


def slots(strands: tuple[Strand, ...], spots: Mapping[str, Point]) -> dict[Leg, float]:
    """For every step of every strand its place across the run, in strand widths from the middle.

    Order: as the lines are listed; then neighbours change places as long as fewer strands cross at the ends of the run.
    """
    lanes: dict[Edge, list[Leg]] = defaultdict(list)
    for number, strand in enumerate(strands):
        for step in range(len(strand.places) - 1):
            lanes[edge_of(strand.places[step], strand.places[step + 1], spots)].append((number, step))
    ordering = _Ordering(strands, spots, lanes)
    for _ in range(ROUNDS):
        if sum(ordering.improve(edge) for edge in lanes) == 0:  # every run gets its turn
            break
    return {leg: slot - (len(lane) - 1) / 2 for lane in lanes.values() for slot, leg in enumerate(lane)}


class _Ordering:
    """Counts crossings at both ends of a run and swaps neighbours that would cross less."""

    def __init__(self, strands: tuple[Strand, ...], spots: Mapping[str, Point], lanes: dict[Edge, list[Leg]]) -> None:
        self.strands, self.spots, self.lanes = strands, spots, lanes

    def improve(self, edge: Edge) -> bool:
        """Bubble once through a run."""
        lane, better = self.lanes[edge], False
        for index in range(len(lane) - 1):
            before = self.crossings(edge, lane[index], lane[index + 1])
            lane[index], lane[index + 1] = lane[index + 1], lane[index]
            if self.crossings(edge, lane[index], lane[index + 1]) < before:
                better = True
            else:
                lane[index], lane[index + 1] = lane[index + 1], lane[index]
        return better

    def crossings(self, edge: Edge, upper: Leg, lower: Leg) -> int:
        """How often two neighbours, the first one left of the second when looking along the run, cross at its ends."""
        return sum(self._cross(edge, node, upper, lower) for node in edge)

    def _cross(self, edge: Edge, node: str, first: Leg, second: Leg) -> bool:
        """Looking out of the run at ``node``: does the strand on the left have to pass to the right?"""
        after, beyond = self._onward(first, node), self._onward(second, node)
        if after is None or beyond is None or after == second or beyond == first:
            return False
        forward = node == edge[1]
        after, beyond = (after, beyond) if forward else (beyond, after)
        heading = self._heading(edge[0] if forward else edge[1], node)
        edges = self._edge(after), self._edge(beyond)
        if edge in edges:
            return False
        if edges[0] != edges[1]:
            turns = [self._turn(heading, node, leg) for leg in (after, beyond)]
            return turns[0] < turns[1]
        lane = self.lanes[edges[0]]
        same_way = edges[0][0] == node
        return (lane.index(after) > lane.index(beyond)) is same_way

    def _onward(self, leg: Leg, node: str) -> Leg | None:
        number, step = leg
        places = self.strands[number].places
        onward = step + 1 if places[step + 1] == node else step - 1
        return (number, onward) if 0 <= onward < len(places) - 1 else None

    def _edge(self, leg: Leg) -> Edge:
        places = self.strands[leg[0]].places
        return edge_of(places[leg[1]], places[leg[1] + 1], self.spots)

    def _heading(self, start: str, end: str) -> float:
        (a, b), (c, d) = self.spots[start], self.spots[end]
        return math.atan2(d - b, c - a)

    def _turn(self, heading: float, node: str, leg: Leg) -> float:
        """Turn to the left (as seen on the sheet) that a strand makes at a node, from -pi to pi."""
        edge = self._edge(leg)
        other = edge[1] if edge[0] == node else edge[0]
        return -((self._heading(node, other) - heading + math.pi) % (2 * math.pi) - math.pi)
