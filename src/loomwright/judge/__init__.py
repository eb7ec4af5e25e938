"""Rules: answers become findings, each with measured value, limit, margin, source and cure."""

from loomwright.judge.evidence import LineEvidence, VehicleEvidence
from loomwright.judge.rule import judge
from loomwright.judge.rules import cable, lengths, matching, terminations, whole
from loomwright.terms.finding import Finding

LINE_RULES = (*matching.RULES, *terminations.RULES, *lengths.RULES, *cable.RULES)
VEHICLE_RULES = whole.RULES
RULES = (*LINE_RULES, *VEHICLE_RULES)


def judge_line(evidence: LineEvidence) -> tuple[Finding, ...]:
    """Every line rule on one line."""
    return judge(LINE_RULES, evidence)


def judge_vehicle(evidence: VehicleEvidence) -> tuple[Finding, ...]:
    """Every rule of the whole vehicle."""
    return judge(VEHICLE_RULES, evidence)
