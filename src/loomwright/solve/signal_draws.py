"""How late are the bits in a thousand vehicles built from the same plan, each with other tolerances?"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from loomwright.engines.threads import in_order
from loomwright.engines.wave_lanes import Drivers
from loomwright.engines.wave_network import Network
from loomwright.engines.waves import joined, settling, settling_jobs, simulate
from loomwright.laws.levels import STRONG_DRIVER, TYPICAL_DRIVER, WEAK_DRIVER
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.signal import THRESHOLDS, TRACE_S
from loomwright.solve.signal_parts import EDGE_S, Floats, SignalParts, circuit, signal_parts
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Blocked, Solved

DRAWS = 1000
SEED = 1
SHOWN = 30
"""Single draws that are kept beside the bands."""
EDGE_SPREAD = (0.5, 1.5)
"""Edges of drawn drivers last this share of ``EDGE_S``; common practice, and no part's promise."""


@dataclass(frozen=True, slots=True)
class DrawnPair:
    """Settling of one pair over all draws, in s: half, 95 % and 99 % of the draws are sure by then, and the slowest.

    Infinite where the bit ends first. ``missed`` is the share of draws in which the sample point comes first, ``never``
    the share in which the bit does not settle at all.
    """

    sender: str
    receiver: str
    half_s: float
    most_s: float
    nearly_all_s: float
    slowest_s: float
    missed: float
    never: float


@dataclass(frozen=True, slots=True)
class SignalDraws:
    """All pairs of a line. ``missed`` and ``never`` are shares of draws in which any pair at all is late."""

    line: str
    draws: int
    seed: int
    missed: float
    never: float
    pairs: tuple[DrawnPair, ...]

    @property
    def worst(self) -> DrawnPair:
        """The pair that is late most often, or latest."""
        return max(self.pairs, key=lambda pair: (pair.missed, pair.nearly_all_s, pair.most_s))


@dataclass(frozen=True, slots=True)
class DrawnTrace:
    """The waveform of one draw, and when its later edge has settled, in s: infinite where the bit ends first."""

    draw: int
    settle_s: float
    volts: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class TraceBands:
    """Voltages of one pair at each time over all draws: lowest, 5 %, 95 %, highest. Times from the dominant edge, in s.

    ``traces`` are single draws, ``SHOWN`` at most: the one that settles last, which stands last, and the first others.
    ``never`` counts draws that have not settled when a bit ends.
    """

    sender: str
    receiver: str
    draws: int
    seed: int
    time_s: tuple[float, ...]
    lowest_v: tuple[float, ...]
    low_v: tuple[float, ...]
    high_v: tuple[float, ...]
    highest_v: tuple[float, ...]
    traces: tuple[DrawnTrace, ...]
    never: int


def signal_draws(
    line: Line,
    components: Table[Component],
    cable: Cable,
    topology: LineTopology,
    draws: int = DRAWS,
    seed: int = SEED,
    *,
    sample_s: float | None = None,
    progress: Callable[[int, int], bool] | None = None,
    threads: int = 0,
) -> Answer[SignalDraws]:
    """Send a dominant and a recessive bit from rest from every node in every draw. Blocks and stops as ``line_signal`` does.

    ``sample_s``: the sample point against which bits are late, where another one than the line's facts tell is set.

    Each value is drawn by itself from the triangle of its low, typical and high: every termination, node resistance
    and capacitance, the cable's copper, impedance and speed, the driver's level (weakest to strongest that the
    standard permits); the edges evenly within ``EDGE_SPREAD``. The same seed gives the same answer, on any number of
    ``threads`` (0: one for each core). The skin
    effect is that of the typical cable in every draw.
    """
    parts = signal_parts(line, components, cable, topology)
    if isinstance(parts, Blocked):
        return parts
    parts = parts if sample_s is None else replace(parts, sample_s=sample_s)
    network, drivers = drawn_circuit(parts, parts.tips, draws, seed)
    jobs = settling_jobs(network, drivers, parts.pattern, parts.step_s, parts.tips, THRESHOLDS, turns=False)
    seen = in_order(jobs, progress, threads)
    if seen is None:
        return Blocked(())
    return Solved(_summed_up(parts, joined(seen).settle_s.max(axis=2), draws, seed), parts.assumed)


