"""Signals of the model as signals of a definition file, and what the format cannot say of them."""

import re
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from loomwright.files.definition_ledger import Ledger
from loomwright.files.definition_names import their_name
from loomwright.model.message import Message, Signal

if TYPE_CHECKING:
    from cantools.database.can import Signal as TheirSignal

DUTY = "GenSigFuncType"
_DUTIES = ["None", "Counter", "Checksum"]
_VALUE = re.compile(r"(-?\d+) (.*)", re.DOTALL)
_UNFIT = re.compile(r'[\x00-\x1f\x7f"\\\u2028\u2029\x85]+')


@dataclass(frozen=True, slots=True)
class Limits:
    """What a format can say, or the library writes.

    Widths of floats, several values that select a signal, selectors below selectors, the duty of a signal; whether
    selecting signals are bits alone, whether a signal's name has one meaning in the whole file, and how long it may be.
    """

    floats: tuple[int, ...]
    many_values: bool
    nested: bool
    duties: bool
    plain_selectors: bool
    whole_file_names: bool
    longest_name: int


def words(text: str, place: str, ledger: Ledger) -> str:
    """A text without the signs that end or break a text in these files."""
    made = " ".join(_UNFIT.sub(" ", text).split())
    if made != text:
        ledger.remark("texts with signs that the format cannot hold, which give way to spaces", place)
    return made


def their_signals(
    message: Message,
    place: str,
    name: str,
    receivers: Mapping[str, list[str]],
    limits: Limits,
    taken: dict[str, str],
    ledger: Ledger,
) -> list["TheirSignal"]:
    """The signals of a message, ``receivers`` the nodes that hear each. ``taken`` are the names that the file has already, where each must be there once."""
    kept = {ours: signal for ours, signal in message.signals.items() if not _unfit(message, ours, signal, limits)}
    while lost := [ours for ours, signal in kept.items() if signal.selected_by and signal.selected_by not in kept]:
        kept = {ours: signal for ours, signal in kept.items() if ours not in lost}
    for ours, signal in message.signals.items():
        if ours not in kept:
            why = _unfit(message, ours, signal, limits) or "signals whose selecting signal is left out"
            ledger.lost(why, f"{place}.{ours}")
    names = _names(kept, name, limits, taken)
    for ours, theirs in names.items():
        if theirs != their_name(kept[ours].title, ours):
            ledger.remark("names of signals written anew, to be short enough or each once", f"{place}.{ours}: {theirs}")
    selecting = {signal.selected_by for signal in kept.values() if signal.selected_by}
    return [
        _signal(
            ours,
            signal,
            names,
            f"{place}.{ours}",
            receivers.get(ours, []),
            limits,
            ours in selecting,
            bool(selecting),
            ledger,
        )
        for ours, signal in kept.items()
    ]


