"""The planning program: rows that every plan keeps, and rows that a rule may break at a price."""

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from loomwright.engines.cut_rounds import Program, Row
from loomwright.propose.columns import Columns, branch_mm, columns_of, over_limit
from loomwright.propose.ground import contracted
from loomwright.propose.task import LOAD_ROUNDING, Task, late_anyway, load_bounds, load_of
from loomwright.propose.weights import Weights

Terms = list[tuple[int, float]]


@dataclass(frozen=True, eq=False, slots=True)
class Planning:
    """A task with its columns and rows.

    ``strict``: no rule may be broken. ``through``: every stop is joined through. ``unlimited``: trunks may have any
    length.
    """

    task: Task
    weights: Weights
    columns: Columns
    rows: tuple[Row, ...]
    strict: bool
    through: bool
    unlimited: bool

    def shortest(self, more: Iterable[Row] = ()) -> Program:
        """The program of the lowest score."""
        return Program(tuple(self.columns.cost), tuple(self.columns.upper), (*self.rows, *more))

    def fewest(self, more: Iterable[Row] = ()) -> Program:
        """The program of the fewest broken rules."""
        cost = [0.0] * len(self.columns.cost)
        for slack in self.columns.slacks:
            cost[slack.column] = float(slack.count)
        return Program(tuple(cost), tuple(self.columns.upper), (*self.rows, *more))

    def at_most_broken(self, count: float) -> Row:
        """The row that allows no more broken rules than ``count``."""
        return Row(tuple((slack.column, float(slack.count)) for slack in self.columns.slacks), 0.0, count)


def planning_of(task: Task, weights: Weights, *, strict: bool, through: bool, unlimited: bool = False) -> Planning:
    """Write the program down, connection of the trunk apart: those rows are found as they are broken.

    A trunk is a walk, so the number of times it takes the edges at a place, plus the ends there, is twice its visits;
    a walk that takes an edge more than twice can be shortened, so two is enough.

    ``through`` makes a smaller program: where a metre of branch weighs as much as two of trunk or more, running out and
    back instead of branching costs no more and breaks no rule but the limit of the trunk. So the best plan of the
    ``unlimited`` one bounds all plans, and is the best of all if its trunks are within their limits.
    """
    if through:
        task = replace(task, ground=contracted(task.ground, frozenset(stop.place for stop in task.stops)))
    if unlimited:
        task = replace(task, limits=tuple(replace(limits, trunk_m=None) for limits in task.limits))
    columns = columns_of(task, weights, strict=strict, through=through)
    build = _Rows(task, columns, weights, strict=strict)
    rows = tuple(
        itertools.chain(
            build.placing(),
            build.trunks(),
            build.joints(),
            build.ends(),
            build.lengths(),
            build.locks(),
            build.alike(),
            build.loads(),
            build.times(),
        )
    )
    return Planning(task, weights, columns, rows, strict, through, unlimited)


def _at_least(terms: Terms, low: float = 0.0) -> Row:
    return Row(tuple(terms), low, math.inf)


def _at_most(terms: Terms, high: float = 0.0) -> Row:
    return Row(tuple(terms), -math.inf, high)


def _exactly(terms: Terms, value: float = 0.0) -> Row:
    return Row(tuple(terms), value, value)


def ends_at(task: Task, columns: Columns, line: int, place: int) -> Terms:
    """Columns that count the trunk's ends at a place."""
    own = [
        (column, 1.0)
        for (stop, own_line), column in columns.own_end.items()
        if own_line == line and task.stops[stop].place == place
    ]
    return [(columns.plug[line, place], 1.0), *own]


