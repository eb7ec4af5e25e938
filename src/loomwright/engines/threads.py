"""Independent pieces of work in threads, their answers in order."""

import os
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import islice
from typing import TypeVar

T = TypeVar("T")
Progress = Callable[[int, int], bool]

MOST = 16
"""Threads at the most: beyond it the little that holds the interpreter's lock is all that counts."""


def usable_cores() -> int:
    """Cores that this process may run on."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1


def in_order(jobs: Sequence[Callable[[], T]], progress: Progress | None = None, threads: int = 0) -> list[T] | None:
    """What the jobs return, in their order, whatever the number of threads (0: one for each core).

    Worth it for work that releases the interpreter's lock, as compiled loops do. ``progress`` hears (done, all) in the
    calling thread before each answer is taken, and stops the work by returning false: what runs is waited for, the
    rest never begins, and the answer is ``None``. A job's exception is raised here.
    """
    count = min(threads or usable_cores(), MOST, len(jobs))
    if count <= 1:
        return _one_by_one(jobs, progress)
    found: list[T] = []
    ahead = iter(jobs)
    with ThreadPoolExecutor(count, thread_name_prefix="waves") as pool:
        # A few more than there are threads are handed out, so that none waits for this one to look.
        waiting: deque[Future[T]] = deque(pool.submit(job) for job in islice(ahead, 2 * count))
        try:
            for number in range(len(jobs)):
                if progress is not None and not progress(number, len(jobs)):
                    return None
                found.append(waiting.popleft().result())
                waiting.extend(pool.submit(job) for job in islice(ahead, 1))
        finally:
            for future in waiting:
                future.cancel()
    return found


def _one_by_one(jobs: Sequence[Callable[[], T]], progress: Progress | None) -> list[T] | None:
    found = []
    for number, job in enumerate(jobs):
        if progress is not None and not progress(number, len(jobs)):
            return None
        found.append(job())
    return found
