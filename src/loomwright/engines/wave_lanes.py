"""Transmitters and bits, and the simulations that march side by side: draws of a batch times transmitters."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.wave_network import Floats, Grid

LANES = 64
"""Simulations that march side by side, up to twice as many where they fill the vectors better: enough for the vector units,
few enough for the waves to stay in the cache."""
VECTOR = 32
"""Lanes are filled up to whole multiples of this by repeating the last: the left-over ones would march one by one."""
RESIDUAL_A = 1e-9
"""Currents into a node must sum to zero within this, for each ampere that a driver can push."""


@dataclass(frozen=True, slots=True, eq=False)
class Drivers:
    """The transmitters, one active at a time, at the given nodes.

    ``volts`` is the open-circuit differential voltage, ``ohm`` the resistance behind which it stands when fully on,
    ``rise_s`` and ``fall_s`` the time in which the conductance goes from 0 to 1/``ohm`` and back, linearly. Each is a
    number or an array that broadcasts to (batch, drivers).
    """

    nodes: tuple[int, ...]
    volts: float | Floats
    ohm: float | Floats
    rise_s: float | Floats
    fall_s: float | Floats


@dataclass(frozen=True, slots=True)
class Edge:
    """Start of a driver's edge: time in s from the start of the run, and whether it turns dominant."""

    at_s: float
    dominant: bool


