"""Response times against frames sent one by one: never above the bound, and with own buffers at it."""

import itertools
import random
from dataclasses import replace

import numpy as np
import pytest

from loomwright.engines.flows import NO_FAULTS, Faults, flows_of
from loomwright.engines.response_times import UNBOUNDED, kernel_values, response_times
from tests.engines.medium import released, sent, worst_moment


def random_flows(draw, queues, most=5, load=0.9):
    size = draw.randint(2, most)
    frames = [draw.randint(1, 5) for _ in range(size)]
    periods = [max(2, round(frame * size / load * draw.uniform(0.6, 2.5))) for frame in frames]
    jitters = [draw.choice([0, 0, draw.randint(0, 2 * period)]) for period in periods]
    queue = [draw.choice([-1, 0, 0, 1]) if queues else -1 for _ in range(size)]
    return flows_of(frames, periods, jitters, 10_000, queue)


def sent_at_random(draw, flows, until, faults=(), recovery=0, grace=1):
    """Random phases; the first frame late and the others not, or all late by chance."""
    frames = []
    for flow in range(flows.period.size):
        period, jitter = int(flows.period[flow]), int(flows.jitter[flow])
        late = itertools.chain([jitter], itertools.repeat(0)) if draw.random() < 0.7 else iter(lambda: None, 0)
        phase = draw.choice([-jitter, draw.randint(-jitter, period)])
        delays = lambda late=late, jitter=jitter: (  # noqa: E731
            drawn if (drawn := next(late)) is not None else draw.randint(0, jitter)
        )
        frames += [(at, flow, nominal) for at, nominal in released(period, jitter, phase, until, delays)]
    return sent(flows, frames, faults, recovery, grace)


def assert_within(flows, times, responses):
    for flow, seen in enumerate(responses):
        if times.worst[flow] != UNBOUNDED:
            assert max(seen, default=0) <= times.worst[flow], (flow, flows)


def share_reached(flows, times, seen):
    """How much of the bound was seen, for each flow that has one."""
    return [seen[flow] / times.worst[flow] for flow in range(flows.period.size) if times.worst[flow] != UNBOUNDED]


def test_the_worst_moment_takes_exactly_as_long_as_told():
    """With own buffers the result is no mere bound: releasing everything at the worst moment reaches it."""
    draw, later, checked = random.Random(3), 0, 0
    for _ in range(1200):
        flows = random_flows(draw, queues=False)
        times = response_times(flows, 1, head_start=1)
        for flow in range(flows.period.size):
            if times.worst[flow] != UNBOUNDED:
                seen = sent(flows, worst_moment(flows, flow, int(times.busy[flow])))[flow]
                assert max(seen) == times.worst[flow]
                checked, later = checked + 1, later + int(times.instance[flow] > 0)
    assert checked > 2500
    assert later > 20


def test_continuous_time_is_approached_tick_by_tick():
    """The same set in finer and finer ticks: the worst moment misses the result for continuous time by one tick."""
    flows = flows_of([2, 3, 1, 4], [11, 13, 17, 30], [3, 0, 20, 1], 1000)
    for scale in (1, 10, 1000):
        fine = flows_of(*(scale * getattr(flows, name) for name in ("transmission", "period", "jitter", "deadline")))
        times = response_times(fine, 1)
        for flow in range(3):
            seen = sent(fine, worst_moment(fine, flow, int(times.busy[flow])))[flow]
            assert times.worst[flow] - 1 <= max(seen) <= times.worst[flow]


@pytest.mark.parametrize("queues", [False, True])
def test_nothing_sent_at_random_is_ever_later_than_told(queues):
    draw, reached = random.Random(5), []
    for _ in range(600):
        flows = random_flows(draw, queues)
        times = response_times(flows, 1, head_start=1)
        seen = np.zeros(flows.period.size)
        for _ in range(12):
            responses = sent_at_random(draw, flows, 150)
            assert_within(flows, times, responses)
            seen = np.maximum(seen, [max(each, default=0) for each in responses])
        reached += share_reached(flows, times, seen)
    assert len(reached) > 1500
    assert max(reached) == 1.0
    assert np.mean(reached) > 0.7, "a bound far above all that happens would be no use"


