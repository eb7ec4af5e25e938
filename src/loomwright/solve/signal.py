"""Will the bits arrive: when is every receiver sure of every bit, whoever sends it?"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from loomwright.engines.threads import in_order
from loomwright.engines.wave_lanes import Thresholds
from loomwright.engines.waves import Settling, joined, settling_jobs, simulate
from loomwright.laws.levels import DOMINANT_THRESHOLD, RECESSIVE_THRESHOLD
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.signal_parts import (
    BITS_BEFORE,
    SignalParts,
    corner_circuits,
    signal_parts,
    typical_circuit,
)
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Blocked, Solved

TRACE_S = 1e-9
"""Time from one recorded voltage to the next."""
THRESHOLDS = Thresholds(DOMINANT_THRESHOLD.value, RECESSIVE_THRESHOLD.value)


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


def line_signal(
    line: Line,
    components: Table[Component],
    cable: Cable,
    topology: LineTopology,
    *,
    progress: Callable[[int, int], bool] | None = None,
) -> Answer[LineSignal]:
    """Send bits from every node in turn and watch all nodes, the sender too: it checks what it sent.

    At typical values bits from rest and bits close after others (``BITS_BEFORE``), at the extremes from rest alone.

    The differential circuit alone: line with copper resistance and skin effect (``laws/copper.py``), drivers as switched
    conductance with edges of ``signal_parts.EDGE_S``, nodes as resistance and capacitance. Loss in the insulation, common
    mode, and a real driver's clamping and shaping are left out. ``progress`` hears (done, all) and stops the work by returning false; then ``Blocked``
    is answered with no path. Blocked by an unknown bit rate, delay, impedance, capacitance or load.
    """
    parts = signal_parts(line, components, cable, topology)
    if isinstance(parts, Blocked):
        return parts
    close = replace(parts.pattern, bits=BITS_BEFORE)
    several = settling_jobs(*typical_circuit(parts, parts.tips), close, parts.step_s, parts.tips, THRESHOLDS)
    jobs = settling_jobs(*corner_circuits(parts), parts.pattern, parts.step_s, parts.tips, THRESHOLDS)
    seen = in_order((*several, *jobs), progress)
    if seen is None:
        return Blocked(())
    return Solved(_signal(parts, joined(seen[: len(several)]), joined(seen[len(several) :])), parts.assumed)


def trace(
    line: Line, components: Table[Component], cable: Cable, topology: LineTopology, sender: str, receiver: str
) -> Answer[Trace]:
    """The waveform of one pair at typical values, every nanosecond or so. Same model and blocks as ``line_signal``."""
    parts = signal_parts(line, components, cable, topology)
    if isinstance(parts, Blocked):
        return parts
    tips = {stop.port: stop.tip for stop in parts.stops}
    network, drivers = typical_circuit(parts, (tips[sender],))
    every = max(1, round(TRACE_S / parts.step_s))
    waves = simulate(network, drivers, parts.pattern, parts.step_s, (tips[receiver],), every)
    time_s = tuple(float(value) for value in waves.time_s[0] - parts.pattern.start_s)
    volts = tuple(float(value) for value in waves.volts[0, 0, 0])
    sample = parts.sample_s - parts.electronics_s
    return Solved(Trace(sender, receiver, time_s, volts, (sample, parts.pattern.bit_s + sample)), parts.assumed)


def _signal(parts: SignalParts, several: Settling, seen: Settling) -> LineSignal:
    """``several``: bits close after each other, typical values. ``seen``: bits from rest, typical values and extremes."""

    def of(kind: bool, row: int, column: int) -> float:
        return max(
            float(each.settle_s[:, row, [edge.dominant is kind for edge in each.edges], column].max())
            for each in (several, seen)
        )

    recessive = [not edge.dominant for edge in seen.edges]
    pairs = [
        PairSignal(
            sender.port,
            receiver.port,
            of(True, row, column),
            of(False, row, column),
            float(max(several.settle_s[0, row, :, column].max(), seen.settle_s[0, row, :, column].max())),
            float(min(each.nearest_v[:, row, :, column].min() for each in (several, seen))),
            float(-np.minimum(seen.low_v[:, row, recessive, column], 0.0).min()),
        )
        for row, sender in enumerate(parts.stops)
        for column, receiver in enumerate(parts.stops)
    ]
    rounded_s = max((abs(float(value)) for value in seen.rounding_s), default=0.0)
    return LineSignal(
        parts.topology.line,
        parts.pattern.bit_s,
        parts.sample_s,
        parts.electronics_s,
        parts.step_s,
        rounded_s / parts.delay_s_per_m[1] if parts.delay_s_per_m[1] > 0.0 else 0.0,
        tuple(pairs),
    )
