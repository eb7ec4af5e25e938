"""Small signs that mean the same in every drawing: verdicts, a service plug, an end of a line."""

from collections.abc import Iterable

from loomwright.show.svg import Point, box, circle, line, tag, words
from loomwright.terms.change import Path
from loomwright.terms.finding import Finding, Verdict, Weight

#: From best to worst.
RANK = (Verdict.HOLDS, Verdict.TIGHT, Verdict.UNKNOWN, Verdict.BROKEN)


def verdict_mark(at: Point, verdict: Verdict, radius: float = 4.5) -> str:
    """The shape of a verdict: open circle, half-filled circle, filled diamond, ring with a question mark."""
    x, y = at
    ring = circle(at, radius, f"mark {verdict.value}")
    if verdict is Verdict.HOLDS:
        return ring
    if verdict is Verdict.TIGHT:
        half = f"M{x:.2f} {y - radius:.2f} A{radius} {radius} 0 0 0 {x:.2f} {y + radius:.2f} Z"
        return ring + tag("path", d=half, class_="mark half")
    if verdict is Verdict.BROKEN:
        reach = radius * 1.15
        corners = ((x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y))
        return tag("polygon", points=" ".join(f"{a:.2f},{b:.2f}" for a, b in corners), class_="mark broken")
    return ring + words((x, y + radius * 0.72), "?", "strong unknown small", size=9.0, anchor="middle")


def plug_mark(at: Point, half: float = 4.5) -> str:
    """A service plug: a housing with two cavities, its flat side to the wire."""
    x, y = at
    house = f"M{x - half:.2f} {y - half:.2f} h{half:.2f} a{half} {half} 0 0 1 0 {2 * half:.2f} h{-half:.2f} Z"
    cavities = circle((x - half * 0.35, y - 1.9), 0.9, "solid") + circle((x - half * 0.35, y + 1.9), 0.9, "solid")
    return tag("path", d=house, class_="card") + cavities


def padlock_mark(at: Point) -> str:
    """A padlock: something is held here by a lock."""
    x, y = at
    shackle = f"M{x - 2.4:.2f} {y - 0.5:.2f} v-2 a2.4 2.4 0 0 1 4.8 0 v2"
    return tag("path", d=shackle, class_="rule") + box(x - 4, y - 0.5, 8, 5.5, "solid", 1.0)


def swatch(x: float, y: float, hue: int, *, wide: float = 14.0, dashed: bool = False) -> str:
    """A short piece of a line, as it is drawn."""
    return line((x, y), (x + wide, y), f"strand hue-{hue}" + (" dashed" if dashed else ""))


def resistor(at: Point, along: Point, hue: int) -> str:
    """A termination: a resistor's rectangle across the end of a line. ``along`` is the line's direction there."""
    long, wide = 13.0, 6.0
    upright = abs(along[0]) >= abs(along[1])
    across, deep = (wide, long) if upright else (long, wide)
    return box(at[0] - across / 2, at[1] - deep / 2, across, deep, f"end hue-{hue}")


def worst(findings: Iterable[Finding]) -> Verdict | None:
    """The worst verdict that governs and that no deviation answers for; ``None`` where nothing was judged."""
    ranks = [
        RANK.index(finding.verdict)
        for finding in findings
        if finding.reading.weight is Weight.GOVERNS and not finding.accepted
    ]
    return RANK[max(ranks)] if ranks else None


def touching(findings: Iterable[Finding], path: Path) -> tuple[Finding, ...]:
    """The findings about a thing or a part of it."""
    return tuple(finding for finding in findings if finding.reading.subject[: len(path)] == path)
