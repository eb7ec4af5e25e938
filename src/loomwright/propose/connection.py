"""Rows that keep a trunk in one piece: found where a point breaks them, and a mend for whole points."""

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.cut_rounds import Point, Row
from loomwright.engines.cuts import Network
from loomwright.propose.program import Planning, ends_at

_BROKEN = 5e-4
Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Side:
    """A set of places, by number, that the trunk of a line has to enter for the sake of a component's ports."""

    line: int
    component: str
    places: frozenset[int]


class Connection:
    """Finds the connection rows of one program that a point breaks, and remembers every side it met in ``sides``.

    For a set of places S, a line and a component: edges of the trunk between S and the rest, plus its ends in S, are at
    least twice the joints that the component's ports have in S. For the trunk comes into S and leaves it again, or
    starts or ends there, and two ports of a component are never on one line.
    """

    def __init__(self, planning: Planning, sides: Iterable[Side] = ()) -> None:
        task, columns = planning.task, planning.columns
        self.planning = planning
        self.size = len(task.ground.names)
        self.components = tuple(dict.fromkeys(stop.component for stop in task.stops))
        self.edges = tuple(edge[:2] for edge in task.ground.edges)
        first, second = [a for a, _ in self.edges], [b for _, b in self.edges]
        places = list(range(self.size))
        self.network = Network(
            self.size + 2,
            [*first, *second, *([self.size] * self.size), *places],
            [*second, *first, *places, *([self.size + 1] * self.size)],
        )
        self.edge_columns = np.array(
            [[columns.edge[line, n] for n in range(len(self.edges))] for line in range(len(task.lines))], dtype=np.int32
        ).reshape(len(task.lines), -1)
        self.end_columns = {
            key: [column for column, _ in ends_at(task, columns, *key)]
            for key in itertools.product(range(len(task.lines)), task.ground.places)
        }
        self.join_columns: dict[tuple[int, int, int], list[int]] = {}
        for (stop, line, place), column in columns.join.items():
            component = self.components.index(task.stops[stop].component)
            self.join_columns.setdefault((component, line, place), []).append(column)
        self.ends_of = _sums(self.end_columns, len(columns.cost))
        self.joints_of = _sums(self.join_columns, len(columns.cost))
        self.sides = dict.fromkeys(sides)
        self.side_of: dict[Row, Side] = {}
        self.sets: dict[frozenset[int], None] = {}
        self.inside: list[NDArray[np.int32]] = []
        self.crossing: list[NDArray[np.int32]] = []
        self.rows: dict[Side, Row] = {}
        self._meet(dict.fromkeys(side.places for side in self.sides))

    def known(self) -> tuple[Row, ...]:
        """Rows of the sides that were handed in, as far as they concern this program."""
        lines, components = range(len(self.planning.task.lines)), set(self.components)
        return tuple(self.row(side) for side in self.sides if side.line in lines and side.component in components)

    def in_use(self, rows: Iterable[Row]) -> tuple[Side, ...]:
        """The sides that rows stand for."""
        return tuple(self.side_of[row] for row in rows if row in self.side_of)

    def row(self, side: Side) -> Row:
        """The row of one side."""
        if side in self.rows:
            return self.rows[side]
        crossing = [n for n, (a, b) in enumerate(self.edges) if (a in side.places) != (b in side.places)]
        component = self.components.index(side.component)
        terms = [(int(self.edge_columns[side.line, edge]), 1.0) for edge in crossing]
        for place in sorted(side.places):
            terms += [(column, 1.0) for column in self.end_columns.get((side.line, place), ())]
            terms += [(column, -2.0) for column in self.join_columns.get((component, side.line, place), ())]
        row = Row(tuple(terms), 0.0, math.inf)
        self.rows[side] = row
        self.side_of[row] = side
        return row

    def broken(self, point: Point) -> list[Row]:
        """Rows that a point breaks: smallest cuts between a trunk's ends and each component's joints."""
        taken = np.clip(point[self.edge_columns], 0.0, 2.0)
        ends, joints = self._at_places(point)
        fresh: dict[frozenset[int], None] = {}
        for line in range(len(taken)):
            seen: set[bytes] = set()
            for component in range(len(self.components)):
                mass = joints[component, line]
                key = np.round(mass, 4).tobytes()
                if mass.sum() > _BROKEN and key not in seen:
                    seen.add(key)
                    fresh.update(dict.fromkeys(self._cut(taken[line], ends[line], mass)))
        self._meet(fresh)
        return [self.row(side) for side in self._worst(taken, ends, joints)]

    def _meet(self, sets: Iterable[frozenset[int]]) -> None:
        """Remember sets of places that were not met before."""
        for places in sets:
            if places not in self.sets:
                self.sets[places] = None
                self.inside.append(np.array(sorted(places), dtype=np.int32))
                crossing = [n for n, (a, b) in enumerate(self.edges) if (a in places) != (b in places)]
                self.crossing.append(np.array(crossing, dtype=np.int32))

    def _at_places(self, point: Point) -> tuple[Numbers, Numbers]:
        lines = len(self.planning.task.lines)
        ends = np.zeros((lines, self.size))
        joints = np.zeros((len(self.components), lines, self.size))
        for target, (keys, matrix) in ((ends, self.ends_of), (joints, self.joints_of)):
            if keys:
                target[tuple(np.array(keys).T)] = np.clip(matrix @ point, 0.0, 2.0)
        return ends, joints

    def _cut(self, taken: Numbers, ends: Numbers, mass: Numbers) -> tuple[frozenset[int], ...]:
        source, sink = self.size, self.size + 1
        cut = self.network.smallest_cut(np.concatenate([taken, taken, ends, 2.0 * mass]), source, sink)
        if cut.value > 2.0 * mass.sum() - _BROKEN:
            return ()
        return cut.inner - {sink}, cut.outer - {sink}

    def _worst(self, taken: Numbers, ends: Numbers, joints: Numbers) -> Iterator[Side]:
        """For each set of places met so far, and each line, the component that misses most."""
        lines, sets = len(taken), tuple(self.sets)
        inside, crossing = _picks(self.inside, self.size), _picks(self.crossing, len(self.edges))
        have = crossing @ taken.T + inside @ ends.T
        need = 2.0 * (inside @ joints.reshape(-1, self.size).T).reshape(len(sets), len(self.components), lines)
        worst = np.argmax(need, axis=1)
        missing = np.max(need, axis=1) - have
        for number, line in np.argwhere(missing > _BROKEN):
            side = Side(int(line), self.components[worst[number, line]], sets[number])
            self.sides[side] = None
            yield side


def _picks(groups: list[NDArray[np.int32]], size: int) -> Any:
    """A matrix that adds up, row by row, the entries that each group names."""
    from scipy.sparse import csr_array

    start = np.cumsum([0, *(len(group) for group in groups)])
    columns = np.concatenate([np.zeros(0, dtype=np.int32), *groups])
    return csr_array((np.ones(len(columns)), columns, start), shape=(len(groups), size))


def _sums(groups: dict[Any, list[int]], columns: int) -> tuple[list[Any], Any]:
    """The keys, and a matrix that adds up each key's columns of a point."""
    from scipy.sparse import csr_array

    rows = [number for number, group in enumerate(groups.values()) for _ in group]
    heads = [column for group in groups.values() for column in group]
    return list(groups), csr_array((np.ones(len(rows)), (rows, heads)), shape=(len(groups), columns))
