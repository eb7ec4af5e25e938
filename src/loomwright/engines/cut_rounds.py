"""The cheapest integer point of a program with more rows than can be written down: broken rows are found and added."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Point = NDArray[np.float64]
_WHOLE = 1e-5
_FIRST_SLICE_S = 2.0
_LP_SHARE = 0.3
_DIVE_SHARE = 0.6
_LOOSE = 0.05
_IDLE_ROUNDS = 4


@dataclass(frozen=True, slots=True)
class Row:
    """``low <= sum of coefficient * column <= high``; infinite where a side is open, a column named twice counts twice."""

    terms: tuple[tuple[int, float], ...]
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Program:
    """Minimise cost over whole columns between 0 and ``upper``, under the rows that are known from the start."""

    cost: tuple[float, ...]
    upper: tuple[float, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was found: "optimal", "infeasible", "stopped" (time) or "cancelled".

    ``values`` is the best point seen, ``None`` if none was; ``bound`` holds for every point that keeps all rows;
    ``found`` are the found rows still in use at the end.
    """

    status: str
    values: tuple[int, ...] | None
    cost: float
    bound: float
    rounds: int
    found: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Watch:
    """Time and the outside world as arguments.

    ``clock`` in seconds; ``until`` is the last moment, ``without`` the last moment while no point is found yet.
    ``told`` hears (best cost or infinity, bound) after every round; ``cancelled`` is asked at the same moments, so a
    cancel waits for one round, or for one slice of the integer search (from 2 s on).
    """

    clock: Callable[[], float]
    until: float = math.inf
    without: float = math.inf
    told: Callable[[float, float], None] = lambda _best, _bound: None
    cancelled: Callable[[], bool] = lambda: False


def cheapest(
    program: Program,
    broken: Callable[[Point], Iterable[Row]],
    watch: Watch,
    mend: Callable[[Point], Point | None] = lambda _: None,
    whole: Callable[[Point, "Watch"], Point | None] = lambda _point, _watch: None,
    start: Sequence[int] | None = None,
    found: Iterable[Row] = (),
) -> Outcome:
    """Solve to proof, or as far as time allows.

    ``broken`` gives rows that a point (whole or fractional) breaks, none if it keeps them all. ``mend`` may turn a
    whole point that breaks rows into one that keeps them; the result is checked, not trusted. ``whole`` may make a whole
    point of a fractional one. ``found`` are rows known from a like program. Method: linear
    relaxations with rows added until none is broken, then branch and bound (HiGHS), repeated while the whole point
    found still breaks rows (cutting planes, Dantzig, Fulkerson and Johnson 1954). One thread; the same input gives the
    same point unless time runs out.
    """
    rounds = _Rounds(program, broken, watch, mend, whole)
    rounds.add(found)
    return rounds.solve(start)


