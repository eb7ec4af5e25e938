"""Two independent views of a shared medium for tests: frames sent one by one, and the recurrences written out slowly.

Both are on a clock of whole ticks, where a release at the very tick of a start takes part (a bit of one tick), and a
lower frame is under way for at least one tick when a busy period begins.
"""

import math


def sent(flows, queued, faults=(), recovery=0, grace=1):
    """Send the frames ``queued`` as (tick, flow, nominal release); responses by flow, from nominal release to the end.

    ``flows`` as the engine's, highest first. Heads of transmit queues and own buffers take part; a release less than
    ``grace`` after the start still does. A frame under way at one of the ``faults`` is spoilt and tried again, the
    medium free ``recovery`` after the fault.
    """
    todo = sorted(queued, key=lambda frame: (frame[0], frame[1]))
    lines, waiting, now, at, faults = {}, 0, todo[0][0], 0, sorted(faults)
    responses = [[] for _ in range(flows.period.size)]
    while at < len(todo) or waiting:
        if not waiting:
            now = max(now, todo[at][0])
        while at < len(todo) and todo[at][0] < now + grace:
            _, flow, nominal = todo[at]
            line = (1, int(flows.queue[flow])) if flows.queue[flow] >= 0 else (0, flow)
            lines.setdefault(line, []).append((flow, nominal))
            at, waiting = at + 1, waiting + 1
        line = min((line for line in lines if lines[line]), key=lambda line: lines[line][0][0])
        flow, nominal = lines[line][0]
        end = now + int(flows.transmission[flow])
        while faults and faults[0] <= now:
            faults.pop(0)
        if faults and faults[0] <= end:
            now = faults.pop(0) + recovery
            continue
        responses[flow].append(end - nominal)
        lines[line].pop(0)
        now, waiting = end, waiting - 1
    return responses


def released(period, jitter, phase, until, delays):
    """(Queued, nominal) of a flow whose first nominal release is at ``phase``; ``delays`` below the jitter are drawn in turn."""
    found, nominal, last = [], phase, 0
    while nominal < until:
        last = max(last, nominal + min(jitter, delays()))
        found.append((last, nominal))
        nominal += period
    return found


def worst_moment(flows, flow, until):
    """Frames that make a flow with its own buffer respond as late as can be: all others above it come at once, and soon
    again, just after the longest lower frame has started.
    """
    lower = list(range(flow + 1, flows.period.size))
    frames = []
    if lower:
        frames.append((-1, max(lower, key=lambda other: flows.transmission[other]), -1))
    for other in range(flow + 1):
        period, jitter = int(flows.period[other]), int(flows.jitter[other])
        frames += [(max(0, nominal), other, nominal) for nominal in range(-jitter, until, period)]
    return frames


def slow_times(flows, head_start=1, early=1, burst=0, interval=None, recovery=0, most=5000):
    """Worst response and waiting by flow, None where the busy period passes ``most`` ticks; every tick is looked at."""
    size = flows.period.size
    frame, period = flows.transmission.tolist(), flows.period.tolist()
    jitter, queue = flows.jitter.tolist(), flows.queue.tolist()

    def same(one, other):
        return one == other or (queue[one] >= 0 and queue[one] == queue[other])

    lowest = [max(other for other in range(size) if same(flow, other)) for flow in range(size)]
    worst, waiting = [None] * size, [None] * size
    for at in reversed(range(size)):
        if lowest[at] != at:
            continue
        own = [flow for flow in range(at + 1) if same(flow, at)]
        above = [flow for flow in range(at) if not same(flow, at)]
        late = {flow: waiting[flow] if lowest[flow] > at else 0 for flow in above}
        if None in late.values():
            continue
        block = max([0, *(frame[flow] - head_start for flow in range(at + 1, size))])
        spoilt = recovery + max(frame[: at + 1])

        def arrivals(flow, ticks, late=late):
            return math.ceil((ticks + jitter[flow] + late.get(flow, 0)) / period[flow])

        def lost(ticks, spoilt=spoilt):
            return (burst + (math.ceil(ticks / interval) - 1 if interval else 0)) * spoilt

        busy, demand = 0, 1
        while busy < demand <= most:
            busy = demand
            demand = block + lost(busy) + sum(arrivals(flow, busy) * frame[flow] for flow in range(at + 1))
        if demand > most:
            continue
        for flow in own:
            answers, waits = [], []
            for moment in range(busy):
                others = sum(
                    ((moment + jitter[one]) // period[one] + 1) * frame[one] for one in own if one != flow
                )  # fmt: skip
                last = (moment + jitter[flow]) // period[flow]
                for before in range(last + 1):
                    fixed = block + others + before * frame[flow]
                    start = 0
                    while True:
                        more = fixed + lost(start + frame[flow])
                        more += sum(arrivals(one, start + early) * frame[one] for one in above)
                        if more == start:
                            break
                        start = more
                    nominal = max(before * period[flow] - jitter[flow], moment - jitter[flow])
                    answers.append(start + frame[flow] - nominal)
                    waits.append(start - moment)
            worst[flow], waiting[flow] = max(answers), max(waits)
    return worst, waiting
