"""Findings in words. The only place that words them: rules measure, the judge compares, here it is said."""

from loomwright.show.words.finding import (
    SIGNS,
    finding_cure,
    finding_sentence,
    finding_why,
    is_late_at_worst,
    limit_source,
    limit_text,
    margin_text,
    value_text,
    verdict_words,
)
from loomwright.show.words.paths import path_words

__all__ = [
    "SIGNS",
    "finding_cure",
    "finding_sentence",
    "finding_why",
    "is_late_at_worst",
    "limit_source",
    "limit_text",
    "margin_text",
    "path_words",
    "value_text",
    "verdict_words",
]
