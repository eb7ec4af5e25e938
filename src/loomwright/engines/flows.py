"""Flows of frames that share one medium by priority, and the faults that hit them: values for the response times.

All times are whole ticks in 64 bits, so that nothing is rounded; the caller chooses the tick (picoseconds last for days).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Integers = NDArray[np.int64]
_WHOLE = np.dtype(np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Flows:
    """Flows of frames, highest priority first; times in ticks, arrays of the same length.

    ``transmission``: longest time on the medium, with the pause that must follow. ``period``: shortest time between two
    nominal releases. ``jitter``: how long after its nominal release a frame may be queued. ``deadline``: from the nominal
    release. ``queue``: the number of the first-in-first-out transmit queue it shares with others, -1 for a buffer of
    its own. ``shortest``: shortest time on the medium. ``flows_of`` makes one of plain sequences.
    """

    transmission: Integers
    period: Integers
    jitter: Integers
    deadline: Integers
    queue: Integers
    shortest: Integers

    def __post_init__(self) -> None:
        import loomwright.engines.flow_kernels as kernels

        columns = (self.transmission, self.period, self.jitter, self.deadline, self.queue, self.shortest)
        whole = [column.dtype for column in columns].count(_WHOLE)
        even = [column.shape for column in columns].count((self.period.size,))
        if whole + even < 2 * len(columns):
            raise ValueError("flows are columns of 64-bit integers of the same length")
        found = kernels.soundness(self.transmission, self.period, self.jitter, self.deadline, self.shortest)
        if found == kernels.SHORT_DATES:
            raise ValueError("transmission, period and deadline of a flow are at least one tick")
        if found == kernels.WRONG_SPREAD:
            raise ValueError("jitter is not negative, and the shortest transmission not above the longest")


@dataclass(frozen=True, slots=True)
class Faults:
    """Faults of frames: ``burst`` of them at any time at once and one more every ``interval`` ticks (None: no more).

    In a window of t ticks (burst + ceil(t / interval) - 1) faults are counted, without an interval ``burst``. Each costs
    ``recovery`` ticks, from the end of the spoilt frame until the next one may start, and the longest frame of the level
    (or above it) once more. Form after K. Tindell and A. Burns, "Guaranteeing message latencies on Control Area Network
    (CAN)", 1994, from memory; there the recovery is 31 bits.
    """

    burst: int = 0
    interval: int | None = None
    recovery: int = 0

    def __post_init__(self) -> None:
        if self.burst < 0 or self.recovery < 0 or (self.interval is not None and self.interval < 1):
            raise ValueError("faults: burst and recovery are not negative, an interval is at least one tick")
        if self.interval is not None and self.burst < 1:
            raise ValueError("faults that come again may come at any time: burst is at least 1")


NO_FAULTS = Faults()


def flows_of(
    transmission: ArrayLike,
    period: ArrayLike,
    jitter: ArrayLike = 0,
    deadline: ArrayLike | None = None,
    queue: ArrayLike = -1,
    shortest: ArrayLike | None = None,
) -> Flows:
    """Flows from plain sequences, or one number for all; the deadline is the period if none is given."""
    sent, between = np.asarray(transmission), np.asarray(period)
    given = (
        sent,
        between,
        np.asarray(jitter),
        between if deadline is None else np.asarray(deadline),
        np.asarray(queue),
        sent if shortest is None else np.asarray(shortest),
    )
    size = max([array.size for array in given if array.ndim] or [1])
    table = np.empty((len(given), size), dtype=np.int64)
    for row, array in zip(table, given, strict=True):
        if array.size and array.dtype.kind != "i":
            raise ValueError("times are whole ticks of at most 64 bits")
        row[:] = array
    return Flows(*table)


def rearranged(flows: Flows, order: Sequence[int]) -> Flows:
    """The flows of these numbers, in this order of priority."""
    pick = np.asarray(order, dtype=np.int64)
    return Flows(
        flows.transmission[pick],
        flows.period[pick],
        flows.jitter[pick],
        flows.deadline[pick],
        flows.queue[pick],
        flows.shortest[pick],
    )
