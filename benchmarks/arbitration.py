"""Arbitration: an hour of a line of 500 kbit/s at 40 % load against a plain event loop, and how near bounds are come.

The line is made up: 60 messages of 0 to 8 bytes from 12 senders with drifting clocks, periods from 10 ms to 1 s (then
stretched to the load), jitter of a tenth of that and at most 0.5 ms, a fifth of them events, lengths drawn in whole
bits of 2 us, one tick a nanosecond. The peer is the plain event loop of the tests (heapq, one Python object a frame),
which draws its own releases; both simulate the same stretch of 20 s.
Run: .venv/bin/python benchmarks/arbitration.py
"""

import heapq
import math
import random
import statistics
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from loomwright.engines.arbitration import Bus, Errors, Show, simulate, simulating
from loomwright.engines.arbitration_releases import BILLION, Message, Sender

ROOT = Path(__file__).parents[1]
BIT = 2000
SECOND, HOUR = BILLION, 3600 * BILLION
PERIODS_MS = (10, 20, 20, 50, 50, 100, 100, 200, 500, 1000)
MESSAGES, SENDERS, LOAD = 60, 12, 0.40
PEER_S = 20


def line(load=LOAD, seed=1):
    """The line, its periods stretched alike to the load wanted."""
    chance = random.Random(seed)
    senders = tuple(Sender(chance.randint(-100_000, 100_000), chance.randrange(SECOND)) for _ in range(SENDERS))
    messages = []
    for rank in range(MESSAGES):
        size = chance.choice((0, 1, 2, 4, 6, 8, 8, 8))
        period = sorted(chance.choice(PERIODS_MS) for _ in range(2))[rank * 2 // MESSAGES] * 1_000_000
        messages.append(
            Message(
                rank,
                chance.randrange(SENDERS),
                period,
                (47 + 8 * size) * BIT,
                (55 + 10 * size) * BIT,
                jitter=min(period // 10, 500_000),
                offset=chance.randrange(period),
                extra=period if rank % 5 == 4 else 0,
            )
        )
    now = sum((message.best + message.worst) / 2 / (message.period + message.extra) for message in messages)
    stretch = now / load
    return Bus(
        tuple(
            replace(message, period=int(message.period * stretch), extra=int(message.extra * stretch))
            for message in messages
        ),
        senders,
        bit=BIT,
    )


def releases(number, message, sender, bit, seed):
    """What the peer is given of one message, one instance after the other."""
    chance = random.Random(f"{seed} {number}")
    clock, last = message.offset, 0
    while True:
        release = sender.start + clock + clock * sender.drift_ppb // BILLION
        last = max(last, release + int(chance.random() * (message.jitter + 1)))
        length = message.best + bit * int(chance.random() * ((message.worst - message.best) // bit + 1))
        yield last, number, release, length
        extra = int(-message.extra * math.log1p(-chance.random())) if message.extra else 0
        clock += message.period + extra


def peer(bus, ticks):
    """Seconds of the plain event loop, and its log."""
    from tests.engines.event_loop import Loop

    begin = time.perf_counter()
    arrivals = heapq.merge(
        *(
            releases(number, message, bus.senders[message.sender], bus.bit, 1)
            for number, message in enumerate(bus.messages)
        )
    )
    log = Loop(bus, arrivals).run(ticks)
    return time.perf_counter() - begin, log


def timed(work):
    """Seconds, and the result."""
    begin = time.perf_counter()
    result = work()
    return time.perf_counter() - begin, result


def first_calls():
    """A tenth of a second of the line in a new process, twice: with an empty cache of its own, and from that cache."""
    import tempfile

    program = (
        "import time; begin = time.perf_counter()\n"
        "import sys; sys.path.insert(0, 'benchmarks')\n"
        "import arbitration as here, numpy as np\n"
        "here.simulate(here.line(), 10**8, np.random.default_rng(1)); print(time.perf_counter() - begin)"
    )
    with tempfile.TemporaryDirectory() as cache:
        for what in ("compiling", "from the cache on disk"):
            done = subprocess.run(
                [sys.executable, "-c", program],
                cwd=ROOT,
                env={"NUMBA_CACHE_DIR": cache, "PATH": ""},
                check=True,
                capture_output=True,
                text=True,
            )
            print(f"first call in a new process, {what}: {float(done.stdout):.2f} s")


def speed():
    """An hour, with and without extras, and the peer on a stretch."""
    bus = line()
    warm, _ = timed(lambda: simulate(bus, SECOND, np.random.default_rng(1)))
    hour, seen = timed(lambda: simulate(bus, HOUR, np.random.default_rng(1)))
    print(f"first call of this process {warm:.2f} s, told apart from what follows")
    print(f"an hour, {seen.count.sum()} frames at {seen.load:.1%}: {hour:.2f} s")
    queues = replace(bus, senders=tuple(replace(sender, fifo=True) for sender in bus.senders))
    errors = replace(bus, errors=Errors(recovery=31 * BIT, per_tick=10 / SECOND))
    for what, other in (("with queues", queues), ("with ten errors a second", errors), ("at 95 %", line(0.95))):
        seconds, seen = timed(lambda other=other: simulate(other, HOUR, np.random.default_rng(1)))
        print(f"the same {what}: {seconds:.2f} s ({seen.count.sum()} frames, backlog at most {seen.backlog})")
    ticks = PEER_S * SECOND
    ratios, ours_s, peer_s = [], [], []
    for _ in range(5):
        plain, log = peer(bus, ticks)
        ours, seen = timed(lambda: simulate(bus, ticks, np.random.default_rng(1), Show(rows=1)))
        ratios.append(plain / ours)
        ours_s.append(ours)
        peer_s.append(plain)
    frames = sum(message >= 0 for _, _, message, _, _ in log.rows)
    print(
        f"{PEER_S} s of it: plain event loop {statistics.median(peer_s):.2f} s ({frames} frames), loomwright "
        f"{statistics.median(ours_s) * 1e3:.0f} ms ({seen.count.sum()} frames), ratio {min(ratios):.0f} to {max(ratios):.0f}"
    )
    rate = hour / HOUR * ticks
    print(f"by the hour's rate the ratio is {min(peer_s) / rate:.0f} to {max(peer_s) / rate:.0f}")
    slices = []
    begin = time.perf_counter()
    for _ in simulating(bus, HOUR, np.random.default_rng(1)):
        slices.append(time.perf_counter() - begin)
        begin = time.perf_counter()
    print(f"progress told {len(slices)} times an hour, the longest slice {max(slices) * 1e3:.0f} ms")


def tightness():
    """Longest seen over the longest that analysis allows, every message of some lines, phases and lengths at random."""
    from tests.engines.test_arbitration_bounds import bound

    for load in (0.4, 0.6):
        for what, seconds, longest in (
            ("a minute", 60, False),
            ("an hour", 3600, False),
            ("an hour of longest frames", 3600, True),
        ):
            shares = []
            for seed in range(3):
                bus = replace(line(load, seed), longest=longest)
                seen = simulate(bus, seconds * SECOND, np.random.default_rng(seed))
                drifts = [sender.drift_ppb for sender in bus.senders]
                densest = sum(message.worst / message.period for message in bus.messages)
                assert densest < 0.999, "events at their least gaps would fill the line, and no bound would end"
                shares += [
                    seen.worst_response[number]
                    / bound(bus.messages, number, drift=lambda message, drifts=drifts: drifts[message.sender])
                    for number in range(MESSAGES)
                ]
            assert max(shares) <= 1.0, "a run exceeded its bound"
            low, middle, high = np.percentile(shares, (0, 50, 100))
            print(
                f"{load:.0%}, {what}: seen / bound {low:.2f} to {high:.2f}, median {middle:.2f} ({len(shares)} messages)"
            )


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    first_calls()
    speed()
    tightness()
