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
_HELD_SHARE = 0.3
_WORTH_A_ROUND = 0.1
_EQUAL_MM = 0.01

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

    @property
    def key(self) -> tuple[float, float]:
        """Broken rules and score, for comparing plans; infinite without one."""
        if self.point is None:
            return math.inf, math.inf
        return self.count, float(np.array(self.planning.columns.cost) @ self.point)


def best_plan(task: Task, weights: Weights, watch: Watch, told: Told, sides: Iterable[Side] = ()) -> Best:
    """Try smaller programs first, where they can hold the best plan; then the whole one."""
    if weights.branch < TWICE:
        return _fewest(task, weights, watch, told, sides, through=False)
    return _by_through(task, weights, watch, told, sides)


def _by_through(task: Task, weights: Weights, watch: Watch, told: Told, sides: Iterable[Side]) -> Best:
    free = _fewest(task, weights, _part(watch, _SMALL_SHARE), told, sides, through=True, unlimited=True)
    if free.point is not None and trunks_within(task, free.planning, free.point):
        return free if free.proved or free.cancelled else _resumed(free, watch, told)
    if free.cancelled:
        return replace(free, point=None)
    held = _held(task, weights, _part(watch, _HELD_SHARE), told, free) if free.count == 0 else None
    if held is not None and (held.proved or held.cancelled):
        return held
    whole = _fewest(task, weights, watch, told, free.sides, through=False)
    if whole.proved:
        return whole
    bound_mm = max(free.bound_mm, whole.bound_mm) if free.count == whole.count else whole.bound_mm
    fewest = max(free.fewest, whole.fewest)
    if held is not None and held.key <= whole.key:
        bound_mm = bound_mm if whole.count == 0 else free.bound_mm
        return replace(held, cancelled=whole.cancelled, bound_mm=bound_mm)
    return replace(whole, fewest=fewest, bound_mm=bound_mm)


def _held(task: Task, weights: Weights, watch: Watch, told: Told, free: Best) -> Best | None:
    """A plan of stops joined through that breaks no rule; proved if it is no longer than with free trunks."""
    strict = _Try(task, weights, free.sides, strict=True, through=True)
    outcome = strict.run(watch, told, "shortest cable, trunks limited")
    if outcome.values is None and outcome.status != "cancelled":
        return None
    proved = free.proved and outcome.cost <= free.key[1] + _EQUAL_MM
    cancelled = outcome.status == "cancelled"
    point, bound_mm = _point(outcome), free.bound_mm
    return Best(task, strict.planning, point, proved, cancelled, 0, free.fewest, bound_mm, strict.sides(), strict)


def _part(watch: Watch, share: float) -> Watch:
    now = watch.clock()
    return replace(watch, until=now + share * (watch.until - now))


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


def _fewest(
    task: Task,
    weights: Weights,
    watch: Watch,
    told: Told,
    sides: Iterable[Side],
    *,
    through: bool,
    unlimited: bool = False,
) -> Best:
    """Try to break no rule; where that cannot be (or not in half the time), break as few as can be."""
    now = watch.clock()
    half = replace(watch, without=now + 0.5 * (watch.until - now))
    strict = _Try(task, weights, sides, strict=True, through=through, unlimited=unlimited)
    outcome = strict.run(half, told, "shortest cable")
    proved, cancelled = outcome.status == "optimal", outcome.status == "cancelled"
    if outcome.values is not None or cancelled:
        point = _point(outcome)
        return Best(task, strict.planning, point, proved, cancelled, 0, 0, outcome.bound, strict.sides(), strict)
    loose = _Try(task, weights, strict.sides(), strict=False, through=through, unlimited=unlimited)
    return _loosened(loose, task, watch, told, 1 if outcome.status == "infeasible" else 0)


def _loosened(loose: "_Try", task: Task, watch: Watch, told: Told, least: int) -> Best:
    """Count the rules that must be broken, then find the shortest cable; again with what time is left."""
    best = Best(task, loose.planning, None, False, False, 0, least, 0.0, loose.sides(), loose)
    total = watch.until - watch.clock()
    start: tuple[int, ...] | None = None
    while True:
        part = replace(_part(watch, 0.5), without=watch.until)
        fewest = loose.run(part, told, "fewest broken rules", fewest=True, start=start)
        if fewest.values is None:
            return replace(best, cancelled=fewest.status == "cancelled", sides=loose.sides())
        count = round(fewest.cost)
        least = count if fewest.status == "optimal" else max(least, math.ceil(fewest.bound - 1e-6))
        more = (loose.planning.at_most_broken(count),)
        outcome = loose.run(watch, told, "shortest cable", more=more, start=fewest.values)
        best = replace(
            best,
            point=_point(outcome),
            proved=fewest.status == outcome.status == "optimal",
            cancelled="cancelled" in (fewest.status, outcome.status),
            count=count,
            fewest=least,
            bound_mm=outcome.bound,
            sides=loose.sides(),
            more=more,
        )
        start = outcome.values
        if least == count or best.cancelled or watch.until - watch.clock() < _WORTH_A_ROUND * total:
            return best


def _point(outcome: Outcome) -> Point | None:
    return None if outcome.values is None else np.array(outcome.values, dtype=np.float64)


class _Try:
    """One planning program with what it takes to solve it."""

    def __init__(self, task: Task, weights: Weights, sides: Iterable[Side], *, strict: bool, **kind: bool) -> None:
        self.planning = planning_of(task, weights, strict=strict, **kind)
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
