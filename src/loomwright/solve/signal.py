"""Will the bits arrive: when is every receiver sure of every bit, whoever sends it?"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from loomwright.engines.wave_lanes import Drivers, Pattern, Thresholds
from loomwright.engines.wave_network import Line as WaveLine
from loomwright.engines.wave_network import Network, fitting_step
from loomwright.engines.waves import STEP_S, Settling, joined, settling_jobs, simulate
from loomwright.laws.bit_timing import usual_sample_point
from loomwright.laws.levels import (
    DOMINANT_THRESHOLD,
    RECESSIVE_THRESHOLD,
    STRONG_DRIVER,
    TYPICAL_DRIVER,
    WEAK_DRIVER,
)
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.levels import is_node
from loomwright.solve.loads import CORNERS, LineLoads, loads_of
from loomwright.solve.topology import LineTopology, Stop, port_of
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Unknown, bounds_of

EDGE_S = 20e-9
"""Time in which a driver's conductance goes up or down; common practice for a fast transceiver, and no part's promise."""

THRESHOLDS = Thresholds(DOMINANT_THRESHOLD.value, RECESSIVE_THRESHOLD.value)

#: (driver, index of the resistances, index of the capacitances): typical first, then what makes edges late or ringing.
_DRAWS = (
    (TYPICAL_DRIVER, 1, 1),
    (WEAK_DRIVER, 0, 2),
    (WEAK_DRIVER, 2, 2),
    (STRONG_DRIVER, 0, 2),
    (STRONG_DRIVER, 2, 2),
    (STRONG_DRIVER, 2, 0),
)


@dataclass(frozen=True, slots=True)
class PairSignal:
    """What one receiver sees of one sender, in s from the start of the sender's edge.

    ``dominant_s`` and ``recessive_s`` are the worst of all corners, ``typical_s`` the later of the two at typical
    values. Infinite where the bit ends before the level is sure. ``nearest_v`` is how near a turn of the waveform
    comes to a threshold: where it is small, the figure hangs on millivolts.
    """

    sender: str
    receiver: str
    dominant_s: float
    recessive_s: float
    typical_s: float
    nearest_v: float
    ringing_v: float

    @property
    def settle_s(self) -> float:
        """The later of the two."""
        return max(self.dominant_s, self.recessive_s)


@dataclass(frozen=True, slots=True)
class LineSignal:
    """Every pair of a line against the time of the sample point.

    ``sample_s`` is the earliest sample point of the line's nodes, ``electronics_s`` the transceivers' delay, which is
    spent out of it too. ``rounding_m`` is the most that a piece of cable was rounded for the time grid.
    """

    line: str
    bit_s: float
    sample_s: float
    electronics_s: float
    step_s: float
    rounding_m: float
    pairs: tuple[PairSignal, ...]

    def margin_s(self, pair: PairSignal) -> float:
        """Time left between the pair being sure and the sample point; negative where the sample comes first."""
        return self.sample_s - self.electronics_s - pair.settle_s

    @property
    def worst(self) -> PairSignal:
        """The pair with the least margin."""
        return max(self.pairs, key=lambda pair: pair.settle_s)

    def at(self, port: str) -> PairSignal:
        """The worst sender as one receiver sees it."""
        return max((pair for pair in self.pairs if pair.receiver == port), key=lambda pair: pair.settle_s)


@dataclass(frozen=True, slots=True)
class Trace:
    """Voltages of one pair over a dominant and a recessive bit at typical values; times in s from the dominant edge."""

    sender: str
    receiver: str
    time_s: tuple[float, ...]
    volts: tuple[float, ...]
    sample_s: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Setup:
    """A line made ready for the wave engine."""

    network: Network
    drivers: Drivers
    pattern: Pattern
    step_s: float
    stops: tuple[Stop, ...]
    sample_s: float
    electronics_s: float
    assumed: tuple[Path, ...]


def line_signal(
    line: Line,
    components: Table[Component],
    cable: Cable,
    topology: LineTopology,
    *,
    progress: Callable[[int, int], bool] | None = None,
) -> Answer[LineSignal]:
    """Send a dominant and a recessive bit from every node in turn and watch all others, at every corner.

    The differential circuit alone: lossless line with series copper resistance, drivers as switched conductance with
    edges of ``EDGE_S``, nodes as resistance and capacitance. Skin effect, common mode, and a real driver's clamping
    and shaping are left out. ``progress`` hears (done, all) and stops the work by returning false; then ``Blocked``
    is answered with no path. Blocked by an unknown bit rate, delay, impedance, capacitance or load.
    """
    setup = _ready(line, components, cable, topology, corners=True)
    if isinstance(setup, Blocked):
        return setup
    jobs = settling_jobs(
        setup.network, setup.drivers, setup.pattern, setup.step_s, tuple(stop.tip for stop in setup.stops), THRESHOLDS
    )
    parts: list[Settling] = []
    for number, job in enumerate(jobs):
        if progress is not None and not progress(number, len(jobs)):
            return Blocked(())
        parts.append(job())
    return Solved(_signal(topology, setup, joined(parts)), setup.assumed)


def trace(
    line: Line, components: Table[Component], cable: Cable, topology: LineTopology, sender: str, receiver: str
) -> Answer[Trace]:
    """The waveform of one pair at typical values, every nanosecond or so. Same model and blocks as ``line_signal``."""
    setup = _ready(line, components, cable, topology, corners=False)
    if isinstance(setup, Blocked):
        return setup
    tips = {stop.port: stop.tip for stop in setup.stops}
    drivers = Drivers((tips[sender],), TYPICAL_DRIVER.volts, TYPICAL_DRIVER.ohm, EDGE_S, EDGE_S)
    every = max(1, round(1e-9 / setup.step_s))
    waves = simulate(setup.network, drivers, setup.pattern, setup.step_s, (tips[receiver],), every)
    start_s = setup.pattern.start_s
    time_s = tuple(float(value) for value in waves.time_s[0] - start_s)
    volts = tuple(float(value) for value in waves.volts[0, 0, 0])
    sample = setup.sample_s - setup.electronics_s
    return Solved(Trace(sender, receiver, time_s, volts, (sample, setup.pattern.bit_s + sample)), setup.assumed)


def _ready(
    line: Line, components: Table[Component], cable: Cable, topology: LineTopology, *, corners: bool
) -> _Setup | Blocked:
    loads = loads_of(line, components, cable, topology)
    facts = _Facts()
    own: Path = ("lines", topology.line)
    rate = facts.typical(line.bit_rate_bit_per_s, (*own, "bit_rate_bit_per_s"), 1e6)
    delay = facts.typical(cable.delay_s_per_m, ("cables", line.cable, "delay_s_per_m"), 5e-9)
    impedance = facts.typical(cable.impedance_ohm, ("cables", line.cable, "impedance_ohm"), 120.0)
    stops = tuple(stop for stop in topology.stops if stop.port and not stop.repeated and is_node(components, stop))
    capacitance = np.zeros((CORNERS, topology.nodes))
    points, delays = [], []
    for stop in stops:
        port, path = port_of(components, stop.port), _port_path(stop.port)
        capacitance[:, stop.tip] += facts.bounds(port.node_capacitance_f, (*path, "node_capacitance_f"))
        delays.append(facts.bounds(port.transceiver_delay_s, (*path, "transceiver_delay_s"))[2])
        if port.sample_point is not None:
            points.append(facts.bounds(port.sample_point, (*path, "sample_point"))[0])
    if isinstance(loads, Blocked) or facts.blocked:
        return Blocked(tuple(dict.fromkeys((*(loads.by if isinstance(loads, Blocked) else ()), *facts.blocked))))
    if len(stops) < 2:
        return Blocked(())
    share = min(points, default=usual_sample_point(rate))
    draws = _DRAWS if corners else _DRAWS[:1]
    step_s = fitting_step([piece.length_m * delay for piece in topology.pieces if piece.length_m > 0.0], STEP_S)
    assumed = (*loads.assumed, *facts.assumed)
    return _Setup(
        _network(topology, loads.value, capacitance, (delay, impedance), draws),
        Drivers(
            tuple(stop.tip for stop in stops),
            np.array([[driver.volts] for driver, _, _ in draws]),
            np.array([[driver.ohm] for driver, _, _ in draws]),
            EDGE_S,
            EDGE_S,
        ),
        Pattern("DR", 1.0 / rate, 10 * step_s),
        step_s,
        stops,
        share / rate,
        max(delays),
        tuple(dict.fromkeys(assumed)),
    )


def _network(
    topology: LineTopology,
    loads: LineLoads,
    capacitance_f: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    line: tuple[float, float],
    draws: Sequence[tuple[object, int, int]],
) -> Network:
    delay_s_per_m, impedance_ohm = line
    siemens = loads.siemens(topology, topology.nodes)
    pieces = tuple(
        WaveLine(
            piece.start,
            piece.end,
            impedance_ohm,
            piece.length_m * delay_s_per_m,
            np.array([loads.loop_ohm_per_m[ohm] * piece.length_m for _, ohm, _ in draws]),
        )
        for piece in topology.pieces
    )
    return Network(
        topology.nodes,
        pieces,
        np.array([siemens[ohm] for _, ohm, _ in draws]),
        np.array([capacitance_f[farad] for _, _, farad in draws]),
    )


def _signal(topology: LineTopology, setup: _Setup, seen: Settling) -> LineSignal:
    dominant = next(index for index, edge in enumerate(seen.edges) if edge.dominant)
    recessive = next(index for index, edge in enumerate(seen.edges) if not edge.dominant)
    pairs = []
    for row, sender in enumerate(setup.stops):
        for column, receiver in enumerate(setup.stops):
            if row == column:
                continue
            settle = seen.settle_s[:, row, :, column]
            pairs.append(
                PairSignal(
                    sender.port,
                    receiver.port,
                    float(settle[:, dominant].max()),
                    float(settle[:, recessive].max()),
                    float(settle[0].max()),
                    float(seen.nearest_v[:, row, :, column].min()),
                    float(-np.minimum(seen.low_v[:, row, recessive, column], 0.0).min()),
                )
            )
    delay = max((abs(float(value)) for value in seen.rounding_s), default=0.0)
    longest = max((piece.length_m for piece in topology.pieces), default=0.0)
    return LineSignal(
        topology.line,
        setup.pattern.bit_s,
        setup.sample_s,
        setup.electronics_s,
        setup.step_s,
        min(delay / 5e-9, longest),
        tuple(pairs),
    )


def _port_path(address: str) -> Path:
    component, _, port = address.partition(".")
    return ("components", component, "ports", port)


class _Facts:
    """Reads facts, remembering which were unknown and which assumed."""

    def __init__(self) -> None:
        self.blocked: list[Path] = []
        self.assumed: list[Path] = []

    def bounds(self, fact: object, path: Path) -> tuple[float, float, float]:
        if isinstance(fact, Unknown):
            self.blocked.append(path)
            return (0.0, 0.0, 0.0)
        if isinstance(fact, Assumed):
            self.assumed.append(path)
        return bounds_of(fact)  # type: ignore[arg-type]  # a fact that is not unknown is known or assumed

    def typical(self, fact: object, path: Path, otherwise: float) -> float:
        value = self.bounds(fact, path)[1]
        return otherwise if isinstance(fact, Unknown) else value
