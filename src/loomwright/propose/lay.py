"""How a line lies: joints, steps of the trunk, ends; and branches where they take less cable for the same score."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

from loomwright.engines.cut_rounds import Point
from loomwright.propose.columns import branch_mm, over_limit
from loomwright.propose.program import Planning
from loomwright.propose.task import Task

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Lay:
    """One line on the ground, everything by number.

    ``joins``: stop -> place; ``steps``: how often the trunk goes between two neighbouring places; ``ends``: place, and
    the stop whose own termination ends the trunk there (-1: a plug-in terminator); ``far``: stops that are to stand
    next to a plug-in terminator.
    """

    joins: Mapping[int, int]
    steps: Mapping[Pair, int]
    ends: tuple[Pair, Pair]
    far: frozenset[int]


def lay_of(planning: Planning, point: Point, line: int) -> Lay | None:
    """Read a line from a point; ``None`` for a line that carries no stop."""
    task, columns = planning.task, planning.columns
    joins = {stop: place for (stop, own, place), column in columns.join.items() if own == line and point[column] > 0.5}
    if not joins:
        return None
    steps: Counter[Pair] = Counter()
    for number, span in enumerate(task.ground.spans):
        times = round(point[columns.edge[line, number]])
        for a, b in pairwise(span) if times else ():
            steps[min(a, b), max(a, b)] += times
    ends = [
        (task.stops[stop].place, stop)
        for (stop, own), column in columns.own_end.items()
        if own == line and point[column] > 0.5
    ]
    for place in task.ground.places:
        ends += [(place, -1)] * round(point[columns.plug[line, place]])
    first, last = sorted(ends)
    far = frozenset(stop for (stop, own), column in columns.far_end.items() if own == line and point[column] > 0.5)
    return Lay(joins, dict(steps), (first, last), far)


def branched(task: Task, line: int, lay: Lay) -> Lay:
    """Where the trunk runs out to one stop and back, branch instead, as far as limits and locks allow.

    For a branch that weighs twice its length in trunk: the score stays and cable is saved. ``task`` carries the limits.
    """
    limits = task.limits[line]
    through = {lock.stop for lock in task.locks if lock.must in ("be joined through", "be at an end")}
    ended = {stop for _, stop in lay.ends}
    total_mm = sum(branch_mm(task, stop, place) for stop, place in lay.joins.items() if stop not in ended)
    joins, steps = dict(lay.joins), dict(lay.steps)
    while True:
        for outer, inner in _dead_ends(steps, lay):
            here = [stop for stop, place in joins.items() if place == outer]
            if len(here) > 1 or set(here) & through:
                continue
            longer_mm = sum(branch_mm(task, stop, inner) for stop in here)
            sum_mm = total_mm + longer_mm - sum(branch_mm(task, stop, outer) for stop in here)
            if over_limit(longer_mm, limits.branch_m) or over_limit(sum_mm, limits.branches_m):
                continue
            joins.update(dict.fromkeys(here, inner))
            del steps[min(outer, inner), max(outer, inner)]
            total_mm = sum_mm
            break
        else:
            return replace(lay, joins=joins, steps=steps)


def _dead_ends(steps: Mapping[Pair, int], lay: Lay) -> list[Pair]:
    """Places where the trunk turns back, each with the place it came from."""
    around: dict[int, list[int]] = {}
    for a, b in steps:
        around.setdefault(a, []).append(b)
        around.setdefault(b, []).append(a)
    kept = {place for place, _ in lay.ends}
    return [(place, others[0]) for place, others in sorted(around.items()) if len(others) == 1 and place not in kept]
