"""Messages of a definition file as messages of the model."""

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from loomwright.files.definition_ledger import Ledger
from loomwright.files.definition_names import TITLE, our_names, title_of
from loomwright.files.definition_senders import Part, part_of
from loomwright.files.definition_signals import attribute_value, signals_of
from loomwright.model.message import Message, MessageSet
from loomwright.model.table import Table
from loomwright.terms.fact import Assumed, Fact, Known, Source, Unknown

if TYPE_CHECKING:
    from cantools.database.can import Message as TheirMessage
    from cantools.database.can.internal_database import InternalDatabase

FD_LENGTHS = (12, 16, 20, 24, 32, 48, 64)
LONGEST_CLASSICAL, LONGEST_FD = 1785, 64
CYCLE, GAP, KIND, FORMAT = "GenMsgCycleTime", "GenMsgDelayTime", "GenMsgSendType", "VFrameFormat"
FAST = ("GenMsgCycleTimeFast", "GenMsgCycleTimeActive", "GenMsgFastCycleTime")
READ_OF_MESSAGES = (CYCLE, GAP, KIND, FORMAT, *FAST, "SystemMessageLongSymbol")
"""Attributes of messages that are understood."""
_WHILE_ACTIVE = re.compile(r"if_?active", re.IGNORECASE)
_EVENT = re.compile(r"event|spontan|change|write|trigger|ifactive|request", re.IGNORECASE)
_ANY_ADDRESS = 0xFE
_DAY_MS = 86_400_000


def message_set(base: "InternalDatabase", file: str, ports: Mapping[str, str], ledger: Ledger) -> MessageSet:
    """The messages that the given ports send or expect."""
    taken = _taken(base, ports, ledger)
    names = our_names((theirs.name for theirs, _ in taken), "m")
    sending = Counter(part.sender for _, part in taken if part.sender)
    main = sending.most_common(1)[0][0] if sending else ""
    messages = {}
    for name, (theirs, part) in zip(names, taken, strict=True):
        if name != theirs.name:
            kind = "names of messages written anew, the old one kept in the title"
            ledger.remark(kind, f"{theirs.name}: {name}")
        message = _message(theirs, name, file, ledger)
        sender = "" if part.sender == main else part.sender
        messages[name] = replace(message, sender=sender, expected_by=part.expected_by)
    return MessageSet(sender=main, messages=Table(messages))


def _taken(base: "InternalDatabase", ports: Mapping[str, str], ledger: Ledger) -> list[tuple["TheirMessage", Part]]:
    """The messages that the model can say and that concern a given port."""
    taken: list[tuple[TheirMessage, Part]] = []
    seen: dict[tuple[str | None, int, bool], str] = {}
    for theirs in base.messages:
        key = (theirs.bus_name, theirs.frame_id, theirs.is_extended_frame)
        if key in seen:
            same = f"{theirs.name}: {theirs.frame_id:#x} is {seen[key]}'s"
            ledger.lost("messages whose identifier another one has already", same)
            continue
        seen[key] = theirs.name
        why = _unfit(theirs)
        if why:
            ledger.lost(why, f"{theirs.name}: {theirs.length} bytes")
        elif (part := part_of(theirs, ports, ledger)) != Part():
            taken.append((theirs, part))
    return taken


def _unfit(theirs: "TheirMessage") -> str:
    if theirs.is_container:
        return "containers of other messages"
    if theirs.length > (LONGEST_FD if theirs.is_fd else LONGEST_CLASSICAL):
        return f"messages longer than {LONGEST_FD} bytes (FD) or {LONGEST_CLASSICAL} bytes (transported)"
    return ""


def _message(theirs: "TheirMessage", name: str, file: str, ledger: Ledger) -> Message:
    comment = " ".join((theirs.comment or "").split())
    if len(comment) > TITLE:
        ledger.lost(f"comments longer than {TITLE} signs", theirs.name)
    if theirs.protocol == "j1939" and theirs.frame_id & 0xFF == _ANY_ADDRESS:
        ledger.remark("J1939 identifiers that end in 0xFE, which stands for any address: set the sender's", theirs.name)
    source = Source(file)
    period, gap = _period(theirs, source, ledger), _gap(theirs, source)
    if period is not None and isinstance(gap, Known):
        kind = "least gaps of messages not known to be sent on events alone"
        ledger.lost(kind, f"{theirs.name}: {gap.value * 1e3:g} ms")
    _tell_faster(theirs, ledger)
    return Message(
        title=title_of(theirs.name, name, comment),
        identifier=Known(theirs.frame_id, source=source),
        width="29 bit" if theirs.is_extended_frame else "11 bit",
        length=theirs.length,
        frames=_frames(theirs, ledger),
        period_s=period,
        minimum_gap_s=gap if period is None else None,
        signals=signals_of(theirs, ledger),
    )


def _frames(theirs: "TheirMessage", ledger: Ledger) -> str:
    """The kind of frame. Where the file names none, 12 to 64 bytes under 11 bits can be FD alone."""
    if theirs.is_fd:
        return "FD"
    if theirs.length <= 8:
        return "classical"
    said = theirs.dbc is not None and FORMAT in theirs.dbc.attribute_definitions
    if theirs.length in FD_LENGTHS and not theirs.is_extended_frame and not said:
        ledger.remark("messages of more than 8 bytes, taken for FD because of their length", theirs.name)
        return "FD"
    ledger.remark("messages of more than 8 bytes, taken for classical ones transported in several frames", theirs.name)
    return "classical"


def _period(theirs: "TheirMessage", source: Source, ledger: Ledger) -> Fact[float] | None:
    """The cycle time; ``None`` for a message sent on an event; unknown where the file does not say which."""
    on_event = bool(_EVENT.search(theirs.send_type or ""))
    cycle = theirs.cycle_time or 0
    if not 0 <= cycle <= _DAY_MS:
        ledger.lost("cycle times below zero or beyond a day", f"{theirs.name}: {cycle} ms")
        return Unknown()
    if cycle > 0 and on_event and not _WHILE_ACTIVE.search(theirs.send_type or ""):
        kind = "messages sent in a cycle and on events too: the cycle stands as an assumption, because it is no bound"
        ledger.remark(kind, f"{theirs.name}: {cycle:g} ms")
        why = f"{source.document} has it sent in this cycle and on events too, and not how often at the most"
        return Assumed(cycle / 1e3, why)
    if cycle > 0:
        return Known(cycle / 1e3, source=source)
    if on_event or _said(theirs, CYCLE) in ("0", "0.0"):
        return None
    return Unknown()


def _tell_faster(theirs: "TheirMessage", ledger: Ledger) -> None:
    """A second, faster cycle: the project has one period for a message."""
    for attribute in FAST:
        said = _said(theirs, attribute)
        if said not in ("", "0", "0.0"):
            beside = f", {theirs.cycle_time:g} ms else" if theirs.cycle_time else ""
            kind = "faster cycles while something is active: the line is fuller then than is computed"
            ledger.lost(kind, f"{theirs.name}: {said} ms{beside}")


def _gap(theirs: "TheirMessage", source: Source) -> Fact[float]:
    try:
        gap = float(_said(theirs, GAP) or 0)
    except ValueError:
        gap = 0.0
    return Known(gap / 1e3, source=source) if 0 < gap <= _DAY_MS else Unknown()


def _said(theirs: "TheirMessage", attribute: str) -> str:
    """What an attribute says of this very message; empty where it says nothing."""
    found = (theirs.dbc.attributes if theirs.dbc is not None else {}).get(attribute)
    return "" if found is None else attribute_value(found)
