"""Longest response times on a medium that sends one frame at a time, the highest waiting priority first, uninterrupted.

Analysis after R. I. Davis, A. Burns, R. J. Bril, J. J. Lukkien, "Controller Area Network (CAN) schedulability analysis:
refuted, revisited and revised", Real-Time Systems 35 (2007), from memory: all instances in the longest busy period,
the longest lower frame under way, queuing jitter, and one bit after the start of a frame in which a release still
takes part.

Transmit queues that are first in, first out follow the idea of R. I. Davis, S. Kollmann, V. Pollex, F. Slomka, "Controller
Area Network (CAN) schedulability analysis with FIFO queues", ECRTS 2011, from memory: all flows of a queue are taken at the
priority of its lowest, and whoever waits behind a lower frame comes into play later for the others. The form here is
our own (several frames of a flow may be in the queue, deadlines may be longer than periods, and only queues that
reach below a level disturb it); it is a bound and may be above what can happen. Without such queues it can happen.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.flows import NO_FAULTS, Faults, Flows, Integers
from loomwright.terms.errors import LoomwrightError

if TYPE_CHECKING:
    from loomwright.engines.response_kernels import Columns, Medium

Told = Callable[[int, int], bool]
"""Hears how many of how many parts are done, and answers whether to go on."""

UNBOUNDED = -1
"""Stands for a time without bound."""
MOST_TICKS = 2**60
"""The horizon, and the sum of all times given, are at most this; what is computed of them then fits into 64 bits."""
HORIZON_PERIODS = 1000
"""A busy period is followed for so many times the longest period and jitter before it is called unbounded."""
_AT_ONCE = 64


class StoppedError(LoomwrightError):
    """The work was stopped from outside before it was done."""


@dataclass(frozen=True, slots=True, eq=False)
class ResponseTimes:
    """What was found for each flow, in ticks; UNBOUNDED where the level has more to send than time, or no end in sight.

    ``worst`` and ``best``: from the nominal release to the end of the frame and its pause. ``waiting``: longest time from
    queuing to the start of the frame. ``instance``: which instance in the busy period is the worst (0: the first).
    ``blocking``: the longest lower frame. ``busy``: the longest time during which the level is never at rest.
    ``share``: of the medium's time, taken by the flow's level and all above it, without faults.
    """

    worst: Integers
    best: Integers
    waiting: Integers
    instance: Integers
    blocking: Integers
    busy: Integers
    share: NDArray[np.float64]


def response_times(
    flows: Flows,
    tick_per_bit: int,
    faults: Faults = NO_FAULTS,
    *,
    foreign: int = 0,
    head_start: int = 0,
    horizon: int | None = None,
    told: Told = lambda _done, _all: True,
) -> ResponseTimes:
    """The longest time from nominal release to the end of the frame, for each flow.

    ``tick_per_bit``: how long after the start of a frame a release still takes part in who is first; no frame is shorter.
    ``foreign``: the longest lower frame that is no flow here. ``horizon``: ticks for which a busy period is followed (by default HORIZON_PERIODS, at most MOST_TICKS).
    ``head_start``: ticks that a lower frame is under way, at least, when the busy period begins: 0 is right where
    time is continuous, 1 where everything happens at whole ticks. Raises OverflowError where 64 bits are too few,
    StoppedError if ``told`` answers no.
    """
    import loomwright.engines.flow_kernels as passes
    import loomwright.engines.response_kernels as kernels

    size = flows.period.size
    columns, medium = kernel_values(
        flows, tick_per_bit, faults, foreign=foreign, head_start=head_start, horizon=horizon
    )
    results = np.full((kernels.ROWS + 2, size), UNBOUNDED, dtype=np.int64)
    blocking, busy = results[kernels.ROWS], results[kernels.ROWS + 1]
    for last in range(size, 0, -_AT_ONCE):
        first = max(0, last - _AT_ONCE)
        kernels.levels(first, last, columns, medium, False, results, blocking, busy)
        if not told(size - first, size):
            raise StoppedError("the response times were not finished")
    share = np.empty(size)
    passes.shares(flows.transmission, flows.period, columns.lowest, share)
    return ResponseTimes(
        results[kernels.WORST],
        flows.shortest.copy(),
        results[kernels.WAITING],
        results[kernels.INSTANCE],
        blocking,
        busy,
        share,
    )


def slack(flows: Flows, times: ResponseTimes) -> Integers:
    """Ticks from the longest response to the deadline, negative where it is missed, -MOST_TICKS where there is no bound."""
    return np.where(times.worst == UNBOUNDED, np.int64(-MOST_TICKS), flows.deadline - times.worst)


def all_met(flows: Flows, tick_per_bit: int, faults: Faults = NO_FAULTS, *, foreign: int = 0) -> bool:
    """Whether all deadlines are met; stops at the first that is not."""
    return first_missed(kernel_values(flows, tick_per_bit, faults, foreign=foreign), 0, flows.period.size) is None


def first_missed(values: tuple["Columns", "Medium"], first: int, last: int) -> int | None:
    """The lowest level from ``last`` - 1 up to ``first`` where a deadline is missed, of what ``kernel_values`` gave."""
    from loomwright.engines.response_kernels import DONE, ROWS, levels

    size = values[0].period.size
    results, spare = np.empty((ROWS, size), dtype=np.int64), np.empty(size, dtype=np.int64)
    at = int(levels(first, last, *values, True, results, spare, spare.copy()))
    return None if at == DONE else at


def kernel_values(
    flows: Flows,
    tick_per_bit: int,
    faults: Faults,
    *,
    foreign: int = 0,
    head_start: int = 0,
    horizon: int | None = None,
) -> tuple["Columns", "Medium"]:
    """The flows and their medium as the compiled code wants them. Raises where they would not fit."""
    import loomwright.engines.flow_kernels as passes
    import loomwright.engines.response_kernels as kernels

    if tick_per_bit < 1 or head_start < 0 or foreign < 0:
        raise ValueError("a bit is at least one tick, a head start and a foreign frame are not negative")
    columns = kernels.Columns(
        flows.transmission, flows.period, flows.jitter, flows.deadline, np.empty_like(flows.queue)
    )
    least, longest, period, jitter, deadline, total = passes.extent(
        flows.transmission, flows.period, flows.jitter, flows.deadline, flows.queue, columns.lowest
    )
    if least < tick_per_bit:
        raise ValueError("no transmission is shorter than one bit")
    span = period + jitter
    spoilt = faults.burst * (faults.recovery + max(longest, foreign)) + faults.recovery + (faults.interval or 0)
    given = span + deadline + total + spoilt + foreign + tick_per_bit
    until = min(HORIZON_PERIODS * span, MOST_TICKS) if horizon is None else horizon
    if max(given, until, head_start) > MOST_TICKS:
        raise OverflowError(f"these times sum to {given} ticks or more, above {MOST_TICKS}: choose a coarser tick")
    return columns, kernels.Medium(
        faults.burst, faults.interval or 0, faults.recovery, tick_per_bit, head_start, foreign, until
    )
