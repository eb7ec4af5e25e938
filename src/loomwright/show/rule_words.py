"""Rules by their titles, as the margin calls them."""

from collections import Counter
from collections.abc import Iterable

from loomwright.judge import RULES
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.terms.finding import Finding, Verdict, Weight


def rule_title(code: str) -> str:
    """A rule's short title; the code of a rule that is not known."""
    return next((rule.title for rule in (*RULES, *SIGNAL_RULES) if rule.code == code), code)


def rules_told(findings: Iterable[Finding], tight: str = "tight") -> str:
    """The titles of what findings are about, each with its line's number of findings where there are several.

    What is only tight, and what does not count, is told apart from what is broken; ``tight`` is the word for the former.
    """
    counted = Counter((rule_title(finding.rule), _kind(finding, tight)) for finding in findings)
    return "; ".join(
        f"{title}{kind}{f' ({count} findings)' if count > 1 else ''}" for (title, kind), count in counted.items()
    )


def _kind(finding: Finding, tight: str) -> str:
    if finding.reading.weight is Weight.ADVICE:
        return f" ({finding.reading.rule_set or 'advice'}, for information)"
    return f" ({tight})" if finding.verdict is Verdict.TIGHT else ""
