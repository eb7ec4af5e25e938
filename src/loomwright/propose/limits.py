"""Limits that the planner keeps on a line, as plain values."""

from dataclasses import dataclass

from loomwright.laws.rule_sets import limits_of
from loomwright.model.line import Line
from loomwright.model.vehicle import RULE_SETS, Vehicle
from loomwright.propose.traffic_load import load_limit
from loomwright.terms.fact import value_of
from loomwright.terms.limit import Limit


@dataclass(frozen=True, slots=True)
class LineLimits:
    """Longest branch (own lead included), all branches together, trunk, in metres; most components. ``None``: no limit.

    ``trunk_counts_branches``: the trunk limit is for trunk and branches together. ``load``: mean share of the line's time.
    """

    branch_m: float | None = None
    branches_m: float | None = None
    trunk_m: float | None = None
    nodes: int | None = None
    trunk_counts_branches: bool = False
    load: float | None = None


def limits_for(line: Line, vehicle: Vehicle) -> LineLimits:
    """Limits of the rule set that governs a line, at its bit rate; none where the rate is unknown."""
    rule_set = line.rule_set or vehicle.rule_set
    rate = value_of(line.bit_rate_bit_per_s)
    load = None if rate is None else load_limit(line)
    if rate is None or rule_set not in RULE_SETS:
        return LineLimits(load=load)
    rules = limits_of(rule_set, rate)
    nodes = _value(rules.nodes)
    return LineLimits(
        _value(rules.branch_m),
        _value(rules.branches_m),
        _value(rules.trunk_m),
        None if nodes is None else int(nodes),
        rules.trunk_counts_branches,
        load,
    )


def _value(limit: Limit | None) -> float | None:
    return None if limit is None else limit.value
