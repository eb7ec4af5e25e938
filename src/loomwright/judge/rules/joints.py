"""Joints and nodes along the trunk: how close together, and how many."""

from collections.abc import Iterator

from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.judge.rules.governing import assumed_rate, blocking, limits_on, waiting
from loomwright.laws.rule_sets import RuleSetLimits
from loomwright.solve.topology import LineTopology, Stop
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Limit

APART_M = 0.15
"""Trunk to leave between two joints that are too close: the limit of 0.1 m and half as much again."""


def _spacing(limits: RuleSetLimits) -> Limit | None:
    return limits.spacing_m


def _nodes(limits: RuleSetLimits) -> Limit | None:
    return limits.nodes


def station_spacing(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure the trunk between neighbouring joints at the closest pair.

    Joints at one place without a measured section are left out: how far apart they are made is not known to the
    centimetre, and making them a hand's width apart is the workshop's part.
    """
    blocked = blocking(evidence)
    if blocked and evidence.line.stations:
        yield from waiting(evidence, _spacing, blocked)
    if blocked or isinstance(evidence.topology, Blocked):
        return
    gaps = _gaps(evidence, evidence.topology.value)
    if not gaps:
        return
    length_m, before, stop = min(gaps, key=lambda gap: gap[0])
    for rule_set, _, limit, weight in limits_on(evidence, _spacing):
        section = (*evidence.station(stop.index), "section_m")
        yield Reading(
            evidence.station(stop.index),
            length_m,
            limit,
            (("stop", stop.port), ("before", before.port)),
            change=Change("Leave more trunk between the two", (Edit(section, APART_M),)),
            line=evidence.name,
            rule_set=rule_set,
            weight=weight,
            assumed=(*evidence.topology.assumed, *assumed_rate(evidence)),
        )


def _gaps(evidence: LineEvidence, wired: LineTopology) -> list[tuple[float, Stop, Stop]]:
    """Trunk between each station and the one before it; plug-in terminators and returns to a station are no joints."""
    section = {p.stop: p.length_m for p in wired.pieces if p.kind == "trunk" and p.end == wired.stops[p.stop].joint}
    found = []
    before: Stop | None = None
    run_m, measured = 0.0, False
    for stop in wired.stops:
        run_m += section.get(stop.index, 0.0)
        measured = measured or evidence.line.stations[stop.index].section_m is not None
        if not stop.port or stop.repeated:
            continue
        if before is not None and (run_m > 0.0 or measured):
            found.append((run_m, before, stop))
        before, run_m, measured = stop, 0.0, False
    return found


def node_count(evidence: LineEvidence) -> Iterator[Reading]:
    """Count the nodes; service plugs are no nodes until a tool is plugged in."""
    blocked = blocking(evidence, lengths=False)
    if blocked and evidence.line.stations:
        yield from waiting(evidence, _nodes, blocked)
    nodes = {
        station.port
        for station in evidence.line.stations
        if station.port and evidence.components[station.port.partition(".")[0]].role != "service plug"
    }
    for rule_set, _, limit, weight in limits_on(evidence, _nodes):
        yield Reading(
            evidence.path,
            float(len(nodes)),
            limit,
            line=evidence.name,
            rule_set=rule_set,
            weight=weight,
            assumed=assumed_rate(evidence),
        )


RULES = (
    Rule("station-spacing", "Distance between neighbouring joints", station_spacing),
    Rule("node-count", "Number of nodes", node_count),
)
