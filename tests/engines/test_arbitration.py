"""Arbitration against scenes worked by hand, a second simulator in plain Python, and response-time analysis."""

import itertools
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.engines import arbitration
from loomwright.engines.arbitration import Bus, Errors, Show, simulate, simulating
from loomwright.engines.arbitration_releases import Message, Releases, Sender, with_random_offsets
from loomwright.laws.frame_bits import frame_bits
from loomwright.laws.wire_order import wire_order
from tests.engines.event_loop import Loop

FAR = 10**9
"""A period that does not come round again in a scene."""


def dice(seed=1):
    return np.random.default_rng(seed)


def one(rank, length, *, sender=0, period=FAR, **more):
    """A message of one length."""
    return Message(rank, sender, period, length, length, **more)


def own_senders(count):
    return (Sender(),) * count


def rows(trace):
    """Start, end, message and response of every row."""
    return list(
        zip(trace.start.tolist(), trace.end.tolist(), trace.message.tolist(), trace.response.tolist(), strict=True)
    )


def scene(*messages, until=5000, senders=None, **more):
    """What the wire carries."""
    senders = senders or own_senders(1 + max(message.sender for message in messages))
    return simulate(Bus(messages, senders, **more), until, dice(), Show(rows=100))


# Scenes worked by hand


def test_of_two_that_collide_the_lower_rank_goes_first_and_the_other_right_after_it():
    seen = scene(one(7, 100, sender=0, offset=40), one(3, 60, sender=1, offset=40))
    assert rows(seen.trace) == [(40, 100, 1, 60), (100, 200, 0, 160)]
    assert seen.load == pytest.approx(160 / 5000, abs=1e-12)
    assert seen.backlog == 2
    assert seen.longest_busy == 160


def test_a_frame_of_low_rank_that_has_just_started_blocks_the_highest_for_all_but_a_tick():
    seen = scene(one(9, 130, sender=0, offset=0), one(1, 50, sender=1, offset=1))
    assert rows(seen.trace) == [(0, 130, 0, 130), (130, 180, 1, 179)]


def test_whoever_comes_in_the_last_tick_of_a_frame_joins_and_a_tick_later_does_not():
    first, low, high = one(5, 100, sender=0), one(9, 50, sender=1, offset=20), one(1, 10, sender=2, offset=100)
    assert rows(scene(first, low, high).trace)[1:] == [(100, 110, 2, 10), (110, 160, 1, 140)]
    late = replace(high, offset=101)
    assert rows(scene(first, low, late).trace)[1:] == [(100, 150, 1, 130), (150, 160, 2, 59)]


def test_on_a_free_bus_a_frame_starts_at_once_or_at_the_next_bit_as_asked():
    two = (one(1, 100, sender=0), one(2, 100, sender=1, offset=123))
    assert rows(scene(*two, bit=10).trace)[1] == (123, 223, 1, 100)
    assert rows(scene(*two, bit=10, aligned=True).trace)[1] == (130, 230, 1, 107)


def test_a_frame_on_the_wire_at_the_end_counts_as_load_and_as_unsent():
    seen = scene(one(1, 100, offset=10), until=50)
    assert (seen.count[0], seen.unsent[0], seen.waited[0], seen.longest_busy) == (0, 1, 40, 40)
    assert seen.load == pytest.approx(40 / 50, abs=1e-12)
    assert np.isnan(seen.mean_response[0])


def test_a_spoiled_frame_breaks_off_after_the_bit_recovers_and_arbitrates_anew():
    """The error at 52 falls into the bit until 60; a higher one that came meanwhile goes before the retransmission."""
    errors = Errors(recovery=20, instants=(52,))
    seen = scene(one(5, 100, sender=0), one(1, 30, sender=1, offset=70), bit=10, errors=errors)
    assert rows(seen.trace) == [(0, 60, 0, -1), (60, 80, -1, -1), (80, 110, 1, 40), (110, 210, 0, 210)]
    assert seen.spoiled == 1
    assert seen.load == pytest.approx(210 / 5000, abs=1e-12)


