"""A first plan: settle who is on which line the way a fractional point leans, then walk each line on its own."""

import itertools
from dataclasses import replace

import numpy as np

from loomwright.engines.cut_rounds import Point, Program, Row, Watch, cheapest
from loomwright.engines.order import good_path
from loomwright.propose.connection import Connection
from loomwright.propose.mend import Mend, own_up
from loomwright.propose.program import Planning

_RULE_MM = 1e6
"""Price of a broken rule while a line is walked on its own: more than all its cable."""


class First:
    """Makes a whole point that keeps all rows, where placing can be settled before the walks are known."""

    def __init__(self, planning: Planning, connection: Connection, mend: Mend) -> None:
        self.planning, self.connection, self.mend = planning, connection, mend
        columns = planning.columns
        self.tried = b""
        cost = list(columns.cost)
        for slack in columns.slacks:
            cost[slack.column] = _RULE_MM * slack.count
        self.cost = tuple(cost)
        self.slacks = {slack.column for slack in columns.slacks}
        self.placing = {*columns.on.values(), *columns.used.values()}
        self.line_of: dict[int, int] = {}
        for group in (columns.edge, columns.visits, columns.plug):
            self.line_of.update({column: line for (line, _), column in group.items()})

    def __call__(self, point: Point, watch: Watch) -> Point | None:
        """``None`` where placing cannot be settled this way, or time runs out."""
        settled = self._settled(point)
        if settled is None or self.tried == (key := settled.tobytes()):
            return None
        self.tried = key
        walked = self._walking(settled)
        by_line = self._rows(settled, walked)
        for line, rows in enumerate(by_line):
            now = watch.clock()
            share = replace(watch, until=now + (watch.until - now) / (len(by_line) - line))
            part = self._walk(line, rows, walked, share)
            if part is None:
                return None
            settled = np.maximum(settled, part)
        return settled

    def _settled(self, point: Point) -> Point | None:
        """Columns of placing and of its broken rules, nearest to a point; all others 0."""
        columns = self.planning.columns
        free = self.placing | self.slacks
        rows = tuple(row for row in self.planning.rows if all(column in free for column, _ in row.terms))
        cost = [0.0] * len(columns.cost)
        for column in columns.on.values():
            cost[column] = -float(point[column])
        for slack in columns.slacks:
            cost[slack.column] = float(slack.count)
        upper = tuple(most if column in free else 0.0 for column, most in enumerate(columns.upper))
        nearest = cheapest(Program(tuple(cost), upper, rows), lambda _: (), Watch(clock=lambda: 0.0))
        return None if nearest.values is None else np.array(nearest.values, dtype=np.float64)

    def _walking(self, settled: Point) -> dict[int, int]:
        """The line of every column that is still to be found: its trunk, and the joints of its own stops."""
        columns = self.planning.columns
        walking = dict(self.line_of)
        for (stop, line, _), column in columns.join.items():
            if settled[columns.on[stop, line]] > 0.5:
                walking[column] = line
        for group in (columns.own_end, columns.far_end):
            for (stop, line), column in group.items():
                if settled[columns.on[stop, line]] > 0.5:
                    walking[column] = line
        return walking

    def _rows(self, settled: Point, walking: dict[int, int]) -> list[list[Row]]:
        """The rows of each line, with what is settled moved to their other side."""
        rows: list[list[Row]] = [[] for _ in self.planning.task.lines]
        for row in self.planning.rows:
            terms = tuple(term for term in row.terms if term[0] in walking or term[0] in self.slacks)
            lines = {walking[column] for column, _ in terms if column in walking}
            if len(lines) == 1:
                moved = sum(
                    coefficient * settled[column] for column, coefficient in row.terms if column in self.placing
                )
                rows[lines.pop()].append(Row(terms, row.low - moved, row.high - moved))
        return rows

    def _walk(self, line: int, rows: list[Row], walking: dict[int, int], watch: Watch) -> Point | None:
        columns = self.planning.columns
        named = {column for row in rows for column, _ in row.terms}
        upper = tuple(
            most if walking.get(column) == line or (column in self.slacks and column in named) else 0.0
            for column, most in enumerate(columns.upper)
        )
        known = [self.connection.row(side) for side in self.connection.sides if side.line == line]
        found = cheapest(
            Program(self.cost, upper, tuple(rows)),
            self.connection.broken,
            watch,
            self.mend,
            start=self._through(line, rows, walking),
            found=known,
        )
        return None if found.values is None else np.array(found.values, dtype=np.float64)

    def _through(self, line: int, rows: list[Row], walking: dict[int, int]) -> tuple[int, ...]:
        """A plain walk to begin with: a good order of the stops, the trunk through each of them."""
        task, columns = self.planning.task, self.planning.columns
        stops = sorted({stop for (stop, own, _), column in columns.join.items() if own == line and column in walking})
        point = np.zeros(len(columns.cost))
        at_end = {lock.stop for lock in task.locks if lock.must == "be at an end"}
        outer = [n for n, stop in enumerate(stops) if stop in at_end or task.stops[stop].termination == "fixed"]
        places = [str(task.stops[stop].place) for stop in stops]
        distance = [[self.mend.ways.length(a, b) for b in places] for a in places]
        start, end = (*outer, None, None)[:2]
        order = good_path(distance, start, end).points
        if not order:
            return tuple(int(value) for value in point)
        for stop in stops:
            point[columns.join[stop, line, task.stops[stop].place]] = 1.0
        for stop in (stops[order[0]], stops[order[-1]]):
            own = columns.own_end.get((stop, line))
            if own is not None and point[own] == 0.0:
                point[own] = 1.0
                continue
            point[columns.plug[line, task.stops[stop].place]] += 1.0
            if (stop, line) in columns.far_end:
                point[columns.far_end[stop, line]] = 1.0
        for a, b in itertools.pairwise(order):
            for name in self.mend.ways.edges(self.mend.ways.points(places[a], places[b])):
                column = columns.edge[line, int(name)]
                # A third time along the same edge can be saved by walking a stretch the other way round.
                point[column] += 1.0 if point[column] < 2.0 else -1.0
        self.mend.count(point)
        own_up(self.planning, rows, point)
        return tuple(int(value) for value in point)
