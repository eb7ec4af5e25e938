"""Signals of a definition file as signals of the model, and why some are left out."""

import math
import re
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from loomwright.files.definition_ledger import Ledger
from loomwright.files.definition_names import TITLE, our_names, title_of
from loomwright.files.message_references import raw_span
from loomwright.model.message import Signal
from loomwright.model.table import Table

if TYPE_CHECKING:
    from cantools.database.can import Message as TheirMessage
    from cantools.database.can import Signal as TheirSignal

MOST_VALUES = 1024
"""Values of a selecting signal that are listed for one signal; more are a range that nobody would read."""
_GUARDS = {
    "counter": re.compile(r"counter|alive|(?:^|_)cnt(?:r)?(?:$|_)"),
    "checksum": re.compile(r"checksum|chksum|(?:^|_)(?:crc|chk)"),
}
_SAID: Mapping[str, str] = {
    **dict.fromkeys(("counter", "messagecounter", "msgcounter", "alivecounter", "rollingcounter"), "counter"),
    **dict.fromkeys(("checksum", "messagechecksum", "msgchecksum", "crc", "chk", "chksum"), "checksum"),
}
"""What an attribute of a signal says when it declares a guard, in small letters without gaps."""


def signals_of(theirs: "TheirMessage", ledger: Ledger) -> Table[Signal]:
    """The signals of a message that the model can say; the others go into the ledger."""
    kept = {}
    for signal in theirs.signals:
        why = _unfit(signal, theirs.length)
        if why:
            ledger.lost(why, _place(theirs, signal))
        else:
            kept[id(signal)] = signal
    kept = _with_selectors(theirs, kept, ledger)
    ours = dict(zip(kept, our_names((signal.name for signal in kept.values()), "s"), strict=True))
    first: dict[str, str] = {}
    for key, signal in kept.items():
        if signal.name in first:
            ledger.remark("names that two signals of a message share, told apart by a number", _place(theirs, signal))
        elif ours[key] != signal.name:
            ledger.remark("names of signals written anew, the old one kept in the title", _place(theirs, signal))
        first.setdefault(signal.name, ours[key])
    return Table({ours[key]: _signal(signal, ours[key], first, theirs, ledger) for key, signal in kept.items()})


