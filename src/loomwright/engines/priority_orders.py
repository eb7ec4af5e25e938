"""Which identifiers let every flow meet its deadline, where some are fixed and the others choose among free ones.

Levels are filled from the lowest up: whether a flow meets its deadline at a level depends on which flows are above and
which are below, not on their order. After N. C. Audsley (1991), from memory. A flow that holds at the lowest free
level may as well be put there as long as no room is lost to others; where the free identifiers between two fixed ones are too
few for that, the choice matters, and is tried by going back. Lower numbers are higher priorities.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from loomwright.engines.flows import NO_FAULTS, Faults, Flows, Integers, rearranged
from loomwright.engines.response_times import UNBOUNDED, StoppedError, Told, kernel_values, response_times, slack

MOST_TESTS = 50_000
"""A search gives up after it has asked so many times whether a flow meets its deadline at a level."""


@dataclass(frozen=True, slots=True)
class Assignment:
    """What was found: "found"; "none" (proved: no choice meets all deadlines); "undecided" (the search gave up).

    ``identifiers`` are the flows' in the order given, empty where none were found. ``by``: "deadlines" if the order of
    deadlines served at once, else "levels". ``least_share`` is the smallest slack of any flow, over its deadline.
    ``stuck`` are the flows none of which met its deadline at the first level that stayed empty. ``tests`` were asked.
    """

    status: str
    identifiers: tuple[int, ...] = ()
    by: str = "levels"
    least_share: float = -np.inf
    stuck: tuple[int, ...] = ()
    tests: int = 0


def assign(
    flows: Flows,
    fixed: Sequence[int | None],
    free: Sequence[int],
    tick_per_bit: int,
    faults: Faults = NO_FAULTS,
    *,
    foreign: int = 0,
    robust: bool = False,
    together: Sequence[Collection[int]] = (),
    most_tests: int = MOST_TESTS,
    told: Told = lambda _done, _all: True,
) -> Assignment:
    """Identifiers with which every flow meets its deadline; the flows in any order, ``fixed`` says which have one already.

    ``together``: groups of flows that are sent in the same time, if not all are; deadlines are met in each group.
    ``robust``: put the flow with the largest slack, over its deadline, at each level. Its least share is then the largest
    possible where no flow is fixed; around fixed ones it is a choice, and may leave less than another order would. Without transmit queues "none" is proved;
    with them the levels depend on each other, so that the search may miss an order, and says "undecided".
    """
    slots = _Slots(tuple(fixed), tuple(free))
    groups = tuple(frozenset(group) for group in together) or (frozenset(range(flows.period.size)),)
    if not robust:
        identifiers = slots.by_deadline(flows)
        share = _least_share(flows, identifiers, tick_per_bit, faults, foreign, groups)
        if share >= 0.0:
            return Assignment("found", identifiers, "deadlines", share)
    search = _Search(flows, slots, _Level(flows, tick_per_bit, faults, foreign, groups), robust, most_tests, told)
    last = search.run()
    if last is None:
        proved = search.level.tests < most_tests and bool((flows.queue < 0).all())
        status = "none" if proved else "undecided"
        return Assignment(status, stuck=search.stuck, tests=search.level.tests)
    chosen = dict(last.placed)
    identifiers = tuple(chosen[flow] if now is None else now for flow, now in enumerate(fixed))
    share = _least_share(flows, identifiers, tick_per_bit, faults, foreign, groups)
    return Assignment("found", identifiers, "levels", share, tests=search.level.tests)


def order_of(identifiers: Sequence[int]) -> tuple[int, ...]:
    """The flows by priority, highest first."""
    return tuple(sorted(range(len(identifiers)), key=lambda flow: identifiers[flow]))


def _least_share(
    flows: Flows,
    identifiers: Sequence[int],
    tick_per_bit: int,
    faults: Faults,
    foreign: int,
    groups: Sequence[frozenset[int]],
) -> float:
    """The smallest slack over its deadline in any group."""
    least = float(np.inf)
    for group in groups:
        ordered = rearranged(flows, [flow for flow in order_of(identifiers) if flow in group])
        spare = slack(ordered, response_times(ordered, tick_per_bit, faults, foreign=foreign))
        least = min(least, float((spare / ordered.deadline).min(initial=np.inf)))
    return least


class _Slots:
    """Free identifiers in gaps between fixed ones, lowest priority first: (free ones, the fixed flow above or None)."""

    def __init__(self, fixed: tuple[int | None, ...], free: tuple[int, ...]) -> None:
        taken = [number for number in fixed if number is not None]
        if len(set(taken)) != len(taken):
            raise ValueError("two flows have the same identifier")
        self.programmable = tuple(flow for flow, number in enumerate(fixed) if number is None)
        left = sorted(set(free) - set(taken), reverse=True)
        if len(left) < len(self.programmable):
            raise ValueError(f"{len(self.programmable)} flows to place, {len(left)} free identifiers")
        self.gaps: list[tuple[list[int], int | None]] = []
        above = sorted((number, flow) for flow, number in enumerate(fixed) if number is not None)
        self.fixed = fixed
        for number, flow in reversed(above):
            self.gaps.append(([other for other in left if other > number], flow))
            left = [other for other in left if other < number]
        self.gaps.append((left, None))

    def by_deadline(self, flows: Flows) -> tuple[int, ...]:
        """Identifiers so that deadlines less jitter grow from the highest to the lowest, as far as there is room."""
        until = flows.deadline - flows.jitter
        waiting = sorted(self.programmable, key=lambda flow: int(until[flow]))
        found = list(self.fixed)
        for at, (gap, fixed) in enumerate(self.gaps):
            room_above = sum(len(others) for others, _ in self.gaps[at + 1 :])
            for number in gap:
                must = len(waiting) > room_above
                if waiting and (must or fixed is None or until[waiting[-1]] > until[fixed]):
                    found[waiting.pop()] = number
        return tuple(number for number in found if number is not None)


@dataclass(frozen=True, slots=True)
class _State:
    """What is placed so far; ``behind`` holds how long flows of queues with a placed flow may wait."""

    gap: int
    used: int
    left: frozenset[int]
    placed: tuple[tuple[int, int], ...] = ()
    behind: dict[int, int] = field(default_factory=dict)


class _Level:
    """Asks whether a flow meets its deadline with some others above it and the rest below."""

    def __init__(
        self, flows: Flows, tick_per_bit: int, faults: Faults, foreign: int, groups: Sequence[frozenset[int]]
    ) -> None:
        self.flows, self.foreign, self.groups, self.tests = flows, foreign, groups, 0
        _, self.medium = kernel_values(flows, tick_per_bit, faults, foreign=foreign)

    def share(self, flow: int, left: frozenset[int], behind: dict[int, int]) -> tuple[float, dict[int, int]] | None:
        """The slack over its deadline and who may wait how long; None where a deadline is missed.

        All flows of a transmit queue are tried at once, at the level of its lowest; the others come for nothing later.
        """
        if flow in behind:
            return 1.0, behind
        queue = int(self.flows.queue[flow])
        mates = [flow] if queue < 0 else [other for other in sorted(left) if self.flows.queue[other] == queue]
        least, waits = 1.0, dict(behind)
        for group in self.groups:
            here = [mate for mate in mates if mate in group]
            found = self._in_group(here, left & group, group, behind) if here else (1.0, [])
            if found is None:
                return None
            least = min(least, found[0])
            if queue >= 0:
                waits |= {mate: max(wait, waits.get(mate, 0)) for mate, wait in zip(here, found[1], strict=True)}
        return least, waits

    def _in_group(
        self, mates: list[int], left: frozenset[int], group: frozenset[int], behind: dict[int, int]
    ) -> tuple[float, list[int]] | None:
        """The same where only the flows of a group are sent: slack over deadline, and the waiting of each."""
        from loomwright.engines.response_kernels import ROWS, WAITING, WORST, Load, Streams, level

        flows = self.flows
        pick = np.array([*sorted(left.difference(mates)), *mates], dtype=np.int64)
        below = sorted(group.difference(pick.tolist()))
        later = np.array([behind.get(int(other), 0) for other in pick], dtype=np.int64)
        transmission = flows.transmission[pick]
        medium, blocking = self.medium, int(flows.transmission[below].max(initial=self.foreign))
        load = Load(
            blocking, medium.burst, medium.interval, medium.recovery + int(transmission.max()), medium.early, medium.horizon
        )  # fmt: skip
        streams = Streams(
            transmission, flows.period[pick], flows.jitter[pick] + later, flows.deadline[pick], len(mates)
        )
        results: Integers = np.full((ROWS, len(mates)), UNBOUNDED, dtype=np.int64)
        self.tests += 1
        if level(streams, load, True, results) < 0:
            return None
        shares = 1.0 - results[WORST] / flows.deadline[mates]
        return float(shares.min()), results[WAITING].tolist()


@dataclass(slots=True)
class _Search:
    """Depth first, from the lowest level up; a state seen again has failed before."""

    flows: Flows
    slots: _Slots
    level: _Level
    robust: bool
    most_tests: int
    told: Told
    stuck: tuple[int, ...] = ()

    def run(self) -> _State | None:
        size = self.flows.period.size
        seen: set[tuple[int, int, frozenset[int]]] = set()
        stack = [iter((_State(0, 0, frozenset(range(size))),))]
        while stack and self.level.tests < self.most_tests:
            state = next(stack[-1], None)
            if state is None:
                stack.pop()
                continue
            if state.gap == len(self.slots.gaps):
                return state
            key = (state.gap, state.used, state.left)
            if key not in seen:
                seen.add(key)
                stack.append(self.after(state))
            if not self.told(size - len(state.left), size):
                raise StoppedError("no assignment was found yet")
        return None

    def after(self, state: _State) -> Iterator[_State]:
        """What can come next: a programmable flow on the next free identifier, or else the fixed flow above the gap."""
        gap, fixed = self.slots.gaps[state.gap]
        waiting = [flow for flow in self.slots.programmable if flow in state.left]
        if state.used < len(gap):
            only = len(gap) - state.used >= len(waiting)
            any_holds = False
            for flow, behind in self.holding(waiting, state):
                any_holds = True
                placed = (*state.placed, (flow, gap[state.used]))
                yield _State(state.gap, state.used + 1, state.left - {flow}, placed, behind)
                if only:
                    return
            if any_holds:
                return
        if fixed is None:
            if not state.left:
                yield _State(state.gap + 1, 0, state.left, state.placed, state.behind)
            else:
                self.stuck = self.stuck or tuple(waiting)
            return
        held = self.level.share(fixed, state.left, state.behind)
        if held is not None:
            yield _State(state.gap + 1, 0, state.left - {fixed}, state.placed, held[1])
        else:
            self.stuck = self.stuck or (fixed,)

    def holding(self, waiting: list[int], state: _State) -> Iterator[tuple[int, dict[int, int]]]:
        """The flows that meet their deadline at this level, best first: latest deadline, or largest share if robust."""
        late = sorted(waiting, key=lambda flow: int(self.flows.jitter[flow] - self.flows.deadline[flow]))
        asked = ((flow, self.level.share(flow, state.left, state.behind)) for flow in late)
        held = ((share[0], flow, share[1]) for flow, share in asked if share is not None)
        for _, flow, behind in sorted(held, key=lambda one: -one[0]) if self.robust else held:
            yield flow, behind
