"""A change is offered only after it was tried: judged again, its finding is cured and nothing else got worse."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace

from loomwright.terms.change import Change
from loomwright.terms.finding import Finding, Verdict, Weight

Tally = Counter[tuple[str, str, Verdict]]
BAD = (Verdict.BROKEN, Verdict.UNKNOWN)


def proved(findings: tuple[Finding, ...], judged_with: Callable[[Change], Iterable[Finding]]) -> tuple[Finding, ...]:
    """The findings, each with its change only if that cures it.

    ``judged_with(change)`` gives the findings that ``findings`` would become. Cured means: of the same rule and line
    fewer readings are broken, and of no rule and line more are broken or unknown. Only what governs counts.
    """
    before = _tally(findings)
    tried: dict[Change, Tally] = {}
    kept = []
    for finding in findings:
        change = finding.reading.change
        if change is None:
            kept.append(finding)
            continue
        sure = False
        if finding.verdict is Verdict.BROKEN and finding.reading.weight is Weight.GOVERNS:
            if change not in tried:
                tried[change] = _tally(judged_with(change))
            after = tried[change]
            own = _key(finding)
            sure = after[own] < before[own] and all(count <= before[key] for key, count in after.items())
        kept.append(finding if sure else replace(finding, reading=replace(finding.reading, change=None)))
    return tuple(kept)


def _tally(findings: Iterable[Finding]) -> Tally:
    return Counter(_key(item) for item in findings if item.verdict in BAD and item.reading.weight is Weight.GOVERNS)


def _key(finding: Finding) -> tuple[str, str, Verdict]:
    return finding.rule, finding.reading.line, finding.verdict
