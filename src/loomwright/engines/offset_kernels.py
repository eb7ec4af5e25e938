"""The inner loop of the release offsets, compiled on first use and kept in numba's cache on disk."""

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.wave_kernels import compiled

Integers = NDArray[np.int64]


@compiled
def crowding(
    times: Integers, works: Integers, offset: int, period: int, work: int, window: int, found: Integers
) -> int:  # fmt: skip
    """Merge the releases at ``times`` (in order) with offset + n period below ``window``, and measure the crowd.

    Fills ``found``: the largest backlog in ticks, counting what was just released; the sum of what each release finds
    before it; the shortest distance to a release of the other stream. Returns the number of releases.
    """
    at, own, now, backlog, count, last_other, last_own = 0, offset, 0, 0, 0, -1, -1
    found[0], found[1], found[2] = 0, 0, np.iinfo(np.int64).max
    while at < times.size or own < window:
        mine = own < window and (at == times.size or own <= times[at])
        when = own if mine else int(times[at])
        backlog = max(0, backlog - (when - now))
        now = when
        found[1] += backlog
        if mine:
            backlog += work
            if last_other >= 0:
                found[2] = min(found[2], when - last_other)
            last_own, own = when, own + period
        else:
            backlog += works[at]
            if last_own >= 0:
                found[2] = min(found[2], when - last_own)
            last_other, at = when, at + 1
        found[0] = max(found[0], backlog)
        count += 1
    return count
