"""Command: what would make the bits of a line arrive sooner, and how long its branches may be."""

from collections.abc import Callable
from dataclasses import dataclass

from loomwright.app.project import Project
from loomwright.app.signal import physics_of
from loomwright.judge.evidence import cable_of, components_on
from loomwright.laws.rule_sets import limits_of
from loomwright.model.vehicle import Vehicle
from loomwright.propose.signal_cures import Effect, Outcome, effects
from loomwright.show.signal_advice import BranchRoom
from loomwright.solve.longest_branch import LongestBranch, longest_branches
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.fact import value_of

Progress = Callable[[str, int, int], bool]


@dataclass(frozen=True, slots=True)
class SignalAdvice:
    """What was found for one line; ``None`` where it cannot be computed or the work was stopped.

    ``rooms`` holds the longest branches beside what the governing rules allow.
    """

    name: str
    longest: Answer[tuple[LongestBranch, ...]]
    effects: tuple[Effect, ...] | None
    rooms: tuple[BranchRoom, ...] | None = None


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
    rooms = (
        None if isinstance(longest, Blocked) else tuple(_room(vehicle, name, wired.value, one) for one in longest.value)
    )
    return SignalAdvice(name, longest, found, rooms)


def _room(vehicle: Vehicle, name: str, wired: LineTopology, waves: LongestBranch) -> BranchRoom:
    """A branch with the least that a governing rule leaves it: for itself, with all branches, or counted into the trunk."""
    line = vehicle.lines[name]
    rate, rule_set = value_of(line.bit_rate_bit_per_s), line.rule_set or vehicle.rule_set
    if rate is None:
        return BranchRoom(waves)
    limits = limits_of(rule_set, rate)
    others_m = wired.branches_m - waves.now_m
    found = [] if limits.branch_m is None else [(limits.branch_m.value, rule_set)]
    sums = []
    if limits.branches_m is not None:
        sums.append((limits.branches_m.value - others_m, f"{rule_set}, all branches together"))
    if limits.trunk_m is not None and limits.trunk_counts_branches:
        sums.append((limits.trunk_m.value - wired.trunk_m - others_m, f"{rule_set}, trunk with its branches"))
    able = [*found, *(one for one in sums if one[0] >= 0.0)]
    beside = "; ".join(rule for length_m, rule in sums if length_m < 0.0)
    return BranchRoom(waves, *min(able), beside=beside) if able else BranchRoom(waves, beside=beside)
