"""Rules of the data phase of FD frames: one timing for all, edges settled before they are read, quanta as advised."""

from collections.abc import Iterator

from loomwright.judge.rule import Rule
from loomwright.judge.rules.signal_evidence import SignalEvidence
from loomwright.laws.data_phase import COMPENSATION_PRESCALER, EQUAL_QUANTA
from loomwright.solve.bit_timing import DataTiming
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path
from loomwright.terms.fact import Source
from loomwright.terms.finding import Reading, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

_ONE_TIMING = Limit(
    0.0,
    Bound.AT_MOST,
    Kind.COUNT,
    Source("CiA on bit timing; common practice", "the same sample points in all nodes"),
    Standing.SEEN,
)
_SAMPLE = Source("ISO 11898-1, common knowledge of the trade", "a bit is read at its sample point")
_COMPENSATED = Limit(0.0, Bound.AT_MOST, Kind.COUNT, COMPENSATION_PRESCALER.source, COMPENSATION_PRESCALER.standing)


def data_timing(evidence: SignalEvidence) -> Iterator[Reading]:
    """Count what keeps the told nodes of an FD line from one timing of the data phase; of a classical line say nothing.

    Beside it, as advice, count the nodes whose phases have unlike quanta, and those too coarse to compensate their own delay.
    """
    data = _data(evidence)
    if data is None or (data.sample_point is None and not data.reasons):
        return
    obstacles = tuple((reason.obstacle.value, reason.nodes, reason.best, reason.needed) for reason in data.reasons)
    exact = () if isinstance(evidence.timing, Blocked) else evidence.timing.value.exact
    because = (
        ("obstacles", obstacles),
        ("sample_point", data.sample_point or 0.0),
        ("untold", data.untold),
        ("exact", exact),
    )
    yield _counted(evidence, len(data.reasons), _ONE_TIMING, because)
    if data.sample_point is None or isinstance(evidence.timing, Blocked) or evidence.timing.value.common is None:
        return
    set_nodes = [node for node in evidence.timing.value.common.nodes if node.data is not None]
    if set_nodes:
        unlike = tuple(node.name for node in set_nodes if not node.equal_quanta)
        yield _counted(evidence, len(unlike), EQUAL_QUANTA, (("nodes", unlike),), "equal quanta")
    if data.compensation:
        coarse = tuple(name for name, own in data.compensation if not own.able)
        yield _counted(evidence, len(coarse), _COMPENSATED, (("nodes", coarse),), "compensation")


def data_settling(evidence: SignalEvidence) -> Iterator[Reading]:
    """Take the time from the arrival of an edge until each receiver of an FD line is sure, against its data sample point.

    As with the nominal phase, typical values govern and the worst of all corners is shown as advice.
    """
    data = _data(evidence)
    if data is None or isinstance(evidence.timing, Blocked):
        return
    limit = Limit(data.sample_s, Bound.AT_MOST, Kind.TIME, _SAMPLE, Standing.PRACTICE)
    if isinstance(evidence.signal, Blocked) and evidence.signal.by:
        yield Reading(("lines", evidence.name), None, limit, blocked_by=evidence.signal.by, line=evidence.name)
    if not data.sure:
        return
    worst = max(data.sure, key=lambda own: own.corner_s)
    readings = [(own.receiver, own.sender, own.typical_s, Weight.GOVERNS) for own in data.sure]
    readings.append((worst.receiver, worst.corner_sender, worst.corner_s, Weight.ADVICE))
    for receiver, sender, settle_s, weight in readings:
        component, _, port = receiver.partition(".")
        yield Reading(
            ("components", component, "ports", port),
            min(settle_s, evidence.timing.value.bit_s),
            limit,
            (("port", receiver), ("sender", sender), ("settle_s", settle_s), ("data_bit_s", data.bit_s)),
            line=evidence.name,
            weight=weight,
            assumed=evidence.timing.assumed,
            rule_set="" if weight is Weight.GOVERNS else "worst corner",
        )


def _data(evidence: SignalEvidence) -> DataTiming | None:
    return None if isinstance(evidence.timing, Blocked) else evidence.timing.value.data


def _counted(
    evidence: SignalEvidence, count: int, limit: Limit, because: tuple[tuple[str, object], ...], advice: str = ""
) -> Reading:
    subject: Path = ("lines", evidence.name)
    return Reading(
        subject,
        float(count),
        limit,
        because,
        line=evidence.name,
        weight=Weight.ADVICE if advice else Weight.GOVERNS,
        assumed=() if isinstance(evidence.timing, Blocked) else evidence.timing.assumed,
        rule_set=advice,
    )


DATA_RULES = (
    Rule("data-timing", "One timing of the data phase suits all nodes", data_timing, tight_share=0.0),
    Rule("data-settling", "Every receiver is sure before the sample point of the data phase", data_settling),
)
