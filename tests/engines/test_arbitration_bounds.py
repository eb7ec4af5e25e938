"""What a simulated bus shows against what response-time analysis allows: never more, and to the tick where it is provoked."""

from dataclasses import replace

import numpy as np
import pytest

from loomwright.engines.arbitration import Bus, Errors, Show, simulate
from loomwright.engines.arbitration_releases import Message, Sender, with_random_offsets
from loomwright.engines.flows import Faults, flows_of
from loomwright.engines.response_times import UNBOUNDED, response_times
from tests.authorities import authority


def one(rank, length, *, sender=0, period=10**9, offset=0):
    """A message of one length."""
    return Message(rank, sender, period, length, length, offset=offset)


def own_senders(count):
    return (Sender(),) * count


def dice(seed=1):
    return np.random.default_rng(seed)


def bound(messages, number, *, blocking=None, faults=0, recovery=0, drift=lambda message: 0):
    """Longest response by analysis, written out here: all instances of the busy period, jitter, a fixed number of faults.

    A release at the very tick of a start takes part in it, hence the one tick more. Each fault costs its recovery and
    the longest frame of this rank or above.
    """
    me = messages[number]
    higher = [other for other in messages if other.rank < me.rank]
    lower = [other.worst for other in messages if other.rank > me.rank]
    blocked = max(lower, default=0) if blocking is None else blocking
    spent = blocked + faults * (recovery + max(other.worst for other in (me, *higher)))

    def demand(of, span):
        return sum(-(-(span + other.jitter) // period(other)) * other.worst for other in of)

    def period(message):
        return message.period + message.period * drift(message) // 10**9

    busy = settle(lambda busy: spent + demand((me, *higher), busy))
    worst = 0
    for instance in range(-(-(busy + me.jitter) // period(me))):
        before = spent + instance * me.worst
        wait = settle(lambda wait, before=before: before + demand(higher, wait + 1))
        worst = max(worst, me.jitter + wait - instance * period(me) + me.worst)
    return worst


def settle(step, value=1):
    """The least fixed point from below."""
    while (after := step(value)) != value:
        value = after
    return value


def crowd(random, count, load, jitter=0.0):
    """Random messages, each with a sender of its own."""
    share = random.dirichlet(np.ones(count)) * load
    found = []
    for rank in range(count):
        worst = int(random.integers(50, 140))
        period = max(int(worst / share[rank]), 2 * worst)
        late = int(random.integers(0, int(period * jitter) + 1))
        found.append(Message(rank, rank, period, int(random.integers(40, worst + 1)), worst, late))
    return tuple(found)


@pytest.mark.parametrize("seed", range(30))
def test_from_the_critical_instant_the_longest_response_is_the_bound_to_the_tick(seed):
    """The longest lower frame starts a tick before everyone else is released; a later instance may be the worst."""
    random = dice(seed)
    messages = crowd(random, int(random.integers(2, 9)), random.uniform(0.5, 0.97))
    for number, me in enumerate(messages):
        lower = [other for other in messages if other.rank > me.rank]
        longest = max(lower, key=lambda other: other.worst, default=None)
        blocking = longest.worst - 1 if longest else 0
        expected = bound(messages, number, blocking=blocking)
        set_off = [
            replace(other, offset=0 if other is longest else 10**7 if other in lower else 1) for other in messages
        ]
        seen = simulate(Bus(tuple(set_off), own_senders(len(messages)), longest=True), 10**6, dice())
        assert seen.worst_response[number] == expected


@pytest.mark.parametrize("seed", range(30))
def test_no_random_run_exceeds_the_bound_with_jitter_drift_and_bursts(seed):
    random = dice(100 + seed)
    count = int(random.integers(2, 10))
    messages = with_random_offsets(
        crowd(random, count, random.uniform(0.3, 0.9), jitter=random.uniform(0, 1.5)), random
    )
    senders = tuple(Sender(int(random.integers(-200_000, 200_001))) for _ in messages)
    faults = int(random.integers(0, 4))
    bursts = ((int(random.integers(0, 500_000)), faults),) if faults else ()
    bus = Bus(messages, senders, errors=Errors(recovery=31, bursts=bursts), longest=bool(random.integers(2)))
    seen = simulate(bus, 2_000_000, random)
    for number in range(count):
        most = bound(
            messages, number, faults=faults, recovery=31, drift=lambda message: senders[message.sender].drift_ppb
        )
        assert 0 < seen.worst_response[number] <= most


def test_the_bound_with_faults_is_reached_when_the_burst_hits_the_one_that_waits():
    """Both are released a tick after the longest frame started; each fault spoils the same longest frame of the level."""
    messages = (one(1, 100, sender=0, offset=1), one(2, 100, sender=1, offset=1), one(3, 130, sender=2))
    bus = Bus(messages, own_senders(3), errors=Errors(recovery=23, bursts=((131, 3),)))
    seen = simulate(bus, 5000, dice())
    assert seen.worst_response[1] == bound(messages, 1, blocking=129, faults=3, recovery=23)


def test_the_counter_example_needs_the_second_instance():
    """All released at once: C takes 3.0 ms at first and 3.5 ms the second time, as the revised analysis says."""
    published = authority("response_times/published")["counter_example"]
    bit_ns = 10**6 // published["rate_kbit_per_s"]
    length = round(published["transmission_ms"] * 1e6)
    periods = [round(period * 1e6) for period in published["period_ms"]]
    messages = tuple(one(rank, length, sender=rank, period=period) for rank, period in enumerate(periods))
    seen = simulate(Bus(messages, own_senders(3), bit=bit_ns), 10**9, dice(), Show(rows=20))
    assert seen.worst_response[2] / 1e6 == pytest.approx(published["revised_ms"][2], abs=1e-6)
    first = seen.trace.response[seen.trace.message == 2][0]
    assert first / 1e6 == pytest.approx(published["original_ms"][2], abs=1e-6)
    late = replace(messages[2], offset=0), *(replace(message, offset=1) for message in messages[:2])
    provoked = simulate(Bus(late, own_senders(3), bit=bit_ns), 10**9, dice()).worst_response
    assert provoked[1] / 1e6 == pytest.approx(published["revised_ms"][0], abs=1e-5)
    assert provoked[2] / 1e6 == pytest.approx(published["revised_ms"][1], abs=1e-5)


@pytest.mark.parametrize("seed", range(40))
def test_no_random_run_exceeds_the_response_times_with_queues_and_bursts(seed):
    """Several messages a sender, some senders queues; time goes by whole ticks, so a lower frame is a tick under way."""
    random = dice(200 + seed)
    count = int(random.integers(3, 12))
    senders = tuple(Sender(fifo=bool(random.integers(2))) for _ in range(int(random.integers(1, 4))))
    messages = tuple(
        replace(message, sender=int(random.integers(len(senders))))
        for message in with_random_offsets(crowd(random, count, random.uniform(0.3, 0.8), jitter=0.8), random)
    )
    faults = int(random.integers(0, 4))
    bursts = ((int(random.integers(0, 500_000)), faults),) if faults else ()
    bus = Bus(messages, senders, errors=Errors(recovery=31, bursts=bursts), longest=bool(random.integers(2)))
    flows = flows_of(
        [message.worst for message in messages],
        [message.period for message in messages],
        [message.jitter for message in messages],
        queue=[message.sender if senders[message.sender].fifo else -1 for message in messages],
    )
    most = response_times(flows, 1, Faults(faults, None, 31 if faults else 0), head_start=1).worst
    assert (most != UNBOUNDED).all()
    seen = simulate(bus, 2_000_000, random).worst_response
    assert (seen > 0).all()
    assert (seen <= most).all()