@dataclass(frozen=True, slots=True)
class Pattern:
    """Bits as sent, ``D`` dominant and ``R`` recessive, from ``start_s`` on; before them the line is at rest."""

    bits: str
    bit_s: float
    start_s: float = 0.0

    @property
    def end_s(self) -> float:
        """End of the last bit."""
        return self.start_s + len(self.bits) * self.bit_s

    @property
    def edges(self) -> tuple[Edge, ...]:
        """Changes from each bit to the next, the first bit against a recessive line."""
        return tuple(
            Edge(self.start_s + index * self.bit_s, bit == "D")
            for index, bit in enumerate(self.bits)
            if bit != (self.bits[index - 1] if index else "R")
        )


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Differential voltages in V: dominant for sure above the one, recessive for sure below the other."""

    dominant_v: float
    recessive_v: float


USUAL = Thresholds(0.9, 0.5)
"""What a receiver of ISO 11898-2 must tell apart; ``laws/levels.py`` names the sources."""


@dataclass(frozen=True, slots=True, eq=False)
class Lanes:
    """Some draws and all their transmitters, side by side; every array ends in the lanes.

    The first ``count`` lanes count, the rest repeat the last one of them. Lanes run draw by draw, driver by driver.
    """

    grid: Grid
    count: int
    step_s: Floats
    admittance: Floats
    kappa: Floats
    skin_gain: Floats
    skin_keep: Floats
    shunt: Floats
    twice_c: Floats
    node: NDArray[np.int64]
    volts: Floats
    siemens: Floats
    rise_s: Floats
    fall_s: Floats

    def record(self, pattern: Pattern, steps: int, probes: NDArray[Any], every: int) -> tuple[Floats, float]:
        """Voltages (probes, records, lanes) every so many steps, and the worst sum of currents in A."""
        record = np.empty((probes.size, (steps - 1) // every + 1, self.step_s.size))
        _, off = self._march(pattern, steps, USUAL, probes, every, record)
        return record[..., : self.count], off

    def results(
        self, pattern: Pattern, steps: int, thresholds: Thresholds, probes: NDArray[Any], *, turns: bool = True
    ) -> tuple[Floats, float]:
        """Results (edges, probes, columns, lanes), and the worst sum of currents in A.

        Without ``turns`` only the first column, steps to settle, is a figure.
        """
        nothing = np.empty((probes.size, 0, 0))
        results, off = self._march(pattern, steps, thresholds, probes, 0, nothing, turns=turns)
        results[:, :, 1:] = results[:, :, 1:] if turns else np.nan
        return results[..., : self.count], off

    def _march(
        self,
        pattern: Pattern,
        steps: int,
        thresholds: Thresholds,
        probes: NDArray[Any],
        every: int,
        record: Floats,
        *,
        turns: bool = True,
    ) -> tuple[Floats, float]:
        from loomwright.engines.wave_kernels import RESULTS, Driver, Edges, Lines, Shunts, Skin, march

        edges = pattern.edges
        cells, branches = self.grid.skin_ohm.shape
        results = np.empty((len(edges), probes.size if every == 0 else 0, RESULTS, self.step_s.size))
        worst = march(
            steps,
            Lines(self.grid.starts, self.grid.ends, self.grid.steps, self.admittance, self.kappa),
            Skin(
                self.skin_gain,
                self.skin_keep,
                np.zeros((cells, 2, branches, self.step_s.size)),
                np.zeros((cells, 2, self.step_s.size if branches else 0)),
                np.zeros((2, self.step_s.size)),
            ),
            Shunts(self.shunt, self.twice_c),
            Driver(self.node, self.volts, self.siemens, self.rise_s / self.step_s, self.fall_s / self.step_s),
            Edges(
                np.array([*(edge.at_s for edge in edges), pattern.end_s])[:, None] / self.step_s,
                np.array([edge.dominant for edge in edges], dtype=np.bool_),
                np.array([thresholds.dominant_v, thresholds.recessive_v]),
            ),
            probes.astype(np.int64),
            results,
            turns,
            every,
            record,
        )
        allowed = RESIDUAL_A * max(1.0, float(np.max(self.volts * self.siemens)))
        assert worst <= allowed, f"currents at a node sum to {worst:.3g} A; at most {allowed:.3g} A is rounding"
        return results, float(worst)


def steps_of(grid: Grid, pattern: Pattern) -> int:
    """Steps until the pattern has ended in every draw."""
    return int(np.ceil(pattern.end_s / (grid.step_s * grid.stretch.min()))) + 2


def batch_of(grid: Grid, drivers: Drivers) -> int:
    """Number of draws for which any value was given."""
    given = (drivers.volts, drivers.ohm, drivers.rise_s, drivers.fall_s)
    counts = [int(np.shape(value)[0]) for value in given if np.ndim(value) == 2]
    return max(grid.batch, *counts, 1)


def parts_of(batch: int, drivers: int) -> Iterator[tuple[int, int]]:
    """Draws in parts that fill the lanes: first, and one past the last. Few draws are split finer, for more threads."""
    most = LANES if batch * drivers > 2 * LANES else VECTOR // 2
    sizes = range(max(1, most // drivers), max(1, 2 * most // drivers) + 1)
    size = max(sizes, key=lambda draws: draws * drivers / -(-draws * drivers // VECTOR))
    for first in range(0, batch, size):
        yield first, min(batch, first + size)


def lanes_of(grid: Grid, drivers: Drivers, batch: int, first: int, last: int) -> Lanes:
    """The draws from ``first`` up to but not including ``last``, with every transmitter."""
    part = grid.part(first, last)
    draws, count = last - first, len(drivers.nodes)
    lanes = draws * count
    filled = -(-lanes // VECTOR) * VECTOR
    if lanes < 0.8 * filled:
        filled = lanes
    take = np.minimum(np.arange(filled), lanes - 1)

    def of_driver(values: float | Floats) -> Floats:
        everywhere = np.broadcast_to(np.asarray(values, dtype=np.float64), (batch, count))
        return everywhere[first:last].reshape(-1)[take]

    def of_draw(values: Floats) -> Floats:
        """(draws or 1, things) becomes (things, lanes)."""
        everywhere = np.broadcast_to(values, (draws, values.shape[1]))
        return np.ascontiguousarray(everywhere[take // count].T)

    step_s = of_draw(part.step_s * part.stretch[:, None])[0]
    # A draw's own step would move the frequencies of the branches by as much as its cable is slower: that is left out.
    half = part.skin_rad_per_s * (part.step_s / 2.0)
    skin_ohm = part.skin_ohm @ (1.0 / (1.0 + half))
    impedance, end = of_draw(part.impedance_ohm), of_draw(part.end_ohm) + skin_ohm[:, None]
    return Lanes(
        grid,
        lanes,
        step_s,
        1.0 / (impedance + end),
        (impedance - end) / (impedance + end),
        part.skin_ohm * (2.0 * half / (1.0 + half) ** 2),
        (1.0 - half) / (1.0 + half),
        of_draw(part.shunt_s),
        of_draw(part.capacitance_f) * 2.0 / step_s,
        np.tile(grid.number[list(drivers.nodes)].astype(np.int64), draws)[take],
        of_driver(drivers.volts),
        1.0 / of_driver(drivers.ohm),
        of_driver(drivers.rise_s),
        of_driver(drivers.fall_s),
    )
