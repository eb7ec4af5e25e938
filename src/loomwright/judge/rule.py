"""A rule measures; this file alone compares and makes findings."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from loomwright.terms.finding import Finding, Reading, Verdict
from loomwright.terms.limit import Bound, Limit
from loomwright.terms.quantity import Kind

TIGHT_SHARE = 0.1
"""A reading that keeps less than this share of its limit as margin is tight."""

RELATIVE = 1e-9
"""Readings are sums of floats: exactly at the limit holds, whatever the last bit says."""


@dataclass(frozen=True, slots=True)
class Rule:
    """A code, a short title, and the function that measures. ``tight_share`` 0 for rules where close is no worry."""

    code: str
    title: str
    measure: Callable[[Any], Iterable[Reading]]
    tight_share: float = TIGHT_SHARE


def judge(rules: Iterable[Rule], evidence: object) -> tuple[Finding, ...]:
    """Every rule's readings, compared."""
    return tuple(compare(rule, reading) for rule in rules for reading in rule.measure(evidence))


def compare(rule: Rule, reading: Reading) -> Finding:
    """Hold one reading against its limit."""
    if reading.value is None:
        return Finding(rule.code, Verdict.UNKNOWN, None, reading)
    limit = reading.limit
    margin = _margin(reading.value, limit)
    if margin < -_rounding(limit):
        return Finding(rule.code, Verdict.BROKEN, margin, reading)
    margin = max(margin, 0.0)
    verdict = Verdict.TIGHT if _is_tight(margin, limit, rule.tight_share) else Verdict.HOLDS
    return Finding(rule.code, verdict, margin, reading)


def _rounding(limit: Limit) -> float:
    """What float sums may be off: a billionth of the limit, and a nanometre where the limit is a length of 0."""
    scale = max(abs(limit.value), abs(limit.high or 0.0))
    return RELATIVE * (max(scale, 1.0) if limit.kind is Kind.LENGTH else scale)


def _margin(value: float, limit: Limit) -> float:
    """Room left in the reading's unit; negative when there is none."""
    if limit.bound is Bound.AT_MOST:
        return limit.value - value
    if limit.bound is Bound.AT_LEAST:
        return value - limit.value
    if limit.bound is Bound.BETWEEN:
        assert limit.high is not None
        return min(value - limit.value, limit.high - value)
    return -abs(value - limit.value)


def _is_tight(margin: float, limit: Limit, share: float) -> bool:
    """Counts and exact demands are met or not; there is no tight between."""
    if limit.kind in (Kind.COUNT, Kind.NONE) or limit.bound is Bound.EXACTLY or not math.isfinite(limit.value):
        return False
    scale = limit.value if limit.high is None else (limit.high - limit.value) / 2.0
    return margin < share * abs(scale)