def trace_bands(
    line: Line,
    components: Table[Component],
    cable: Cable,
    topology: LineTopology,
    sender: str,
    receiver: str,
    draws: int = 100,
    seed: int = SEED,
) -> Answer[TraceBands]:
    """The waveform of one pair in many draws, as bands and one by one. Same draws and blocks as ``signal_draws``."""
    parts = signal_parts(line, components, cable, topology)
    if isinstance(parts, Blocked):
        return parts
    tips = {stop.port: stop.tip for stop in parts.stops}
    network, drivers = drawn_circuit(parts, (tips[sender],), draws, seed)
    every = max(1, round(TRACE_S / parts.step_s))
    waves = simulate(network, drivers, parts.pattern, parts.step_s, (tips[receiver],), every)
    time = np.arange(waves.volts.shape[-1]) * (every * parts.step_s)
    # A draw with slower cable has its samples at later times: bring all to the same ones.
    volts = np.array([np.interp(time, own, waves.volts[draw, 0, 0]) for draw, own in enumerate(waves.time_s)])
    lowest, low, high, highest = (tuple(np.percentile(volts, share, axis=0).tolist()) for share in (0, 5, 95, 100))
    time_s = tuple(float(value) for value in time - parts.pattern.start_s)
    seen = settling(network, drivers, parts.pattern, parts.step_s, (tips[receiver],), THRESHOLDS)
    settle_s = seen.settle_s.max(axis=(1, 2, 3))
    last = int(settle_s.argmax())
    shown = [*(draw for draw in range(draws) if draw != last)][: SHOWN - 1]
    traces = tuple(DrawnTrace(draw, float(settle_s[draw]), tuple(volts[draw].tolist())) for draw in (*shown, last))
    return Solved(
        TraceBands(
            sender, receiver, draws, seed, time_s, lowest, low, high, highest, traces, int(np.isinf(settle_s).sum())
        ),
        parts.assumed,
    )


def drawn_circuit(parts: SignalParts, senders: tuple[int, ...], draws: int, seed: int) -> tuple[Network, Drivers]:
    """The line ``draws`` times, every value drawn between its bounds."""
    dice = np.random.default_rng(seed)

    def between(bounds: tuple[float, float, float]) -> Floats:
        low, typical, high = sorted(bounds)
        return np.full(draws, typical) if low == high else dice.triangular(low, typical, high, draws)

    siemens = np.zeros((draws, parts.topology.nodes))
    for stop, shunt in zip(parts.topology.stops, parts.loads.shunts_s, strict=True):
        siemens[:, stop.tip] += between(shunt)
    farad = np.zeros((draws, parts.topology.nodes))
    for node in parts.tips:
        low, typical, high = (float(value) for value in parts.capacitance_f[:, node])
        farad[:, node] = between((low, typical, high))
    delay = parts.delay_s_per_m
    stretch = between(delay) / delay[1] if delay[1] > 0.0 else np.ones(draws)
    network = circuit(parts, siemens, farad, between(parts.loads.loop_ohm_per_m), between(parts.impedance_ohm), stretch)
    volts = between((WEAK_DRIVER.volts, TYPICAL_DRIVER.volts, STRONG_DRIVER.volts))[:, None]
    rise, fall = (dice.uniform(*EDGE_SPREAD, (draws, 1)) * EDGE_S for _ in range(2))
    return network, Drivers(senders, volts, TYPICAL_DRIVER.ohm, rise, fall)


def _summed_up(parts: SignalParts, settle_s: Floats, draws: int, seed: int) -> SignalDraws:
    """``settle_s``: (draws, senders, receivers), the later of both edges."""
    left_s = parts.sample_s - parts.electronics_s
    late, never = settle_s > left_s, np.isinf(settle_s)
    ordered = np.sort(settle_s, axis=0)
    at = [min(draws - 1, int(np.ceil(share * draws)) - 1) for share in (0.5, 0.95, 0.99, 1.0)]
    pairs = []
    for row, sender in enumerate(parts.stops):
        for column, receiver in enumerate(parts.stops):
            half_s, most_s, nearly_all_s, slowest_s = (float(ordered[place, row, column]) for place in at)
            missed, lost = float(late[:, row, column].mean()), float(never[:, row, column].mean())
            pairs.append(DrawnPair(sender.port, receiver.port, half_s, most_s, nearly_all_s, slowest_s, missed, lost))
    any_late, any_never = late.any(axis=(1, 2)).mean(), never.any(axis=(1, 2)).mean()
    return SignalDraws(parts.topology.line, draws, seed, float(any_late), float(any_never), tuple(pairs))