def test_an_error_in_the_recovery_starts_it_again_and_one_on_a_free_bus_does_nothing():
    errors = Errors(recovery=20, instants=(5, 112, 125))
    seen = scene(one(5, 100, offset=100), bit=10, errors=errors)
    assert rows(seen.trace) == [(100, 120, 0, -1), (120, 130, -1, -1), (130, 150, -1, -1), (150, 250, 0, 150)]


def test_a_burst_spoils_the_next_frames_in_their_last_bit():
    seen = scene(one(5, 100, offset=100), errors=Errors(recovery=7, bursts=((150, 2),)))
    assert rows(seen.trace) == [
        (100, 200, 0, -1),
        (200, 207, -1, -1),
        (207, 307, 0, -1),
        (307, 314, -1, -1),
        (314, 414, 0, 314),
    ]


def test_a_queue_lets_a_low_frame_hold_up_a_high_one_behind_it():
    """Inversion: 1 waits behind 9 of its own sender, which waits for all the 5s; buffers by rank free it."""
    low, high = one(9, 100, sender=0, offset=10), one(1, 100, sender=0, offset=20)
    middle = one(5, 100, sender=1, period=100)
    queue, buffers = (Sender(fifo=True), Sender()), own_senders(2)
    held = scene(low, high, middle, senders=queue, until=10_000)
    assert held.count.tolist() == [0, 0, 100]
    assert held.unsent.tolist() == [1, 1, 0]
    assert held.waited.tolist() == [9990, 9980, 0]
    assert scene(low, high, middle, senders=buffers, until=10_000).worst_response[1] == 180
    finite = scene(low, high, replace(middle, period=150), senders=queue, until=10_000)
    assert rows(finite.trace)[:5] == [
        (0, 100, 2, 100),
        (100, 200, 0, 190),
        (200, 300, 1, 280),
        (300, 400, 2, 250),
        (400, 500, 2, 200),
    ]


def test_what_waits_is_queued_or_overwritten_as_chosen():
    """A long frame of rank 0 keeps the wire until 350; three instances come meanwhile, at 0, 100, 200 and 300."""
    long, short = one(0, 350, sender=0), one(5, 10, sender=1, period=100)
    both = scene(long, short, until=450)
    assert (both.count[1], both.lost[1], both.unsent[1], both.worst_response[1]) == (5, 0, 0, 360)
    newest = scene(long, replace(short, overwrite=True), until=450)
    assert (newest.count[1], newest.lost[1], newest.unsent[1], newest.worst_response[1]) == (2, 3, 0, 60)


def test_a_frame_on_the_wire_is_not_overwritten_but_lost_if_spoiled_beside_a_newer_one():
    message = one(5, 150, period=100, overwrite=True)
    good = scene(message, until=450)
    assert rows(good.trace) == [(0, 150, 0, 150), (150, 300, 0, 200), (300, 450, 0, 150)]
    assert (good.lost[0], good.unsent[0]) == (1, 1)
    bad = scene(message, until=300, errors=Errors(recovery=10, instants=(120,)))
    assert rows(bad.trace) == [(0, 121, 0, -1), (121, 131, -1, -1), (131, 281, 0, 181)]
    assert (bad.lost[0], bad.unsent[0]) == (1, 1)


def test_what_overwrites_a_spoiled_frame_takes_over_its_place_in_the_queue():
    """Of one sender, in order of queuing: A from 0, B from 10, A again at 40, 80 and 120 while the first is on the wire."""
    a, b = one(5, 150, period=40, overwrite=True), one(6, 30, offset=10)
    errors = Errors(recovery=10, instants=(124,))
    seen = scene(a, b, senders=(Sender(fifo=True),), until=330, errors=errors)
    assert rows(seen.trace) == [(0, 125, 0, -1), (125, 135, -1, -1), (135, 285, 0, 165), (285, 315, 1, 305)]
    assert seen.lost[0] == 6  # released at 0, 40, 80; then at 160, 200 and 240, while 280 waits behind B


