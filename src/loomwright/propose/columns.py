"""The columns of the planning program: what is decided, numbered."""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from loomwright.propose.task import Task
from loomwright.propose.weights import TIE, Weights


@dataclass(frozen=True, slots=True)
class Slack:
    """A column that is 1 where a rule is broken."""

    column: int
    count: int


@dataclass(eq=False, slots=True)
class Columns:
    """Numbers of columns, with cost in millimetres and highest value.

    ``edge[line, e]``: how often the trunk takes edge e (0, 1 or 2); ``visits[line, v]``: how often it comes by place v,
    an end there counting half; ``plug[line, v]``: plug-in terminators at v; ``used[line]``; ``on[stop, line]``;
    ``join[stop, line, v]``: the stop is on the line and joins its trunk at v; ``own_end[stop, line]``: it ends the
    trunk with its own termination; ``far_end[stop, line]``: it stands at an end beside a plug-in terminator.
    """

    cost: list[float] = field(default_factory=list)
    cable: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    edge: dict[tuple[int, int], int] = field(default_factory=dict)
    visits: dict[tuple[int, int], int] = field(default_factory=dict)
    plug: dict[tuple[int, int], int] = field(default_factory=dict)
    used: dict[int, int] = field(default_factory=dict)
    on: dict[tuple[int, int], int] = field(default_factory=dict)
    join: dict[tuple[int, int, int], int] = field(default_factory=dict)
    own_end: dict[tuple[int, int], int] = field(default_factory=dict)
    far_end: dict[tuple[int, int], int] = field(default_factory=dict)
    slacks: list[Slack] = field(default_factory=list)

    def add(self, upper: float = 1.0, score_mm: float = 0.0, cable_mm: float = 0.0) -> int:
        """A new column."""
        self.cost.append(score_mm + TIE * cable_mm)
        self.upper.append(upper)
        return len(self.cost) - 1

    def slack(self, *, strict: bool, count: int = 1) -> int:
        """A new column for a rule that may be broken, unless ``strict``."""
        column = self.add(0.0 if strict else 1.0)
        self.slacks.append(Slack(column, count))
        return column


def columns_of(task: Task, weights: Weights, *, strict: bool, through: bool) -> Columns:
    """Number the decisions.

    ``strict`` leaves out what breaks a rule: branches over their limit. ``through``: every stop is joined through.
    """
    columns = Columns()
    ground = task.ground
    homes = {stop.place for stop in task.stops}
    degree = Counter(place for edge in ground.edges for place in edge[:2])
    for line in range(len(task.lines)):
        columns.used[line] = columns.add()
        for number, (_, _, length_mm) in enumerate(ground.edges):
            columns.edge[line, number] = columns.add(2.0, length_mm, length_mm)
        for place in ground.places:
            columns.visits[line, place] = columns.add(degree[place] + 1.0)
            columns.plug[line, place] = columns.add(
                2.0 if place in homes or not through else 0.0, 1000.0 * weights.terminator_m
            )
    at_end = {lock.stop for lock in task.locks if lock.must == "be at an end"}
    for number, stop in enumerate(task.stops):
        for line in stop.lines:
            columns.on[number, line] = columns.add()
            places = (stop.place,) if through else ground.places
            _joins(columns, task, weights, number, line, places, strict=strict)
            if stop.termination != "none":
                # As the trunk's own end the lead is trunk, not branch.
                columns.own_end[number, line] = columns.add(score_mm=(1.0 - weights.branch) * stop.lead_mm)
            elif number in at_end:
                columns.far_end[number, line] = columns.add()
    return columns


def branch_mm(task: Task, stop: int, place: int) -> float:
    """Length of the branch from a place of the trunk to a stop, own lead included; infinite where no way leads."""
    one = task.stops[stop]
    return float(task.ground.way_mm[place, one.place]) + one.lead_mm


def over_limit(length_mm: float, limit_m: float | None) -> bool:
    """Whether a length in millimetres is above a limit in metres; half a millimetre over is not."""
    return limit_m is not None and length_mm > 1000.0 * limit_m + 0.5


def _joins(
    columns: Columns, task: Task, weights: Weights, number: int, line: int, places: tuple[int, ...], *, strict: bool
) -> None:
    stop = task.stops[number]
    for place in places:
        length_mm = branch_mm(task, number, place)
        over = over_limit(length_mm, task.limits[line].branch_m)
        if np.isfinite(length_mm) and (place == stop.place or not (strict and over)):
            columns.join[number, line, place] = columns.add(1.0, weights.branch * length_mm, length_mm)
