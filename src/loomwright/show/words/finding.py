"""A finding as a sentence, with its limit, its source and its cure."""

import math
from collections.abc import Mapping
from types import MappingProxyType

from loomwright.judge.pages import PAGES
from loomwright.show.quantity import fact_text, span
from loomwright.show.quantity import text as quantity
from loomwright.show.words.case import Case
from loomwright.show.words.found import FOUND
from loomwright.show.words.found_traffic import least_load_text, traffic_cure
from loomwright.show.words.paths import path_question, path_words
from loomwright.terms.finding import Finding, Reading, Verdict, Weight
from loomwright.terms.limit import Bound, Limit
from loomwright.terms.quantity import Kind

#: One character for each verdict, for terminals: shape tells it, the word stands beside it.
SIGNS: Mapping[Verdict, str] = MappingProxyType(
    {Verdict.HOLDS: "○", Verdict.TIGHT: "◐", Verdict.BROKEN: "◆", Verdict.UNKNOWN: "?"}
)

FEW = 3
"""More open facts than this are counted, not listed, in one sentence."""

_CAUTION = "Work near high voltage is for people trained and licensed for it where you live; local rules go first."


def verdict_words(finding: Finding) -> tuple[str, str]:
    """Sign and word of a verdict. What does not govern and is not kept is advice, not broken: nothing has to change."""
    if finding.reading.weight is Weight.ADVICE and finding.verdict is Verdict.BROKEN:
        return "◇", "advice"
    return SIGNS[finding.verdict], finding.verdict.value


def finding_sentence(finding: Finding) -> str:
    """What was found, against which limit; for an unknown one, which facts it waits for. Never raises."""
    reading = finding.reading
    if finding.verdict is Verdict.UNKNOWN or reading.value is None:
        return _waiting(finding)
    case = Case(
        value=value_text(reading),
        limit=limit_text(reading.limit),
        good=finding.verdict in (Verdict.HOLDS, Verdict.TIGHT),
        verdict=finding.verdict,
        number=reading.value,
        because=dict(reading.because),
        rule_set=reading.rule_set,
    )
    told = FOUND[finding.rule](case) if finding.rule in FOUND else _generic(finding, case)
    first = told.split(" ", 1)[0].rstrip(":,")
    name = "." in first or "_" in first or first in case.because.values()  # a name stays as files write it
    parts = [told if name or not told[:1].isalpha() else told[:1].upper() + told[1:]]
    if finding.verdict is Verdict.TIGHT:
        parts.append(f"Only {margin_text(finding)} is left.")
    if reading.assumed:
        parts.append(_assumed(reading))
    return " ".join(parts)


def finding_cure(finding: Finding) -> str:
    """What to do about it; empty for what holds."""
    reading = finding.reading
    about = PAGES.get(finding.rule)
    if finding.verdict is Verdict.HOLDS:
        return ""
    if finding.verdict is Verdict.UNKNOWN:
        return _to_look_up(reading)
    if finding.verdict is Verdict.TIGHT and is_late_at_worst(finding):
        return f"In time at typical values, late with all tolerances at their worst: gain time before you build. {about.cure if about else ''}".rstrip()
    if finding.verdict is Verdict.TIGHT:
        return "Nothing has to change; leave this margin alone when you build."
    cure = traffic_cure(finding.rule, reading) or (
        about.cure if about else "Bring it within the limit, or record why it may stay."
    )
    offered = f"{reading.change.title.rstrip('.')}. " if reading.change else ""
    cautious = f" {_CAUTION}" if "high-voltage" in finding.rule else ""
    return f"{offered}{'Or: ' if offered else ''}{cure}{cautious}"


def is_late_at_worst(finding: Finding) -> bool:
    """Whether a receiver that is judged at typical values looks too early at the worst corner."""
    because = dict(finding.reading.because)
    corner_s = because.get("corner_s")
    return corner_s is not None and corner_s + because["electronics_s"] > finding.reading.limit.value


def finding_why(finding: Finding) -> str:
    """Why the rule matters, for somebody who is learning; empty for a rule without a page."""
    about = PAGES.get(finding.rule)
    return about.why if about else ""


def value_text(reading: Reading) -> str:
    """The measured value with its unit."""
    if reading.value is not None and math.isinf(reading.value):
        return "no bound"
    return _counted(quantity(reading.value, reading.limit.kind), reading.limit)


def _counted(figure: str, limit: Limit) -> str:
    """A figure with what it counts, where it counts something."""
    one, several = limit.counted
    return " ".join(filter(None, (figure, one if figure == "1" else several)))


def margin_text(finding: Finding) -> str:
    """The room that is left, or by how much it is exceeded, with its unit."""
    if finding.margin is None:
        return "?"
    if math.isinf(finding.margin):
        return "no bound"
    kind = finding.reading.limit.kind
    # A difference of temperatures is in kelvin; the zero of the scale must not be taken off again.
    return f"{finding.margin:.1f} K" if kind is Kind.TEMPERATURE else quantity(finding.margin, kind)


def limit_text(limit: Limit) -> str:
    """The bound in words: ``at most 40.00 m``, ``50.0 … 70.0 Ω``, ``exactly 2``."""
    if limit.bound is Bound.BETWEEN and limit.high is not None:
        return span(limit.value, limit.high, limit.kind)
    return f"{limit.bound.value} {_counted(quantity(limit.value, limit.kind), limit)}"


def limit_source(limit: Limit) -> str:
    """Where the limit is from, and how the project came by it."""
    source, standing = str(limit.source), limit.standing.value
    # A limit that the project itself sets has no standing to tell of.
    return source if standing in source or source.startswith("this project") else f"{source} ({standing})"


def _waiting(finding: Finding) -> str:
    by = finding.reading.blocked_by
    if finding.rule == "facts-known" and len(by) == 1:
        return f"Unknown: {path_words(by[0])}."
    what = path_words(finding.reading.subject)
    what = what[:1].upper() + what[1:]
    least = least_load_text(finding.reading)
    if least:
        return f"{least} The rest waits; unknown: {_facts(finding.reading)}."
    return (
        f"{what} cannot be judged yet; unknown: {_facts(finding.reading)}." if by else f"{what} cannot be judged yet."
    )


def _to_look_up(reading: Reading) -> str:
    """The question to ask and where, for one open fact; the facts themselves, for several."""
    if not reading.blocked_by:
        return ""
    asked, where = path_question(reading.blocked_by[0])
    if len(reading.blocked_by) > 1 or not asked:
        return f"Find out: {_facts(reading)}."
    return f"{asked} Look in: {where}." if where else asked


def _facts(reading: Reading) -> str:
    by = reading.blocked_by
    shown = ", ".join(path_words(path) for path in by[:FEW])
    more = len(by) - FEW
    return f"{shown} and {more} more" if more > 0 else shown


def _assumed(reading: Reading) -> str:
    count = len(reading.assumed)
    if count == 1:
        return f"It leans on an assumption: {path_words(reading.assumed[0])}."
    return f"It leans on {count} assumptions."


def _generic(finding: Finding, case: Case) -> str:
    """Any rule: its code, its figures, and whatever the rule added."""
    added = ", ".join(f"{name.replace('_', ' ')} {_shown(value)}" for name, value in case.because.items())
    where = path_words(finding.reading.subject)
    told = f"{finding.rule.replace('-', ' ')}: {where} has {case.value}; the limit is {case.limit}"
    return f"{told} ({added})." if added else f"{told}."


def _shown(value: object) -> str:
    return fact_text(value) if value is not None else "none"
