"""Rules of the physical layer: settling before the sample point, levels, the way there and back, grounds."""

from collections.abc import Iterator

from loomwright.judge.rule import Rule
from loomwright.judge.rules.data_phase import DATA_RULES
from loomwright.judge.rules.signal_evidence import SignalEvidence
from loomwright.laws.bit_timing import round_trip_s, sample_points
from loomwright.laws.levels import COMMON_MODE, DOMINANT_THRESHOLD, ground_offset_budget_v
from loomwright.solve.signal import LineSignal
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Source
from loomwright.terms.finding import Reading, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

_SAMPLE = Source("ISO 11898-1, common knowledge of the trade", "a bit is read at its sample point")
_ONE_TIMING = Limit(
    0.0,
    Bound.AT_MOST,
    Kind.COUNT,
    Source("ISO 11898-1, common knowledge of the trade", "all nodes of a line sample alike"),
    Standing.PRACTICE,
)
_TWO_VOLTS = Limit(
    2.0,
    Bound.AT_MOST,
    Kind.VOLTAGE,
    Source("common practice", "keep grounds within 2 V of each other"),
    Standing.MEMORY,
)


_UNREAD_TIME = Limit(0.0, Bound.AT_MOST, Kind.TIME, _SAMPLE, Standing.PRACTICE)
"""Stands for a sample point that nobody can tell."""


def _unread(evidence: SignalEvidence, blocked: Blocked, limit: Limit) -> Iterator[Reading]:
    """What cannot be measured waits for its facts; a line with too few nodes, or a stopped work, waits for none."""
    if blocked.by:
        yield Reading(("lines", evidence.name), None, limit, blocked_by=blocked.by, line=evidence.name)


def _sample_limit(signal: LineSignal) -> Limit:
    return Limit(signal.sample_s, Bound.AT_MOST, Kind.TIME, _SAMPLE, Standing.PRACTICE)


def signal_settling(evidence: SignalEvidence) -> Iterator[Reading]:
    """Take the time until each receiver is sure of its worst sender, transceivers included.

    At typical values it governs; the worst of some extremes is shown as advice, because nobody builds them all at once.
    """
    if isinstance(evidence.signal, Blocked):
        yield from _unread(evidence, evidence.signal, _UNREAD_TIME)
        return
    signal = evidence.signal.value
    for port in dict.fromkeys(pair.receiver for pair in signal.pairs):
        pair = max((pair for pair in signal.pairs if pair.receiver == port), key=lambda pair: pair.typical_s)
        corner = (("corner_s", signal.at(port).settle_s),)
        yield _settling(evidence, signal, port, pair.sender, pair.typical_s, Weight.GOVERNS, corner)
    worst = signal.worst
    yield _settling(evidence, signal, worst.receiver, worst.sender, worst.settle_s, Weight.ADVICE)


def _settling(
    evidence: SignalEvidence,
    signal: LineSignal,
    receiver: str,
    sender: str,
    settle_s: float,
    weight: Weight,
    more: tuple[tuple[str, float], ...] = (),
) -> Reading:
    """``more`` stands beside the figures: at typical values, what the worst corner makes of this receiver."""
    component, _, port = receiver.partition(".")
    assert not isinstance(evidence.signal, Blocked)
    return Reading(
        ("components", component, "ports", port),
        min(settle_s, signal.bit_s) + signal.electronics_s,
        _sample_limit(signal),
        (
            ("port", receiver),
            ("sender", sender),
            ("settle_s", settle_s),
            ("electronics_s", signal.electronics_s),
            *more,
        ),
        line=evidence.name,
        weight=weight,
        assumed=evidence.signal.assumed,
        rule_set="" if weight is Weight.GOVERNS else "worst corner",
    )


def signal_level(evidence: SignalEvidence) -> Iterator[Reading]:
    """Take the lowest dominant level at each receiver, from the weakest driver that the standard permits."""
    if isinstance(evidence.levels, Blocked):
        yield from _unread(evidence, evidence.levels, DOMINANT_THRESHOLD)
        return
    for receiver in evidence.levels.value.receivers:
        component, _, port = receiver.port.partition(".")
        yield Reading(
            ("components", component, "ports", port),
            receiver.low_v,
            DOMINANT_THRESHOLD,
            (("port", receiver.port), ("sender", receiver.weakest), ("typical_v", receiver.typical_v)),
            line=evidence.name,
            assumed=evidence.levels.assumed,
        )


