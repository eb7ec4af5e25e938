"""Travelling waves on a branched line by the method of characteristics: every transmitter in turn, all receivers at once.

The circuit is the differential one: each node to its return wire, each line an ideal delay with series resistance at
the ends of its cells, a transmitter a voltage behind a conductance that is ramped up for a dominant bit and down for a
recessive one. A split terminator is its two halves in series, since its middle stays at rest. Impedance is real and
constant; copper that resists fast changes more is inductors beside resistors in the ends of the cells. Loss in the
insulation, common mode and the shaping of a real driver are left out. After Bergeron; F. H. Branin,
"Transient analysis of lossless transmission lines", Proc. IEEE 55 (1967), from memory.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from loomwright.engines.threads import in_order
from loomwright.engines.wave_lanes import (
    USUAL,
    Drivers,
    Edge,
    Pattern,
    Thresholds,
    batch_of,
    lanes_of,
    parts_of,
    steps_of,
)
from loomwright.engines.wave_network import Floats, Grid, Network, on_grid

STEP_S = 0.25e-9
"""The longest step worth taking: on a lossless line of ten nodes and 0.3 m stubs, which rings longest, the worst voltage of
eight bits is off by 10 mV, at half of it by 2.5 mV."""


@dataclass(frozen=True, slots=True, eq=False)
class Waves:
    """Voltages in V of the probed nodes, shape (batch, drivers, probes, times); times in s, shape (batch, times).

    ``rounding_s`` is what each line's delay gained on the grid, ``residual_a`` the worst sum of currents at any node.
    """

    time_s: Floats
    volts: Floats
    rounding_s: Floats
    residual_a: float


@dataclass(frozen=True, slots=True, eq=False)
class Settling:
    """What every receiver saw after every edge until the next, shape (batch, drivers, edges, receivers).

    ``settle_s`` counts from the start of the driver's edge to the last time on the wrong side of the threshold: below
    the dominant one in a dominant bit, above the recessive one in a recessive bit; infinite where that is not over when
    the next edge starts. ``nearest_v`` is how near any turn of the waveform comes to the threshold, on either side
    (``inf``: it never turns): where it is small the settle time is a matter of millivolts. ``rebound_v`` is how far
    the worst ringing after the first passage stays on the right side, negative where it comes back through the
    threshold, ``inf`` without ringing. ``low_v`` and ``high_v`` bound the waveform.
    """

    edges: tuple[Edge, ...]
    thresholds: Thresholds
    settle_s: Floats
    nearest_v: Floats
    rebound_v: Floats
    low_v: Floats
    high_v: Floats
    rounding_s: Floats
    residual_a: float

    def worst(self, *, dominant: bool) -> tuple[int, int, int, int]:
        """Index of the longest settling after edges of one kind: draw, driver, edge, receiver."""
        of_kind = [index for index, edge in enumerate(self.edges) if edge.dominant is dominant]
        times = self.settle_s[:, :, of_kind, :]
        draw, driver, edge, receiver = np.unravel_index(int(np.argmax(times)), times.shape)
        return int(draw), int(driver), of_kind[int(edge)], int(receiver)


def simulate(
    network: Network,
    drivers: Drivers,
    pattern: Pattern,
    step_s: float,
    probes: tuple[int, ...] | None = None,
    every: int = 1,
) -> Waves:
    """Voltages at the probes (all nodes if none are named), every so many steps, for each draw and transmitter.

    All of it is kept in memory, 8 bytes a sample; use ``settling`` for many draws. Raises ``AssertionError`` should
    the currents at any node not sum to zero.
    """
    grid = on_grid(network, step_s)
    batch = batch_of(grid, drivers)
    nodes = grid.number[list(range(network.nodes) if probes is None else probes)]
    steps = steps_of(grid, pattern)
    records = (steps - 1) // every + 1
    volts = np.empty((batch, len(drivers.nodes), nodes.size, records))

    def march(first: int, last: int) -> float:
        record, off = lanes_of(grid, drivers, batch, first, last).record(pattern, steps, nodes, every)
        volts[first:last] = np.moveaxis(record, -1, 0).reshape(volts[first:last].shape)
        return off

    off = in_order([partial(march, *part) for part in parts_of(batch, len(drivers.nodes))])
    residual = max(off or (), default=0.0)
    time = np.arange(records) * (every * step_s) * grid.stretch[:, None]
    return Waves(np.broadcast_to(time, (batch, records)), volts, grid.rounding_s, residual)


def settling(
    network: Network,
    drivers: Drivers,
    pattern: Pattern,
    step_s: float,
    receivers: tuple[int, ...],
    thresholds: Thresholds = USUAL,
) -> Settling:
    """What every receiver sees of every transmitter, for all draws at once. ``settling_jobs`` tells of progress."""
    return joined([job() for job in settling_jobs(network, drivers, pattern, step_s, receivers, thresholds)])


def settling_jobs(
    network: Network,
    drivers: Drivers,
    pattern: Pattern,
    step_s: float,
    receivers: tuple[int, ...],
    thresholds: Thresholds = USUAL,
    *,
    turns: bool = True,
) -> tuple[Callable[[], Settling], ...]:
    """The same as independent jobs of a few draws each, in order, the same ones whatever runs them.

    ``threads.in_order`` runs them (the work releases the interpreter's lock), ``joined`` puts what they return
    together. Without ``turns`` only ``settle_s`` is found, in a fifth less time; what else is remembered is NaN.
    """
    grid = on_grid(network, step_s)
    batch = batch_of(grid, drivers)
    nodes = tuple(int(node) for node in grid.number[list(receivers)])
    return tuple(
        partial(_settling, grid, drivers, batch, pattern, nodes, thresholds, turns, first, last)
        for first, last in parts_of(batch, len(drivers.nodes))
    )


def joined(parts: list[Settling]) -> Settling:
    """The draws of several parts as one, in order."""

    def whole(name: str) -> Floats:
        return np.concatenate([getattr(part, name) for part in parts])

    return Settling(
        parts[0].edges,
        parts[0].thresholds,
        whole("settle_s"),
        whole("nearest_v"),
        whole("rebound_v"),
        whole("low_v"),
        whole("high_v"),
        parts[0].rounding_s,
        max(part.residual_a for part in parts),
    )


def _settling(
    grid: Grid,
    drivers: Drivers,
    batch: int,
    pattern: Pattern,
    nodes: tuple[int, ...],
    thresholds: Thresholds,
    turns: bool,
    first: int,
    last: int,
) -> Settling:
    lanes = lanes_of(grid, drivers, batch, first, last)
    results, residual = lanes.results(pattern, steps_of(grid, pattern), thresholds, np.array(nodes), turns=turns)
    columns = np.moveaxis(results, -1, 0).reshape(last - first, len(drivers.nodes), *results.shape[:-1])
    step_s = lanes.step_s[: lanes.count].reshape(last - first, len(drivers.nodes), 1, 1)
    return Settling(
        pattern.edges,
        thresholds,
        columns[..., 0] * step_s,
        columns[..., 1],
        columns[..., 2],
        columns[..., 3],
        columns[..., 4],
        grid.rounding_s,
        residual,
    )
