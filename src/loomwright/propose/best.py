"""The plan with the fewest broken rules and, among those, the lowest score."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from loomwright.engines.cut_rounds import Outcome, Point, Row, Watch, cheapest
from loomwright.propose.connection import Connection, Side
from loomwright.propose.first import First
from loomwright.propose.mend import Mend
from loomwright.propose.program import Planning, planning_of
from loomwright.propose.task import Task
from loomwright.propose.weights import Weights

Told = Callable[[str, float, float], None]


@dataclass(frozen=True, eq=False, slots=True)
class Best:
    """The plan found, as a point of its program; ``None`` if there was none in time.

    ``count`` broken rules as the program counts them, at least ``fewest``; ``bound_mm`` for that count; ``sides`` are of
    use to the next program over the same ground.
    """

    planning: Planning
    point: Point | None
    proved: bool
    cancelled: bool
    count: int
    fewest: int
    bound_mm: float
    sides: tuple[Side, ...]


def best_plan(task: Task, weights: Weights, watch: Watch, told: Told, sides: Iterable[Side] = ()) -> Best:
    """Try to break no rule; where that cannot be (or not in half the time), break as few as can be."""
    now = watch.clock()
    half = replace(watch, without=now + 0.5 * (watch.until - now))
    strict = _Try(task, weights, sides, strict=True)
    outcome = strict.run(half, told, "shortest cable")
    met = strict.sides()
    proved, cancelled = outcome.status == "optimal", outcome.status == "cancelled"
    if outcome.values is not None or cancelled:
        return Best(strict.planning, _point(outcome), proved, cancelled, 0, 0, outcome.bound, met)
    loose = _Try(task, weights, met, strict=False)
    fewest_possible = 1 if outcome.status == "infeasible" else 0
    now = watch.clock()
    part = replace(watch, until=now + 0.5 * (watch.until - now), without=watch.until)
    fewest = loose.run(part, told, "fewest broken rules", fewest=True)
    if fewest.values is None:
        met = loose.sides()
        return Best(loose.planning, None, False, fewest.status == "cancelled", 0, fewest_possible, 0.0, met)
    count = round(fewest.cost)
    least = count if fewest.status == "optimal" else max(fewest_possible, math.ceil(fewest.bound - 1e-6))
    outcome = loose.run(
        watch, told, "shortest cable", more=(loose.planning.at_most_broken(count),), start=fewest.values
    )
    return Best(
        loose.planning,
        _point(outcome),
        fewest.status == outcome.status == "optimal",
        "cancelled" in (fewest.status, outcome.status),
        count,
        least,
        outcome.bound,
        loose.sides(),
    )


def _point(outcome: Outcome) -> Point | None:
    return None if outcome.values is None else np.array(outcome.values, dtype=np.float64)


class _Try:
    """One planning program with what it takes to solve it."""

    def __init__(self, task: Task, weights: Weights, sides: Iterable[Side], *, strict: bool) -> None:
        self.planning = planning_of(task, weights, strict=strict)
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
