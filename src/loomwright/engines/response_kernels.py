"""The inner loops of the response times, compiled on first use and kept in numba's cache on disk.

All times are whole ticks in 64 bits. Every recurrence is iterated from below to its least fixed point; it starts at the
solution of the same recurrence without rounding up, which is never above it and nearly always close. That start is
the only floating-point number here, and it is rounded down far enough for its own error.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.wave_kernels import compiled, inlined

Integers = NDArray[np.int64]

UNBOUNDED = -1
MISSED = -2
"""A level was left as soon as one deadline was missed."""
DONE = -1
WORST, INSTANCE, WAITING = 0, 1, 2
"""Rows of a result; each has a column for each flow."""
ROWS = 3


class Streams(NamedTuple):
    """Flows of one level: those that always go first, then the ``own`` ones that leave in order of arrival."""

    transmission: Integers
    period: Integers
    jitter: Integers
    deadline: Integers
    own: int


class Load(NamedTuple):
    """What else delays a level, in ticks.

    The lower frame under way; faults at once, ticks between further faults (0: none), what a fault costs; how long after
    the start of a frame a release still takes part; where to give up.
    """

    blocking: int
    burst: int
    interval: int
    fault: int
    early: int
    horizon: int


class Columns(NamedTuple):
    """All flows, highest priority first; ``lowest`` is the lowest flow of the same transmit queue, or the flow itself."""

    transmission: Integers
    period: Integers
    jitter: Integers
    deadline: Integers
    lowest: Integers


class Medium(NamedTuple):
    """What is the same for all levels, in ticks.

    ``recovery`` is added to the longest frame for each fault; ``foreign`` blocks every level for so long if no lower flow
    does for longer, less the ``head_start``; the rest as in Load.
    """

    burst: int
    interval: int
    recovery: int
    early: int
    head_start: int
    foreign: int
    horizon: int


@inlined
def faulted(ticks: int, load: Load) -> int:
    """What faults cost in so many ticks: (burst + ceil(ticks / interval) - 1) times the cost of one."""
    more = -((-ticks) // load.interval) - 1 if load.interval > 0 else 0
    return (load.burst + max(more, 0)) * load.fault


@inlined
def least(start: int, fixed: int, tail: int, shift: int, count: int, streams: Streams, load: Load) -> int:
    """The least w = fixed + faults in (w + tail) + sum of ceil((w + shift + jitter) / period) frames of ``count`` flows."""
    now = start
    while True:
        after = fixed + faulted(now + tail, load)
        for flow in range(count):
            period = streams.period[flow]
            after += (now + shift + streams.jitter[flow] + period - 1) // period * streams.transmission[flow]
        if after <= now:
            break
        now = after
        if now > load.horizon:
            now = UNBOUNDED
            break
    return now


@inlined
def smooth(fixed: int, tail: int, shift: int, count: int, streams: Streams, load: Load) -> int:
    """A number that is not above ``least``: the same equation with nothing rounded up; beyond the horizon if it has none."""
    constant, share, error = float(fixed), 0.0, 4e-16 * (count + 4)
    if load.interval > 0:
        share += load.fault / load.interval
        constant += (load.burst - 1.0) * load.fault + tail * (load.fault / load.interval)
    else:
        constant += float(load.burst) * load.fault
    for flow in range(count):
        part = streams.transmission[flow] / streams.period[flow]
        share += part
        constant += (shift + streams.jitter[flow]) * part
    left = 1.0 - share + error
    if left <= 0.0:
        return load.horizon + 1
    return int(min(constant / left * (1.0 - 1e-9), load.horizon + 1.0))


@inlined
def ahead(at: int, flow: int, before: int, streams: Streams) -> int:
    """Ticks that must be sent first of an own flow's frame queued at ``at`` after ``before`` frames of the same flow."""
    total: int = before * streams.transmission[flow]
    for other in range(streams.period.size - streams.own, streams.period.size):
        if other != flow:
            total += ((at + streams.jitter[other]) // streams.period[other] + 1) * streams.transmission[other]
    return total


@inlined
def next_arrival(at: int, left_out: int, streams: Streams) -> int:
    """The next moment at which one more frame of the own flows (but one) may have been queued."""
    soonest = np.iinfo(np.int64).max
    for other in range(streams.period.size - streams.own, streams.period.size):
        if other != left_out:
            period, jitter = streams.period[other], streams.jitter[other]
            soonest = min(soonest, ((at + jitter) // period + 1) * period - jitter)
    return int(soonest)


@inlined
def start_of(fixed: int, flow: int, since: int, streams: Streams, load: Load) -> int:
    """When a frame starts, counted from the start of the busy period, if ``fixed`` ticks must be sent before it anyway."""
    higher, tail = streams.period.size - streams.own, streams.transmission[flow]
    begin = max(since, smooth(fixed, tail, load.early, higher, streams, load))
    start: int = least(begin, fixed, tail, load.early, higher, streams, load)
    return start


@inlined
def worst_of(flow: int, busy: int, streams: Streams, load: Load, leave: bool, results: Integers, column: int) -> int:
    """Largest time from the nominal release to the end of the frame over all of a flow's instances in the busy period.

    Instance n was released no sooner than n periods less the jitter after the start, and queued no sooner than that. The
    frames queued before it are most when it is queued as late as its jitter allows, or when another one has just come.
    """
    own, period, jitter = streams.transmission[flow], streams.period[flow], streams.jitter[flow]
    instance, start, fixed, worst, which, waiting = 0, 0, 0, 0, 0, 0
    while instance * period - jitter < busy:
        at = min(instance * period, busy - 1)
        while True:
            more = load.blocking + ahead(at, flow, instance, streams)
            start = start_of(more, flow, start + more - fixed, streams, load)
            if start < 0:
                return UNBOUNDED
            fixed = more
            response = start + own + jitter - max(instance * period, at)
            if response > worst:
                worst, which = response, instance
                if leave and worst > streams.deadline[flow]:
                    return MISSED
            if streams.own == 1:
                waiting = max(waiting, start - max(0, instance * period - jitter))
                break
            at = next_arrival(at, flow, streams)
            if at >= min((instance + 1) * period, busy):
                break
        instance += 1
    results[WORST, column], results[INSTANCE, column], results[WAITING, column] = worst, which, waiting
    return 0


@inlined
def waiting_of(flow: int, busy: int, streams: Streams, load: Load) -> int:
    """Largest time from the queuing of a frame to its start."""
    at, start, fixed, worst = 0, 0, 0, 0
    while at < busy:
        before = (at + streams.jitter[flow]) // streams.period[flow]
        more = load.blocking + ahead(at, flow, before, streams)
        start = start_of(more, flow, start + more - fixed, streams, load)
        if start < 0:
            return UNBOUNDED
        fixed = more
        worst = max(worst, start - at)
        at = next_arrival(at, -1, streams)
    return worst


@compiled
def level(streams: Streams, load: Load, leave: bool, results: Integers) -> int:
    """Fill a column of results for each own flow, in order, and return the longest busy period of the level.

    Returns UNBOUNDED, or MISSED if told to leave at the first deadline missed; the results are not to be used then.
    """
    count = streams.period.size
    begin = max(1, smooth(load.blocking, 0, 0, count, streams, load))
    if begin > load.horizon:
        return UNBOUNDED
    busy: int = least(begin, load.blocking, 0, 0, count, streams, load)
    if busy < 0:
        return UNBOUNDED
    for own in range(streams.own):
        flow = count - streams.own + own
        how: int = worst_of(flow, busy, streams, load, leave, results, own)
        if how != 0:
            return how
        if streams.own > 1:
            results[WAITING, own] = waiting_of(flow, busy, streams, load)
            if results[WAITING, own] < 0:
                return UNBOUNDED
    return busy


@compiled
def levels(
    first: int, last: int, flows: Columns, medium: Medium, leave: bool, results: Integers, blocking: Integers, busy: Integers
) -> int:  # fmt: skip
    """Work on the levels from ``last`` - 1 down to ``first``; results have a column for each flow.

    Flows of one transmit queue are worked on at the level of their lowest, all at once. A flow whose queue reaches below
    a level may wait behind a frame that is below it, so that its frames come into play as late as it may wait: that
    is jitter for this level. It is known, because lower levels are worked on first. Told to leave, it stops at the
    first deadline missed and returns the level; otherwise it returns DONE.
    """
    size = flows.period.size
    transmission, period = np.empty(size, np.int64), np.empty(size, np.int64)
    jitter, deadline = np.empty(size, np.int64), np.empty(size, np.int64)
    members, own_results = np.empty(size, np.int64), np.empty((ROWS, size), np.int64)
    lower = int(medium.foreign)
    for flow in range(last, size):
        lower = max(lower, int(flows.transmission[flow]))
    for at in range(last - 1, first - 1, -1):
        if flows.lowest[at] == at:
            own, count, longest, known = 0, 0, 0, True
            for flow in range(at + 1):
                longest = max(longest, int(flows.transmission[flow]))
                if flows.lowest[flow] == at:
                    members[own] = flow
                    own += 1
                else:
                    more = 0
                    if flows.lowest[flow] > at:
                        more = int(results[WAITING, flow])
                        known = known and more >= 0
                    transmission[count], period[count] = flows.transmission[flow], flows.period[flow]
                    jitter[count], deadline[count] = flows.jitter[flow] + more, flows.deadline[flow]
                    count += 1
            for member in range(own):
                flow = members[member]
                transmission[count], period[count] = flows.transmission[flow], flows.period[flow]
                jitter[count], deadline[count] = flows.jitter[flow], flows.deadline[flow]
                count += 1
            streams = Streams(transmission[:count], period[:count], jitter[:count], deadline[:count], own)
            block = max(0, lower - medium.head_start)
            load = Load(
                block, medium.burst, medium.interval, medium.recovery + longest, medium.early, medium.horizon
            )  # fmt: skip
            length = level(streams, load, leave, own_results) if known else UNBOUNDED
            if leave and length < 0:
                return at
            for member in range(own):
                flow = members[member]
                busy[flow], blocking[flow] = length, lower
                for row in range(ROWS):
                    results[row, flow] = own_results[row, member] if length >= 0 else UNBOUNDED
                if leave and results[WORST, flow] > flows.deadline[flow]:
                    return at
        lower = max(lower, int(flows.transmission[at]))
    return DONE