def _unfit(signal: "TheirSignal", length: int) -> str:
    """Why the model cannot say a signal; empty where it can."""
    front = 8 * (signal.start // 8) + 7 - signal.start % 8 if signal.byte_order == "big_endian" else signal.start
    numbers = [each for each in (signal.scale, signal.offset, signal.minimum, signal.maximum) if each is not None]
    when = signal.multiplexer_ids or [0]
    reasons = {
        "signals outside of their frame": signal.start < 0 or front + signal.length > 8 * length,
        "floats of other than 16, 32 or 64 bits": signal.is_float and signal.length not in (16, 32, 64),
        "signals of more than 64 bits": signal.length > 64,
        "signals whose factor, offset or range is no finite number": not all(map(math.isfinite, numbers)),
        "signals whose factor is zero": signal.scale == 0,
        f"signals selected by more than {MOST_VALUES} values": len(when) > MOST_VALUES,
        "signals selected by a negative value": min(when) < 0,
    }
    return next((why for why, holds in reasons.items() if holds), "")


def _with_selectors(theirs: "TheirMessage", kept: dict[int, "TheirSignal"], ledger: Ledger) -> dict[int, "TheirSignal"]:
    """Without signals whose selecting signal is not among them, told by no name, or not found: nothing would select them."""
    while True:
        names = {signal.name for signal in kept.values()}
        lost = [
            key
            for key, signal in kept.items()
            if (signal.multiplexer_ids or signal.multiplexer_signal)
            and (not signal.multiplexer_ids or signal.multiplexer_signal not in names - {signal.name})
        ]
        if not lost:
            return kept
        for key in lost:
            ledger.lost(
                "multiplexed signals whose selecting signal or value the file leaves open", _place(theirs, kept[key])
            )
        kept = {key: signal for key, signal in kept.items() if key not in lost}


def _signal(
    signal: "TheirSignal", name: str, names: Mapping[str, str], message: "TheirMessage", ledger: Ledger
) -> Signal:
    comment, place = " ".join((signal.comment or "").split()), _place(message, signal)
    if len(comment) > TITLE:
        ledger.lost(f"comments longer than {TITLE} signs", place)
    number = "float" if signal.is_float else "signed" if signal.is_signed else "unsigned"
    _tell_rest(signal, place, ledger)
    low, high = (None if bound is None else float(bound) for bound in (signal.minimum, signal.maximum))
    if low is not None and high is not None and low > high:
        ledger.lost("ranges whose highest value is below the lowest", f"{place}: {low:g} to {high:g}")
        low = high = None
    return Signal(
        start=signal.start,
        bits=signal.length,
        byte_order="big endian" if signal.byte_order == "big_endian" else "little endian",
        number=number,
        factor=float(signal.scale),
        offset=float(signal.offset),
        unit=signal.unit or "",
        low=low,
        high=high,
        values=tuple(_named_values(signal, raw_span(signal.length, number), place, ledger)),
        duty=_duty(signal, place, ledger),
        selects=bool(signal.is_multiplexer),
        selected_by=names[signal.multiplexer_signal] if signal.multiplexer_signal else "",
        selected_when=tuple(sorted(signal.multiplexer_ids or ())),
        title=title_of(signal.name, name, comment),
    )


def _named_values(signal: "TheirSignal", span: tuple[int, int] | None, place: str, ledger: Ledger) -> Iterator[str]:
    """Names of values that the signal's bits can make."""
    for value, words in sorted((signal.choices or {}).items()):
        if span is not None and not span[0] <= value <= span[1]:
            ledger.lost("names of values that the signal's bits cannot make", f"{place}: {value} {words}")
        elif not str(words).strip():
            ledger.lost("values with an empty name", f"{place}: {value}")
        else:
            yield f"{value} {words}"


def _duty(signal: "TheirSignal", place: str, ledger: Ledger) -> str:
    """What the file says that the signal is for. A name alone says nothing; it is told as a guess."""
    for attribute in (signal.dbc.attributes if signal.dbc is not None else {}).values():
        if said := duty_said(attribute):
            return said
    for duty, words in _GUARDS.items():
        if words.search(signal.name.lower()):
            ledger.lost(f"{duty}s by name alone, taken for values because the file does not declare them", place)
            break
    return "value"


def duty_said(attribute: object) -> str:
    """The duty that an attribute of a signal declares; empty where it declares none."""
    return _SAID.get(re.sub(r"[^a-z]", "", attribute_value(attribute).lower()), "")


def attribute_value(attribute: object) -> str:
    """The value of an attribute in words; of an enumeration its choice."""
    value, definition = getattr(attribute, "value", None), getattr(attribute, "definition", None)
    choices = getattr(definition, "choices", None)
    if choices and isinstance(value, int) and 0 <= value < len(choices):
        return str(choices[value])
    return str(value)


def _tell_rest(signal: "TheirSignal", place: str, ledger: Ledger) -> None:
    """Parts of a signal that the model has no place for."""
    in_attributes = bool(signal.dbc is not None and signal.dbc.attributes)
    if signal.raw_initial is not None and not in_attributes:
        ledger.lost("initial values", f"{place}: {signal.raw_initial}")
    if signal.raw_invalid is not None:
        ledger.lost("values that mean invalid", f"{place}: {signal.raw_invalid}")
    if signal.spn:  # 0 is the default of files that number some of their signals: it stands for none
        ledger.lost("suspect parameter numbers (SPN)", f"{place}: {signal.spn}")


def _place(message: "TheirMessage", signal: "TheirSignal") -> str:
    return f"{message.name}.{signal.name}"
