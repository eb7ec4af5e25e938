"""Where does a bit's edge come back from, how strong and how late?"""

import heapq
import math
from dataclasses import dataclass
from enum import StrEnum

from loomwright.engines.node_equations import JOINED_OHM, merged
from loomwright.solve.signal_parts import SignalParts
from loomwright.solve.topology import Stop

LEAST = 0.02
"""Echoes weaker than this share of the edge are left out."""
LOADED_S = 1e-3
"""A node with more than this is terminated there; input resistances are far below."""
FITS = 0.1
"""An end that sends back less than this share counts as terminated as it should be."""


class Spot(StrEnum):
    """What an edge meets."""

    FOOT = "foot of a branch"
    TIP = "end of a branch"
    END = "end of the trunk"
    TERMINATION = "termination on the way"
    TORN = "torn trunk"


@dataclass(frozen=True, slots=True)
class Mismatch:
    """A place that sends back a share ``reflection`` of every edge that reaches it; negative: turned over.

    ``length_m`` is the branch that hangs there. ``ohm`` is what an end stands on, infinite where nothing does. Where the
    trunk is torn, ``stop`` is the one that the torn piece led to.
    """

    node: int
    stop: int
    spot: Spot
    reflection: float
    length_m: float
    ohm: float


@dataclass(frozen=True, slots=True)
class Echo:
    """One echo of the first order as a receiver hears it: ``late_s`` after the edge itself, ``share`` of its height."""

    mismatch: Mismatch
    at_s: float
    late_s: float
    share: float


def mismatches(parts: SignalParts) -> tuple[Mismatch, ...]:
    """Every place of the line where a wave does not find the cable's impedance, from the first end to the last.

    Typical resistances alone: what a node's capacitance sends back is short and left out here.
    """
    joined = _Joined(parts)
    found = []
    for node, stop in joined.stops.items():
        lines, siemens = len(joined.away.get(node, ())), joined.siemens[node]
        reflection = joined.reflection(node)
        if not lines or abs(reflection) < LEAST:
            continue
        spot = _spot(joined, stop, node)
        ohm = 1.0 / siemens if siemens > 0.0 else math.inf
        found.append(Mismatch(node, stop.index, spot, reflection, stop.branch_m, ohm))
    found += [
        Mismatch(node, piece.stop, Spot.TORN, joined.reflection(node), 0.0, math.inf)
        for piece in parts.topology.pieces
        for node in (joined.number[piece.start], joined.number[piece.end])
        if piece.length_m > 0.0 and len(joined.away[node]) == 1 and node not in joined.stops
    ]
    return tuple(sorted(found, key=lambda item: (item.stop, item.node)))


def echoes(parts: SignalParts, sender: str, receiver: str) -> tuple[Echo, ...]:
    """Echoes of one sender's edge at one receiver, the earliest first.

    Of the first order: once back from one place, everything else passed through; none where no cable joins the two.
    ``at_s`` counts from the start of the sender's edge. The receiver's and sender's own pins are left out: they shape the edge itself.
    """
    joined = _Joined(parts)
    tips = {stop.port: joined.number[stop.tip] for stop in parts.stops}
    start, end = tips[sender], tips[receiver]
    there, back = joined.ways_from(start), joined.ways_from(end)
    if end not in there:
        return ()
    direct_m, direct = there[end]
    delay = parts.delay_s_per_m[1]
    found = []
    for mismatch in mismatches(parts):
        node = mismatch.node
        if node in (start, end) or node not in there or node not in back:
            continue
        detour_m = there[node][0] + back[node][0] - direct_m
        if detour_m < 1e-6:
            continue  # it lies on the way: the edge goes through it
        share = there[node][1] * mismatch.reflection * back[node][1] / direct
        if abs(share) >= LEAST:
            found.append(Echo(mismatch, (direct_m + detour_m) * delay, detour_m * delay, share))
    return tuple(sorted(found, key=lambda echo: echo.at_s))


class _Joined:
    """The line's nodes with those made one that no cable lies between. ``away``: from a node to (node, metres)."""

    def __init__(self, parts: SignalParts) -> None:
        wired = parts.topology
        joints = [(piece.start, piece.end, JOINED_OHM / 2) for piece in wired.pieces if piece.length_m <= 0.0]
        self.number = [int(node) for node in merged(wired.nodes, joints)]
        self.impedance_ohm = parts.impedance_ohm[1]
        self.siemens = [0.0] * (max(self.number, default=-1) + 1)
        for node, value in enumerate(parts.loads.siemens(wired, wired.nodes)[1]):
            self.siemens[self.number[node]] += float(value)
        self.away: dict[int, list[tuple[int, float]]] = {}
        self.trunks: dict[int, int] = {}
        for piece in wired.pieces:
            if piece.length_m > 0.0:
                start, end = self.number[piece.start], self.number[piece.end]
                self.away.setdefault(start, []).append((end, piece.length_m))
                self.away.setdefault(end, []).append((start, piece.length_m))
                for node in (start, end) if piece.kind == "trunk" else ():
                    self.trunks[node] = self.trunks.get(node, 0) + 1
        self.stops = self._stops(wired.stops)

    def reflection(self, node: int) -> float:
        """Of a wave that arrives on one of the node's lines: (Y0 - Y)/(Y0 + Y), Y being all else that hangs there."""
        own = 1.0 / self.impedance_ohm
        rest = (len(self.away.get(node, ())) - 1) * own + self.siemens[node]
        return (own - rest) / (own + rest)

    def ways_from(self, start: int) -> dict[int, tuple[float, float]]:
        """Cable to every node in metres, and the share of an edge that comes as far as it, by the shortest way."""
        found: dict[int, tuple[float, float]] = {}
        ahead: list[tuple[float, int, float]] = [(0.0, start, 1.0)]
        while ahead:
            length_m, node, share = heapq.heappop(ahead)
            if node in found:
                continue
            found[node] = length_m, share
            passed = share if node == start else share * (1.0 + self.reflection(node))
            for other, piece_m in self.away.get(node, ()):
                if other not in found:
                    heapq.heappush(ahead, (length_m + piece_m, other, passed))
        return found

    def _stops(self, stops: tuple[Stop, ...]) -> dict[int, Stop]:
        """The stop by which a node is called: whose pins it is, else one that terminates there, else who joins."""
        found: dict[int, Stop] = {}
        own = [stop for stop in stops if not stop.repeated]
        for stop in sorted(own, key=lambda stop: -stop.branch_m):
            found.setdefault(self.number[stop.joint], stop)
        for stop in own:
            if stop.tip != stop.joint or stop.termination == "on":
                found[self.number[stop.tip]] = stop
        return found


def _spot(joined: "_Joined", stop: Stop, node: int) -> Spot:
    """What stands at a node. A branch on which the trunk ends is the trunk's end; with a termination it is none."""
    foot = joined.number[stop.joint]
    trunks, loaded = joined.trunks.get(foot, 0), joined.siemens[foot] > LOADED_S
    if node != foot:
        return Spot.END if trunks <= 1 and not loaded else Spot.TIP
    if trunks >= 2:
        return Spot.TERMINATION if loaded or stop.termination == "on" else Spot.FOOT
    own = 1.0 / joined.impedance_ohm
    fits = abs(own - joined.siemens[foot]) / (own + joined.siemens[foot]) < FITS
    return Spot.FOOT if loaded and fits else Spot.END
