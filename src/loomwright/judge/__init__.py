"""Rules: answers become findings, each with measured value, limit, margin, source and, where one is sure, a cure."""

from collections.abc import Iterable
from functools import cache

from loomwright.judge.evidence import LineEvidence, TrafficEvidence, VehicleEvidence, alone, line_evidence
from loomwright.judge.proof import proved
from loomwright.judge.rule import judge
from loomwright.judge.rules import (
    cable,
    formulas,
    joints,
    lengths,
    matching,
    stations,
    terminations,
    traffic_gateways,
    traffic_hearing,
    traffic_play,
    traffic_times,
    whole,
)
from loomwright.model.speech import speech_of, spoken
from loomwright.model.variant import changed
from loomwright.solve.reach import reach
from loomwright.solve.traffic import traffic
from loomwright.solve.ways import RunWays, run_ways
from loomwright.terms.change import Change
from loomwright.terms.finding import Finding

LINE_RULES = (
    *stations.RULES,
    *matching.RULES,
    *terminations.RULES,
    *lengths.RULES,
    *joints.RULES,
    *formulas.RULES,
    *cable.RULES,
)
VEHICLE_RULES = whole.RULES
TRAFFIC_RULES = (*traffic_hearing.RULES, *traffic_gateways.RULES, *traffic_times.RULES)
RULES = (*LINE_RULES, *VEHICLE_RULES, *TRAFFIC_RULES, *traffic_play.PLAY_RULES)


def judge_line(evidence: LineEvidence) -> tuple[Finding, ...]:
    """Every line rule on one line. A change stands in a finding only if it cures it and breaks nothing on the line."""
    ways = cache(lambda: run_ways(evidence.places, evidence.runs))

    def with_change(change: Change) -> tuple[Finding, ...]:
        return judge(LINE_RULES, line_evidence(changed(alone(evidence), change), evidence.name, ways()))

    return proved(judge(LINE_RULES, evidence), with_change)


def judge_vehicle(evidence: VehicleEvidence) -> tuple[Finding, ...]:
    """Every rule of the whole vehicle. A change stands in a finding only if it cures it and breaks nothing anywhere."""
    found = judge(VEHICLE_RULES, evidence)
    if not any(finding.reading.change for finding in found):
        return found
    net = run_ways(evidence.vehicle.places, evidence.vehicle.runs)
    of_lines = {line.name: judge(LINE_RULES, line) for line in evidence.lines}
    everything = (*found, *(finding for name in of_lines for finding in of_lines[name]))

    def with_change(change: Change) -> Iterable[Finding]:
        then = _evidence_with(evidence, change, net)
        yield from judge(VEHICLE_RULES, then)
        for line, old in zip(then.lines, evidence.lines, strict=True):
            yield from of_lines[line.name] if line is old else judge(LINE_RULES, line)

    return proved(everything, with_change)[: len(found)]


def judge_traffic(evidence: TrafficEvidence) -> tuple[Finding, ...]:
    """Every rule of traffic. A change stands in a finding only if it cures it and breaks nothing that is said."""
    found = judge(TRAFFIC_RULES, evidence)
    if not any(finding.reading.change for finding in found):
        return found

    def with_change(change: Change) -> tuple[Finding, ...]:
        speech = speech_of(changed(spoken(evidence.speech), change))
        return judge(TRAFFIC_RULES, TrafficEvidence(speech, traffic(speech)))

    return proved(found, with_change)


def _evidence_with(evidence: VehicleEvidence, change: Change, net: RunWays) -> VehicleEvidence:
    """The evidence after a change of lines; the lines that it leaves alone are not answered again."""
    vehicle = changed(evidence.vehicle, change)
    lines = tuple(
        old if vehicle.lines[old.name] == old.line else line_evidence(vehicle, old.name, net) for old in evidence.lines
    )
    return VehicleEvidence(vehicle, reach(vehicle.components, vehicle.lines), lines)
