"""Longest response times against published sets, another program, and the recurrences written out slowly."""

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.engines.flows import NO_FAULTS, Faults, flows_of, rearranged
from loomwright.engines.response_faults import fault_probabilities, times_by_faults
from loomwright.engines.response_times import (
    MOST_TICKS,
    UNBOUNDED,
    StoppedError,
    all_met,
    response_times,
    slack,
)
from tests.authorities import authority
from tests.engines.medium import sent, slow_times, worst_moment
from tests.engines.response_peer import peer_times, random_set

PUBLISHED = authority("response_times/published")
RANDOM_SETS = authority("response_times/random_sets")
NS = 1_000_000
"""Nanoseconds in a millisecond; the published sets are computed in them, and agree to the last digit printed."""
HALF_A_DIGIT_NS = 500


def frame_bits(size):
    frame = PUBLISHED["frame"]
    return frame["bits"] + frame["bits_per_byte"] * size


def in_ns(milliseconds):
    return [round(value * NS) for value in milliseconds]


# --- published sets -----------------------------------------------------------------------------------------------


def test_the_second_instance_decides_in_the_published_counter_example():
    case = PUBLISHED["counter_example"]
    bit_ns = NS // case["rate_kbit_per_s"]
    frame_ns = frame_bits(case["bytes"]) * bit_ns
    assert frame_ns == in_ns([case["transmission_ms"]])[0]
    flows = flows_of([frame_ns] * 3, in_ns(case["period_ms"]), 0, in_ns(case["deadline_ms"]))
    times = response_times(flows, bit_ns)
    assert times.worst.tolist() == in_ns(case["revised_ms"])
    assert times.worst.tolist() != in_ns(case["original_ms"])
    assert times.instance.tolist() == [0, 0, 1]
    assert (slack(flows, times) < 0).tolist() == [False, False, True]
    assert times.share[-1] == pytest.approx(0.9714, abs=5e-5)


def test_five_messages_respond_as_another_program_says():
    case = PUBLISHED["five_messages"]
    assert response_times(flows_of(case["transmission_us"], case["period_us"]), 1).worst.tolist() == case["response_us"]


def faulted_set():
    """The set with faults, in ns; its convention leaves the pause out of the frame and of the answer."""
    case = PUBLISHED["faults"]
    bit_ns = NS // case["rate_kbit_per_s"]
    pause_ns = case["pause_bits"] * bit_ns
    assert case["frame_bits_without_pause"] + case["pause_bits"] == PUBLISHED["frame"]["bits"]
    flows = flows_of([frame_bits(size) * bit_ns for size in case["bytes"]], in_ns(case["period_ms"]))
    recovery_ns = (case["fault_bits"] - case["pause_bits"]) * bit_ns
    return case, flows, bit_ns, pause_ns, recovery_ns


def test_twelve_messages_respond_as_published_without_faults():
    """There a pause is waited for even where nothing lower is sent: the last message's 3 bits."""
    case, flows, bit_ns, pause_ns, _ = faulted_set()
    times = response_times(flows, bit_ns, foreign=pause_ns)
    assert (times.worst - pause_ns).tolist() == in_ns(case["without_pause_ms"])


def test_two_messages_respond_as_published_with_every_number_of_faults():
    case, flows, bit_ns, pause_ns, recovery_ns = faulted_set()
    checked = 0
    for row in case["by_faults"]:
        message, most = row["message"] - 1, row["most_faults"]
        worst = times_by_faults(flows, bit_ns, recovery_ns, most, foreign=pause_ns)[:, message] - pause_ns
        first = in_ns(case["without_pause_ms"])[message]
        assert worst.tolist() == [first + count * in_ns([row["each_ms"]])[0] for count in range(most + 1)]
        assert worst[-1] == in_ns([row["last_ms"]])[0]
        checked += len(worst)
    assert checked == 21


def test_the_number_of_faults_is_as_probable_as_published():
    case, flows, bit_ns, pause_ns, recovery_ns = faulted_set()
    for row in case["probabilities"]:
        message, expected = row["message"] - 1, row["of"]
        worst = times_by_faults(flows, bit_ns, recovery_ns, len(expected) - 1, foreign=pause_ns)[:, message] - pause_ns
        found = fault_probabilities(worst.tolist(), case["faults_per_ms"] / NS)
        assert found == pytest.approx(expected, rel=2e-6)
        assert sum(found) < 1.0