def _unfit(message: Message, name: str, signal: Signal, limits: Limits) -> str:
    """Why a signal cannot be written; empty where it can."""
    front = 8 * (signal.start // 8) + 7 - signal.start % 8 if signal.byte_order == "big endian" else signal.start
    selectors = {each.selected_by for each in message.signals.values() if each.selected_by}
    reasons = {
        "signals outside of their frame": front + signal.bits > 8 * message.length,
        "floats of a width that the format does not know": signal.number == "float"
        and signal.bits not in limits.floats,
        "signals with a factor of zero": signal.factor == 0.0,
        "signals that several values select": len(signal.selected_when) > 1 and not limits.many_values,
        "selecting signals below others, and what they select": bool(signal.selected_by)
        and name in selectors
        and not limits.nested,
        "signals beside a second selecting signal": not limits.nested
        and bool(signal.selected_by)
        and len(selectors) > 1,
    }
    return next((why for why, holds in reasons.items() if holds), "")


def _names(kept: Mapping[str, Signal], message: str, limits: Limits, taken: dict[str, str]) -> dict[str, str]:
    """Names in the file by ours: those of the maker's file where the titles keep them; each once."""
    names: dict[str, str] = {}
    for ours, signal in kept.items():
        wanted = their_name(signal.title, ours)[: limits.longest_name]
        used = {*names.values(), *(taken if limits.whole_file_names else ())}
        if wanted in used and limits.whole_file_names:
            wanted = f"{message}_{wanted}"[: limits.longest_name - 3]
        made, number = wanted, 2
        while made in used:
            made, number = f"{wanted[: limits.longest_name - 3]}_{number}", number + 1
        names[ours] = made
        taken[made] = message
    return names


def _signal(
    ours: str,
    signal: Signal,
    names: Mapping[str, str],
    place: str,
    receivers: list[str],
    limits: Limits,
    selects: bool,
    muxed: bool,
    ledger: Ledger,
) -> "TheirSignal":
    from cantools.database.can import Signal as TheirSignal
    from cantools.database.conversion import BaseConversion

    low, high = _range(signal, place, ledger)
    if signal.checksum:
        ledger.lost("rules of checksums", place)
    if signal.duty != "value" and not limits.duties:
        ledger.lost("that a signal is a counter or a checksum", place)
    if limits.plain_selectors and muxed and not selects and not signal.selected_by:
        ledger.lost("signals always there beside selected ones: the format has them with each selecting value", place)
    if (
        selects
        and limits.plain_selectors
        and replace(signal, title="", selects=True)
        != Signal(signal.start, signal.bits, signal.byte_order, selects=True)
    ):
        ledger.lost("what a selecting signal means: the format tells its bits alone", place)
    if signal.selects and not selects:
        ledger.remark("selecting signals that select nothing", place)
    comment = signal.title if their_name(signal.title, ours) == ours else signal.title.partition(": ")[2]
    conversion = BaseConversion.factory(
        scale=_number(signal.factor),
        offset=_number(signal.offset),
        choices=_choices(signal.values, place, ledger),
        is_float=signal.number == "float",
    )
    return TheirSignal(
        names[ours],
        signal.start,
        signal.bits,
        "big_endian" if signal.byte_order == "big endian" else "little_endian",
        signal.number == "signed",
        conversion=conversion,
        minimum=low,
        maximum=high,
        unit=words(signal.unit, place, ledger) or None,
        comment=words(comment, place, ledger) or None,
        receivers=receivers,
        is_multiplexer=selects or signal.selects,
        multiplexer_ids=list(signal.selected_when) if signal.selected_by else None,
        multiplexer_signal=names[signal.selected_by] if signal.selected_by else None,
        dbc_specifics=_specifics(signal, limits),
    )


def duty_definition() -> Any:
    """The attribute of a signal that tells a counter or a checksum from a value."""
    from cantools.database.can.formats.dbc.dbc_attribute_definition import DbcAttributeDefinition

    return DbcAttributeDefinition(DUTY, "None", "SG_", "ENUM", choices=_DUTIES)


def _specifics(signal: Signal, limits: Limits) -> Any:
    from cantools.database.can.formats.dbc import DbcSpecifics
    from cantools.database.can.formats.dbc.dbc_attribute import DbcAttribute

    if signal.duty == "value" or not limits.duties:
        return DbcSpecifics()
    attribute = DbcAttribute(_DUTIES.index(signal.duty.capitalize()), duty_definition())
    return DbcSpecifics(attributes=OrderedDict({DUTY: attribute}))


def _range(signal: Signal, place: str, ledger: Ledger) -> tuple[float | None, float | None]:
    """Both ends of a range; the formats cannot say one alone, nor that both are zero."""
    if signal.low is None or signal.high is None or signal.low == signal.high == 0.0:
        if (signal.low, signal.high) != (None, None):
            ledger.lost("ranges with one end alone, or with zero at both", place)
        return None, None
    return _number(signal.low), _number(signal.high)


def _choices(values: Sequence[str], place: str, ledger: Ledger) -> Any:
    found: OrderedDict[int, str] = OrderedDict()
    for value in values:
        match = _VALUE.fullmatch(value)
        if match is None or int(match[1]) in found:
            ledger.lost("value names without a number of their own", f"{place}: {value}")
        else:
            found[int(match[1])] = words(match[2], place, ledger)
    return found or None


def _number(value: float) -> float:
    """A whole number where it is one, so that the file says 1 and not 1.0."""
    return int(value) if value.is_integer() and abs(value) < 1e15 else value
