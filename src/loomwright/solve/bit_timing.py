"""Which bit timing suits all nodes of a line, and if none does, which node is in the way?"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from loomwright.laws.bit_timing import CLASSICAL, FD_NOMINAL, usual_sample_point
from loomwright.laws.common_timing import CommonTiming, Controller, Reason, Stated, Wanted, common_timing
from loomwright.model.component import Component, Port
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.facts import Facts
from loomwright.solve.levels import is_node
from loomwright.solve.round_trip import RoundTrip, slowest_round_trip
from loomwright.solve.signal import LineSignal
from loomwright.solve.topology import LineTopology, port_of
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Fact

LOWEST_POINT, HIGHEST_POINT = 0.75, 0.90
"""Sample points worth setting at any bit rate, common practice: the widest band that CiA gives for one."""


@dataclass(frozen=True, slots=True)
class LineTiming:
    """The answer for one line: ``common`` is the timing, or ``None`` with every reason why there is none.

    ``untold`` are the ports that tell neither clock nor sample point: nothing was chosen for them, they have to be
    brought to the same sample point by whoever sets them. Without a single told node there is no timing and no reason.
    """

    line: str
    bit_s: float
    aim: float
    round_trip: RoundTrip
    common: CommonTiming | None
    reasons: tuple[Reason, ...]
    clocks_hz: tuple[tuple[str, float], ...]
    untold: tuple[str, ...]


def line_timing(
    line: Line, components: Table[Component], cable: Cable, topology: LineTopology, signal: Answer[LineSignal]
) -> Answer[LineTiming]:
    """Choose one sample point and each node's segments, so that every answer is back in time.

    A node with a known clock is set, within the registers of a classical controller (or an FD one on a line with FD
    frames); a node with a stated sample point is taken as it is. Where ``signal`` is solved the answer counts as back
    when its dominant edge has settled in the worst corner (an acknowledge and a lost arbitration are dominant bits;
    ringing of recessive edges is judged by itself), else when the cable has carried it. An oscillator whose tolerance nobody
    told is taken as exact. Blocked by an unknown bit rate, delay, clock or sample point.
    """
    facts = _Facts()
    rate = facts.value(line.bit_rate_bit_per_s, ("lines", topology.line, "bit_rate_bit_per_s"))
    delay = facts.value(cable.delay_s_per_m, ("cables", line.cable, "delay_s_per_m"))
    stops = tuple(stop for stop in topology.stops if stop.port and not stop.repeated and is_node(components, stop))
    nodes: list[Controller | Stated] = []
    electronics: list[float] = []
    untold: list[str] = []
    for stop in stops:
        port, path = port_of(components, stop.port), _path(stop.port)
        electronics.append(facts.highest(port.transceiver_delay_s, (*path, "transceiver_delay_s")))
        node = facts.node(stop.port, port, path, fd=line.frames == "FD")
        if node is None:
            untold.append(stop.port)
        else:
            nodes.append(node)
    if facts.blocked or len(stops) < 2:
        return Blocked(tuple(dict.fromkeys(facts.blocked)))
    trip = slowest_round_trip(topology, stops, delay, tuple(electronics), _settled(signal))
    aim = min(max(usual_sample_point(rate), LOWEST_POINT), HIGHEST_POINT)
    common: CommonTiming | None = None
    reasons: tuple[Reason, ...] = ()
    if nodes:
        needed = min(trip.time_s, 1.0 / rate) if math.isfinite(trip.time_s) else 1.0 / rate
        found = common_timing(nodes, Wanted(rate, needed, LOWEST_POINT, HIGHEST_POINT, aim))
        common, reasons = (found, ()) if isinstance(found, CommonTiming) else (None, found)
    clocks = tuple((node.name, node.clock_hz) for node in nodes if isinstance(node, Controller))
    timing = LineTiming(topology.line, 1.0 / rate, aim, trip, common, reasons, clocks, tuple(untold))
    return Solved(timing, tuple(dict.fromkeys(facts.assumed)))


def _settled(signal: Answer[LineSignal]) -> Callable[[str, str], float] | None:
    if isinstance(signal, Blocked):
        return None
    dominant = {(pair.sender, pair.receiver): pair.dominant_s for pair in signal.value.pairs}
    return lambda sender, receiver: dominant[sender, receiver]


def _path(address: str) -> Path:
    component, _, port = address.partition(".")
    return ("components", component, "ports", port)


class _Facts(Facts):
    """Reads facts of a port's timing."""

    def value(self, fact: Fact[float], path: Path) -> float:
        return self.bounds(fact, path)[1]

    def highest(self, fact: Fact[float], path: Path) -> float:
        return self.bounds(fact, path)[2]

    def node(self, name: str, port: Port, path: Path, *, fd: bool) -> Controller | Stated | None:
        """What is told of a port's timing; ``None`` where nothing is."""
        tolerance = port.oscillator_tolerance
        off = 0.0 if tolerance is None else self.highest(tolerance, (*path, "oscillator_tolerance"))
        if port.clock_hz is not None:
            clock = self.value(port.clock_hz, (*path, "clock_hz"))
            return Controller(name, clock, FD_NOMINAL if fd else CLASSICAL, tolerance=off)
        if port.sample_point is not None:
            return Stated(name, self.value(port.sample_point, (*path, "sample_point")), off)
        return None
