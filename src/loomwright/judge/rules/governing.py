"""What the rules on lengths share: which rule set governs, which advise, and what keeps them from being judged."""

from collections.abc import Callable, Iterator

from loomwright.judge.evidence import LineEvidence
from loomwright.laws.rule_sets import FASTEST_BIT_PER_S, RuleSetLimits, limits_of
from loomwright.model.vehicle import RULE_SETS
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Unknown
from loomwright.terms.finding import Reading, Weight
from loomwright.terms.limit import Limit

Pick = Callable[[RuleSetLimits], Limit | None]


def limits_on(evidence: LineEvidence, pick: Pick) -> Iterator[tuple[str, RuleSetLimits, Limit, Weight]]:
    """Every rule set that limits the figure at the line's bit rate, the governing one first, the others as advice."""
    rate = evidence.line.bit_rate_bit_per_s
    if isinstance(rate, Unknown):
        return
    for name in (evidence.rule_set, *(name for name in RULE_SETS if name != evidence.rule_set)):
        limits = limits_of(name, rate.value)
        limit = pick(limits)
        if limit is not None:
            yield name, limits, limit, Weight.GOVERNS if name == evidence.rule_set else Weight.ADVICE


def blocking(evidence: LineEvidence, *, lengths: bool = True) -> tuple[Path, ...]:
    """Facts that keep a figure of the line from being judged. A missing way is the way-exists rule's own business."""
    rate = evidence.line.bit_rate_bit_per_s
    paths: tuple[Path, ...] = ((*evidence.path, "bit_rate_bit_per_s"),) if isinstance(rate, Unknown) else ()
    if lengths and isinstance(evidence.topology, Blocked):
        return (*paths, *facts_only(evidence.topology.by))
    return paths


def facts_only(paths: tuple[Path, ...]) -> tuple[Path, ...]:
    """Paths of facts; those of stations, which say that a way is missing, left out."""
    return tuple(path for path in paths if path[0] != "lines" or path[2] != "stations" or len(path) > 4)


def waiting(evidence: LineEvidence, pick: Pick, blocked: tuple[Path, ...]) -> Iterator[Reading]:
    """The one reading that says what is waited for. At an unknown bit rate the limit named is the set's strictest."""
    rate = evidence.line.bit_rate_bit_per_s
    known = FASTEST_BIT_PER_S[evidence.rule_set] if isinstance(rate, Unknown) else rate.value
    limit = pick(limits_of(evidence.rule_set, known))
    if limit is not None:
        yield Reading(evidence.path, None, limit, blocked_by=blocked, line=evidence.name, rule_set=evidence.rule_set)


def assumed_rate(evidence: LineEvidence) -> tuple[Path, ...]:
    """The line's bit rate, where it is only assumed."""
    rate = evidence.line.bit_rate_bit_per_s
    return ((*evidence.path, "bit_rate_bit_per_s"),) if isinstance(rate, Assumed) else ()
