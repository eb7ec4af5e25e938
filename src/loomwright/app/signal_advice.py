"""Command: what would make the bits of a line arrive sooner, and how long its branches may be."""

from collections.abc import Callable
from dataclasses import dataclass

from loomwright.app.project import Project
from loomwright.app.signal import physics_of
from loomwright.judge.evidence import cable_of, components_on
from loomwright.model.vehicle import Vehicle
from loomwright.propose.signal_cures import Effect, Outcome, effects
from loomwright.solve.longest_branch import LongestBranch, longest_branches
from loomwright.terms.answer import Answer, Blocked

Progress = Callable[[str, int, int], bool]


@dataclass(frozen=True, slots=True)
class SignalAdvice:
    """What was found for one line; ``None`` where it cannot be computed or the work was stopped."""

    name: str
    longest: Answer[tuple[LongestBranch, ...]]
    effects: tuple[Effect, ...] | None


def advice(project: Project, name: str, progress: Progress | None = None) -> SignalAdvice:
    """Try changes on a line, each judged again by all rules, and search the longest branch at each station.

    ``progress`` hears (what, done, all) and stops the work by returning false.
    """
    vehicle, answers = project.vehicle, project.answers
    wired = answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        return SignalAdvice(name, wired, None)

    def told(what: str) -> Callable[[int, int], bool] | None:
        return None if progress is None else lambda done, whole: progress(what, done, whole)

    def ask(tried: Vehicle) -> Outcome | None:
        physics = physics_of(project, tried, name)
        if isinstance(physics.signal, Blocked):
            return None
        return Outcome(physics.signal, physics.levels, (*physics.findings, *answers.findings(tried)))

    found = effects(vehicle, name, wired.value, ask, told("changes"))
    line = vehicle.lines[name]
    longest = longest_branches(
        line, components_on(vehicle, line), cable_of(vehicle, line), wired.value, progress=told("branches")
    )
    return SignalAdvice(name, longest, found)
