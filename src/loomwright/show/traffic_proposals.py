"""What would help a line's messages, for a terminal: other identifiers, offsets, a component on another line."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from loomwright.show.quantity import bare
from loomwright.show.tables import group, several, table
from loomwright.show.traffic_tables import identifier_text, percent
from loomwright.show.words.paths import path_words
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.change import path_of
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    from loomwright.propose.traffic_identifiers import IdentifierProposal
    from loomwright.propose.traffic_moves import Moves
    from loomwright.propose.traffic_offsets import SenderOffsets

OFFSETS_NOTE = (
    "Advice: the bounds above do not count on offsets, for two senders share no clock. They take a sender's own bursts away. "
    "Backlog is the time on the line that waits in the sender at once, if it were alone."
)
KEPT_FREE = "Kept free: 0x000, 0x7E0 to 0x7FF, and on CANopen lines the predefined identifiers of the nodes there (from memory)."
MOVES_NOTE = (
    "Each move was judged by all rules. Where the station goes is a first answer; `loomwright arrange` may lay it better. "
    "Have the bus work, and all that shares a harness with high voltage, done by those licensed for it."
)
FEW = 4


def proposals_text(
    name: str,
    chosen: IdentifierProposal | None,
    spread: Answer[tuple[SenderOffsets, ...]] | None,
    moved: Moves | None,
) -> Group:
    """Everything that was found for one line, in the order in which it costs least."""
    parts: list[Group | Table | Text] = []
    if chosen is not None:
        parts.append(identifiers_text(chosen))
    if moved is not None:
        parts.append(moves_text(moved))
    if spread is not None:
        parts.append(offsets_text(name, spread))
    return group(*parts)


def identifiers_sentence(found: IdentifierProposal) -> str:
    """What other identifiers would do, in a sentence or two."""
    if found.blocked_by:
        return f"Line {found.line}: other identifiers wait for {several(found.blocked_by)}."
    late, then = found.late
    said = f"Line {found.line}: {found.status}."
    if found.change is not None and late:
        said += f" Late now: {', '.join(late)}; then: {', '.join(then) or 'none'}."
    elif late:
        said += f" Late: {', '.join(late)}."
    if found.change is not None and found.least_share[0] != found.least_share[1]:
        said += f" The least that is left of any deadline goes from {_left(found.least_share[0])} to {_left(found.least_share[1])}."
    if found.proved:
        said += " No choice of identifiers on this line puts everything in time; that is proved."
        said += " Slow down or move what goes before them, or raise the bit rate where every node can follow."
    if found.change is None and found.breaks:
        said += f" The best choice found would break, or farther than now: {_where(found.breaks)}."
    return said


def identifiers_text(found: IdentifierProposal) -> Group | Table | Text:
    """Other identifiers of a line, message by message."""
    from rich.text import Text

    said = Text(identifiers_sentence(found) + "\n")
    if found.change is None:
        return said
    shown = table(f"Line {found.line}: other identifiers")
    for head in ("message", "sender", "now", "then"):
        shown.add_column(head, overflow="fold")
    for each in found.new:
        now, then = (identifier_text(number, extended=each.extended) for number in (each.before, each.after))
        shown.add_row(each.message, each.sender, now, then)
    return group(shown, Text(KEPT_FREE, style="dim"), said)


def offsets_text(name: str, found: Answer[tuple[SenderOffsets, ...]]) -> Group | Table | Text:
    """When each message of a sender should begin, senders whose messages can be programmed in full, the others in short."""
    from rich.text import Text

    if isinstance(found, Blocked):
        return Text(f"Line {name}: offsets wait for {several(found.by)}.\n")
    if not found.value:
        return Text(f"Line {name}: no sender has bursts that offsets would make smaller.\n")
    shown = table(f"Line {name}: offsets that flatten bursts")
    shown.add_column("sender", overflow="fold")
    for head in ("backlog, ms", "then, ms"):
        shown.add_column(head, justify="right")
    shown.add_column("begin, ms after the start", overflow="fold")
    for each in sorted(found.value, key=lambda one: (not one.in_own_hands, one.after_s - one.before_s)):
        begin = ", ".join(f"{one.message.partition('.')[2]} {_ms(one.offset_s)}" for one in each.offsets)
        told = begin if each.in_own_hands else "its maker sets them"
        shown.add_row(each.sender, _ms(each.before_s), _ms(each.after_s) + ("" if each.whole else " or more"), told)
    return group(shown, Text(OFFSETS_NOTE + "\n", style="dim"))


def moves_text(found: Moves) -> Group | Table | Text:
    """Which component to move to which line, the best first."""
    from rich.text import Text

    more = "" if found.whole else " (the search was not finished)"
    if not found.found:
        return Text(f"Line {found.line}: no component of it can be moved to another line{more}.\n")
    shown = table(f"Line {found.line}: components on another line{more}")
    for head, right in (
        ("", False), ("move", False), ("load", True), ("then", True), ("left", True), ("then", True),
        ("gateways pass on", False), ("cures", False), ("breaks", False),
    ):  # fmt: skip
        shown.add_column(head, justify="right" if right else "left", overflow="fold")
    for move in found.found[: max(FEW, len(found.offered))]:
        shown.add_row(
            "helps" if move.offered else "",
            f"{move.onto_port} to {move.onto}",
            percent(move.load[0]),
            percent(move.load[1]),
            _left(move.least_share[0]),
            _left(move.least_share[1]),
            ", ".join(move.forwards) or "–",
            _rules(move.cured) or "–",
            _rules(move.breaks) or "–",
        )
    return group(shown, Text(MOVES_NOTE + "\n", style="dim"))


def _left(share: float) -> str:
    return "no bound" if math.isinf(share) else percent(share)


def _rules(found: Iterable[tuple[str, str]]) -> str:
    """Rules, each once, with how often."""
    rules = [rule for rule, _ in found]
    return ", ".join(
        rule if rules.count(rule) == 1 else f"{rule} ({rules.count(rule)} times)" for rule in dict.fromkeys(rules)
    )


def _where(found: Iterable[tuple[str, str]]) -> str:
    """Rules with what they are about, the first few by name."""
    named = [f"{rule} of {path_words(path_of(subject))}" for rule, subject in found]
    more = len(named) - FEW
    return "; ".join(named[:FEW]) + (f"; and {more} more" if more > 0 else "")


def _ms(time_s: float) -> str:
    return bare(time_s, Kind.TIME, "ms")
