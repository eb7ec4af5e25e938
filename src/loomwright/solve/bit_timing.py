"""Which bit timing suits all nodes of a line, and if none does, which node is in the way?"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from loomwright.laws.bit_timing import CLASSICAL, usual_sample_point
from loomwright.laws.common_timing import CommonTiming, common_timing
from loomwright.laws.data_phase import (
    COMPENSATION_FROM,
    COMPENSATION_PRESCALER,
    FD_DATA,
    FD_NOMINAL,
    FD_NOMINAL_APART,
    Compensation,
    compensation,
)
from loomwright.laws.node_timing import Controller, Obstacle, Reason, Stated, Wanted
from loomwright.model.component import Component, Port
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.data_settling import DataSure, data_sure
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
DATA_LOWEST_POINT, DATA_HIGHEST_POINT = 0.60, 0.90
"""The same for the data phase, common practice: no published band was at hand."""


@dataclass(frozen=True, slots=True)
class DataTiming:
    """The data phase of an FD line: what its nodes have in common, or every reason why that is nothing.

    ``sample_point`` is ``None`` where nothing suits all, or nobody told anything. ``compensation`` is what each node that
    can be set needs as a sender, where the bit rate asks for it. ``untold`` as in ``LineTiming``. ``sample_s`` is the
    earliest sample point that is told or chosen, else the usual one, and ``sure`` when receivers are sure against it;
    empty where no waves were computed.
    """

    bit_s: float
    aim: float
    sample_point: float | None
    reasons: tuple[Reason, ...]
    compensation: tuple[tuple[str, Compensation], ...]
    untold: tuple[str, ...]
    sample_s: float
    sure: tuple[DataSure, ...]


@dataclass(frozen=True, slots=True)
class LineTiming:
    """The answer for one line: ``common`` is the timing, or ``None`` with every reason why there is none.

    ``untold`` are the ports that tell neither clock nor sample point: nothing was chosen for them, they have to be
    brought to the same sample point by whoever sets them. Without a single told node there is no timing and no reason.
    ``exact`` are the told ports whose oscillator nobody told the tolerance of: they were taken as exact.
    ``data`` is ``None`` on a classical line; where nothing suits all in the data phase, ``common`` is for the nominal
    phase alone.
    """

    line: str
    bit_s: float
    aim: float
    round_trip: RoundTrip
    common: CommonTiming | None
    reasons: tuple[Reason, ...]
    clocks_hz: tuple[tuple[str, float], ...]
    untold: tuple[str, ...]
    data: DataTiming | None = None
    exact: tuple[str, ...] = ()


def line_timing(
    line: Line, components: Table[Component], cable: Cable, topology: LineTopology, signal: Answer[LineSignal]
) -> Answer[LineTiming]:
    """Choose one sample point and each node's segments, so that every answer is back in time.

    A node with a known clock is set, within the registers of a classical controller (or an FD one on a line with FD
    frames); a node with a stated sample point is taken as it is. Where ``signal`` is solved the answer counts as back
    when its dominant edge has settled in the worst corner (an acknowledge and a lost arbitration are dominant bits;
    ringing of recessive edges is judged by itself), else when the cable has carried it. An oscillator whose tolerance nobody
    told is taken as exact, and is named. Blocked by an unknown bit rate, delay, clock or sample point; on a line with FD frames by an
    unknown data bit rate too.
    """
    fd = line.frames == "FD"
    facts = _Facts()
    rate = facts.value(line.bit_rate_bit_per_s, ("lines", topology.line, "bit_rate_bit_per_s"))
    _, usual_s_per_m, slow_s_per_m = facts.bounds(cable.delay_s_per_m, ("cables", line.cable, "delay_s_per_m"))
    stops = tuple(stop for stop in topology.stops if stop.port and not stop.repeated and is_node(components, stop))
    data_rate = None
    if fd:
        data_rate = facts.value(line.data_bit_rate_bit_per_s, ("lines", topology.line, "data_bit_rate_bit_per_s"))
    nodes: list[Controller | Stated] = []
    electronics: dict[str, float] = {}
    for stop in stops:
        port, path = port_of(components, stop.port), _path(stop.port)
        electronics[stop.port] = facts.highest(port.transceiver_delay_s, (*path, "transceiver_delay_s"))
        nodes += facts.nodes(stop.port, port, path, fd=fd)
    if facts.blocked or len(stops) < 2:
        return Blocked(tuple(dict.fromkeys(facts.blocked)))
    trip = slowest_round_trip(topology, stops, slow_s_per_m, tuple(electronics.values()), _settled(signal))
    aim = min(max(usual_sample_point(rate), LOWEST_POINT), HIGHEST_POINT)
    needed = min(trip.time_s, 1.0 / rate) if math.isfinite(trip.time_s) else 1.0 / rate
    wanted = Wanted(rate, needed, LOWEST_POINT, HIGHEST_POINT, aim)
    told = [node for node in nodes if isinstance(node, Controller) or node.sample_point is not None]
    common, reasons = _chosen(told, wanted)
    data: DataTiming | None = None
    if data_rate is not None:
        both, data = _data_phase(topology.line, nodes, wanted, data_rate, reasons, electronics)
        data = replace(data, sure=data_sure(topology, stops, usual_s_per_m, signal))
        common = both if common is not None and both is not None else common
    clocks = tuple((node.name, node.clock_hz) for node in nodes if isinstance(node, Controller))
    untold = tuple(port for port in electronics if port not in {node.name for node in told})
    speaking = [node.name for node in nodes]
    exact = tuple(port for port in speaking if port_of(components, port).oscillator_tolerance is None)
    timing = LineTiming(topology.line, 1.0 / rate, aim, trip, common, reasons, clocks, untold, data, exact)
    return Solved(timing, tuple(dict.fromkeys(facts.assumed)))


def sampled(signal: Answer[LineSignal], timing: Answer[LineTiming]) -> Answer[LineSignal]:
    """The signal held against the sample point that the timing sets, where that comes before the one of stated facts."""
    if isinstance(signal, Blocked) or isinstance(timing, Blocked):
        return signal
    point = None if timing.value.common is None else timing.value.common.sample_point
    set_s = math.inf if point is None else point * timing.value.bit_s
    if set_s >= signal.value.sample_s:
        return signal
    assumed = tuple(dict.fromkeys((*signal.assumed, *timing.assumed)))
    return Solved(replace(signal.value, sample_s=set_s), assumed)


def _chosen(nodes: list[Controller | Stated], wanted: Wanted) -> tuple[CommonTiming | None, tuple[Reason, ...]]:
    found = common_timing(nodes, wanted)
    if isinstance(found, CommonTiming):
        return found, ()
    return None, found


def _data_phase(
    line: str,
    nodes: list[Controller | Stated],
    nominal: Wanted,
    rate: float,
    known: tuple[Reason, ...],
    electronics: dict[str, float],
) -> tuple[CommonTiming | None, DataTiming]:
    """Both phases at once; ``known`` are the reasons against the nominal phase alone, which are told there."""
    compensated = rate >= COMPENSATION_FROM.value
    wanted = replace(
        nominal,
        data_bit_rate_bit_per_s=rate,
        data_low=DATA_LOWEST_POINT,
        data_high=DATA_HIGHEST_POINT,
        data_aim=min(max(usual_sample_point(rate), DATA_LOWEST_POINT), DATA_HIGHEST_POINT),
        data_prescaler=int(COMPENSATION_PRESCALER.value) if compensated else FD_DATA.prescaler[1],
    )
    both, found = _chosen(nodes, wanted)
    reasons = tuple(reason for reason in found if reason not in known)
    if rate < wanted.bit_rate_bit_per_s:
        slower = Reason(Obstacle.SLOWER, (f"line {line}",), rate, wanted.bit_rate_bit_per_s)
        both, reasons = None, (slower, *reasons)
    clocks = {node.name: node.clock_hz for node in nodes if isinstance(node, Controller)}
    delays = tuple(
        (node.name, compensation(node.data, clocks[node.name], electronics[node.name]))
        for node in (both.nodes if both is not None and compensated else ())
        if node.data is not None
    )
    told = {node.name for node in nodes if isinstance(node, Controller) or node.data_sample_point is not None}
    untold = tuple(port for port in electronics if port not in told)
    point = None if both is None else both.data_sample_point
    parts = nodes if both is None else both.nodes
    points = [
        part.data_sample_point
        for part in parts
        if not isinstance(part, Controller) and part.data_sample_point is not None
    ]
    sample_s = min(points, default=wanted.data_aim) / rate
    return both, DataTiming(1.0 / rate, wanted.data_aim, point, reasons, delays, untold, sample_s, ())


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

    def nodes(self, name: str, port: Port, path: Path, *, fd: bool) -> Iterator[Controller | Stated]:
        """What is told of a port's timing, if anything is; of the data phase on an FD line alone."""
        tolerance = port.oscillator_tolerance
        off = 0.0 if tolerance is None else self.highest(tolerance, (*path, "oscillator_tolerance"))
        if port.clock_hz is not None:
            clock = self.value(port.clock_hz, (*path, "clock_hz"))
            if fd:
                yield Controller(name, clock, FD_NOMINAL, FD_DATA, off, FD_NOMINAL_APART)
            else:
                yield Controller(name, clock, CLASSICAL, tolerance=off)
            return
        point = data_point = None
        if port.sample_point is not None:
            point = self.value(port.sample_point, (*path, "sample_point"))
        if fd and port.data_sample_point is not None:
            data_point = self.value(port.data_sample_point, (*path, "data_sample_point"))
        if point is not None or data_point is not None:
            yield Stated(name, point, off, data_point)
