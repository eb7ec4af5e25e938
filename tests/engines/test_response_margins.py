"""How far a set may be stretched: at the limit found all deadlines are met, just beyond it one is missed."""

import random
from dataclasses import replace

import numpy as np
import pytest

from loomwright.engines.flows import NO_FAULTS, Faults, flows_of
from loomwright.engines.response_margins import breakdown, jitter_room, stretched
from loomwright.engines.response_times import UNBOUNDED, StoppedError, all_met, response_times, slack


def random_set(draw, queues):
    size = draw.randint(1, 8)
    frames = [draw.randint(55, 135) * 1000 for _ in range(size)]
    spread = draw.choice([80, 150, 300])
    periods = [draw.randint(spread, 10 * spread) * 1000 * size for _ in frames]
    jitters = [int(draw.choice([0.0, 0.3]) * period * draw.random()) for period in periods]
    queue = [draw.choice([-1, 0]) if queues else -1 for _ in frames]
    flows = flows_of(frames, periods, jitters, periods, queue)
    worst = response_times(flows, 1000).worst
    if draw.random() < 0.5 and (worst != UNBOUNDED).all():
        factors = np.array([draw.choice([1.02, 1.2, 4.0]) for _ in frames])
        flows = replace(flows, deadline=(worst * factors).astype(np.int64))
    return flows


@pytest.mark.parametrize("queues", [False, True])
@pytest.mark.parametrize("faults", [NO_FAULTS, Faults(1, 50_000_000, 31_000)])
def test_deadlines_hold_at_the_breakdown_and_not_just_above(queues, faults):
    draw = random.Random(2)
    for _ in range(25):
        flows = random_set(draw, queues)
        found = breakdown(flows, 1000, faults)
        assert found.holds < found.breaks <= found.holds * (1.0 + 1.001e-4)
        for factor, expected in ((found.holds, True), (found.breaks, False)):
            times = response_times(
                stretched(flows, factor),
                int(np.ceil(1000 * factor)),
                replace(faults, recovery=int(np.ceil(faults.recovery * factor))),
            )
            assert bool((slack(flows, times) >= 0).all()) is expected


def test_breakdown_of_one_flow_is_its_room_over_its_frame():
    found = breakdown(flows_of([100], [1000], [200], [700]), 1)
    assert found.holds == pytest.approx(5.0, rel=1.1e-4)
    assert found.holds <= 5.0 < found.breaks


def test_breakdown_of_two_flows_by_hand():
    """Higher: one of either frame within its deadline of 600, so 3 times 200; the lower has 1000: 5 times."""
    found = breakdown(flows_of([100_000, 100_000], [10**6, 10**6], 0, [600_000, 10**6]), 1)
    assert found.holds == pytest.approx(3.0, rel=1.1e-4)


def test_a_set_that_misses_now_has_a_breakdown_below_one_and_a_hopeless_one_none():
    assert 0.0 < breakdown(flows_of([1000, 1000], [10_000, 10_000], 0, [1500, 10_000]), 1).holds < 1.0
    assert breakdown(flows_of([1000], [10_000], [5000], [4000]), 1).holds == 0.0


def test_a_finer_tolerance_encloses_the_same():
    flows = random_set(random.Random(4), queues=False)
    coarse, fine = breakdown(flows, 1000, tolerance=1e-2), breakdown(flows, 1000, tolerance=1e-6)
    assert coarse.holds <= fine.holds * (1 + 1e-12) <= fine.breaks <= coarse.breaks * (1 + 1e-12)
    assert fine.breaks <= fine.holds * (1.0 + 1.1e-6)


@pytest.mark.parametrize("queues", [False, True])
def test_jitter_may_grow_by_the_room_found_and_not_more(queues):
    draw, rooms, of_others = random.Random(6), 0, 0
    for _ in range(60):
        flows = random_set(draw, queues)
        room = jitter_room(flows, 1000, resolution=1)
        if room[0] < 0:
            assert not all_met(flows, 1000)
            continue
        for flow in range(room.size):
            one = np.eye(room.size, dtype=np.int64)[flow]
            assert all_met(replace(flows, jitter=flows.jitter + one * room[flow]), 1000)
            assert not all_met(replace(flows, jitter=flows.jitter + one * (room[flow] + 1)), 1000)
            rooms += 1
        of_others += int((room < slack(flows, response_times(flows, 1000))).sum())
        coarse = jitter_room(flows, 1000)
        assert ((coarse <= room) & (room < coarse + 1000)).all()
    assert rooms > 40
    assert of_others >= 5, "other flows' deadlines must be the limit in some"


def test_a_flow_alone_may_be_late_by_its_slack():
    assert jitter_room(flows_of([100], [1000], [50], [700]), 1).tolist() == [550]


def test_a_lower_flow_with_no_time_for_a_second_frame_limits_the_jitter_by_hand():
    """The lower frame starts at 10 and a bit after that the second one of the upper flow may come: at 100 less jitter."""
    assert jitter_room(flows_of([10, 10], [100, 1000], 0, [1000, 25]), 1).tolist() == [89, 5]


def test_missed_deadlines_leave_no_room():
    assert jitter_room(flows_of([100, 100], [1000, 1000], 0, [150, 1000]), 1).tolist() == [-1, -1]


@pytest.mark.parametrize("work", [breakdown, jitter_room])
def test_no_stops_the_work(work):
    with pytest.raises(StoppedError):
        work(flows_of([100], [1000]), 1, told=lambda _done, _whole: False)
