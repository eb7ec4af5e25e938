"""What has to be known of all flows at once before their levels are worked on, compiled on first use.

A vehicle has many small lines and states. Going through a dozen numbers array by array costs more than the analysis itself,
so that each question here is one pass.
"""

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.response_times import MOST_TICKS
from loomwright.engines.wave_kernels import compiled

Integers = NDArray[np.int64]
Floats = NDArray[np.float64]

SOUND, SHORT_DATES, WRONG_SPREAD = 0, 1, 2


@compiled
def soundness(
    transmission: Integers, period: Integers, jitter: Integers, deadline: Integers, shortest: Integers
) -> int:  # fmt: skip
    """SOUND, or the first thing that is wrong with any flow."""
    found = SOUND
    for flow in range(period.size):
        if transmission[flow] < 1 or period[flow] < 1 or deadline[flow] < 1:
            return SHORT_DATES
        if jitter[flow] < 0 or shortest[flow] < 0 or shortest[flow] > transmission[flow]:
            found = WRONG_SPREAD
    return found


@compiled
def extent(
    transmission: Integers, period: Integers, jitter: Integers, deadline: Integers, queue: Integers, lowest: Integers
) -> tuple[int, int, int, int, int, int]:  # fmt: skip
    """Least and longest transmission, largest period, jitter and deadline, sum of transmissions (MOST_TICKS + 1: above that).

    ``lowest`` is filled: for each flow the lowest flow of the same transmit queue, or itself where it has a buffer of its own.
    """
    least, longest, long_period, most_jitter, latest, total = MOST_TICKS, 0, 1, 0, 1, 0
    for flow in range(period.size - 1, -1, -1):
        sent = int(transmission[flow])
        least, longest = min(least, sent), max(longest, sent)
        long_period, most_jitter = max(long_period, int(period[flow])), max(most_jitter, int(jitter[flow]))
        latest = max(latest, int(deadline[flow]))
        total = MOST_TICKS + 1 if sent > MOST_TICKS or total > MOST_TICKS else total + sent
        lowest[flow] = flow
        if queue[flow] >= 0:
            for other in range(period.size - 1, flow, -1):
                if queue[other] == queue[flow]:
                    lowest[flow] = other
                    break
    return least, longest, long_period, most_jitter, latest, total


@compiled
def shares(transmission: Integers, period: Integers, lowest: Integers, share: Floats) -> None:
    """Fill the part of the medium's time that each flow's level and all above it take."""
    total = 0.0
    for flow in range(period.size):
        total += transmission[flow] / period[flow]
        share[flow] = total
    for flow in range(period.size):
        share[flow] = share[lowest[flow]]
