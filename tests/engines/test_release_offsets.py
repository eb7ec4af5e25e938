"""Release offsets: bursts as large as sums say, measured tick by tick, and never larger than before."""

import itertools
import random

import numpy as np
import pytest

from loomwright.engines.release_offsets import flattened_offsets
from loomwright.engines.response_times import StoppedError


def largest_backlog(periods, works, offsets, until):
    """Tick by tick, from rest."""
    left = most = 0
    for now in range(until):
        left += sum(
            work
            for period, work, offset in zip(periods, works, offsets, strict=True)
            if now >= offset and (now - offset) % period == 0
        )
        most, left = max(most, left), max(0, left - 1)
    return most


def random_flows(draw, size):
    periods = [draw.choice([10, 20, 30, 40, 60]) for _ in range(size)]
    return periods, [draw.randint(1, max(1, min(periods) // size)) for _ in periods]


def columns(*sequences):
    return [np.array(sequence, dtype=np.int64) for sequence in sequences]


def test_backlogs_are_as_counted_tick_by_tick_and_never_grow():
    draw, smaller = random.Random(1), 0
    for _ in range(30):
        periods, works = random_flows(draw, draw.randint(1, 5))
        found = flattened_offsets(*columns(periods, works), [0] * len(periods), step=1)
        assert found.whole == (True,)
        assert (found.offset < periods).all()
        assert (found.offset >= 0).all()
        assert found.before == (largest_backlog(periods, works, [0] * len(periods), 400),) == (sum(works),)
        assert found.after == (largest_backlog(periods, works, found.offset.tolist(), 400),)
        assert found.after[0] <= found.before[0]
        smaller += found.after[0] < found.before[0]
    assert smaller > 20


def test_small_sets_come_close_to_the_best_of_all_offsets():
    draw, best_met, sets = random.Random(2), 0, 25
    for _ in range(sets):
        periods = [draw.choice([6, 8, 12]) for _ in range(3)]
        works = [draw.randint(1, 2 if period < 12 else 4) for period in periods]
        found = flattened_offsets(*columns(periods, works), [0] * 3, step=1)
        best = min(
            largest_backlog(periods, works, (0, *offsets), 72)
            for offsets in itertools.product(*(range(period) for period in periods[1:]))
        )
        assert best <= found.after[0] <= 1.5 * best + 1
        best_met += found.after[0] == best
    assert best_met >= 0.7 * sets


def test_equal_flows_are_spread_evenly():
    found = flattened_offsets(*columns([100] * 4, [10] * 4), [7] * 4, step=5)
    assert found.after == (10,)
    assert sorted(np.diff(sorted(found.offset.tolist()))) == [25, 25, 25]
    assert found.senders == (7,)


def test_senders_are_spread_each_for_itself():
    both = flattened_offsets(*columns([100, 50, 100, 50], [10, 8, 10, 8]), [1, 1, 2, 2], step=5)
    one = flattened_offsets(*columns([100, 50], [10, 8]), [1, 1], step=5)
    assert both.offset.tolist() == one.offset.tolist() * 2
    assert both.senders == (1, 2)


def test_periods_that_hardly_ever_meet_are_followed_over_a_window_and_that_is_told():
    found = flattened_offsets(*columns([10007, 10009, 10037], [100, 100, 100]), [0] * 3)
    assert found.whole == (False,)
    assert found.after[0] <= found.before[0]
    many = columns([10**9 * at + 7 for at in range(10, 50)], [10**6] * 40)
    assert flattened_offsets(*many, [0] * 40, step=10**9).whole == (False,)


def test_a_sender_with_more_to_send_than_time_is_followed_over_a_window_too():
    assert flattened_offsets(*columns([10, 10], [6, 6]), [0, 0]).whole == (False,)
    assert flattened_offsets(*columns([10, 10], [6, 4]), [0, 0]).whole == (True,)


def test_no_stops_the_work_and_impossible_values_are_refused():
    with pytest.raises(StoppedError):
        flattened_offsets(*columns([10], [1]), [0], told=lambda _done, _whole: False)
    with pytest.raises(ValueError, match="at least one tick"):
        flattened_offsets(*columns([0], [1]), [0])
