"""The plan with the fewest broken rules and, among those, the lowest score."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from loomwright.engines.cut_rounds import Outcome, Point, Row, Watch, cheapest
from loomwright.propose.columns import branch_mm, over_limit
from loomwright.propose.connection import Connection, Side
from loomwright.propose.first import First
from loomwright.propose.mend import Mend
from loomwright.propose.program import Planning, planning_of
from loomwright.propose.task import Task
from loomwright.propose.weights import TWICE, Weights

_SMALL_SHARE = 0.6

Told = Callable[[str, float, float], None]


@dataclass(frozen=True, eq=False, slots=True)
class Best:
    """The plan found, as a point of its program; ``None`` if there was none in time.

    ``task`` is the whole task, ``count`` the broken rules as the program counts them, at least ``fewest``; ``bound_mm``
    holds for that count; ``sides`` are of use to the next program over the same ground.
    """

    task: Task
    planning: Planning
    point: Point | None
    proved: bool
    cancelled: bool
    count: int
    fewest: int
    bound_mm: float
    sides: tuple[Side, ...]
    trying: "_Try"
    more: tuple[Row, ...] = ()


def best_plan(task: Task, weights: Weights, watch: Watch, told: Told, sides: Iterable[Side] = ()) -> Best:
    """Try the smaller program first, where it can hold the best plan; then the whole one."""
    if weights.branch < TWICE:
        return _fewest(task, weights, watch, told, sides, through=False)
    now = watch.clock()
    part = replace(watch, until=now + _SMALL_SHARE * (watch.until - now))
    small = _fewest(task, weights, part, told, sides, through=True)
    if small.point is not None and trunks_within(task, small.planning, small.point):
        return small if small.proved or small.cancelled else _resumed(small, watch, told)
    if small.cancelled:
        return replace(small, point=None)
    return _fewest(task, weights, watch, told, small.sides, through=False)


def _resumed(best: Best, watch: Watch, told: Told) -> Best:
    """Go on with a plan that keeps the limits of its trunks; a better one that breaks them does not count."""
    assert best.point is not None
    start = tuple(round(value) for value in best.point)
    outcome = best.trying.run(watch, told, "shortest cable", more=best.more, start=start)
    point = _point(outcome)
    if point is None or not trunks_within(best.task, best.planning, point):
        return best
    counted = best.count == best.fewest
    return replace(
        best,
        point=point,
        proved=outcome.status == "optimal" and counted,
        cancelled=outcome.status == "cancelled",
        bound_mm=max(best.bound_mm, outcome.bound),
        sides=best.trying.sides(),
    )


def trunks_within(task: Task, planning: Planning, point: Point) -> bool:
    """Whether every trunk of a point keeps its limit, branches counted where the limit counts them."""
    columns = planning.columns
    for line, limits in enumerate(task.limits):
        trunk_mm = sum(
            point[columns.edge[line, number]] * edge[2] for number, edge in enumerate(planning.task.ground.edges)
        )
        ended = {stop for (stop, own), column in columns.own_end.items() if own == line and point[column] > 0.5}
        for (stop, own, place), column in columns.join.items():
            if own == line and point[column] > 0.5 and (stop in ended or limits.trunk_counts_branches):
                trunk_mm += branch_mm(task, stop, place)
        if over_limit(trunk_mm, limits.trunk_m):
            return False
    return True


def _fewest(task: Task, weights: Weights, watch: Watch, told: Told, sides: Iterable[Side], *, through: bool) -> Best:
    """Try to break no rule; where that cannot be (or not in half the time), break as few as can be."""
    now = watch.clock()
    half = replace(watch, without=now + 0.5 * (watch.until - now))
    strict = _Try(task, weights, sides, strict=True, through=through)
    outcome = strict.run(half, told, "shortest cable")
    proved, cancelled = outcome.status == "optimal", outcome.status == "cancelled"
    if outcome.values is not None or cancelled:
        point = _point(outcome)
        return Best(task, strict.planning, point, proved, cancelled, 0, 0, outcome.bound, strict.sides(), strict)
    loose = _Try(task, weights, strict.sides(), strict=False, through=through)
    least = 1 if outcome.status == "infeasible" else 0
    now = watch.clock()
    part = replace(watch, until=now + 0.5 * (watch.until - now), without=watch.until)
    fewest = loose.run(part, told, "fewest broken rules", fewest=True)
    if fewest.values is None:
        cancelled = fewest.status == "cancelled"
        return Best(task, loose.planning, None, False, cancelled, 0, least, 0.0, loose.sides(), loose)
    count = round(fewest.cost)
    least = count if fewest.status == "optimal" else max(least, math.ceil(fewest.bound - 1e-6))
    more = (loose.planning.at_most_broken(count),)
    outcome = loose.run(watch, told, "shortest cable", more=more, start=fewest.values)
    return Best(
        task,
        loose.planning,
        _point(outcome),
        fewest.status == outcome.status == "optimal",
        "cancelled" in (fewest.status, outcome.status),
        count,
        least,
        outcome.bound,
        loose.sides(),
        loose,
        more,
    )


def _point(outcome: Outcome) -> Point | None:
    return None if outcome.values is None else np.array(outcome.values, dtype=np.float64)


class _Try:
    """One planning program with what it takes to solve it."""

    def __init__(self, task: Task, weights: Weights, sides: Iterable[Side], *, strict: bool, through: bool) -> None:
        self.planning = planning_of(task, weights, strict=strict, through=through)
        self.connection = Connection(self.planning, sides)
        self.mend = Mend(self.planning)
        self.first = First(self.planning, self.connection, self.mend)
        self.outcome: Outcome | None = None

    def run(
        self,
        watch: Watch,
        told: Told,
        stage: str,
        *,
        fewest: bool = False,
        more: tuple[Row, ...] = (),
        start: tuple[int, ...] | None = None,
    ) -> Outcome:
        scale = 1.0 if fewest else 1e-3
        telling = replace(watch, told=lambda best, bound: told(stage, scale * best, max(0.0, scale * bound)))
        program = self.planning.fewest(more) if fewest else self.planning.shortest(more)
        known = self.connection.known() if self.outcome is None else self.outcome.found
        self.outcome = cheapest(program, self.connection.broken, telling, self.mend, self.first, start, known)
        return self.outcome

    def sides(self) -> tuple[Side, ...]:
        """Sides of use to the next program: those in use at the end of this one."""
        return self.connection.in_use(self.outcome.found) if self.outcome else ()