def there_and_back(evidence: SignalEvidence) -> Iterator[Reading]:
    """Take the time a bit needs to the farthest node and back, transceivers included, against the sample point.

    Where nodes send at once, as in arbitration and when they acknowledge, each must see the other's answer before it samples.
    The longer counts of what the cable alone takes between its farthest ends and of what the waves say of the slowest pair.
    """
    if isinstance(evidence.signal, Blocked):
        yield from _unread(evidence, evidence.signal, _UNREAD_TIME)
        return
    if isinstance(evidence.topology, Blocked) or evidence.delay_s_per_m is None:
        return
    signal, wired = evidence.signal.value, evidence.topology.value
    length_m = wired.trunk_m + 2.0 * max((stop.branch_m for stop in wired.stops), default=0.0)
    one_way_s = length_m * evidence.delay_s_per_m
    carried_s = round_trip_s(one_way_s, one_way_s, signal.electronics_s, signal.electronics_s)
    settled_s = 0.0 if isinstance(evidence.timing, Blocked) else evidence.timing.value.round_trip.time_s
    yield Reading(
        ("lines", evidence.name),
        max(carried_s, min(settled_s, signal.bit_s)),
        _sample_limit(signal),
        (("length_m", length_m), ("electronics_s", signal.electronics_s)),
        line=evidence.name,
        assumed=evidence.signal.assumed,
    )


def ground_offset(evidence: SignalEvidence) -> Iterator[Reading]:
    """Take the largest difference between the grounds of two of the line's components, the controller's among them.

    Whose ground is unknown is told one by one, beside the largest difference of the others.
    """
    if isinstance(evidence.grounds, Blocked):
        return
    grounds = evidence.grounds.value
    budget = Limit(ground_offset_budget_v(), Bound.AT_MOST, Kind.VOLTAGE, COMMON_MODE.source, Standing.COMPUTED)
    for path in grounds.waits:
        yield Reading(path[:2], None, budget, blocked_by=(path,), line=evidence.name)
    if grounds.offset_v is None:
        return
    because = (("between", grounds.between), ("controller", grounds.controller), ("unstated", grounds.unstated))
    for limit, weight in ((budget, Weight.GOVERNS), (_TWO_VOLTS, Weight.ADVICE)):
        yield Reading(
            ("lines", evidence.name), grounds.offset_v, limit, because, line=evidence.name, weight=weight,
            assumed=evidence.grounds.assumed, rule_set="" if weight is Weight.GOVERNS else "practice",
        )  # fmt: skip


def bit_timing(evidence: SignalEvidence) -> Iterator[Reading]:
    """Count what keeps the told nodes from one bit timing; beside it, as advice, hold the sample point against CiA's."""
    if isinstance(evidence.timing, Blocked):
        yield from _unread(evidence, evidence.timing, _ONE_TIMING)
        return
    timing, assumed = evidence.timing.value, evidence.timing.assumed
    if timing.common is None and not timing.reasons:
        return
    obstacles = tuple((reason.obstacle.value, reason.nodes, reason.best, reason.needed) for reason in timing.reasons)
    point = 0.0 if timing.common is None else timing.common.sample_point
    yield Reading(
        ("lines", evidence.name),
        float(len(timing.reasons)),
        _ONE_TIMING,
        (("obstacles", obstacles), ("sample_point", point), ("untold", timing.untold), ("exact", timing.exact)),
        line=evidence.name,
        assumed=assumed,
    )
    if timing.common is not None:
        yield Reading(
            ("lines", evidence.name), point, sample_points(1.0 / timing.bit_s), (("sample_point", point),),
            line=evidence.name, weight=Weight.ADVICE, assumed=assumed, rule_set="CiA",
        )  # fmt: skip


SIGNAL_RULES: tuple[Rule, ...] = (
    Rule("signal-settling", "Every receiver is sure before the sample point", signal_settling),
    Rule("signal-level", "Every receiver sees the dominant level", signal_level),
    Rule("there-and-back", "The answer is back before the sample point", there_and_back),
    Rule("bit-timing", "One bit timing suits all nodes", bit_timing, tight_share=0.0),
    *DATA_RULES,
    Rule("ground-offset", "Grounds are close enough", ground_offset),
)
