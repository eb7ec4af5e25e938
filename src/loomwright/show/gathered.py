"""Findings that wait for the same facts, gathered under the first of them."""

from collections.abc import Sequence

from loomwright.terms.change import Path
from loomwright.terms.finding import Finding, Verdict

FACTS = "facts-known"
"""The rule that names unknown facts by themselves; what waits for those is gathered under it."""


def gathered(findings: Sequence[Finding]) -> tuple[tuple[Finding, tuple[Finding, ...]], ...]:
    """Every finding in order, with those that wait for nothing but facts named by it and others before."""
    named: dict[Path, Finding] = {}
    kept: list[Finding] = []
    more: dict[int, list[Finding]] = {}
    facts_first = sorted(findings, key=lambda finding: finding.rule != FACTS)
    for finding in facts_first:
        waits = finding.verdict is Verdict.UNKNOWN and finding.reading.blocked_by
        first = named.get(finding.reading.blocked_by[0]) if waits and finding.rule != FACTS else None
        if first is not None and named.keys() >= set(finding.reading.blocked_by):
            more[id(first)].append(finding)
            continue
        kept.append(finding)
        more[id(finding)] = []
        if waits:
            for path in finding.reading.blocked_by:
                named.setdefault(path, finding)
    stays = {id(finding) for finding in kept}
    return tuple((finding, tuple(more[id(finding)])) for finding in findings if id(finding) in stays)


def more_text(more: Sequence[Finding]) -> str:
    """How many more wait, by rule; empty for none."""
    if not more:
        return ""
    rules = ", ".join(dict.fromkeys(finding.rule for finding in more))
    return f"{len(more)} more wait{'s' if len(more) == 1 else ''} for these facts: {rules}"
