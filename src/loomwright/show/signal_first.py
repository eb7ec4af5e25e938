"""What is wrong with a line, in the order in which it does harm: figures against limits, in words."""

import math

from loomwright.show.quantity import number
from loomwright.show.quantity import text as quantity
from loomwright.show.signal_sizes import Size
from loomwright.show.words import is_late_at_worst, limit_text, value_text
from loomwright.terms.finding import Finding, Verdict
from loomwright.terms.limit import Bound
from loomwright.terms.quantity import Kind

HARM = (
    # Nothing arrives anywhere.
    ("way-exists", "station-once"),
    # One node spoils what all others say.
    ("bit-rate-match", "data-bit-rate-match", "frames-match"),
    # Bits are read wrongly.
    (
        "signal-settling",
        "signal-level",
        "there-and-back",
        "bit-timing",
        "data-timing",
        "data-settling",
        "ground-offset",
    ),
    # What sends edges back, the strongest first.
    ("two-terminations", "terminations-at-ends", "fixed-terminator-mid-trunk", "terminator-value"),
    ("cable-impedance",),
    ("branch-length", "branch-reaches", "branches-total", "branch-by-propagation", "branches-by-propagation"),
    ("trunk-length", "length-by-cross-section"),
    ("station-spacing", "node-count"),
    # A node that is there and not understood disturbs nobody else.
    ("identifier-match", "protocol-match", "line-has-controller"),
    # The meter shows what is wrong above; it is no trouble of its own.
    ("line-resistance",),
)
"""Rules in groups, the most harmful first; by judgement of this program, no standard ranks them. Others follow."""


def harm(finding: Finding) -> tuple[int, int, float, float]:
    """Sorts findings, the most harmful first; of one rule the one that is farthest out, or nearest to its limit."""
    rank, within = next(
        ((rank, group.index(finding.rule)) for rank, group in enumerate(HARM) if finding.rule in group), (len(HARM), 0)
    )
    return rank, within, -excess(finding), math.inf if finding.margin is None else finding.margin


def excess(finding: Finding) -> float:
    """By how much of its limit a reading is out; 0 where there is no such share."""
    limit, value = finding.reading.limit, finding.reading.value
    settle_s = dict(finding.reading.because).get("settle_s")
    if isinstance(settle_s, float) and math.isinf(settle_s):
        return math.inf
    if value is None or finding.margin is None or not math.isfinite(value) or limit.value == 0.0:
        return 0.0
    return max(0.0, -finding.margin) / abs(limit.value)


def size_text(finding: Finding) -> str:
    """How bad it is: the figure against its limit; empty for a demand that is met or not."""
    reading = finding.reading
    limit, value = reading.limit, reading.value
    because = dict(reading.because)
    if value is None or not math.isfinite(value):
        return ""
    if "settle_s" in because:
        there = limit.value - because.get("electronics_s", 0.0)
        size, worst = Size(because["settle_s"], there), Size(because.get("corner_s", 0.0), there)
        told = f"{size.text}: {size.word}"
        return (
            f"{told}; with all tolerances at their worst it {worst.text}: {worst.word}" if worst.share > 1.0 else told
        )
    if limit.kind in (Kind.COUNT, Kind.NONE):
        counted = finding.rule in ("two-terminations", "node-count")
        return f"{number(value, 0)} instead of {number(limit.value, 0)}" if counted else ""
    if limit.value == 0.0 and limit.bound is Bound.AT_MOST:
        return f"{value_text(reading)}, should be none"
    if finding.margin is None or finding.margin >= 0.0:
        return f"{value_text(reading)}, {_asked(finding)}"
    over = quantity(-finding.margin, limit.kind)
    much = "too much" if value > limit.value else "too little"
    share = f" ({number(100.0 * excess(finding), 0)} %)" if limit.bound is not Bound.BETWEEN else ""
    return f"{value_text(reading)}, {_asked(finding)}: {over} {much}{share}"


def settling_sentence(finding: Finding) -> str:
    """Of a receiver's bits, without the figures that ``size_text`` tells."""
    because = dict(finding.reading.because)
    what = "its own bits" if because["sender"] == because["port"] else f"what {because['sender']} sends"
    if finding.verdict is Verdict.BROKEN:
        return f"{because['port']} looks before it can be sure of {what}."
    late = "; at the worst of ten extremes of tolerance it looks too early" if is_late_at_worst(finding) else ""
    return f"At typical values {because['port']} is sure in time of {what}{late}."


def _asked(finding: Finding) -> str:
    told = limit_text(finding.reading.limit)
    return f"should be {told}" if finding.reading.limit.bound is Bound.BETWEEN else told
