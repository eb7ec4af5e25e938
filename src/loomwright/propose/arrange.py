"""Plan all lines of a vehicle: who is on which line, how each trunk runs, where each component joins."""

import time
from collections.abc import Callable, Mapping

from loomwright.engines.cut_rounds import Watch
from loomwright.model.vehicle import Vehicle
from loomwright.propose import alternatives
from loomwright.propose.arrangement import GAP, NO_PLAN, NOTHING, PROVED, Arrangement, LockPrice
from loomwright.propose.best import Best, Told
from loomwright.propose.ground import ground_of
from loomwright.propose.limits import LineLimits
from loomwright.propose.task import Task, Unplaced, late_anyway, overfull, task_of
from loomwright.propose.traffic_rounds import planned
from loomwright.propose.weights import Weights
from loomwright.propose.wired import Wired, change_of, lengths_of
from loomwright.terms.change import Change, Path


def arrange(
    vehicle: Vehicle,
    *,
    limits: Mapping[str, LineLimits] | None = None,
    weights: Weights | None = None,
    keep_lines: bool = False,
    seconds: float = 10.0,
    lock_prices: bool = False,
    second_best: bool = False,
    extra_seconds: float | None = None,
    progress: Told | None = None,
    cancel: Callable[[], bool] | None = None,
    clock: Callable[[], float] = time.perf_counter,
) -> Arrangement:
    """Find the plan with the fewest broken rules and, among those, the lowest score, with proof as far as time allows.

    ``limits`` by name of line (default: the rule set that governs it). ``keep_lines`` leaves ports on the lines they
    are on. ``lock_prices`` and ``second_best`` ask for lock prices and the second-best plan, which share ``extra_seconds``
    (default: ``seconds`` again). ``progress`` hears (stage, best so far or infinity, bound) in metres, in rules while
    those are counted.
    ``cancel`` is asked between rounds: what was found so far is returned. Never raises for what a user wrote.

    Lines are also kept from being too full, and, by asking each plan for its response times, from being late
    (`traffic_rounds.py` says how far). Every plan is wired again by the answer that judges use before it is returned. Method: one integer program over
    trunks as walks on the runs, connection rows added as they are broken, branch and bound to proof.
    """
    start = clock()
    weights = weights or Weights()
    told: Told = progress or (lambda _stage, _best, _bound: None)
    watch = Watch(clock, start + seconds, cancelled=cancel or (lambda: False))
    ground = ground_of(vehicle)
    task = task_of(vehicle, ground, limits, keep_lines=keep_lines)
    if not task.stops:
        return _without(task, weights, NOTHING, clock() - start)
    plan = planned(vehicle, task, weights, watch, told)
    best, task = plan.best, plan.task
    if plan.found is None or plan.wired is None:
        return _without(task, weights, NO_PLAN, clock() - start, best)
    found, wired = plan.found, plan.wired
    now = clock()
    more = Watch(clock, now + (seconds if extra_seconds is None else extra_seconds), cancelled=watch.cancelled)
    half = Watch(clock, now + 0.5 * (more.until - now), cancelled=watch.cancelled) if lock_prices else more
    second_best = second_best and not best.cancelled
    second = None
    if second_best:
        # Where present lines are kept, the plan found is the second best of the two, and nothing need be searched.
        second = alternatives.beside(task, wired, found, proved=best.proved)
        second = second or alternatives.second_best(vehicle, best, wired, half, told)
    prices: tuple[LockPrice, ...] = ()
    if lock_prices and not best.cancelled:
        prices = alternatives.lock_prices(vehicle, best, wired, more, told, limits=limits, keep_lines=keep_lines)
    unplaced = (*task.lost, *_left_out(task, wired))
    bound_m = wired.score_m if best.proved else min(wired.score_m, max(0.0, best.bound_mm - 1.0) / 1000.0)
    return Arrangement(
        PROVED if best.proved else GAP,
        change_of(task, wired.stations),
        lengths_of(task, wired),
        wired.cable_m,
        wired.score_m,
        bound_m,
        1.0 - bound_m / wired.score_m if wired.score_m > 0.0 else 0.0,
        wired.broken,
        len(wired.broken) + weights.unplaced * len(unplaced),
        best.fewest + _unavoidable(task, weights),
        unplaced,
        weights,
        clock() - start,
        best.cancelled,
        task.left_aside,
        wired.assumed,
        _measured(vehicle),
        prices,
        second,
        plan.timing,
        plan.times_wait_for,
    )


def _unavoidable(task: Task, weights: Weights) -> int:
    """Broken rules that no plan of this task can mend, counted apart from the program."""
    lost = len(task.lost_locks) + len(task.misfits) + len(task.lost_masters)
    return lost + len(overfull(task)) + len(late_anyway(task)) + weights.unplaced * len(task.lost)


def _left_out(task: Task, wired: Wired) -> tuple[Unplaced, ...]:
    """Stops that the plan leaves without a line. Where no way leads to one, runs of unknown length may be why."""
    placed = {station.port for stations in wired.stations for station in stations if station.port}
    homes = [stop.place for stop in task.stops if stop.port in placed]
    left = []
    for stop in task.stops:
        if stop.port not in placed:
            reached = any(task.ground.way_mm[stop.place, home] < float("inf") for home in homes)
            blocked = () if reached else tuple(task.ground.net.unknown.values())
            why = "it would break another rule" if reached else "no way leads there"
            left.append(Unplaced(stop.port, tuple((task.lines[line], (why,)) for line in stop.lines), blocked))
    return tuple(left)


def _measured(vehicle: Vehicle) -> tuple[Path, ...]:
    """Measured lengths of present stations."""
    return tuple(
        ("lines", name, "stations", number, field)
        for name, line in vehicle.lines.items()
        for number, station in enumerate(line.stations)
        for field in ("section_m", "branch_m")
        if getattr(station, field) is not None
    )


def _without(task: Task, weights: Weights, status: str, seconds: float, best: Best | None = None) -> Arrangement:
    count = _unavoidable(task, weights)
    return Arrangement(
        status, Change("No plan"), (), None, None, None, None, (), count, count + (best.fewest if best else 0), task.lost, weights,
        seconds, bool(best and best.cancelled), task.left_aside,
    )  # fmt: skip