class _Rows:
    """Makes the rows, one kind a method."""

    def __init__(self, task: Task, columns: Columns, weights: Weights, *, strict: bool) -> None:
        self.task, self.columns, self.weights, self.strict = task, columns, weights, strict
        self.places = task.ground.places
        self.lines = range(len(task.lines))
        self.by_component: dict[str, list[int]] = {}
        for number, stop in enumerate(task.stops):
            self.by_component.setdefault(stop.component, []).append(number)

    def slack(self, count: int = 1) -> int:
        return self.columns.slack(strict=self.strict, count=count)

    def stops_on(self, line: int) -> list[int]:
        return [stop for stop, on in self.columns.on if on == line]

    def placing(self) -> Iterator[Row]:
        """Every stop on one line, or left out at a price; two ports of a component never on the same one."""
        on = self.columns.on
        for number, one in enumerate(self.task.stops):
            yield _exactly(
                [*((on[number, line], 1.0) for line in one.lines), (self.slack(self.weights.unplaced), 1.0)], 1.0
            )
        for line in self.lines:
            for numbers in self.by_component.values():
                both = [(on[number, line], 1.0) for number in numbers if (number, line) in on]
                if len(both) > 1:
                    yield _at_most(both, 1.0)
            here = self.stops_on(line)
            used = self.columns.used[line]
            for stop in here:
                yield _at_most([(on[stop, line], 1.0), (used, -1.0)])
            yield _at_most([(used, 1.0), *((on[stop, line], -1.0) for stop in here)])
            if self.task.plugs:
                plugs = [(on[stop, line], 1.0) for stop in here if stop in self.task.plugs]
                yield _at_least([*plugs, (used, -1.0), (self.slack(), 1.0)])
            most = self.task.limits[line].nodes
            if most is not None:
                nodes = [stop for stop in here if stop not in self.task.plugs]
                yield _at_most([*((on[stop, line], 1.0) for stop in nodes), (self.slack(), -float(len(here)))], most)

    def trunks(self) -> Iterator[Row]:
        """Every place is entered as often as it is left, ends apart; a line in use has two ends."""
        for line in self.lines:
            both: Terms = [(self.columns.used[line], -2.0)]
            for place in self.places:
                ends = ends_at(self.task, self.columns, line, place)
                both += ends
                steps = [
                    (self.columns.edge[line, number], 1.0)
                    for number, (a, b, _) in enumerate(self.task.ground.edges)
                    if place in (a, b)
                ]
                yield _exactly([*steps, *ends, (self.columns.visits[line, place], -2.0)])
            yield _exactly(both)

    def joints(self) -> Iterator[Row]:
        """A stop on a line joins it at one place, and the trunk comes by there."""
        columns = self.columns
        for (stop, line), on in columns.on.items():
            yield _exactly([*((columns.join[key], 1.0) for key in self.joins(stop, line)), (on, -1.0)])
        for line in self.lines:
            for numbers in self.by_component.values():
                for place in self.places:
                    here = [(columns.join[key], 1.0) for n in numbers if (key := (n, line, place)) in columns.join]
                    if here:
                        yield _at_most([*here, (columns.visits[line, place], -1.0)])

    def joins(self, stop: int, line: int) -> list[tuple[int, int, int]]:
        return [key for place in self.places if (key := (stop, line, place)) in self.columns.join]

    def ends(self) -> Iterator[Row]:
        """A stop at an end is joined through; a fixed termination is at an end, or breaks a rule."""
        columns = self.columns
        for (stop, line), end in (*columns.own_end.items(), *columns.far_end.items()):
            yield _at_most([(end, 1.0), (columns.join[stop, line, self.task.stops[stop].place], -1.0)])
        for (stop, line), end in columns.own_end.items():
            if self.task.stops[stop].termination == "fixed":
                yield _at_least([(end, 1.0), (columns.on[stop, line], -1.0), (self.slack(), 1.0)])
        for line, place in itertools.product(self.lines, self.places):
            far = [
                (end, 1.0)
                for (stop, own), end in columns.far_end.items()
                if own == line and self.task.stops[stop].place == place
            ]
            if far:
                yield _at_most([*far, (columns.plug[line, place], -1.0)])

    def lengths(self) -> Iterator[Row]:
        """Each branch, all branches, trunk: within the limit, or a broken rule."""
        for line in self.lines:
            limits = self.task.limits[line]
            branches: Terms = []
            leads: Terms = []
            for stop in self.stops_on(line):
                long: Terms = []
                for key in self.joins(stop, line):
                    length_mm = branch_mm(self.task, stop, key[2])
                    branches.append((self.columns.join[key], length_mm))
                    if over_limit(length_mm, limits.branch_m):
                        long.append((self.columns.join[key], 1.0))
                own = self.columns.own_end.get((stop, line))
                if own is not None:
                    leads.append((own, float(self.task.stops[stop].lead_mm)))
                    long = [*long, (own, -1.0)] if long else []
                if long:
                    yield _at_most([*long, (self.slack(), -1.0)])
            trunk = [(self.columns.edge[line, n], float(edge[2])) for n, edge in enumerate(self.task.ground.edges)]
            shed = [(column, -length) for column, length in leads]
            if limits.branches_m is not None:
                yield self._within([*branches, *shed], limits.branches_m)
            if limits.trunk_m is not None:
                counted = [*trunk, *branches] if limits.trunk_counts_branches else [*trunk, *leads]
                yield self._within(counted, limits.trunk_m)

    def _within(self, terms: Terms, limit_m: float) -> Row:
        # In metres, so that no coefficient is far from one.
        scaled = [(column, 1e-3 * length) for column, length in terms]
        most = sum(length * self.columns.upper[column] for column, length in scaled if length > 0.0)
        return _at_most([*scaled, (self.slack(), -most)], limit_m + 0.5e-3)

    def loads(self) -> Iterator[Row]:
        """The mean load of each line in each state within the limit, or a broken rule; only where it could be above."""
        for line in self.lines:
            here = self.stops_on(line)
            pairs = zip(load_of(self.task, line, here), load_bounds(self.task, line), strict=False)
            above = [state for state, (load, bound) in enumerate(pairs) if load > bound + LOAD_ROUNDING]
            slack = self.slack() if above else -1
            for state in above:
                shares = [(stop, share[state]) for stop in here if (share := self.task.loads.get((stop, line)))]
                terms = [(self.columns.on[stop, line], share) for stop, share in shares if share > 0.0]
                most = sum(share for _, share in terms)
                yield _at_most([*terms, (slack, -most)], load_bounds(self.task, line)[state])

    def times(self) -> Iterator[Row]:
        """Ports that make something late on a line do not all meet there, or a rule is broken."""
        numbers = {stop.port: number for number, stop in enumerate(self.task.stops)}
        anyway = late_anyway(self.task)
        slacks: dict[int, int] = {}
        for late in self.task.late:
            line = self.task.lines.index(late.line)
            stops = [numbers.get(port, -1) for port in sorted(late.ports)]
            if late.line in anyway or any((stop, line) not in self.columns.on for stop in stops):
                continue
            if line not in slacks:
                slacks[line] = self.slack()
            terms = [(self.columns.on[stop, line], 1.0) for stop in stops]
            yield _at_most([*terms, (slacks[line], -1.0)], len(stops) - 1.0)

    def locks(self) -> Iterator[Row]:
        """Every lock kept, or a broken rule. A stop that is left out keeps only the lock not to share a line."""
        columns, on = self.columns, self.columns.on
        for lock in self.task.locks:
            slack = self.slack()
            if lock.must == "be on line":
                here = [(on[lock.stop, lock.line], 1.0)] if (lock.stop, lock.line) in on else []
                yield _at_least([*here, (slack, 1.0)], 1.0)
            elif lock.must == "be at an end":
                ends = [
                    (end, 1.0)
                    for (stop, _), end in (*columns.own_end.items(), *columns.far_end.items())
                    if stop == lock.stop
                ]
                yield _at_least([*ends, (slack, 1.0)], 1.0)
            elif lock.must == "be joined through":
                own = self.task.stops[lock.stop].place
                through = [(columns.join[lock.stop, line, own], 1.0) for line in self.task.stops[lock.stop].lines]
                yield _at_least([*through, (slack, 1.0)], 1.0)
            else:
                yield from self._together(lock.stop, lock.other, slack, share=lock.must == "share a line with")

    def _together(self, stop: int, other: int, slack: int, *, share: bool) -> Iterator[Row]:
        on = self.columns.on
        for line in self.lines:
            first = [(on[stop, line], 1.0)] if (stop, line) in on else []
            second = [(on[other, line], 1.0)] if (other, line) in on else []
            if not share:
                yield _at_most([*first, *second, (slack, -1.0)], 1.0)
                continue
            yield _at_most([*first, *((column, -1.0) for column, _ in second), (slack, -1.0)])
            yield _at_most([*second, *((column, -1.0) for column, _ in first), (slack, -1.0)])
        if share:
            for number in (stop, other):
                yield _at_least(
                    [*((on[number, line], 1.0) for line in self.task.stops[number].lines), (slack, 1.0)], 1.0
                )

    def alike(self) -> Iterator[Row]:
        """Ports of one component that differ in name only take lines in order, so that no plan is met twice."""
        on = self.columns.on
        locked = {number for lock in self.task.locks for number in (lock.stop, lock.other)}
        for numbers in self.by_component.values():
            for first, second in itertools.pairwise(numbers):
                a, b = self.task.stops[first], self.task.stops[second]
                same = (a.lines, a.lead_mm, a.termination) == (b.lines, b.lead_mm, b.termination)
                if not same or {first, second} & locked:
                    continue
                for place in range(len(a.lines)):
                    later = [(on[second, line], 1.0) for line in a.lines[: place + 1]]
                    yield _at_most([*later, *((on[first, line], -1.0) for line in a.lines[:place])])
