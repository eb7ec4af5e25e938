"""How far response times may grow until a deadline is missed: slower medium, more jitter.

Every response time grows with every transmission time and every jitter, so that the limit can be enclosed by halving.
"""

from dataclasses import dataclass, replace

import numpy as np

from loomwright.engines.flows import NO_FAULTS, Faults, Flows, Integers
from loomwright.engines.response_times import (
    StoppedError,
    Told,
    all_met,
    first_missed,
    kernel_values,
    response_times,
    slack,
)

LEAST_FACTOR = 1e-6
"""Flows that miss a deadline on a medium this many times as quick are not followed further."""


@dataclass(frozen=True, slots=True)
class Breakdown:
    """Factors on all transmissions: all deadlines are met at ``holds`` (0: at none tried), one is missed at ``breaks``."""

    holds: float
    breaks: float


def stretched(flows: Flows, factor: float) -> Flows:
    """The same flows on a medium that takes ``factor`` times as long for every bit, rounded up to ticks."""
    return replace(
        flows,
        transmission=np.ceil(flows.transmission * factor).astype(np.int64),
        shortest=np.floor(flows.shortest * factor).astype(np.int64),
    )


def breakdown(
    flows: Flows,
    tick_per_bit: int,
    faults: Faults = NO_FAULTS,
    *,
    foreign: int = 0,
    tolerance: float = 1e-4,
    told: Told = lambda _done, _all: True,
) -> Breakdown:
    """The largest factor by which every bit may last longer with all deadlines met, as ``holds <= it < breaks``.

    The two lie at most ``tolerance`` apart, relative. The bits of a recovery from a fault last longer too, the interval
    between faults does not. The slowest bit rate that serves is the present one over the factor.
    """
    if not flows.period.size:
        return Breakdown(np.inf, np.inf)

    def holds(factor: float) -> bool:
        slower = replace(faults, recovery=int(np.ceil(faults.recovery * factor)))
        return all_met(
            stretched(flows, factor),
            int(np.ceil(tick_per_bit * factor)),
            slower,
            foreign=int(np.ceil(foreign * factor)),
        )

    room = float(((flows.deadline - flows.jitter) / flows.transmission).min())
    high = 1.0 + max(0.0, min(room, 1.0 / float((flows.transmission / flows.period).sum()) + 1.0))
    low, rounds = min(1.0, high / 2.0), 0
    while not holds(low):
        low, high, rounds = low / 2.0, low, rounds + 1
        if low < LEAST_FACTOR:
            return Breakdown(0.0, high)
    while high - low > tolerance * low:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if holds(middle) else (low, middle)
        rounds += 1
        if not told(rounds, rounds + int(np.ceil(np.log2(max(1.0, (high - low) / (tolerance * low)))))):
            raise StoppedError("the slowest medium was not found")
    return Breakdown(low, high)


def jitter_room(
    flows: Flows,
    tick_per_bit: int,
    faults: Faults = NO_FAULTS,
    *,
    foreign: int = 0,
    resolution: int | None = None,
    told: Told = lambda _done, _all: True,
) -> Integers:
    """Ticks by which the jitter of each flow alone may grow with all deadlines met; -1 for all if one is missed already.

    Found to ``resolution`` ticks (a bit if not given): so much is in order, and that much more is not. Where there are no
    transmit queues the levels are independent, and only those that miss a deadline are asked again.
    """
    size, step = flows.period.size, tick_per_bit if resolution is None else resolution
    spare = slack(flows, response_times(flows, tick_per_bit, faults, foreign=foreign))
    if (spare < 0).any():
        return np.full(size, -1, dtype=np.int64)
    jitter, room = flows.jitter.copy(), np.zeros(size, dtype=np.int64)
    values = kernel_values(replace(flows, jitter=jitter), tick_per_bit, faults, foreign=foreign)
    alone = bool((flows.queue < 0).all())
    for flow in range(size):
        high = int(spare[flow]) + 1
        low, last, level = high - 1, size, flow
        while True:
            jitter[flow] = flows.jitter[flow] + low
            missed = first_missed(values, flow if alone else 0, last)
            if missed is None:
                break
            last, level = (missed + 1, missed) if alone else (size, 0)
            low, high = 0, low
            while high - low > step:
                middle = (low + high) // 2
                jitter[flow] = flows.jitter[flow] + middle
                held = first_missed(values, level, last) is None
                low, high = (middle, high) if held else (low, middle)
        room[flow], jitter[flow] = low, flows.jitter[flow]
        if not told(flow + 1, size):
            raise StoppedError("the room for jitter was not found")
    return room
