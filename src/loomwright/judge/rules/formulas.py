"""Lengths whose limits are calculated: by the cable's resistance, and by the propagation segment of the bit timing."""

from collections.abc import Callable, Iterator

from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.judge.rules.governing import assumed_rate
from loomwright.laws.branches import (
    SINGLE,
    TOGETHER,
    longest_branch,
    longest_branches,
    usual_propagation_segment_s,
)
from loomwright.laws.bus_length import APPLICATION_NOTE, longest_by_voltage
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Fact, Source, Unknown, bounds_of
from loomwright.terms.finding import Reading, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

BY_SECTION = "CiA 303-1"
BY_PROPAGATION = "AN96116"


def length_by_cross_section(evidence: LineEvidence) -> Iterator[Reading]:
    """Hold the trunk against the length at which the farthest node still sees the dominant level.

    The formula takes the highest resistance that the cable's figure admits. It governs with CiA 303-1, whose table it
    reproduces, and is advice with the others.
    """
    resistance = evidence.cable.conductor_resistance_ohm_per_m
    if isinstance(resistance, Unknown) or isinstance(evidence.topology, Blocked) or not evidence.line.stations:
        return
    nodes = max(2, len({station.port for station in evidence.line.stations if station.port}))
    _, _, high = bounds_of(resistance)
    yield Reading(
        evidence.path,
        evidence.topology.value.trunk_m,
        Limit(longest_by_voltage(high, nodes), Bound.AT_MOST, Kind.LENGTH, APPLICATION_NOTE, Standing.COMPUTED),
        (("nodes", nodes), ("conductor_resistance_ohm_per_m", high)),
        line=evidence.name,
        rule_set=BY_SECTION,
        weight=Weight.GOVERNS if evidence.rule_set == BY_SECTION else Weight.ADVICE,
        assumed=(
            *evidence.topology.assumed,
            *_assumed(resistance, evidence.cable_fact("conductor_resistance_ohm_per_m")),
        ),
    )


def branch_by_propagation(evidence: LineEvidence) -> Iterator[Reading]:
    """Hold the longest branch against a fiftieth of the propagation segment."""
    return _by_propagation(evidence, longest_branch, SINGLE, single=True)


def branches_by_propagation(evidence: LineEvidence) -> Iterator[Reading]:
    """Hold all branches together against a tenth of the propagation segment."""
    return _by_propagation(evidence, longest_branches, TOGETHER, single=False)


def _by_propagation(
    evidence: LineEvidence, longest: Callable[[float, float], float], source: Source, *, single: bool
) -> Iterator[Reading]:
    segment, delay = _segment(evidence), evidence.cable.delay_s_per_m
    if segment is None or isinstance(delay, Unknown) or isinstance(evidence.topology, Blocked):
        return
    wired = evidence.topology.value
    branches = [stop for stop in wired.stops if stop.branch_m > 0.0 and not stop.repeated]
    if not branches:
        return
    worst = max(branches, key=lambda stop: stop.branch_m)
    segment_s, assumed = segment
    yield Reading(
        evidence.station(worst.index) if single else evidence.path,
        worst.branch_m if single else wired.branches_m,
        Limit(longest(segment_s, delay.value), Bound.AT_MOST, Kind.LENGTH, source, Standing.COMPUTED),
        (("component", worst.component), ("propagation_segment_s", segment_s), ("delay_s_per_m", delay.value)),
        line=evidence.name,
        rule_set=BY_PROPAGATION,
        weight=Weight.ADVICE,
        assumed=(*evidence.topology.assumed, *assumed, *_assumed(delay, evidence.cable_fact("delay_s_per_m"))),
    )


def _segment(evidence: LineEvidence) -> tuple[float, tuple[Path, ...]] | None:
    """Propagation segment of the line in seconds, and the paths to name where it is only assumed."""
    fact, rate = evidence.line.propagation_segment_s, evidence.line.bit_rate_bit_per_s
    path: Path = (*evidence.path, "propagation_segment_s")
    if isinstance(fact, Unknown):
        return None
    if fact is not None:
        return fact.value, _assumed(fact, path)
    if isinstance(rate, Unknown):
        return None
    return usual_propagation_segment_s(rate.value), (path, *assumed_rate(evidence))


def _assumed(fact: Fact[float], path: Path) -> tuple[Path, ...]:
    return (path,) if isinstance(fact, Assumed) else ()


RULES = (
    Rule("length-by-cross-section", "Length by cross-section and nodes", length_by_cross_section),
    Rule("branch-by-propagation", "Longest branch by the propagation segment", branch_by_propagation),
    Rule("branches-by-propagation", "All branches by the propagation segment", branches_by_propagation),
)
