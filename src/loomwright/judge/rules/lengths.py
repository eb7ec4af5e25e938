"""Trunk and branches, under the rule set that governs the line and, as advice, under the others."""

from collections.abc import Callable, Iterator

from loomwright.judge.cures import joined_nearer
from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.judge.rules.governing import Pick, assumed_rate, blocking, limits_on, waiting
from loomwright.laws.rule_sets import NOTHING, RuleSetLimits, limits_of
from loomwright.model.vehicle import RULE_SETS
from loomwright.solve.topology import LineTopology, Stop
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Source, Unknown
from loomwright.terms.finding import Reading, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

COVERED = Limit(
    1.0,
    Bound.AT_LEAST,
    Kind.COUNT,
    Source("this program", "a rule set can govern only the bit rates it speaks of"),
    Standing.COMPUTED,
)

ROUNDING_M = 0.01
"""Lengths are noted to the centimetre."""
_REACH = Source("geometry", "a cable has to reach from end to end; a centimetre allowed for rounding")


def rule_set_covers_rate(evidence: LineEvidence) -> Iterator[Reading]:
    """See whether the governing rule set says anything at this bit rate."""
    rate = evidence.line.bit_rate_bit_per_s
    if isinstance(rate, Unknown):
        return
    says = limits_of(evidence.rule_set, rate.value) != NOTHING
    wanted = ("SAE J1939-15", "CiA 303-1") if evidence.line.protocol == "J1939" else ("CiA 303-1",)
    fitting = next((name for name in (*wanted, *RULE_SETS) if limits_of(name, rate.value) != NOTHING), None)
    cure = Change(f"Let {fitting} govern the line", (Edit((*evidence.path, "rule_set"), fitting),)) if fitting else None
    yield Reading(
        evidence.path,
        float(says),
        COVERED,
        (("bit_rate_bit_per_s", rate.value), ("fitting", fitting or "")),
        change=cure,
        line=evidence.name,
        rule_set=evidence.rule_set,
        assumed=assumed_rate(evidence),
    )


def _of_line(
    evidence: LineEvidence, pick: Pick, measure: Callable[[LineTopology, RuleSetLimits], float]
) -> Iterator[Reading]:
    """One figure of the whole line under every rule set that limits it."""
    if not evidence.line.stations:
        return
    blocked = blocking(evidence)
    if blocked:
        yield from waiting(evidence, pick, blocked)
    if blocked or isinstance(evidence.topology, Blocked):
        return
    wired = evidence.topology.value
    for rule_set, limits, limit, weight in limits_on(evidence, pick):
        yield Reading(
            evidence.path,
            measure(wired, limits),
            limit,
            (
                ("trunk_m", wired.trunk_m),
                ("branches_m", wired.branches_m),
                ("counted", limits.trunk_counts_branches),
            ),
            line=evidence.name,
            rule_set=rule_set,
            weight=weight,
            assumed=(*evidence.topology.assumed, *assumed_rate(evidence)),
        )


def trunk_length(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure the trunk from end to end, with the branches where the rule set counts them in."""
    return _of_line(
        evidence,
        lambda limits: limits.trunk_m,
        lambda wired, limits: wired.trunk_m + (wired.branches_m if limits.trunk_counts_branches else 0.0),
    )


def branches_total(evidence: LineEvidence) -> Iterator[Reading]:
    """Add up all branches."""
    return _of_line(evidence, lambda limits: limits.branches_m, lambda wired, _: wired.branches_m)


def branch_length(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure each branch, the component's own lead included; for advice the longest alone."""
    blocked = blocking(evidence)
    if blocked and evidence.line.stations:
        yield from waiting(evidence, lambda limits: limits.branch_m, blocked)
    if blocked or isinstance(evidence.topology, Blocked):
        return
    branches = [stop for stop in evidence.topology.value.stops if stop.branch_m > 0.0 and not stop.repeated]
    for rule_set, _, limit, weight in limits_on(evidence, lambda limits: limits.branch_m):
        governs = weight is Weight.GOVERNS
        for stop in branches if governs else sorted(branches, key=lambda stop: -stop.branch_m)[:1]:
            yield Reading(
                evidence.station(stop.index),
                stop.branch_m,
                limit,
                (("component", stop.component), ("joint", stop.joint_place), ("lead_m", stop.lead_m)),
                change=joined_nearer(evidence, stop, limit.value) if governs else None,
                line=evidence.name,
                rule_set=rule_set,
                weight=weight,
                assumed=(*_of_branch(evidence, stop), *assumed_rate(evidence)),
            )


def branch_reaches(evidence: LineEvidence) -> Iterator[Reading]:
    """Hold each branch whose cable was entered by hand against the shortest way along the runs that it has to go.

    Only what is stated can be too short. A run of unknown length counts by its straight distance, which no cable beats;
    where no runs lead to the component, nothing is known that it would have to reach.
    """
    if isinstance(evidence.topology, Blocked):
        return
    for stop in evidence.topology.value.stops:
        stated_m = evidence.line.stations[stop.index].branch_m
        if stated_m is None or stop.repeated or stop.way_m is None:
            continue
        needed = Limit(max(stop.way_m - ROUNDING_M, 0.0), Bound.AT_LEAST, Kind.LENGTH, _REACH, Standing.COMPUTED)
        step = Change(
            f"Let the branch of {stop.port} be as long as its runs",
            (Edit((*evidence.station(stop.index), "branch_m"), None),),
        )
        yield Reading(
            evidence.station(stop.index),
            stated_m,
            needed,
            (("component", stop.component), ("joint", stop.joint_place), ("place", stop.place)),
            change=step,
            line=evidence.name,
        )


def _of_branch(evidence: LineEvidence, stop: Stop) -> tuple[Path, ...]:
    """The assumed facts that this one branch leans on: its own lead, and the runs it takes."""
    assert not isinstance(evidence.topology, Blocked)
    component, _, port = stop.port.partition(".")
    runs = {
        run
        for piece in evidence.topology.value.pieces
        if (piece.stop, piece.kind) == (stop.index, "branch")
        for run in piece.runs
    }
    own = {("components", component, "ports", port, "pigtail_m"), *(("runs", run, "length_m") for run in runs)}
    return tuple(path for path in evidence.topology.assumed if path in own)


RULES = (
    Rule("rule-set-covers-rate", "The governing rule set speaks of this bit rate", rule_set_covers_rate),
    Rule("trunk-length", "Length of the trunk", trunk_length),
    Rule("branch-length", "Length of each branch", branch_length),
    Rule("branch-reaches", "Every branch reaches its component", branch_reaches, tight_share=0.0),
    Rule("branches-total", "Length of all branches together", branches_total),
)
