"""Response times: the same sets for the package `response-time-analysis`, a thousand messages, margins, the first call.

Both programs compute the same quantity (from queuing to the end of the frame, jitter up to half a period, bit times), and
the answers are compared exactly before a ratio is printed. First come the random sets that the tests compare, all of them in
one go, with and without the making of each program's own objects from plain numbers. In the table after it ours is a call
with plain sequences as a user makes it, and the peer's objects are there already. Times of the two are processor time,
the median of some runs, because a busy machine would otherwise favour the quicker one.
Run: .venv/bin/python benchmarks/response_times.py   (the peer is a development dependency)
"""

import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from response_time_analysis.analysis.fp import rta
from response_time_analysis.model import (
    WCET,
    FullyNonPreemptive,
    IdealProcessor,
    PeriodicWithJitter,
    Priority,
    Task,
    taskset,
)

from loomwright.engines.flows import Flows, flows_of
from loomwright.engines.priority_orders import assign
from loomwright.engines.response_margins import breakdown, jitter_room
from loomwright.engines.response_times import response_times

ROOT = Path(__file__).resolve().parent.parent
RESULTS = 3000
"""So many messages the tests compare."""
SIZES = (10, 30, 100, 300)
LOADS = (0.5, 0.8, 0.95)
PERIODS_MS = (10, 20, 50, 100, 200, 500, 1000)
PS_PER_MS = 10**9
FIRST = """
import time; begin = time.perf_counter()
from loomwright.engines.flows import flows_of
from loomwright.engines.response_times import response_times
response_times(flows_of([100, 100], [1000, 1000]), 1)
print(time.perf_counter() - begin)
"""


def bit_times(size, load, seed):
    """Transmission, period and jitter in bit times, in no order of deadlines."""
    draw = random.Random(seed)
    frames = [55 + 10 * draw.randint(0, 8) for _ in range(size)]
    shares = [draw.random() + 0.1 for _ in frames]
    whole = sum(shares)
    periods = [max(1, round(frame * whole / (share * load))) for frame, share in zip(frames, shares, strict=True)]
    return frames, periods, [int(draw.uniform(0.0, 0.5) * period) for period in periods]


def peer_tasks(frames, periods, jitters):
    """The peer's own objects: one for each message, and the set of all."""
    tasks = [
        Task(PeriodicWithJitter(period, jitter), FullyNonPreemptive(WCET(frame)), priority=Priority(len(frames) - at))
        for at, (frame, period, jitter) in enumerate(zip(frames, periods, jitters, strict=True))
    ]
    return tasks, taskset(tasks)


def peer_times(tasks, whole):
    """The peer's answers."""
    return [rta(whole, task, IdealProcessor()).response_time_bound for task in tasks]


def our_times(flows):
    """Our answers."""
    return (response_times(flows, 1, head_start=1).waiting + flows.transmission).tolist()


def spent(work):
    """What a work gives, and seconds of processor time."""
    begin = time.process_time()
    found = work()
    return found, time.process_time() - begin


def recipe():
    """All random sets of the tests in one go: with the making of own objects, and without."""
    from tests.engines.response_peer import random_set

    draw, sets = random.Random(2024), []
    while sum(len(frames) for frames, _, _ in sets) < RESULTS:
        sets.append(random_set(draw, draw.choice([0.5, 1.5])))
    rows = []
    for _ in range(9):
        made, making = spent(lambda: [peer_tasks(*case) for case in sets])
        theirs, thinking = spent(lambda made=made: [peer_times(*objects) for objects in made])
        flows, filling = spent(lambda: [flows_of(*case) for case in sets])
        found, solving = spent(lambda flows=flows: [our_times(each) for each in flows])
        assert theirs == found
        rows.append((making + thinking, filling + solving, thinking, solving))
    for title, at in (("from plain numbers", 0), ("own objects made before", 2)):
        slow, quick = (statistics.median(row[column] for row in rows) for column in (at, at + 1))
        print(
            f"{len(sets)} sets of the tests, {title}: {slow * 1e3:.0f} ms, {quick * 1e3:.1f} ms, ratio {slow / quick:.0f}"
        )


def peer(frames, periods, jitters):
    """The peer's answers and seconds; building its objects is not counted."""
    objects = peer_tasks(frames, periods, jitters)
    seconds = []
    while len(seconds) < 7 and sum(seconds) < 1.0:
        found, passed = spent(lambda: peer_times(*objects))
        seconds.append(passed)
    return found, statistics.median(seconds)


def ours(frames, periods, jitters):
    """Our answers and the median of seconds."""
    seconds = []
    for _ in range(51):
        begin = time.process_time()
        times = response_times(flows_of(frames, periods, jitters), 1, head_start=1)
        seconds.append(time.process_time() - begin)
    return (times.waiting + frames).tolist(), statistics.median(seconds)


def vehicle(size, load, seed=1) -> Flows:
    """Messages with usual periods in picoseconds, rate-monotonic, scaled to the load; jitter up to half a period."""
    draw = random.Random(seed)
    periods = sorted(draw.choice(PERIODS_MS) * PS_PER_MS for _ in range(size))
    bits = [55 + 10 * draw.randint(0, 8) for _ in periods]
    bit = int(load / sum(frame / period for frame, period in zip(bits, periods, strict=True)))
    jitters = [int(draw.uniform(0.0, 0.5) * period) for period in periods]
    return flows_of([frame * bit for frame in bits], periods, jitters, [2 * period for period in periods])


def first_calls():
    """Seconds of the first call in a new process: compiling, and from the cache on disk, imports included."""
    with tempfile.TemporaryDirectory() as cache:
        for title in ("compiling", "from the cache on disk"):
            done = subprocess.run(
                [sys.executable, "-c", FIRST],
                env={"NUMBA_CACHE_DIR": cache},
                capture_output=True,
                text=True,
                check=True,
            )
            print(f"first call in a new process, {title}: {float(done.stdout):.2f} s")


def timed(title, work):
    """Print the seconds of one call, and what it returns."""
    begin = time.perf_counter()
    found = work()
    print(f"{title}: {time.perf_counter() - begin:.3f} s")
    return found


def main() -> None:
    """Print all figures."""
    first_calls()
    ours(*bit_times(5, 0.5, 1))
    recipe()
    print("messages, load: peer, ours, ratio (answers equal)")
    for size in SIZES:
        for load in LOADS:
            case = bit_times(size, load, size)
            (theirs, slow), (found, quick) = peer(*case), ours(*case)
            assert theirs == found
            print(f"{size:5}, {load:.2f}: {slow * 1e3:9.2f} ms, {quick * 1e3:7.3f} ms, {slow / quick:6.0f}")
    for load in (0.5, 0.8, 0.95):
        flows = vehicle(1000, load)
        bit = int(flows.transmission.min()) // 200
        timed(f"1000 messages with jitter, load {load}", lambda flows=flows, bit=bit: response_times(flows, bit))
    for size in (100, 300):
        flows = vehicle(size, 0.6)
        bit = int(flows.transmission.min()) // 200
        held = timed(f"{size} messages, breakdown", lambda flows=flows, bit=bit: breakdown(flows, bit))
        room = timed(f"{size} messages, room for jitter of each", lambda flows=flows, bit=bit: jitter_room(flows, bit))
        found = timed(
            f"{size} messages, the assignment with the largest least share",
            lambda flows=flows, bit=bit, size=size: assign(flows, [None] * size, range(2048), bit, robust=True),
        )
        print(f"   {held}, least room {room.min() / PS_PER_MS:.3f} ms, {found.status}, {found.tests} tests")


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    main()
