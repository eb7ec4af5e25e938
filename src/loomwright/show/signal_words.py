"""The physical layer in plain words: what an edge meets on its way, and how a line stands."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from loomwright.propose.signal_cures import LEAD
from loomwright.show.quantity import bare, number
from loomwright.show.quantity import text as quantity
from loomwright.solve.echoes import Echo, Mismatch, Spot
from loomwright.solve.signal import LineSignal
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
    """Whether the bits of a line arrive, in two sentences. ``title`` names a port."""
    typical = max(signal.pairs, key=lambda pair: pair.typical_s)
    left_s = signal.sample_s - signal.electronics_s - typical.typical_s
    if not math.isfinite(typical.typical_s):
        return "Bits do not arrive: after a change the line is still ringing when the bit ends."
    first = (
        f"Every receiver is sure of every bit at least {quantity(left_s, Kind.TIME)} before it looks."
        if left_s >= 0.0
        else f"Bits come too late: {title(typical.receiver)} looks {quantity(-left_s, Kind.TIME)} before it can be sure of "
        f"what {title(typical.sender)} sends."
    )
    corner = signal.worst
    corner_s = signal.margin_s(corner)
    if corner_s >= 0.0:
        return f"{first} With all tolerances at their worst at once, {quantity(corner_s, Kind.TIME)} are left."
    late = f"{quantity(-corner_s, Kind.TIME)} late" if math.isfinite(corner_s) else "not sure before the bit ends"
    return f"{first} With all tolerances at their worst at once, {title(corner.receiver)} is {late} for what {title(corner.sender)} sends."


def ringing(signal: LineSignal, branches_m: Mapping[str, float], title: Callable[[str], str]) -> str:
    """Names the two branches between which the latest bit rings; nothing where it is not late by ringing."""
    pair = max(signal.pairs, key=lambda own: own.typical_s)
    one_m, other_m = branches_m.get(pair.sender, 0.0), branches_m.get(pair.receiver, 0.0)
    if pair.typical_s < RINGS_S or min(one_m, other_m) <= 0.0 or max(one_m, other_m) > ALIKE * min(one_m, other_m):
        return ""
    after = quantity(pair.typical_s, Kind.TIME) if math.isfinite(pair.typical_s) else "as long as a bit"
    return (
        f"{title(pair.sender)} and {title(pair.receiver)} hang on branches of nearly the same length, "
        f"{quantity(one_m, Kind.LENGTH)} and {quantity(other_m, Kind.LENGTH)}: like two bells of one note they set each "
        f"other ringing, for {after}."
    )


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
        late = "" if best.corner_s[1] >= 0.0 else ", but with all tolerances at their worst at once bits are late still"
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


def remarks(found: tuple[Mismatch, ...], terminations: int, delay_s_per_m: float, name: Name) -> tuple[str, ...]:
    """What is out of the ordinary about a line, the gravest first; short branches are counted in one sentence."""
    told: list[tuple[int, str]] = []
    if terminations != 2:
        told.append((0, _count(terminations)))
    short = []
    for spot in found:
        late_ns = 2e9 * spot.length_m * delay_s_per_m
        if (spot.spot is Spot.END and abs(spot.reflection) >= 0.1) or (
            spot.spot is Spot.TERMINATION and abs(spot.reflection) >= 0.2
        ):
            told.append((1, _end(spot, name)))
        elif spot.spot is Spot.TIP and late_ns > EDGE_NS:
            told.append((2, _long_branch(spot, late_ns, name)))
        elif spot.spot is Spot.TIP:
            short.append(name(spot.stop))
    if short:
        lone = f"The branch to {short[0]} is" if len(short) == 1 else f"{len(short)} branches are"
        told.append(
            (
                3,
                f"{lone} short: the echo is back before the edge is over. One alone is harmless; several alike ring on.",
            )
        )
    return tuple(text for _, text in sorted(told, key=lambda item: item[0]))


def _count(terminations: int) -> str:
    if terminations > 2:
        return (
            f"{terminations} terminations are on instead of 2: together they pull the level down, and one of them "
            "stands where no end is."
        )
    if terminations == 1:
        return "Only 1 termination is on instead of 2: at the other end every edge comes back."
    return "No termination is on: every edge runs to and fro until the cable has eaten it up."


def _end(spot: Mismatch, name: Name) -> str:
    part = f"{number(100.0 * abs(spot.reflection), 0)} %"
    if spot.spot is Spot.TERMINATION:
        return (
            f"The termination of {name(spot.stop)} stands on the way, not at an end: {part} of each edge is sent back "
            "there, and what goes on is lower by as much."
        )
    if spot.reflection > 0.9:
        return f"The trunk ends open at {name(spot.stop)}: each edge comes back whole and meets the next bits."
    ohm = quantity(spot.ohm, Kind.RESISTANCE)
    return (
        f"The trunk ends in {ohm} at {name(spot.stop)}, which does not fit the cable: {part} of each edge comes back."
    )


def _long_branch(spot: Mismatch, late_ns: float, name: Name) -> str:
    return (
        f"The branch to {name(spot.stop)} is {quantity(spot.length_m, Kind.LENGTH)} long: the echo from its end is "
        f"{number(late_ns, 0)} ns late, after the edge of {number(EDGE_NS, 0)} ns is over, and looks like a step of "
        "its own."
    )


def chart_words(draws: int, shown: int, latest: int, settle_s: float, never: int) -> str:
    """What a waveform chart shows; ``latest`` is the number of the vehicle that is sure last, ``never`` how many are not."""
    unsure = "not sure when a bit ends" + (f", as {never} of them are not" if never > 1 else "")
    sure = f"sure {quantity(settle_s, Kind.TIME)} after an edge" if math.isfinite(settle_s) else unsure
    return (
        f"Line: everything typical. Bands: {draws} vehicles within tolerances, all of them and nine in ten. Thin lines: "
        f"{shown} of these one by one; the dashed one is vehicle {latest}, the latest of all, {sure}. Numbers: first "
        "echoes, listed below. Drag across to look closer, click twice for all."
    )


def echo_words(echo: Echo, name: Name) -> str:
    """Where an echo comes from, how late and how strong."""
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
    return f"{where}: {number(1e9 * echo.late_s, 0)} ns after the edge, {strong}"