class _Rounds:
    def __init__(
        self,
        program: Program,
        broken: Callable[[Point], Iterable[Row]],
        watch: Watch,
        mend: Callable[[Point], Point | None],
        whole: Callable[[Point, Watch], Point | None],
    ) -> None:
        self.program, self.broken, self.watch, self.mend, self.whole = program, broken, watch, mend, whole
        self.cost = np.array(program.cost, dtype=np.float64)
        self.upper = np.array(program.upper, dtype=np.float64)
        self.found: dict[Row, int] = {}
        self.dropped: set[Row] = set()
        self.matrix: Any = None
        self.best: Point | None = None
        self.best_cost = math.inf
        self.bound = -math.inf
        self.rounds = 0
        self.slice_s = _FIRST_SLICE_S

    def add(self, rows: Iterable[Row]) -> int:
        """Take rows in; how many were not there."""
        fresh = [row for row in dict.fromkeys(rows) if row not in self.found]
        self.found.update(dict.fromkeys(fresh, 0))
        return len(fresh)

    def rest(self, values: NDArray[np.float64]) -> None:
        """Drop found rows that have been loose for some rounds. One that comes back stays for good.

        ``values`` of the rows, in their order, at the latest point.
        """
        for (row, idle), value in zip(tuple(self.found.items()), values.tolist(), strict=True):
            loose = row.low + _LOOSE < value < row.high - _LOOSE
            self.found[row] = idle + 1 if loose else 0
            if idle >= _IDLE_ROUNDS and loose and row not in self.dropped:
                self.dropped.add(row)
                del self.found[row]

    @property
    def tolerance(self) -> float:
        return 1e-9 * max(1.0, abs(self.best_cost))

    @property
    def proved(self) -> bool:
        return self.best is not None and self.bound >= self.best_cost - self.tolerance

    def left(self) -> float:
        until = self.watch.until if self.best is not None else min(self.watch.until, self.watch.without)
        return until - self.watch.clock()

    def solve(self, start: Sequence[int] | None) -> Outcome:
        if start is not None:
            self.offer(np.array(start, dtype=np.float64))
        while True:
            status = self.relax() or self.search()
            if status:
                return self.outcome(status)

    def outcome(self, status: str) -> Outcome:
        values = None if self.best is None else tuple(int(value) for value in self.best)
        if status == "optimal":
            self.bound = self.best_cost
        return Outcome(status, values, self.best_cost, min(self.bound, self.best_cost), self.rounds, tuple(self.found))

    def tell(self) -> str:
        """Report, then say why to stop; empty to go on."""
        self.rounds += 1
        self.watch.told(self.best_cost, self.bound)
        if self.proved:
            return "optimal"
        if self.watch.cancelled():
            return "cancelled"
        return "stopped" if self.left() <= 0.0 else ""

    def relax(self) -> str:
        """Linear relaxation, rows added until no more are broken or its share of the time is used."""
        start, left = self.watch.clock(), self.left()
        while True:
            status, point, bound, _ = self.highs(whole=False, seconds=max(0.1, self.left()))
            if status == "infeasible":
                return "optimal" if self.best is not None else "infeasible"
            if point is None:
                return "stopped"
            self.bound = max(self.bound, bound)
            self.rest((self.matrix @ point)[len(self.program.rows) :])
            fresh = self.add(self.broken(point))
            if fresh == 0 and np.all(np.abs(point - np.rint(point)) < _WHOLE):
                self.offer(np.rint(point))
            stop = self.tell()
            if stop:
                return stop
            if fresh == 0 or self.watch.clock() - start > _LP_SHARE * left:
                return self.dive(point)

    def dive(self, point: Point) -> str:
        """Make a whole point of the relaxation's."""
        now = self.watch.clock()
        until = min(self.watch.until, now + _DIVE_SHARE * self.left())
        whole = self.whole(point, Watch(self.watch.clock, until, cancelled=self.watch.cancelled))
        if whole is not None:
            self.offer(whole)
        return self.tell()

    def search(self) -> str:
        """One slice of branch and bound over the rows at hand."""
        seconds = max(0.1, min(self.left(), self.slice_s))
        status, point, _, bound = self.highs(whole=True, seconds=seconds)
        if status == "infeasible":
            return "optimal" if self.best is not None else "infeasible"
        self.bound = max(self.bound, bound)
        if status == "stopped":
            self.slice_s *= 2.0
        if point is not None:
            point = np.rint(point)
            found = tuple(self.broken(point))
            self.add(found)
            mended = self.mend(point) if found else point
            if mended is not None:
                self.offer(mended)
        return self.tell()

    def offer(self, point: Point) -> None:
        """Take a whole point as the best one if it is cheaper and keeps every row."""
        cost = float(self.cost @ point)
        if cost >= self.best_cost - 1e-9 or np.any(point < 0.0) or np.any(point > self.upper):
            return
        for row in self.program.rows:
            value = sum(coefficient * point[column] for column, coefficient in row.terms)
            if value < row.low - 1e-6 or value > row.high + 1e-6:
                return
        found = tuple(self.broken(point))
        self.add(found)
        if not found:
            self.best, self.best_cost = point, cost

    def highs(self, *, whole: bool, seconds: float) -> tuple[str, Point | None, float, float]:
        """Status, point, value and proved bound of the program with the rows at hand."""
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        rows = (*self.program.rows, *self.found)
        start = np.cumsum([0, *(len(row.terms) for row in rows)])
        columns = np.array([column for row in rows for column, _ in row.terms], dtype=np.int32)
        data = np.array([coefficient for row in rows for _, coefficient in row.terms], dtype=np.float64)
        matrix = csr_array((data, columns, start), shape=(len(rows), self.cost.size))
        matrix.sum_duplicates()
        self.matrix = matrix
        low = np.array([row.low for row in rows])
        high = np.array([row.high for row in rows])
        found = milp(
            self.cost,
            integrality=np.full(self.cost.size, 1 if whole else 0),
            bounds=Bounds(0.0, self.upper),
            constraints=LinearConstraint(matrix, low, high),
            options={"time_limit": seconds, "mip_rel_gap": 0.0},
        )
        # Every column is bounded, so what may be "unbounded or infeasible" is infeasible.
        if found.status == 2 or (found.status == 4 and "nfeasible" in found.message):
            return "infeasible", None, math.inf, math.inf
        if found.status not in (0, 1):
            raise ArithmeticError(f"the linear solver gave up: {found.message}")
        bound = getattr(found, "mip_dual_bound", None) if whole else found.fun
        point = None if found.x is None else np.asarray(found.x, dtype=np.float64)
        value = math.inf if found.fun is None else float(found.fun)
        proved = -math.inf if bound is None else float(bound)
        return ("solved" if found.status == 0 else "stopped"), point, value, proved
