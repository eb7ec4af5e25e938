"""Lengths and counts of a line, under the rule set that governs it and, as advice, under the others."""

from collections.abc import Callable, Iterator
from dataclasses import replace

from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.laws.branches import (
    SINGLE,
    TOGETHER,
    longest_branch,
    longest_branches,
    usual_propagation_segment_s,
)
from loomwright.laws.bus_length import CROSS_SECTION_TABLE, longest_by_voltage
from loomwright.laws.rule_sets import NOTHING, RuleSetLimits, limits_of
from loomwright.model.vehicle import RULE_SETS
from loomwright.solve.topology import LineTopology, Stop
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Assumed, Source, Unknown
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
_GOVERNING_BY_SECTION = "CiA 303-1"


def _sets(evidence: LineEvidence) -> Iterator[tuple[str, RuleSetLimits, Weight]]:
    """The governing rule set first, then the others, each with its limits at the line's bit rate."""
    rate = evidence.line.bit_rate_bit_per_s
    if isinstance(rate, Unknown):
        return
    yield evidence.rule_set, limits_of(evidence.rule_set, rate.value), Weight.GOVERNS
    for other in RULE_SETS:
        if other != evidence.rule_set:
            yield other, limits_of(other, rate.value), Weight.ADVICE


def _blocked(evidence: LineEvidence) -> tuple[Path, ...]:
    """Facts that keep lengths from being judged. A missing way is the way-exists rule's own business."""
    rate: tuple[Path, ...] = ()
    if isinstance(evidence.line.bit_rate_bit_per_s, Unknown):
        rate = ((*evidence.path, "bit_rate_bit_per_s"),)
    if isinstance(evidence.topology, Blocked):
        return (*rate, *(path for path in evidence.topology.by if path[2:3] != ("stations",)))
    return rate


def _measured(
    evidence: LineEvidence,
    pick: Callable[[RuleSetLimits], Limit | None],
    measure: Callable[[LineTopology, RuleSetLimits], float],
) -> Iterator[Reading]:
    """One figure of the whole line under every rule set that limits it."""
    blocked = _blocked(evidence)
    if not evidence.line.stations:
        return
    if blocked:
        unread = Limit(0.0, Bound.AT_MOST, Kind.LENGTH, Source(evidence.rule_set), Standing.SECONDARY)
        yield Reading(evidence.path, None, unread, blocked_by=blocked, line=evidence.name, rule_set=evidence.rule_set)
    if blocked or isinstance(evidence.topology, Blocked):
        return
    wired = evidence.topology.value
    for rule_set, limits, weight in _sets(evidence):
        limit = pick(limits)
        if limit is not None:
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
                assumed=evidence.topology.assumed,
            )


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
    )


