"""The physical layer in plain words: what an edge meets on its way, and how a line stands."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.judge.cures import PLUG_IN
from loomwright.judge.rules.cable import IMPEDANCE
from loomwright.judge.rules.terminations import EACH
from loomwright.propose.signal_cures import LEAD
from loomwright.show.quantity import bare, number
from loomwright.show.quantity import text as quantity
from loomwright.show.signal_sizes import Size, there_s
from loomwright.solve.echoes import Echo, Mismatch, Spot
from loomwright.solve.signal import LineSignal, PairSignal
from loomwright.terms.finding import Verdict
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from loomwright.propose.signal_cures import Effect

EDGE_NS = 20.0
"""An echo that comes back within the edge itself only bends it; ``signal_parts.EDGE_S``."""
RINGS_S = 400e-9
"""A bit that takes longer than this on a line of vehicle length is late by ringing, not by the way."""
ALIKE = 1.6
"""Branches whose lengths differ by less than this factor count as alike."""
Name = Callable[[int], str]


def headline(signal: LineSignal, title: Callable[[str], str]) -> str:
    """Whether the bits of a line arrive, and with how much of the time used up. ``title`` names a port."""
    typical, corner = max(signal.pairs, key=lambda pair: pair.typical_s), signal.worst
    there = there_s(signal)
    size, worst = Size(typical.typical_s, there), Size(corner.settle_s, there)
    if math.isinf(size.needs_s):
        return "Bits do not arrive: after a change the line is still ringing when the bit ends."
    first = (
        f"Every receiver is sure of every bit before it looks. The slowest, {title(typical.receiver)}, {size.text}: {size.word}."
        if size.share <= 1.0
        else f"Bits come too late: {title(typical.receiver)} {size.text} to be sure of {sent_by(typical, title)}."
    )
    return (
        f"{first} At the worst of ten extremes of tolerance, {title(corner.receiver)} {worst.text} "
        f"for {sent_by(corner, title)}: {worst.word}."
    )


def sent_by(pair: PairSignal, title: Callable[[str], str]) -> str:
    """What a receiver listens to; a sender reads its own bits too."""
    return "its own bits" if pair.sender == pair.receiver else f"what {title(pair.sender)} sends"


def worst_of(verdicts: Iterable[Verdict]) -> Verdict:
    """What stands for all of them."""
    found = set(verdicts)
    return next((own for own in (Verdict.BROKEN, Verdict.UNKNOWN, Verdict.TIGHT) if own in found), Verdict.HOLDS)


def verdict_told(verdict: Verdict, *, late_at_worst: bool) -> tuple[Verdict, str]:
    """A verdict on bits with its words: what is in time only while tolerances are kind is tight at best."""
    if verdict not in (Verdict.HOLDS, Verdict.TIGHT) or not late_at_worst:
        return verdict, verdict.value
    return Verdict.TIGHT, f"{verdict.value} typically, late at worst"


def ringing(signal: LineSignal, branches_m: Mapping[str, float], title: Callable[[str], str]) -> str:
    """Names the two branches between which the latest bit rings; nothing where it is not late by ringing."""
    pair = slowest_apart(signal)
    if pair is None:
        return ""
    one_m, other_m = branches_m.get(pair.sender, 0.0), branches_m.get(pair.receiver, 0.0)
    if pair.typical_s < RINGS_S or min(one_m, other_m) <= 0.0 or max(one_m, other_m) > ALIKE * min(one_m, other_m):
        return ""
    after = quantity(pair.typical_s, Kind.TIME) if math.isfinite(pair.typical_s) else "as long as a bit"
    return (
        f"{title(pair.sender)} and {title(pair.receiver)} hang on branches of nearly the same length, "
        f"{quantity(one_m, Kind.LENGTH)} and {quantity(other_m, Kind.LENGTH)}: like two bells of one note they set each "
        f"other ringing, for {after}."
    )


def slowest_apart(signal: LineSignal) -> PairSignal | None:
    """The pair of two nodes that is sure last at typical values."""
    apart = [pair for pair in signal.pairs if pair.sender != pair.receiver]
    return max(apart, key=lambda pair: pair.typical_s, default=None)


def ringing_cures(effects: Sequence[Effect] | None, asking: str) -> str:
    """What of the changes that were tried gets the bits there in time; ``asking`` is said where none was tried yet."""
    if effects is None:
        return asking
    able = [effect for effect in effects if effect.offered and effect.typical_s[1] >= 0.0]
    if able:
        best = max(able, key=lambda effect: (effect.kind != LEAD, effect.typical_s[1]))
        now_in_time = best.typical_s[0] >= 0.0
        if now_in_time and best.typical_s[1] <= best.typical_s[0]:
            return "None of the changes that were tried and may be offered leaves more time."
        what = "More time is left with this" if now_in_time else "It ends in time with this"
        late = "" if best.corner_s[1] >= 0.0 else ", but at the worst of ten extremes of tolerance bits are late still"
        if best.kind == LEAD:
            late = f"{late}. It cuts a lead as its maker built it, which may void warranty and sealing"
        return f"{what}: {_lower(best.change.title)}; {quantity(best.typical_s[1], Kind.TIME)} are left then{late}."
    nearer = [effect for effect in effects if not effect.harms and math.isfinite(effect.typical_s[1])]
    if not nearer:
        return "None of the changes that were tried ends it in time."
    nearest = max(nearer, key=lambda effect: effect.typical_s[1])
    if nearest.typical_s[1] >= 0.0:
        return "None of the changes that were tried cures anything of it."
    return (
        f"None of the changes that were tried ends it in time by itself; nearest comes this: {_lower(nearest.change.title)}, "
        f"{quantity(-nearest.typical_s[1], Kind.TIME)} too late still."
    )


def left_text(margin_s: float) -> str:
    """Nanoseconds left until the sample point; a bit that never settles leaves no figure."""
    return "never sure" if math.isinf(margin_s) else bare(margin_s, Kind.TIME, "ns")


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:]


@dataclass(frozen=True, slots=True)
class Ends:
    """What terminates by itself: ohms by stop, and the impedance of the cable, 0 where nobody told."""

    own_ohm: Mapping[int, float]
    cable_ohm: float

    def share(self, stop: int) -> float:
        """What the resistor alone would send back on this cable."""
        own = self.own_ohm[stop]
        return (own - self.cable_ohm) / (own + self.cable_ohm)


UNTOLD = Ends({}, 0.0)
SOMETIMES = "One alone is harmless; several alike ring on."


def remarks(
    found: tuple[Mismatch, ...],
    terminations: int,
    delay_s_per_m: float,
    name: Name,
    *,
    ends: Ends = UNTOLD,
    short_ones: str = SOMETIMES,
) -> tuple[str, ...]:
    """What is out of the ordinary about a line, the gravest first; short branches are counted in one sentence.

    ``ends`` tells resistors apart from what else hangs where they stand; ``short_ones`` what short branches do here.
    """
    told: list[tuple[int, str]] = []
    if terminations != 2:
        told.append((0, _count(terminations)))
    low, high = IMPEDANCE.value, IMPEDANCE.high or math.inf
    if ends.cable_ohm > 0.0 and not low <= ends.cable_ohm <= high:
        told.append((1, _cable(ends.cable_ohm)))
    short = []
    for spot in found:
        late_ns = 2e9 * spot.length_m * delay_s_per_m
        if spot.spot in (Spot.END, Spot.TERMINATION) and is_cause(spot, delay_s_per_m):
            told.append((2, _end(spot, name, ends)))
        elif spot.spot is Spot.TIP and is_cause(spot, delay_s_per_m):
            told.append((3, _long_branch(spot, late_ns, name)))
        elif spot.spot is Spot.TIP:
            short.append(name(spot.stop))
    if short:
        lone = f"The branch to {short[0]} is" if len(short) == 1 else f"{len(short)} branches are"
        told.append((4, f"{lone} short: the echo is back before the edge is over. {short_ones}"))
    return tuple(text for _, text in sorted(told, key=lambda item: item[0]))


def is_cause(spot: Mismatch, delay_s_per_m: float) -> bool:
    """Whether a spot is worth a sentence of its own: a wrong end, a termination on the way, a branch that is too long."""
    if spot.spot is Spot.END:
        return abs(spot.reflection) >= 0.1
    if spot.spot is Spot.TERMINATION:
        return abs(spot.reflection) >= 0.2
    return spot.spot is Spot.TIP and 2e9 * spot.length_m * delay_s_per_m > EDGE_NS


def short_branches(*, rings: Sequence[float] = (), delay_s_per_m: float, late: bool, late_at_worst: bool) -> str:
    """What short branches do on a line, as its bits came out. ``rings``: lengths in m of two that were named as the cause."""
    if any(2e9 * length_m * delay_s_per_m <= EDGE_NS for length_m in rings):
        return "Here they do matter: see above what rings."
    if rings:
        return "Here it is not these that ring: see above."
    if late:
        return "One alone is harmless. Here bits are late; whether these branches have a part in it shows when the rest is right."
    if late_at_worst:
        return "At typical values they do not matter here; at the worst of ten extremes of tolerance several alike may ring on."
    return "Here they do not matter: every bit is in time, even at the worst of ten extremes of tolerance."


def _count(terminations: int) -> str:
    if terminations > 2:
        return (
            f"{terminations} terminations are on instead of 2: together they pull the level down, and one of them "
            "stands where no end is."
        )
    if terminations == 1:
        return "Only 1 termination is on instead of 2: at the other end every edge comes back."
    return "No termination is on: every edge runs to and fro until the cable has eaten it up."


def _cable(ohm: float) -> str:
    right = PLUG_IN.value
    back = abs(right - ohm) / (right + ohm)
    return (
        f"The cable has {quantity(ohm, Kind.RESISTANCE)} where {quantity(right, Kind.RESISTANCE)} belongs: even at a right "
        f"terminator {_percent(back)} of each edge comes back."
    )


def _end(spot: Mismatch, name: Name, ends: Ends) -> str:
    part = _percent(spot.reflection)
    if spot.spot is Spot.TERMINATION:
        return (
            f"The termination of {name(spot.stop)} stands on the way, not at an end: {part} of each edge is sent back "
            "there, and what goes on is lower by as much."
        )
    if spot.reflection > 0.9:
        return f"The trunk ends open at {name(spot.stop)}: each edge comes back whole and meets the next bits."
    if spot.stop in ends.own_ohm and ends.cable_ohm > 0.0:
        return _resistor(spot, name(spot.stop), ends)
    ohm = quantity(spot.ohm, Kind.RESISTANCE)
    return (
        f"The trunk ends in {ohm} at {name(spot.stop)}, which does not fit the cable: {part} of each edge comes back."
    )


def _resistor(spot: Mismatch, title: str, ends: Ends) -> str:
    """The resistor's own fault first, then what else hangs at the same spot."""
    own, alone = ends.own_ohm[spot.stop], ends.share(spot.stop)
    right = quantity(PLUG_IN.value, Kind.RESISTANCE)
    has = quantity(own, Kind.RESISTANCE)
    fits = EACH.value <= own <= (EACH.high or math.inf)
    stands = f"has the right {has}" if fits else f"has {has} instead of {right}"
    cable = quantity(ends.cable_ohm, Kind.RESISTANCE)
    more = (
        ""
        if abs(spot.reflection - alone) < 0.02
        else f", {_percent(spot.reflection)} with all that hangs at the same spot"
    )
    told = f"T{title[1:]} {stands}" if title.startswith("the ") else f"The termination of {title} {stands}"
    return f"{told}: on this cable of {cable} it alone sends back {_percent(alone)} of each edge{more}."


