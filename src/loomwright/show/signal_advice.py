"""What changes would do to a line, and how long its branches may be: the one account for tables, sheets and terminals."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from loomwright.judge.rule import TIGHT_SHARE
from loomwright.propose.signal_cures import LEAD, LEAST_LEAD_M
from loomwright.show.quantity import bare
from loomwright.show.rule_words import rules_told
from loomwright.show.signal_words import left_text
from loomwright.terms.finding import Finding
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.console import Group

    from loomwright.propose.signal_cures import Effect
    from loomwright.solve.longest_branch import LongestBranch

CAUTION = "the maker's lead: cutting it may void warranty and sealing"
"""What stands beside every change of a lead as its maker built it."""
LEADS_NOTE = f"No lead is cut below {LEAST_LEAD_M:.2f} m: a hand's width is needed to crimp and seal a new connector (common practice)."
BRANCHES_NOTE = (
    "Each branch alone, all else as it is. The waves are taken at typical values, at the lengths that were tried; reflections "
    "come and go with length, so look again after every change."
)


@dataclass(frozen=True, slots=True)
class EffectTold:
    """What a change does, in words: what it cures, what that means for the bits, what it harms, what to mind. Any may be empty.

    ``cures`` begins with a verb: what is not offered only *would cure*.
    """

    cures: str
    time: str
    harms: str
    mind: str

    @property
    def lines(self) -> tuple[str, ...]:
        """All of it, line by line."""
        return tuple(filter(None, (self.cures, self.time, self.harms, self.mind)))


def effect_told(effect: Effect, of: Callable[[Finding], bool] = lambda _: True) -> EffectTold:
    """The account of a change, of all rules or of those findings that ``of`` picks."""
    cures = _cures(effect, [own for own in effect.cures if of(own)])
    return EffectTold(
        f"{'would cure' if effect.harms else 'cures'}: {cures}" if cures else "",
        _time(effect),
        _harms([own for own in effect.worsens if of(own)], [own for own in effect.worse if of(own)]),
        CAUTION if effect.kind == LEAD else "",
    )


def _cures(effect: Effect, cured: Sequence[Finding]) -> str:
    """What it cures; what is only tight then is told apart, and what stays broken of the same rules is counted."""
    eased = [own for own in effect.eased if any(_same(own, other) for other in cured)]
    whole = [own for own in cured if not any(_same(own, other) for other in eased)]
    left = sum(any(own.rule == other.rule for other in cured) for own in effect.left)
    told = "; ".join(filter(None, (rules_told(whole), rules_told(eased, tight="broken now, tight then"))))
    return f"{told}; of the same {'1 finding stays' if left == 1 else f'{left} findings stay'} broken" if left else told


def _same(one: Finding, other: Finding) -> bool:
    return (one.rule, one.reading.line, one.reading.subject) == (other.rule, other.reading.line, other.reading.subject)


def _harms(breaks: Sequence[Finding], worse: Sequence[Finding]) -> str:
    return "; ".join(
        f"{what}: {rules_told(found)}"
        for what, found in (("would break", breaks), ("makes worse what is broken already", worse))
        if found
    )


def _time(effect: Effect) -> str:
    """What a change means for the bits, as far as its figures alone would not tell."""
    was, now = effect.typical_s
    if now < 0.0:
        late = f"{left_text(-now)} ns late" if math.isfinite(now) else "never sure before the bit ends"
        if was >= 0.0:
            return f"bits come too late: {late}"
        word = "better, still" if effect.gain_s > 0.0 else "worse:" if effect.gain_s < 0.0 else "no better:"
        return f"{word} {late}"
    if was < 0.0:
        return "in time" + (", but late at the worst of ten extremes of tolerance" if effect.corner_s[1] < 0.0 else "")
    if effect.by_the_rules and not effect.harms and (now < was or effect.corner_s[1] < effect.corner_s[0]):
        return f"right by these rules; {_room(effect)}"
    if effect.cures:
        return ""
    return (
        "gains time only" if effect.gain_s > 0.0 else "costs time" if effect.gain_s < 0.0 else "changes next to nothing"
    )


def _room(effect: Effect) -> str:
    """How much is left of the time that a receiver has, where the figure looks bad beside a greater one."""
    now, corner, of = effect.typical_s[1], effect.corner_s[1], f"of {left_text(effect.window_s)} ns"
    least = TIGHT_SHARE * effect.window_s
    if corner >= least:
        return f"still plenty of time ({left_text(corner)} {of} at the worst corner)"
    if now < least:
        return f"but little time is left ({left_text(now)} {of})"
    what = "late at the worst of ten extremes of tolerance" if corner < 0.0 else "little at the worst corner"
    return f"time enough at typical values ({left_text(now)} {of}), {what}"


@dataclass(frozen=True, slots=True)
class BranchRoom:
    """How long a branch may be: ``waves`` found by the waves; ``rule_m`` by the rule ``rule`` that governs, if one speaks.

    ``beside`` names a rule on sums that is not kept whatever the length of this branch.
    """

    waves: LongestBranch
    rule_m: float | None = None
    rule: str = ""
    beside: str = ""


@dataclass(frozen=True, slots=True)
class BranchTold:
    """A row: the port, lengths in metres, and what sets the limit."""

    port: str
    now: str
    most: str
    by: str


def branch_told(room: BranchRoom) -> BranchTold:
    """The smaller one of what the waves bear and what the governing rule allows, and which of the two it is."""
    told = _branch_told(room)
    return replace(told, by=f"{told.by}; {room.beside}: too long with no branch here at all") if room.beside else told


def _branch_told(room: BranchRoom) -> BranchTold:
    waves, rule_m = room.waves, room.rule_m
    now = bare(waves.now_m, Kind.LENGTH, "m")
    rule = "" if rule_m is None else f"{room.rule} allows {bare(rule_m, Kind.LENGTH, 'm')} m"
    if waves.longest_m is None:
        late = "no length of this one alone cures it"
        if waves.again_m is not None:
            late = f"late now and with none; in time at {bare(waves.again_m, Kind.LENGTH, 'm')} m, as reflections come and go"
        return BranchTold(waves.port, now, "–", "; ".join(filter(None, (late, rule))))
    bears = f"waves bear {_waves(waves)}"
    if rule_m is not None and (rule_m <= waves.longest_m or not waves.late):
        return BranchTold(waves.port, now, bare(rule_m, Kind.LENGTH, "m"), f"{room.rule}; {bears}")
    if not waves.late and waves.gap_m is None:
        return BranchTold(
            waves.port,
            now,
            f"over {waves.longest_m:g}",
            "nothing that was looked at; no rule that governs speaks of it",
        )
    most = f"over {waves.longest_m:g}" if not waves.late else bare(waves.longest_m, Kind.LENGTH, "m")
    if waves.gap_m is not None:
        most = "no one figure"
    what = bears if waves.gap_m is not None else f"waves{_again(waves)}"
    return BranchTold(waves.port, now, most, "; ".join((what, rule or "no rule that governs speaks of it")))


def _waves(waves: LongestBranch) -> str:
    """The limit of the waves, told as one only where every shorter length that was tried holds too."""
    assert waves.longest_m is not None
    most = f"over {waves.longest_m:g} m" if not waves.late else f"{bare(waves.longest_m, Kind.LENGTH, 'm')} m"
    if waves.gap_m is not None:
        most = f"{most}, but not {bare(waves.gap_m, Kind.LENGTH, 'm')} m"
    return f"{most}{_again(waves)}"


def _again(waves: LongestBranch) -> str:
    return f" (in time again at {bare(waves.again_m, Kind.LENGTH, 'm')} m)" if waves.again_m is not None else ""


def advice_text(name: str, found: tuple[Effect, ...] | None, branches: tuple[BranchRoom, ...] | None) -> Group:
    """What changes would do, those that cure most first, and how long each branch may be."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    if found is None or branches is None:
        return Group(Text(f"No advice for line {name}: it cannot be computed yet.\n"))
    tried = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 1, 0, 0))
    tried.add_column("")
    tried.add_column(f"change on line {name}", overflow="fold")
    for head in ("left,\nns", "worst\ncorner,\nleft, ns"):
        tried.add_column(head, justify="right", no_wrap=True)
    for effect in found:
        told = effect_told(effect)
        change = Text(effect.change.title)
        for words in told.lines:
            change.append(f"\n  {words}", style="red" if words == told.harms else "dim")
        times = (left_text(effect.typical_s[1]), left_text(effect.corner_s[1]))
        tried.add_row("cures" if effect.offered else "harms" if effect.harms else "", change, *times)
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("branch to")
    for head in ("now, m", "up to, m"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("limited by", overflow="fold")
    for room in branches:
        row = branch_told(room)
        table.add_row(row.port, row.now, row.most, row.by)
    leads = [Text(LEADS_NOTE, style="dim")] if any(effect.kind == LEAD for effect in found) else []
    return Group(tried, *leads, Text(""), table, Text(BRANCHES_NOTE, style="dim"), Text(""))