def branch_length(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure each branch, the component's own lead included; for advice the longest alone."""
    if _blocked(evidence) or isinstance(evidence.topology, Blocked):
        return
    wired = evidence.topology.value
    branches = [stop for stop in wired.stops if stop.branch_m > 0.0 and not stop.repeated]
    for rule_set, limits, weight in _sets(evidence):
        if limits.branch_m is None or not branches:
            continue
        shown = branches if weight is Weight.GOVERNS else [max(branches, key=lambda stop: stop.branch_m)]
        for stop in shown:
            yield _branch_reading(evidence, stop, limits.branch_m, rule_set, weight)


def _branch_reading(evidence: LineEvidence, stop: Stop, limit: Limit, rule_set: str, weight: Weight) -> Reading:
    station = evidence.station(stop.index)
    through = None
    if stop.joint_place != stop.place or evidence.line.stations[stop.index].branch_m is not None:
        new = replace(evidence.line.stations[stop.index], at="", branch_m=None, section_m=None)
        through = Change(f"Lead the trunk through {stop.component} instead of branching", (Edit(station, new),))
    assert not isinstance(evidence.topology, Blocked)
    return Reading(
        station,
        stop.branch_m,
        limit,
        (("component", stop.component), ("joint", stop.joint_place), ("lead_m", stop.lead_m)),
        change=through,
        line=evidence.name,
        rule_set=rule_set,
        weight=weight,
        assumed=evidence.topology.assumed,
    )


def branches_total(evidence: LineEvidence) -> Iterator[Reading]:
    """Add up all branches."""
    return _measured(evidence, lambda limits: limits.branches_m, lambda wired, _: wired.branches_m)


def trunk_length(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure the trunk from end to end, with the branches where the rule set counts them in."""
    return _measured(
        evidence,
        lambda limits: limits.trunk_m,
        lambda wired, limits: wired.trunk_m + (wired.branches_m if limits.trunk_counts_branches else 0.0),
    )


def node_count(evidence: LineEvidence) -> Iterator[Reading]:
    """Count the nodes; service plugs are no nodes until a tool is plugged in."""
    nodes = {
        station.port
        for station in evidence.line.stations
        if station.port and evidence.components[station.port.partition(".")[0]].role != "service plug"
    }
    for rule_set, limits, weight in _sets(evidence):
        if limits.nodes is not None:
            yield Reading(
                evidence.path, float(len(nodes)), limits.nodes, line=evidence.name, rule_set=rule_set, weight=weight
            )


def station_spacing(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure the trunk between neighbouring joints. Joints at one place count as made a hand's width apart."""
    if _blocked(evidence) or isinstance(evidence.topology, Blocked):
        return
    wired = evidence.topology.value
    stops = [stop for stop in wired.stops if stop.port and not stop.repeated]
    gaps = [
        (piece.length_m, wired.stops[piece.stop])
        for piece in wired.pieces
        if piece.kind == "trunk" and piece.end == wired.stops[piece.stop].joint and wired.stops[piece.stop] in stops
    ]
    measured = [gap for gap in gaps if gap[0] > 0.0 or evidence.line.stations[gap[1].index].section_m is not None]
    if not measured:
        return
    length_m, stop = min(measured, key=lambda gap: gap[0])
    for rule_set, limits, weight in _sets(evidence):
        if limits.spacing_m is not None:
            longer = Change(
                "Leave more trunk between the two", (Edit((*evidence.station(stop.index), "section_m"), 0.15),)
            )
            yield Reading(
                evidence.station(stop.index),
                length_m,
                limits.spacing_m,
                (("stop", stop.port), ("before", wired.stops[stop.index - 1].port)),
                change=longer,
                line=evidence.name,
                rule_set=rule_set,
                weight=weight,
                assumed=evidence.topology.assumed,
            )


def _segment(evidence: LineEvidence) -> tuple[float, tuple[Path, ...]] | None:
    """Propagation segment of the line in seconds, and the path to name where it is only assumed."""
    fact, rate = evidence.line.propagation_segment_s, evidence.line.bit_rate_bit_per_s
    path: Path = (*evidence.path, "propagation_segment_s")
    if isinstance(fact, Unknown) or isinstance(rate, Unknown):
        return None
    if fact is None:
        return usual_propagation_segment_s(rate.value), (path,)
    return fact.value, ((path,) if isinstance(fact, Assumed) else ())


def _by_propagation(
    evidence: LineEvidence, longest: Callable[[float, float], float], source: Source, *, single: bool
) -> Iterator[Reading]:
    segment, delay = _segment(evidence), evidence.cable.delay_s_per_m
    if segment is None or isinstance(delay, Unknown) or isinstance(evidence.topology, Blocked):
        return
    wired = evidence.topology.value
    branches = [stop for stop in wired.stops if stop.branch_m > 0.0]
    if not branches:
        return
    worst = max(branches, key=lambda stop: stop.branch_m)
    limit = Limit(longest(segment[0], delay.value), Bound.AT_MOST, Kind.LENGTH, source, Standing.SEEN)
    yield Reading(
        evidence.station(worst.index) if single else evidence.path,
        worst.branch_m if single else wired.branches_m,
        limit,
        (("component", worst.component), ("propagation_segment_s", segment[0])),
        line=evidence.name,
        rule_set="AN96116",
        weight=Weight.ADVICE,
        assumed=(*evidence.topology.assumed, *segment[1]),
    )


def branch_by_propagation(evidence: LineEvidence) -> Iterator[Reading]:
    """Hold the longest branch against a fiftieth of the propagation segment."""
    return _by_propagation(evidence, longest_branch, SINGLE, single=True)


def branches_by_propagation(evidence: LineEvidence) -> Iterator[Reading]:
    """Hold all branches together against a tenth of the propagation segment."""
    return _by_propagation(evidence, longest_branches, TOGETHER, single=False)


def length_by_cross_section(evidence: LineEvidence) -> Iterator[Reading]:
    """Hold the trunk against the length at which the farthest node still sees the dominant level."""
    resistance = evidence.cable.conductor_resistance_ohm_per_m
    if isinstance(resistance, Unknown) or isinstance(evidence.topology, Blocked) or not evidence.line.stations:
        return
    nodes = max(2, len({station.port for station in evidence.line.stations if station.port}))
    limit = Limit(
        longest_by_voltage(resistance.value, nodes), Bound.AT_MOST, Kind.LENGTH, CROSS_SECTION_TABLE, Standing.COMPUTED
    )
    assumed: tuple[Path, ...] = ()
    if isinstance(resistance, Assumed):
        assumed = (("cables", evidence.line.cable, "conductor_resistance_ohm_per_m"),)
    yield Reading(
        evidence.path,
        evidence.topology.value.trunk_m,
        limit,
        (("nodes", nodes), ("conductor_resistance_ohm_per_m", resistance.value)),
        line=evidence.name,
        rule_set=_GOVERNING_BY_SECTION,
        weight=Weight.GOVERNS if evidence.rule_set == _GOVERNING_BY_SECTION else Weight.ADVICE,
        assumed=(*evidence.topology.assumed, *assumed),
    )


RULES = (
    Rule("rule-set-covers-rate", "The governing rule set speaks of this bit rate", rule_set_covers_rate),
    Rule("trunk-length", "Length of the trunk", trunk_length),
    Rule("branch-length", "Length of each branch", branch_length),
    Rule("branches-total", "Length of all branches together", branches_total),
    Rule("station-spacing", "Distance between neighbouring joints", station_spacing),
    Rule("node-count", "Number of nodes", node_count),
    Rule("length-by-cross-section", "Length by cross-section and nodes", length_by_cross_section),
    Rule("branch-by-propagation", "Longest branch by the propagation segment", branch_by_propagation),
    Rule("branches-by-propagation", "All branches by the propagation segment", branches_by_propagation),
)