def test_every_phase_of_small_sets_with_queues_stays_within_the_bound_and_some_reach_it():
    """All phases, each with the first frame late or not; exhaustive for these sets."""
    sets = [
        flows_of([1, 2, 2], [5, 8, 10], 0, 100, [0, -1, 0]),
        flows_of([1, 3, 1, 2], [6, 12, 12, 12], [2, 0, 0, 0], 100, [0, -1, 0, -1]),
        flows_of([2, 1, 2, 1], [8, 8, 8, 16], [0, 0, 3, 0], 100, [0, 1, 0, 1]),
        flows_of([1, 1, 2, 2], [4, 12, 12, 12], 0, 100, [-1, 0, 0, 0]),
        flows_of([1, 2, 1], [4, 8, 6], [5, 0, 0], 100, [0, -1, 0]),
    ]
    exact = 0
    for flows in sets:
        times = response_times(flows, 1, head_start=1)
        assert (times.worst != UNBOUNDED).all()
        seen = np.zeros(flows.period.size)
        periods, jitters = flows.period.tolist(), flows.jitter.tolist()
        for phases in itertools.product(*(range(period) for period in periods)):
            for late in {0, 1} if any(jitters) else {0}:
                frames = []
                for flow, phase in enumerate(phases):
                    delays = itertools.chain([late * jitters[flow]], itertools.repeat(0))
                    frames += [
                        (at, flow, nominal)
                        for at, nominal in released(
                            periods[flow], jitters[flow], phase - late * jitters[flow], 40, lambda d=delays: next(d)
                        )
                    ]
                responses = sent(flows, frames)
                seen = np.maximum(seen, [max(each, default=0) for each in responses])
        assert (seen <= times.worst).all(), (seen, times.worst)
        exact += int((seen == times.worst).sum())
    assert exact >= 7


@pytest.mark.parametrize("queues", [False, True])
def test_faults_at_any_time_never_make_a_frame_later_than_told(queues):
    draw, spoilt = random.Random(8), 0
    for _ in range(250):
        flows = random_flows(draw, queues, load=0.6)
        burst, interval, recovery = draw.randint(1, 3), draw.choice([None, draw.randint(30, 90)]), draw.randint(0, 4)
        times = response_times(flows, 1, Faults(burst, interval, recovery), head_start=1)
        free = response_times(flows, 1, head_start=1)
        for _ in range(10):
            first = draw.randint(0, 60)
            hits = [first + draw.choice([0, draw.randint(0, 3)]) for _ in range(burst)]
            hits += list(range(first + interval, 150, interval)) if interval else []
            near = {hit for hit in hits if sum(hit <= other < hit + (interval or 10**6) for other in hits) > burst}
            if not near:
                responses = sent_at_random(draw, flows, 150, hits, recovery)
                assert_within(flows, times, responses)
                spoilt += any(max(seen, default=0) > free.worst[flow] >= 0 for flow, seen in enumerate(responses))
    assert spoilt > 20, "faults must matter in some of the runs"


def test_a_release_within_the_first_bit_of_another_frame_is_allowed_for():
    draw, matters = random.Random(13), 0
    for _ in range(300):
        flows = random_flows(draw, queues=draw.random() < 0.5)
        bit = int(flows.transmission.min())
        times, instant = response_times(flows, bit), response_times(flows, 1)
        for _ in range(8):
            responses = sent_at_random(draw, flows, 120, grace=bit)
            assert_within(flows, times, responses)
        matters += bool((times.worst != instant.worst).any())
    assert matters > 10


def test_a_bound_that_left_the_queues_out_would_be_broken():
    """Test of the test: with own buffers assumed, frames in transmit queues are found later than told."""
    draw, broken = random.Random(21), 0
    for _ in range(100):
        flows = random_flows(draw, queues=True)
        alone = response_times(replace(flows, queue=np.full_like(flows.queue, -1)), 1)
        for _ in range(5):
            responses = sent_at_random(draw, flows, 150)
            broken += any(
                max(seen, default=0) > alone.worst[flow] != UNBOUNDED for flow, seen in enumerate(responses)
            )  # fmt: skip
    assert broken > 20


def test_waiting_behind_a_lower_frame_counts_for_the_flows_between():
    """Test of the test: without the lateness of frames behind lower ones, the flow between would be told too early."""
    flows = flows_of([1, 2, 1], [4, 8, 6], [5, 0, 0], 100, [0, -1, 0])
    assert kernel_values(flows, 1, NO_FAULTS)[0].lowest.tolist() == [2, 1, 2]
    between = response_times(flows, 1).worst[1]
    assert between > response_times(replace(flows, queue=np.full_like(flows.queue, -1)), 1).worst[1]
