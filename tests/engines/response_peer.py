"""Random flows with jitter, and what the package ``response-time-analysis`` says of them.

That program counts from the queuing of a frame, on a clock of whole ticks, with a lower frame under way for at least one
tick. ``authorities/response_times/random_sets.toml`` holds some of what it gave; run ``python -m tests.engines.response_peer`` to
write it anew.
"""

import random
from importlib.metadata import version

from tests.authorities import FOLDER

FILE = FOLDER / "response_times" / "random_sets.toml"
STORED = 40


def random_set(draw, most_jitter):
    """Transmission, period, jitter by flow in bits, highest priority first; in no order of deadlines, load 0.6 to 0.97."""
    size = draw.randint(3, 14)
    frames = [55 + 10 * draw.randint(0, 8) for _ in range(size)]
    shares = [draw.random() + 0.1 for _ in frames]
    load = draw.uniform(0.6, 0.97) / sum(shares)
    periods = [max(1, round(frame / (share * load))) for frame, share in zip(frames, shares, strict=True)]
    jitters = [int(draw.uniform(0.0, most_jitter) * period) for period in periods]
    if sum(frame / period for frame, period in zip(frames, periods, strict=True)) >= 0.99:
        return random_set(draw, most_jitter)
    return frames, periods, jitters


def peer_times(frames, periods, jitters):
    """Longest times from queuing to the end of the frame, by flow."""
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

    tasks = [
        Task(PeriodicWithJitter(period, jitter), FullyNonPreemptive(WCET(frame)), priority=Priority(len(frames) - at))
        for at, (frame, period, jitter) in enumerate(zip(frames, periods, jitters, strict=True))
    ]
    whole = taskset(tasks)
    return [rta(whole, task, IdealProcessor()).response_time_bound for task in tasks]


def main():
    """Write the file."""
    draw = random.Random(2024)
    lines = [
        "# Random sets in bit times: what another program says. Times from queuing to the end of the frame and its pause.",
        "",
        f'source = "response-time-analysis {version("response-time-analysis")} (PyPI), fp.rta with FullyNonPreemptive and PeriodicWithJitter; it lets a lower frame be under way for at least one tick"',
        'standing = "computed by another program"',
    ]
    for number in range(STORED):
        frames, periods, jitters = random_set(draw, 0.5 if number % 2 else 1.5)
        lines += ["", "[[sets]]", f"transmission = {frames}", f"period = {periods}", f"jitter = {jitters}"]
        lines.append(f"from_queuing = {peer_times(frames, periods, jitters)}")
    FILE.write_text("\n".join([*lines, ""]), "utf-8")


if __name__ == "__main__":
    main()
