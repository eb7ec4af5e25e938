"""What a lock costs, and which plan comes second."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from loomwright.engines.cut_rounds import Point, Program, Row, Watch, cheapest
from loomwright.model.vehicle import Vehicle
from loomwright.propose.arrangement import GAP, NO_PLAN, PROVED, Difference, LockPrice, SecondBest
from loomwright.propose.best import Best, Told, best_plan, trunks_within
from loomwright.propose.columns import Columns
from loomwright.propose.connection import Connection
from loomwright.propose.limits import LineLimits
from loomwright.propose.task import Task, task_of
from loomwright.propose.wired import Wired, change_of, wire

NONE = "there is none"


def lock_prices(
    vehicle: Vehicle,
    best: Best,
    wired: Wired,
    watch: Watch,
    told: Told,
    *,
    limits: Mapping[str, LineLimits] | None,
    keep_lines: bool,
) -> tuple[LockPrice, ...]:
    """Plan again without each lock in turn; the time left is shared evenly among those still to come."""
    prices = []
    names = tuple(vehicle.locks)
    for number, name in enumerate(names):
        now = watch.clock()
        share = replace(watch, until=now + max(0.0, watch.until - now) / (len(names) - number))
        without = replace(vehicle, locks=vehicle.locks.put(name, None))
        task = task_of(without, best.task.ground, limits, keep_lines=keep_lines)
        task = replace(task, late=best.task.late)
        stage = f"price of the lock {name}"
        found = best_plan(task, best.planning.weights, share, _renamed(told, stage), best.sides)
        if found.point is None:
            prices.append(LockPrice(name, None, None, None, proved=False))
            continue
        other = wire(without, task, found.planning, found.point)
        rules = _total(best, wired) - _total(found, other)
        score_m = wired.score_m - other.score_m
        if (rules, score_m) < (0, 0.0):
            # The plan that keeps the lock is a plan without it too, and the better one of the two.
            prices.append(LockPrice(name, 0.0, 0.0, 0, proved=False))
            continue
        prices.append(LockPrice(name, wired.cable_m - other.cable_m, score_m, rules, best.proved and found.proved))
    return tuple(prices)


def _renamed(told: Told, stage: str) -> Told:
    return lambda _, best, bound: told(stage, best, bound)


def _total(best: Best, wired: Wired) -> int:
    task = best.task
    placed = sum(bool(station.port) for stations in wired.stations for station in stations)
    return len(wired.broken) + best.planning.weights.unplaced * (len(task.lost) + len(task.stops) - placed)


def second_best(vehicle: Vehicle, best: Best, wired: Wired, watch: Watch, told: Told) -> SecondBest:
    """Plan again, forbidding the plan found, until another one comes out."""
    planning, task = best.planning, best.task
    assert best.point is not None
    connection = Connection(planning, best.sides)
    size = len(planning.columns.cost)
    forbidden = [best.point]
    known = connection.known()
    while True:
        program = planning.shortest(() if planning.strict else (planning.at_most_broken(best.count),))
        for point in forbidden:
            program = _other_than(program, planning.columns, point)
        telling = replace(watch, told=lambda cost, bound: told("second best", cost / 1000.0, max(0.0, bound / 1000.0)))
        outcome = cheapest(program, lambda point: connection.broken(point[:size]), telling, found=known)
        known = outcome.found
        if outcome.values is None:
            return SecondBest(NONE if outcome.status == "infeasible" else NO_PLAN)
        point = np.array(outcome.values[:size], dtype=np.float64)
        within = not planning.unlimited or trunks_within(task, planning, point)
        other = wire(vehicle, task, planning, point)
        if within and other.stations != wired.stations:
            break
        # A trunk over its limit, or another course of the same length that stations do not tell apart.
        forbidden.append(point)
    proved = outcome.status == "optimal"
    return SecondBest(
        PROVED if proved else GAP,
        change_of(task, other.stations),
        other.cable_m,
        other.score_m,
        other.score_m if proved else max(0.0, outcome.bound - 1.0) / 1000.0,
        differences(task, wired, other),
    )


def beside(task: Task, kept: Wired, found: Wired, *, proved: bool) -> SecondBest | None:
    """The plan that was found, told as the second best beside present lines that are kept; ``None`` if they are alike."""
    differs = differences(task, kept, found)
    if not differs:
        return None
    status = PROVED if proved else GAP
    return SecondBest(status, change_of(task, found.stations), found.cable_m, found.score_m, kept.score_m, differs)


def _other_than(program: Program, columns: Columns, point: Point) -> Program:
    """The program with a row that some joint or some edge of a trunk is not as in the point."""
    cost, upper, rows = list(program.cost), list(program.upper), list(program.rows)
    terms: list[tuple[int, float]] = []
    least = 1.0
    for column in (*columns.join.values(), *columns.edge.values()):
        value, most = point[column], program.upper[column]
        if value == 0.0:
            terms.append((column, 1.0))
        elif value == most:
            terms.append((column, -1.0))
            least -= most
        else:
            # An edge that is walked once: one column for walking it twice, one for not at all.
            more, less = len(cost), len(cost) + 1
            cost += [0.0, 0.0]
            upper += [1.0, 1.0]
            rows.append(Row(((column, 1.0), (more, -1.0), (less, 1.0)), 1.0, 1.0))
            rows.append(Row(((more, 1.0), (less, 1.0)), 0.0, 1.0))
            terms += [(more, 1.0), (less, 1.0)]
    rows.append(Row(tuple(terms), least, np.inf))
    return Program(tuple(cost), tuple(upper), tuple(rows))


def differences(task: Task, here: Wired, there: Wired) -> tuple[Difference, ...]:
    """What differs between two plans: lines of ports, joints, courses of trunks."""
    found = []
    first, second = _placing(here, task), _placing(there, task)
    for port in sorted(first.keys() | second.keys()):
        (line, joint), (other_line, other_joint) = first.get(port, ("", "")), second.get(port, ("", ""))
        if line != other_line:
            found.append(Difference("line", port, (line,), (other_line,)))
        elif joint != other_joint:
            found.append(Difference("joint", port, (joint,), (other_joint,)))
    for name, one, other in zip(task.lines, _courses(here), _courses(there), strict=True):
        if one not in (other, other[::-1]):
            found.append(Difference("trunk", name, one, other))
    return tuple(found)


def _placing(wired: Wired, task: Task) -> dict[str, tuple[str, str]]:
    return {
        stop.port: (name, stop.joint_place)
        for name, topology in zip(task.lines, wired.topologies, strict=True)
        for stop in topology.stops
        if stop.port
    }


def _courses(wired: Wired) -> list[tuple[str, ...]]:
    """Places each trunk passes, in order."""
    courses = []
    for topology in wired.topologies:
        course: list[str] = []
        for piece in topology.pieces:
            if piece.kind == "trunk":
                course += piece.places[1:] if course and course[-1] == piece.places[0] else piece.places
        courses.append(tuple(course))
    return courses