def _percent(share: float) -> str:
    return f"{number(100.0 * abs(share), 0)} %"


def _long_branch(spot: Mismatch, late_ns: float, name: Name) -> str:
    return (
        f"The branch to {name(spot.stop)} is {quantity(spot.length_m, Kind.LENGTH)} long: the echo from its end is "
        f"{number(late_ns, 0)} ns late, after the edge of {number(EDGE_NS, 0)} ns is over, and looks like a step of "
        "its own."
    )


def long_piece(length_m: float, way_m: float, before: str, after: str) -> str:
    """A piece of trunk that was entered by hand and is far longer than its way."""
    return (
        f"{quantity(length_m, Kind.LENGTH)} of trunk between {before} and {after}, entered by hand; the way is "
        f"{quantity(way_m, Kind.LENGTH)}: cut it down."
    )


def chart_words(draws: int, shown: int, latest: int, settle_s: float, never: int) -> str:
    """What a waveform chart shows; ``latest`` is the number of the vehicle that is sure last, ``never`` how many are not."""
    unsure = "not sure when a bit ends" + (f", as {never} of them are not" if never > 1 else "")
    sure = f"sure {quantity(settle_s, Kind.TIME)} after an edge" if math.isfinite(settle_s) else unsure
    return (
        f"Line: everything typical. Bands: {draws} vehicles within tolerances, all of them and nine in ten. Thin lines: "
        f"{shown} of these one by one; the dashed one is vehicle {latest}, the latest of all, {sure}. Numbers, while "
        "the list below is open: first echoes. Drag across to look closer, click twice for all."
    )


def deadline_words(electronics_s: float) -> str:
    """What the line in a chart means at which a receiver must be sure."""
    return f"must be sure by here (sampled {bare(electronics_s, Kind.TIME, 'ns')} ns later)"


def echo_words(echo: Echo, name: Name, *, cause: bool = False) -> str:
    """Where an echo comes from, how late and how strong. ``cause``: what an edge meets there has a sentence above."""
    title = name(echo.mismatch.stop)
    where = {
        Spot.FOOT: f"foot of the branch to {title}",
        Spot.TIP: f"end of the branch to {title}",
        Spot.END: f"end of the trunk at {title}",
        Spot.TERMINATION: f"termination at {title}",
        Spot.TORN: f"torn end of the trunk on the way to {title}",
    }[echo.mismatch.spot]
    turned = ", turned over" if echo.share < 0.0 else ""
    strong = f"{number(100.0 * abs(echo.share), 0)} % of its height{turned}"
    return f"{where}: {number(1e9 * echo.late_s, 0)} ns after the edge, {strong}" + (
        "; one of the causes told above" if cause else ""
    )