def test_two_clocks_that_drift_past_each_other_meet_in_every_phase_once_a_beat():
    """Periods of 1000 and 1001 ticks, frames of 100: over a beat of 1000 instances each delay from 0 to 100 comes up."""
    high, low = one(1, 100, sender=0, period=1000), one(2, 100, sender=1, period=1000)
    bus = Bus((high, low), (Sender(), Sender(drift_ppb=1_000_000)))
    seen = simulate(bus, 1_001_000, dice(), Show(edges=tuple(range(100, 202))))
    assert seen.count.tolist() == [1001, 1000]
    assert seen.worst_response.tolist() == [199, 200]
    assert seen.mean_response == pytest.approx([100 + 4950 / 1001, 100 + 5050 / 1000], abs=1e-9)
    waits = np.arange(1, 101)
    assert (seen.histogram[1, 1 + waits] == 1).all()
    assert seen.histogram[1, 1] == 900
    assert (seen.histogram[0, 1 + waits[:99]] == 1).all()


# Releases


def test_releases_follow_the_drifting_clock_exactly_even_after_days():
    """Whole-number arithmetic against fractions: 90 hours of nanoseconds would not fit a plain product."""
    message = one(1, 1, period=10**13 + 1, offset=17)
    for drift in (-31_415, 0, 99_999, 123_456_789):
        queue = Releases(message, Sender(drift_ppb=drift, start=5), 1, dice(), longest=False).until(34 * 10**13).queue
        exact = [5 + (17 + k * message.period) * (1 + Fraction(drift, 10**9)) // 1 for k in range(queue.size)]
        assert queue.tolist() == exact


def test_jitter_lengths_and_gaps_are_drawn_evenly_within_their_limits_whatever_the_pieces():
    message = Message(1, 0, 1000, 40, 90, jitter=7, extra=500)
    whole = Releases(message, Sender(), 10, dice(3), longest=False).until(15_000_000)
    pieces = Releases(message, Sender(), 10, dice(3), longest=False)
    for tick in (1, 2, 700, 50_000, 51_000, 9_999_999):
        pieces.until(tick)
    size = whole.queue.size
    part = pieces.until(15_000_000)
    least = min(size, part.queue.size)
    for name in ("queue", "release", "length"):
        assert (getattr(part, name)[:least] == getattr(whole, name)[:least]).all()
    delay, gap = whole.queue - whole.release, np.diff(whole.release)
    fair = 5 * size**0.5
    assert np.bincount(delay) == pytest.approx(np.full(8, size / 8), abs=fair)
    lengths, counts = np.unique(whole.length, return_counts=True)
    assert lengths.tolist() == [40, 50, 60, 70, 80, 90]
    assert counts == pytest.approx(np.full(6, size / 6), abs=fair)
    assert gap.min() >= 1000
    assert gap.mean() == pytest.approx(1500, abs=5 * 500 / size**0.5)
    assert np.median(gap) == pytest.approx(1000 + 500 * np.log(2), abs=5 * 500 / size**0.5)


def test_lengths_come_from_the_table_or_are_all_the_worst():
    message = Message(1, 0, 100, 40, 90, lengths=(41, 47, 47, 85))
    table = Releases(message, Sender(), 1, dice(), longest=False).until(400_000).length
    lengths, counts = np.unique(table, return_counts=True)
    assert lengths.tolist() == [41, 47, 85]
    assert counts / table.size == pytest.approx([0.25, 0.5, 0.25], abs=0.05)
    assert set(Releases(message, Sender(), 1, dice(), longest=True).until(400_000).length) == {90}


def test_jitter_above_the_period_keeps_the_instances_in_order():
    message = one(1, 5, period=10, jitter=35)
    records = Releases(message, Sender(), 1, dice(), longest=False).until(10_000)
    assert (np.diff(records.queue) >= 0).all()
    assert ((records.queue >= records.release) & (records.queue <= records.release + 35)).all()


def test_random_offsets_lie_below_the_period():
    drawn = with_random_offsets(tuple(one(rank, 1, period=50) for rank in range(2000)), dice())
    assert {message.offset for message in drawn} == set(range(50))


def test_rank_orders_identifiers_as_the_bits_on_the_wire_do():
    """The stuffed bits of whole frames decide: where two first differ, the dominant one, a 0, wins."""
    random = dice(4)
    base = random.integers(0, 1 << 11, 6)
    kinds = [(int(identifier), False) for identifier in base]
    kinds += [
        (int(identifier) << 18 | int(low), True) for identifier in base for low in (0, *random.integers(0, 1 << 18, 2))
    ]
    wire = {kind: frame_bits(*kind, b"").bits for kind in kinds}
    for one_kind, other in itertools.combinations(set(kinds), 2):
        ranks = [wire_order(identifier, extended=extended) for identifier, extended in (one_kind, other)]
        assert (ranks[0] < ranks[1]) == (wire[one_kind] < wire[other])


# The second simulator


@st.composite
def buses(draw):
    """Small crowded buses with everything on them."""
    count = draw(st.integers(1, 6))
    senders = tuple(
        Sender(draw(st.sampled_from((0, -40_000_000, 777_777))), draw(st.integers(0, 30)), draw(st.booleans()))
        for _ in range(draw(st.integers(1, 3)))
    )
    ranks = draw(st.permutations(range(count)))
    messages = []
    for rank in ranks:
        best = draw(st.integers(1, 20))
        messages.append(
            Message(
                rank,
                draw(st.integers(0, len(senders) - 1)),
                draw(st.integers(10, 120)),
                best,
                best + draw(st.integers(0, 20)),
                jitter=draw(st.sampled_from((0, 0, 5, 200))),
                offset=draw(st.integers(0, 20)),
                extra=draw(st.sampled_from((0, 0, 40))),
                overwrite=draw(st.booleans()),
                lengths=draw(st.sampled_from(((), (best,), (best, best)))),
            )
        )
    errors = Errors(
        draw(st.integers(0, 12)),
        0.0,
        tuple(draw(st.lists(st.integers(0, 700), max_size=12))),
        tuple(draw(st.lists(st.tuples(st.integers(0, 600), st.integers(0, 3)), max_size=3))),
    )
    bit = draw(st.sampled_from((1, 1, 3, 10)))
    return Bus(tuple(messages), senders, bit, draw(st.booleans()), draw(st.booleans()), errors)


def arrivals(bus, until, seed):
    """What is queued before a tick, as one list: the draws are the engine's, everything after them is not."""
    streams = dice(seed).spawn(len(bus.messages) + 1)
    found = []
    for number, (message, stream) in enumerate(zip(bus.messages, streams[:-1], strict=True)):
        drawn = Releases(message, bus.senders[message.sender], bus.bit, stream, longest=bus.longest).until(until)
        for queue, release, length in zip(drawn.queue, drawn.release, drawn.length, strict=True):
            if queue < until:
                found.append((int(queue), number, int(release), int(length)))
    return sorted(found, key=lambda arrival: arrival[:2])


@given(buses(), st.integers(0, 1000), st.integers(200, 900))
@settings(max_examples=400, deadline=None)
def test_the_plain_event_loop_agrees_event_by_event(bus, seed, until):
    seen = simulate(bus, until, dice(seed), Show(edges=tuple(range(1, 2000)), rows=2000))
    log = Loop(bus, arrivals(bus, until, seed), bus.errors.instants).run(until)
    trace = seen.trace
    ours = zip(trace.start, trace.end, trace.message, trace.release, trace.response, strict=True)
    assert [tuple(int(value) for value in row) for row in ours] == log.rows
    assert seen.lost.tolist() == log.lost
    assert seen.unsent.tolist() == log.unsent
    assert seen.backlog == log.most_waiting
    for number in range(len(bus.messages)):
        responses = [response for _, _, message, _, response in log.rows if message == number and response >= 0]
        assert seen.count[number] == len(responses)
        assert seen.worst_response[number] == max(responses, default=0)
        assert seen.best_response[number] == min(responses, default=0)
        assert seen.histogram[number].tolist() == np.bincount(responses, minlength=2000).tolist()[:2000]


@given(buses(), st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_every_slice_ends_where_a_run_of_that_length_ends(bus, seed):
    bus = replace(bus, errors=replace(bus.errors, per_tick=0.01))
    show = Show(rows=2000)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(arbitration, "SLICE", 1)
        pieces = list(simulating(bus, 700, dice(seed), show))
    assert len(pieces) >= 4
    for piece in pieces:
        whole = simulate(bus, piece.ticks, dice(seed), show)
        for name in arbitration.Observed.__slots__:
            if name != "trace":
                np.testing.assert_array_equal(getattr(piece, name), getattr(whole, name), err_msg=name)
        assert rows(piece.trace) == rows(whole.trace)
    assert pieces[-1].ticks == 700


# Books that must balance


@given(buses(), st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_whatever_was_queued_is_sent_lost_or_waiting_and_busy_time_is_the_sum_of_the_rows(bus, seed):
    bus = replace(bus, errors=replace(bus.errors, per_tick=0.005))
    seen = simulate(bus, 800, dice(seed), Show(rows=5000))
    came = np.bincount([number for _, number, _, _ in arrivals(bus, 800, seed)], minlength=len(bus.messages))
    assert (seen.count + seen.lost + seen.unsent).tolist() == came.tolist()
    assert (seen.histogram.sum(axis=1) == seen.count).all()
    start, end = seen.trace.start, seen.trace.end
    assert (start[1:] >= end[:-1]).all()
    last = end[-1] if end.size else 0
    assert 0 <= round(seen.load * 800) - (end - start).sum() <= 800 - last
    assert seen.spoiled == ((seen.trace.message >= 0) & (seen.trace.response < 0)).sum()


def test_the_same_seed_gives_the_same_run_and_another_seed_another():
    bus = Bus(tuple(Message(rank, 0, 500 + rank, 20, 60, jitter=90) for rank in range(6)), own_senders(1))
    runs = [simulate(bus, 100_000, dice(seed), Show(rows=50)) for seed in (5, 5, 6)]
    assert rows(runs[0].trace) == rows(runs[1].trace)
    assert (runs[0].mean_response == runs[1].mean_response).all()
    assert (runs[0].mean_response != runs[2].mean_response).any()


def test_random_errors_come_at_the_rate_asked_for():
    """A wire that is always busy meets every one; one in a frame or its recovery is one event, hence few and short."""
    bus = Bus((one(1, 10, period=10),), own_senders(1), errors=Errors(recovery=3, per_tick=1e-4))
    seen = simulate(bus, 20_000_000, dice())
    assert seen.spoiled == pytest.approx(2000, abs=5 * 2000**0.5)


def test_the_trace_can_begin_where_the_worst_instance_was_released():
    bus = Bus(tuple(Message(rank, rank, 300, 20, 60, jitter=90) for rank in range(4)), own_senders(4))
    seen = simulate(bus, 200_000, dice(8))
    again = simulate(bus, 200_000, dice(8), Show(rows=20, since=int(seen.worst_release[3])))
    assert int(seen.worst_response[3]) in again.trace.response[again.trace.message == 3].tolist()
    assert again.trace.start[0] >= seen.worst_release[3]


@pytest.mark.parametrize(
    ("messages", "senders", "word"),
    [
        ((), own_senders(1), "needs a message"),
        ((one(1, 5), one(1, 5)), own_senders(1), "same rank"),
        ((one(1, 5, sender=1),), own_senders(1), "no sender 1"),
        ((Message(1, 0, 0, 5, 5),), own_senders(1), "positive"),
        ((Message(1, 0, 9, 5, 4),), own_senders(1), "above the worst"),
        ((Message(1, 0, 9, 5, 5, lengths=(6,)),), own_senders(1), "above the worst"),
        ((one(1, 5, jitter=-1),), own_senders(1), "not be negative"),
        ((one(1, 5),), (Sender(drift_ppb=-(10**9)),), "run forward"),
    ],
)
def test_a_bus_that_cannot_be_is_refused_before_the_first_slice(messages, senders, word):
    with pytest.raises(ValueError, match=word):
        simulating(Bus(messages, senders), 100, dice())
