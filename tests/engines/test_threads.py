"""Pieces of work in threads: in order, whatever the number of threads, and at rest soon after a stop."""

import threading
import time

import pytest

from loomwright.engines.threads import in_order, usable_cores

THREADS = (1, 2, 5)


def jobs(count, work):
    return [lambda number=number: work(number) for number in range(count)]


@pytest.mark.parametrize("threads", [0, *THREADS])
def test_answers_come_in_the_order_of_the_jobs_however_long_each_takes(threads):
    slow_first = jobs(12, lambda number: (time.sleep(0.002 * (12 - number)), number)[1])
    assert in_order(slow_first, threads=threads) == list(range(12))


def test_several_run_at_once_and_never_more_than_asked_for():
    running, most = [], []
    gate = threading.Barrier(3, timeout=10.0)

    def work(number):
        running.append(number)
        most.append(len(running))
        gate.wait()  # passes only when three are inside at once
        running.remove(number)

    in_order(jobs(9, work), threads=3)
    assert max(most) == 3


@pytest.mark.parametrize("threads", THREADS)
def test_progress_is_told_before_each_answer_in_the_calling_thread(threads):
    told = []

    def progress(done, whole):
        told.append((done, whole, threading.current_thread() is threading.main_thread()))
        return True

    in_order(jobs(7, lambda number: number), progress, threads)
    assert told == [(done, 7, True) for done in range(7)]


@pytest.mark.parametrize("threads", THREADS)
def test_after_a_stop_the_rest_never_begins_and_nothing_runs_on(threads):
    begun = []

    def work(number):
        begun.append(number)
        time.sleep(0.01)

    assert in_order(jobs(100, work), lambda done, whole: done < 3, threads) is None
    count = len(begun)
    assert count <= 3 + 2 * threads
    time.sleep(0.05)
    assert len(begun) == count


@pytest.mark.parametrize("threads", THREADS)
def test_an_error_of_a_job_is_raised_and_ends_the_work(threads):
    begun = []

    def work(number):
        begun.append(number)
        if number == 2:
            raise ValueError("two")
        time.sleep(0.01)

    with pytest.raises(ValueError, match="two"):
        in_order(jobs(100, work), threads=threads)
    assert len(begun) < 20


def test_no_jobs_have_no_answers():
    assert in_order([]) == []
    assert usable_cores() >= 1
