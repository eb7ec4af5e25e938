"""Plan, ask the plan for its response times, forbid what is late, and plan again.

How full a line is, is a row of the program. Whether messages are in time is not linear: each plan is asked, and the ports that
make a message late together may not all meet on that line again, unless that breaks fewer rules. So the last plan is the best of
those that keep away from everything late that was met on the way. Approximate where ports change lines: what a
gateway's port passes on goes with it as it is now, and forwards that are needed anew are not yet there.
"""

from dataclasses import dataclass, replace

from loomwright.engines.cut_rounds import Watch
from loomwright.model.speech import speech_of
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.propose.arrangement import ASKED, UNFINISHED
from loomwright.propose.best import Best, Told, best_plan
from loomwright.propose.present import as_good
from loomwright.propose.task import Task, late_anyway
from loomwright.propose.traffic_late import LateSet, timing
from loomwright.propose.weights import Weights
from loomwright.propose.wired import Wired, change_of, wire
from loomwright.terms.change import Path

MOST_ROUNDS = 40
"""More are not asked, however much time is left."""


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan as found, and as it stays if present lines are as good; ``None`` if there was no plan in time."""

    task: Task
    best: Best
    found: Wired | None = None
    wired: Wired | None = None
    timing: str = ""
    times_wait_for: tuple[Path, ...] = ()


def planned(vehicle: Vehicle, task: Task, weights: Weights, watch: Watch, told: Told) -> Planned:
    """The best plan as far as time allows, planned again while something new is late on it."""
    best = best_plan(task, weights, watch, told)
    if best.point is None:
        return Planned(task, best)
    for _ in range(MOST_ROUNDS):
        plan = _wired(vehicle, task, weights, best)
        assert plan.found is not None
        assert plan.wired is not None
        if not vehicle.messages:
            return plan
        found = timing(changed(vehicle, change_of(task, plan.wired.stations)))
        new = tuple(each for each in _alike(vehicle, found.late) if each not in task.late)
        if not new:
            return replace(plan, timing=ASKED, times_wait_for=found.blocked_by)
        before, task = plan.found.broken, replace(task, late=(*task.late, *new))
        if best.cancelled or watch.clock() >= watch.until:
            break
        again = _wired(vehicle, task, weights, best)
        assert again.found is not None
        anyway = late_anyway(task)
        if again.found.broken == before or all(each.line in anyway for each in new):
            continue  # only the present lines are late, not the plan that was found; or nothing can be done about it
        other = best_plan(task, weights, watch, told, best.sides)
        if other.point is None:
            break
        best = other
    return replace(_wired(vehicle, task, weights, best), timing=UNFINISHED)


def _alike(vehicle: Vehicle, late: tuple[LateSet, ...]) -> tuple[LateSet, ...]:
    """The sets, and the same on every line that is like theirs in all that times depend on."""
    media = {
        name: replace(medium, ports=frozenset(), load_limit=None) for name, medium in speech_of(vehicle).media.items()
    }
    found = (LateSet(name, each.ports) for each in late for name in media if media[name] == media[each.line])
    return tuple(dict.fromkeys(found))


def _wired(vehicle: Vehicle, task: Task, weights: Weights, best: Best) -> Planned:
    assert best.point is not None
    found = wire(vehicle, task, best.planning, best.point)
    return Planned(task, best, found, as_good(vehicle, task, weights, found) or found)