def sae(frame_formula):
    case = PUBLISHED["sae"]
    bit_ns = NS // case["rate_kbit_per_s"]
    return case, bit_ns, [frame_formula(size) * bit_ns for size in case["bytes"]], in_ns(case["period_ms"])


def test_the_sae_set_responds_as_remembered_from_1994():
    """Caution: the blocking was chosen so that the first row fits; thirteen rows remain, against memory (see the file)."""
    case, bit_ns, frames, periods = sae(lambda size: (34 + 8 * size) // 5 + 47 + 8 * size)
    times = response_times(flows_of(frames, periods), bit_ns, foreign=case["foreign_bits_1994"] * bit_ns)
    for rate, percent in case["utilisation_percent"].items():
        assert 100.0 * times.share[-1] * case["rate_kbit_per_s"] / float(rate) == pytest.approx(percent, abs=0.011)
    expected = case["response_1994_ms"]
    rows = [row for row in range(len(expected)) if row + 1 != case["fitted_row"]]
    assert len(rows) == 13
    assert [int(times.worst[row]) for row in rows] == pytest.approx(
        [expected[row] * NS for row in rows], abs=HALF_A_DIGIT_NS
    )


def test_the_sae_set_by_the_revised_analysis_is_unchanged():
    case, bit_ns, frames, periods = sae(frame_bits)
    assert frames == in_ns(case["transmission_ms"])
    times = response_times(flows_of(frames, periods), bit_ns)
    assert times.worst.tolist() == in_ns(PUBLISHED["sae_revised"]["response_ms"])


# --- another program ------------------------------------------------------------------------------------------------


def from_queuing(frames, periods, jitters):
    times = response_times(flows_of(frames, periods, jitters), 1, head_start=1)
    return (times.waiting + frames).tolist(), times.instance


def test_stored_answers_of_another_program_are_met_exactly():
    checked = 0
    for row in RANDOM_SETS["sets"]:
        assert from_queuing(row["transmission"], row["period"], row["jitter"])[0] == row["from_queuing"]
        checked += len(row["from_queuing"])
    assert checked >= 300


def test_three_thousand_answers_of_another_program_are_met_exactly(record_property):
    draw, checked, later = random.Random(11), 0, 0
    while checked < 3000:
        case = random_set(draw, draw.choice([0.5, 1.5]))
        ours, instances = from_queuing(*case)
        assert ours == peer_times(*case), case
        checked, later = checked + len(ours), later + int((instances > 0).sum())
    record_property("told", f"response times equal to another program's: {checked}, {later} of a later instance")
    assert later >= 20


# --- the recurrences, written out --------------------------------------------------------------------------------------


@st.composite
def small_flows(draw, queues=False, most=5):
    size = draw(st.integers(1, most))
    column = st.lists(st.integers(0, 100), min_size=size, max_size=size)
    frames = [1 + number % 4 for number in draw(column)]
    periods = [3 + number % 28 for number in draw(column)]
    jitters = [number % 25 for number in draw(column)]
    deadlines = [1 + number for number in draw(column)]
    queue = [number % 3 - 1 for number in draw(column)] if queues else -1
    return flows_of(frames, periods, jitters, deadlines, queue)


FAULTS = st.sampled_from([NO_FAULTS, Faults(1, None, 2), Faults(2, None, 0), Faults(1, 14, 0), Faults(2, 25, 3)])


def assert_as_written_out(flows, faults, head_start):
    found = response_times(flows, 1, faults, head_start=head_start, horizon=400)
    worst, waiting = slow_times(
        flows, head_start, 1, faults.burst, faults.interval, faults.recovery, most=400
    )  # fmt: skip
    assert found.worst.tolist() == [UNBOUNDED if value is None else value for value in worst]
    assert found.waiting.tolist() == [UNBOUNDED if value is None else value for value in waiting]
    expected = all(value is not None and value <= until for value, until in zip(worst, flows.deadline, strict=True))
    if head_start == 0 and None not in worst:
        assert all_met(flows, 1, faults) is expected
    return found


@settings(max_examples=150, deadline=None)
@given(small_flows(), FAULTS, st.integers(0, 1))
def test_own_buffers_agree_with_the_recurrences_written_out(flows, faults, head_start):
    assert_as_written_out(flows, faults, head_start)


@settings(max_examples=150, deadline=None)
@given(small_flows(queues=True), FAULTS, st.integers(0, 1))
def test_transmit_queues_agree_with_the_bound_looked_at_tick_by_tick(flows, faults, head_start):
    assert_as_written_out(flows, faults, head_start)


# --- properties ---------------------------------------------------------------------------------------------------


def as_late(times, others):
    """Whether no time is shorter than the other one; without bound is longest."""
    first, second = (np.where(each.worst == UNBOUNDED, MOST_TICKS, each.worst) for each in (times, others))
    return bool((first >= second).all())


@settings(max_examples=200, deadline=None)
@given(small_flows(queues=True), st.data())
def test_longer_frames_more_jitter_shorter_periods_and_faults_never_help(flows, data):
    times = response_times(flows, 1, Faults(1, 60, 1))
    flow = data.draw(st.integers(0, flows.period.size - 1))
    one = np.eye(flows.period.size, dtype=np.int64)[flow]
    for worse, faults in (
        (replace(flows, transmission=flows.transmission + one), Faults(1, 60, 1)),
        (replace(flows, jitter=flows.jitter + one), Faults(1, 60, 1)),
        (replace(flows, period=flows.period - one), Faults(1, 60, 1)),
        (flows, Faults(2, 60, 1)),
        (flows, Faults(1, 59, 1)),
        (flows, Faults(1, 60, 2)),
    ):
        assert as_late(response_times(worse, 1, faults), times)
    assert as_late(times, response_times(flows, 1))
    assert as_late(response_times(flows, 1, foreign=5), response_times(flows, 1))


@settings(max_examples=100, deadline=None)
@given(small_flows(most=6), st.randoms(use_true_random=False))
def test_the_order_of_the_flows_above_and_of_those_below_does_not_matter(flows, draw):
    size = flows.period.size
    middle = draw.randrange(size)
    above, below = list(range(middle)), list(range(middle + 1, size))
    draw.shuffle(above)
    draw.shuffle(below)
    other = response_times(rearranged(flows, [*above, middle, *below]), 1)
    times = response_times(flows, 1)
    for column in ("worst", "waiting", "instance", "blocking", "busy"):
        assert getattr(other, column)[middle] == getattr(times, column)[middle]


@settings(max_examples=100, deadline=None)
@given(small_flows(queues=True))
def test_time_in_finer_ticks_gives_the_same(flows):
    fine = replace(
        flows, **{name: 1000 * getattr(flows, name) for name in ("transmission", "period", "jitter", "deadline")}
    )
    fine = replace(fine, shortest=1000 * flows.shortest)
    times, finer = response_times(flows, 1), response_times(fine, 1000)
    assert np.where(times.worst < 0, UNBOUNDED, 1000 * times.worst).tolist() == finer.worst.tolist()


@settings(max_examples=100, deadline=None)
@given(small_flows(most=6))
def test_a_queue_of_one_flow_is_a_buffer_of_its_own(flows):
    alone = replace(flows, queue=np.arange(flows.period.size, dtype=np.int64))
    assert response_times(alone, 1).worst.tolist() == response_times(flows, 1).worst.tolist()


def test_flows_of_a_queue_wait_for_each_other_and_count_at_the_lowest():
    """By hand: A (2) and C (3) share a queue, B (4) between them has a buffer of its own, D (5) is below them all.

    A may be queued after C, when D has just started, and B comes in between; B waits for D and A alone.
    """
    flows = flows_of([2, 4, 3, 5], 100, 0, 100, [0, -1, 0, -1])
    times = response_times(flows, 1)
    assert times.worst.tolist() == [5 + 3 + 4 + 2, 5 + 2 + 4, 5 + 2 + 4 + 3, 2 + 4 + 3 + 5]
    assert times.blocking.tolist() == [5, 5, 5, 0]
    assert response_times(replace(flows, queue=flows.queue * 0 - 1), 1).worst[0] == 5 + 2


# --- limits -----------------------------------------------------------------------------------------------------


def test_a_level_with_more_to_send_than_time_has_no_bound_and_those_above_it_have():
    times = response_times(flows_of([5, 5, 5], [10, 15, 20]), 1)
    assert times.worst.tolist() == [10, 20, UNBOUNDED]
    assert times.share[2] > 1.0
    assert slack(flows_of([5, 5, 5], [10, 15, 20]), times)[2] == -MOST_TICKS


def test_a_medium_that_is_just_full_is_bounded_without_anything_in_the_way_only():
    assert response_times(flows_of([5, 5], [10, 10]), 1).worst.tolist() == [10, 10]
    assert response_times(flows_of([5, 5], [10, 10], [0, 1]), 1).worst.tolist()[1] == UNBOUNDED
    assert response_times(flows_of([5, 5], [10, 10]), 1, foreign=1).worst.tolist()[1] == UNBOUNDED
    assert response_times(flows_of([5, 4], [10, 10]), 1, Faults(1, 50, 0)).worst.tolist()[1] == 19
    assert response_times(flows_of([5, 4], [10, 10]), 1, Faults(2, 50, 0)).worst.tolist()[1] == UNBOUNDED


def test_the_last_part_of_the_medium_is_followed_to_the_end():
    """Above the last flow 0.998 of the medium is taken: hundreds of instances are looked at, and sending them one by one agrees."""
    flows = flows_of([333, 333, 333, 300], [1000, 1001, 1003, 10**7], 0, 10**8)
    times = response_times(flows, 1, head_start=1)
    assert times.busy[2] > 240 * 1003
    responses = sent(flows, worst_moment(flows, 2, int(times.busy[2])))
    assert max(responses[2]) == times.worst[2]
    assert responses[2].index(max(responses[2])) == times.instance[2]


def test_a_horizon_cuts_a_busy_period_off():
    flows = flows_of([5, 4], [10, 9])
    busy = int(response_times(flows, 1).busy[1])
    assert response_times(flows, 1, horizon=busy).worst[1] > 0
    assert response_times(flows, 1, horizon=busy - 1).worst[1] == UNBOUNDED


def test_what_would_overflow_is_refused_and_what_is_just_below_is_exact():
    scale = 2**49
    small = flows_of([5, 4, 3], [40, 42, 44], [9, 0, 3], 100)
    large = flows_of(*(getattr(small, name) * scale for name in ("transmission", "period", "jitter", "deadline")))
    assert response_times(large, scale).worst.tolist() == (response_times(small, 1).worst * scale).tolist()
    with pytest.raises(OverflowError, match="coarser tick"):
        response_times(flows_of([5], [MOST_TICKS]), 1)
    with pytest.raises(OverflowError):
        response_times(small, 1, horizon=MOST_TICKS + 1)
    with pytest.raises(OverflowError):
        response_times(small, 1, Faults(2**50, None, 2**50))
    with pytest.raises(ValueError, match="at most 64 bits"):
        flows_of([2**70], [2**71])


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: flows_of([0], [10]),
        lambda: flows_of([1], [0]),
        lambda: flows_of([1], [10], -1),
        lambda: flows_of([1], [10], 0, 0),
        lambda: flows_of([1.5], [10]),
        lambda: flows_of([1], [10], shortest=2),
        lambda: Faults(-1),
        lambda: Faults(0, 100),
        lambda: Faults(1, 0),
        lambda: response_times(flows_of([1], [10]), 2),
        lambda: response_times(flows_of([1], [10]), 0),
        lambda: fault_probabilities([2.0, 1.0], 0.1),
        lambda: fault_probabilities([1.0], -0.1),
    ],
)
def test_impossible_values_are_refused(wrong):
    with pytest.raises(ValueError, match=r"\w{4}"):
        wrong()


def test_no_flows_have_no_times():
    assert response_times(flows_of([], np.empty(0, dtype=np.int64)), 1).worst.size == 0


def test_progress_is_told_and_no_stops():
    flows, heard = flows_of([1] * 150, [1000] * 150), []
    response_times(flows, 1, told=lambda done, whole: heard.append((done, whole)) or True)
    assert heard == [(64, 150), (128, 150), (150, 150)]
    with pytest.raises(StoppedError):
        response_times(flows, 1, told=lambda _done, _whole: False)
