"""A trunk in pieces is joined by running out and back along the shortest ways between them."""

import itertools
from collections.abc import Iterable

import numpy as np

from loomwright.engines.cut_rounds import Point, Row
from loomwright.engines.routes import shortest_ways
from loomwright.propose.program import Planning, ends_at

_NEAR = 1e-6


class Mend:
    """Turns a whole point with trunks in pieces into one that keeps every connection row, where runs allow it."""

    def __init__(self, planning: Planning) -> None:
        self.planning = planning
        ground = planning.task.ground
        self.places = [str(place) for place in range(len(ground.names))]
        self.ways = shortest_ways(
            self.places, [(str(n), str(a), str(b), float(mm)) for n, (a, b, mm) in enumerate(ground.edges)]
        )

    def __call__(self, point: Point) -> Point | None:
        """The mended point; ``None`` where no run joins two pieces."""
        mended = point.copy()
        for line in range(len(self.planning.task.lines)):
            if not self._line(mended, line):
                return None
        self.count(mended)
        own_up(self.planning, self.planning.rows, mended)
        return mended

    def count(self, point: Point) -> None:
        """Set how often each trunk comes by each place, from its edges and ends."""
        columns = self.planning.columns
        for (line, place), visits in columns.visits.items():
            steps = sum(
                point[columns.edge[line, n]]
                for n, (a, b, _) in enumerate(self.planning.task.ground.edges)
                if place in (a, b)
            )
            ends = sum(point[column] for column, _ in ends_at(self.planning.task, columns, line, place))
            point[visits] = (steps + ends) / 2.0

    def _line(self, point: Point, line: int) -> bool:
        task, columns = self.planning.task, self.planning.columns
        piece = {place: {place} for place in self._touched(point, line)}
        for number, (a, b, _) in enumerate(task.ground.edges):
            if point[columns.edge[line, number]] > 0.5:
                _merge(piece, a, b)
        pairs = sorted((self.ways.length(str(a), str(b)), a, b) for a, b in itertools.combinations(sorted(piece), 2))
        for length, a, b in pairs:
            if piece[a] is piece[b]:
                continue
            if not np.isfinite(length):
                return False
            for name in self.ways.edges(self.ways.points(str(a), str(b))):
                column = columns.edge[line, int(name)]
                point[column] = point[column] or 2.0
            _merge(piece, a, b)
        return True

    def _touched(self, point: Point, line: int) -> set[int]:
        task, columns = self.planning.task, self.planning.columns
        touched = {place for (_, own, place), column in columns.join.items() if own == line and point[column] > 0.5}
        for number, (a, b, _) in enumerate(task.ground.edges):
            if point[columns.edge[line, number]] > 0.5:
                touched |= {a, b}
        for place in task.ground.places:
            if any(point[column] > 0.5 for column, _ in ends_at(task, columns, line, place)):
                touched.add(place)
        return touched


def own_up(planning: Planning, rows: Iterable[Row], point: Point) -> None:
    """Where a whole point breaks rows that a slack could loosen, set that slack."""
    slacks = {slack.column for slack in planning.columns.slacks if planning.columns.upper[slack.column] > 0.0}
    for row in rows:
        value = sum(coefficient * point[column] for column, coefficient in row.terms)
        sign = 1.0 if value < row.low - _NEAR else -1.0 if value > row.high + _NEAR else 0.0
        for column, coefficient in row.terms if sign else ():
            if column in slacks and sign * coefficient > 0.0:
                point[column] = 1.0


def _merge(piece: dict[int, set[int]], a: int, b: int) -> None:
    joined = piece[a] | piece[b]
    for place in joined:
        piece[place] = joined
