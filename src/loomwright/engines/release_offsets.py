"""When should each flow of a sender begin, so that its releases do not come all at once?

Only flows of one sender share a clock, so each sender is spread for itself. Measured by the largest backlog, as if the
medium sent this sender's frames alone; then by what the releases find before them; then by the shortest distance
between releases. Flows are placed one by one, shortest period first, and moved again while that helps: a good choice, not
proved to be the best.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loomwright.engines.flows import Integers
from loomwright.engines.response_times import StoppedError, Told

MOST_RELEASES = 20_000
"""A sender's releases are followed over two hyperperiods, or until there are about so many."""
STEPS = 20
"""Offsets are multiples of so small a part of the sender's shortest period, where no step is given."""
MOST_CANDIDATES = 400
_PASSES = 4


@dataclass(frozen=True, slots=True, eq=False)
class Offsets:
    """Offsets in ticks by flow, and by sender the largest backlog in ticks if all begin at once, and with them.

    ``whole``: whether the sender's pattern was followed until it repeats, or just over a window; it never does where the
    sender alone has more to send than there is time.
    """

    offset: Integers
    senders: tuple[int, ...]
    before: tuple[int, ...]
    after: tuple[int, ...]
    whole: tuple[bool, ...]


def flattened_offsets(
    periods: Integers,
    transmissions: Integers,
    sender: Sequence[int],
    *,
    step: int | None = None,
    told: Told = lambda _done, _all: True,
) -> Offsets:
    """Offsets below each flow's period that keep the sender's bursts small; raises StoppedError if ``told`` says no."""
    if (periods < 1).any() or (transmissions < 1).any() or (step is not None and step < 1):
        raise ValueError("periods, transmissions and the step are at least one tick")
    offset = np.zeros(periods.size, dtype=np.int64)
    senders = tuple(dict.fromkeys(int(number) for number in sender))
    before, after, whole = [], [], []
    for done, number in enumerate(senders):
        flows = [flow for flow in range(periods.size) if sender[flow] == number]
        spread = _Sender([int(periods[flow]) for flow in flows], [int(transmissions[flow]) for flow in flows], step)
        before.append(spread.backlog())
        spread.settle()
        if spread.backlog() > before[-1]:  # pragma: no cover - beginning at once is one of the choices
            raise AssertionError("offsets made a burst larger")
        after.append(spread.backlog())
        whole.append(spread.whole)
        offset[flows] = spread.offset
        if not told(done + 1, len(senders)):
            raise StoppedError("the offsets were not finished")
    return Offsets(offset, senders, tuple(before), tuple(after), tuple(whole))


class _Sender:
    """The flows of one sender, with the offsets as far as they are chosen."""

    def __init__(self, periods: list[int], works: list[int], step: int | None) -> None:
        self.periods, self.works, self.step = periods, works, step or max(1, min(periods) // STEPS)
        self.offset = [0] * len(periods)
        longest, repeats = max(periods), math.lcm(*periods)
        per_tick = sum(1.0 / period for period in periods)
        full = sum(work / period for work, period in zip(works, periods, strict=True)) > 1.0 + 1e-12
        self.whole = not full and longest + 2 * repeats <= MOST_RELEASES / per_tick
        self.window = longest + 2 * repeats if self.whole else max(3 * longest, int(MOST_RELEASES / per_tick))

    def releases(self, flows: Sequence[int]) -> tuple[Integers, Integers]:
        """Times in order, and what each brings."""
        times = [np.arange(self.offset[flow], self.window, self.periods[flow], dtype=np.int64) for flow in flows]
        works = [np.full(each.size, self.works[flow], dtype=np.int64) for each, flow in zip(times, flows, strict=True)]
        if not times:
            return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
        order = np.argsort(np.concatenate(times), kind="stable")
        return np.concatenate(times)[order], np.concatenate(works)[order]

    def backlog(self) -> int:
        """The largest backlog with the offsets as they are."""
        return self.measure(*self.releases(range(1, len(self.periods))), 0, self.offset[0])[0]

    def measure(self, times: Integers, works: Integers, flow: int, offset: int) -> tuple[int, int, int]:
        """Backlog, what the releases find, and the distance the wrong way round: the smaller the better."""
        from loomwright.engines.offset_kernels import crowding

        found = np.empty(3, dtype=np.int64)
        crowding(times, works, offset, self.periods[flow], self.works[flow], self.window, found)
        return int(found[0]), int(found[1]), -int(found[2])

    def settle(self) -> None:
        """Place the flows one by one, then move each again while any moves."""
        order = sorted(range(len(self.periods)), key=lambda flow: (self.periods[flow], -self.works[flow]))
        for at, flow in enumerate(order):
            self.move(flow, order[:at])
        for _ in range(_PASSES):
            moved = [self.move(flow, [other for other in order if other != flow]) for flow in order]
            if True not in moved:
                break

    def move(self, flow: int, others: Sequence[int]) -> bool:
        """Give a flow the best offset beside the others; whether that is a better one than before."""
        times, works = self.releases(others)
        # A multiple of the step, so that offsets stay on its grid however long the period.
        step = self.step * max(1, -(-(self.periods[flow] // MOST_CANDIDATES) // self.step))
        now = self.measure(times, works, flow, self.offset[flow])
        best = min((self.measure(times, works, flow, at), at) for at in range(0, self.periods[flow], step))
        if best[0] >= now:
            return False
        self.offset[flow] = best[1]
        return True
