"""Values of the model as keys of a file, and as TOML text in the unit a person would use."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from loomwright.files.quantity import Figure, QuantityError, parse_range
from loomwright.files.schema import ASK, ASSUMED, SOURCE, Form, Slot, shape_of
from loomwright.terms.errors import RefusedWriteError
from loomwright.terms.fact import Assumed, Known, Source, Unknown
from loomwright.terms.quantity import UNITS, Kind, Unit, units_of

_USUAL: Mapping[Kind, tuple[str, ...]] = {
    Kind.LENGTH: ("m",),
    Kind.RESISTANCE: ("ohm", "kohm", "Mohm"),
    Kind.RESISTANCE_PER_LENGTH: ("mohm/m",),
    Kind.CAPACITANCE: ("pF", "nF", "uF"),
    Kind.TIME: ("ns", "us", "ms", "s"),
    Kind.BIT_RATE: ("kbit/s", "Mbit/s"),
    Kind.FREQUENCY: ("Hz", "kHz", "MHz"),
}
"""Units for a new value, rising; the largest that leaves 1 or more before the decimal point. Else: the kind's first."""

_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r", "\b": "\\b", "\f": "\\f"}
_SMALLEST, _LARGEST = -9, 12
"""Powers of ten within which a number is written without an exponent."""

_TOLERANCES = ("0.1", "0.5", "1", "2", "5", "10", "20")
"""Percentages by which parts are sold."""

_DIGITS = 20
"""Digits in a number: a float has 17 and subtracting the zero of a temperature scale may add some."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A figure with its kind, ready to be put into words."""

    kind: Kind
    figure: Figure


class Hexadecimal(int):
    """A whole number that is written in hexadecimal digits."""


def keys_of(slot: Slot, value: Any, document: str) -> dict[str, Any]:
    """The keys that say a field's value, with what they say; none where the value is the default anyway.

    ``document`` is the manual that a bare "page 12" means here.
    """
    if not slot.item.required and value == slot.item.default:
        return {}
    return plain_keys(slot, value, document)


def plain_keys(slot: Slot, value: Any, document: str) -> dict[str, Any]:
    """The keys that say a field's value, be it the default or not."""
    beside: dict[str, str] = {}
    bounds: tuple[float | None, float | None] = (None, None)
    if slot.fact:
        if isinstance(value, Unknown):
            return {slot.key: "?"} | ({slot.key + ASK: value.question} if value.question else {})
        if isinstance(value, Known) and value.source is not None:
            beside[slot.key + SOURCE] = words_of(value.source, document)
        elif isinstance(value, Assumed):
            beside[slot.key + ASSUMED] = value.why
        if value is not None:
            bounds, value = (value.low, value.high), value.value
    return {slot.key: _said(slot, value, bounds), **beside}


def plain_default(slot: Slot) -> Any:
    """What a key says when its value is the default, or ``None`` where the default cannot be said."""
    if slot.fact:
        return "?" if isinstance(slot.item.default, Unknown) else None
    default = slot.item.default
    return None if default in (None, "", ()) else _said(slot, default, (None, None))


def table_lines(value: object, document: str = "") -> list[str]:
    """Lines ``key = value`` for every field of an object that is not at its default."""
    lines = []
    cls: type = type(value)
    for slot in shape_of(cls).slots.values():
        keys = keys_of(slot, getattr(value, slot.item.name), document)
        lines += [f"{key} = {toml(said)}" for key, said in keys.items()]
    return lines


def toml(said: Any, before: str = "") -> str:
    """What a key says as TOML; ``before`` is the value's present text, whose unit and decimals are kept.

    Raises ``RefusedWriteError`` for what a file cannot hold.
    """
    if isinstance(said, bool):
        return "true" if said else "false"
    if isinstance(said, str):
        return quoted(said)
    if isinstance(said, Hexadecimal):
        return f"0x{said:0{8 if said > 0x7FF else 3}X}"
    if isinstance(said, (int, float)):
        return repr(said)
    if isinstance(said, Quantity):
        return quoted(figure_text(said.figure, said.kind, before))
    return f"[{', '.join(toml(each, before) for each in said)}]"


def quoted(words: str) -> str:
    """A basic string of TOML."""
    made = "".join(
        _ESCAPES.get(sign) or (sign if sign >= " " and sign != "\x7f" else f"\\u{ord(sign):04x}") for sign in words
    )
    return f'"{made}"'


def words_of(source: Source, document: str) -> str:
    """The words from which ``read.source_of`` makes the same source."""
    if document and source.document == document and source.place and not _names_a_document(source.place):
        return source.place
    if source.place:
        return f"{source.document}: {source.place}"
    return f"{source.document}:" if document or _names_a_document(source.document) else source.document


def _names_a_document(words: str) -> bool:
    return ": " in words or words.endswith(":")


def quantity_text(value: float, kind: Kind, before: str = "") -> str:
    """One quantity as text; see ``figure_text``."""
    return figure_text(Figure(value), kind, before)


def figure_text(figure: Figure, kind: Kind, before: str = "") -> str:
    """Text that reads as exactly these floats, in the unit of the text ``before`` or a usual one.

    Raises ``RefusedWriteError`` where there is none: for what is no number.
    """
    used = _unit_in(before, kind)
    decimals = _decimals_in(before) if used else 0
    if all(each is None or math.isfinite(each) for each in figure):
        for unit in ([used] if used else []) + [_usual_unit(kind, figure.value), *units_of(kind)]:
            text = _in_unit(unit, figure, decimals)
            if text and _reads_as(text, kind, figure):
                return text if ".." in before else _with_tolerance(unit, figure, decimals) or text
    raise RefusedWriteError(f"{figure.value!r} cannot be written as a {kind.value}")


def _with_tolerance(unit: Unit, figure: Figure, decimals: int) -> str:
    """The figure as ``typical +- share %`` where the share is a usual one, else nothing."""
    if figure.low is None:
        return ""
    typical = _in_unit(unit, Figure(figure.value), decimals)
    texts = (f"{typical} +- {percent} %" for percent in _TOLERANCES)
    return next((text for text in texts if _reads_as(text, unit.kind, figure)), "")


def _reads_as(text: str, kind: Kind, figure: Figure) -> bool:
    try:
        return parse_range(text, kind) == figure
    except QuantityError:
        return False


def _said(slot: Slot, value: Any, bounds: tuple[float | None, float | None]) -> Any:
    kind = slot.item.field.kind
    try:
        if slot.form is Form.FIGURE:
            low, high = bounds
            if low is not None or high is not None:
                low, high = (value if low is None else low), (value if high is None else high)
            low, high = (None if each is None else _float(each) for each in (low, high))
            return Quantity(kind, Figure(_float(value), low, high))
        if slot.form is Form.FIGURES:
            return tuple(Quantity(kind, Figure(_float(each))) for each in value)
        one = _SAID[slot.form]
        if slot.form in (Form.TEXTS, Form.WHOLES):
            return tuple(one(each) for each in value)
        return Hexadecimal(one(value)) if kind is Kind.IDENTIFIER else one(value)
    except TypeError:
        raise RefusedWriteError(f"{slot.key} cannot be {value!r}: {slot.example} is one") from None


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise TypeError
    return value


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise TypeError
    return value


def _finite(value: Any) -> float:
    number = _float(value)
    if not math.isfinite(number):
        raise RefusedWriteError(f"{value!r} cannot be written as a number")
    return number


def _float(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise TypeError
    return float(value)


_SAID: Mapping[Form, Callable[[Any], Any]] = {
    Form.TEXT: _text,
    Form.TEXTS: _text,
    Form.FLAG: _flag,
    Form.WHOLE: _whole,
    Form.WHOLES: _whole,
    Form.NUMBER: _finite,
}


def _unit_in(before: str, kind: Kind) -> Unit | None:
    """The unit that the present text of a value ends in."""
    words = before.strip("[]\"' \t\r\n").split("+-")[0].split("±")[0].split()
    return next((unit for unit in units_of(kind) if words and words[-1].lstrip("0123456789.") == unit.symbol), None)


def _decimals_in(before: str) -> int:
    """The most decimals that the present text of a value has."""
    found = [part.partition(".")[2] for part in before.replace("..", " ").strip("[]\"'").split()]
    return max((len(part) - len(part.lstrip("0123456789")) for part in found), default=0)


def _usual_unit(kind: Kind, value: float) -> Unit:
    symbols = _USUAL.get(kind, (units_of(kind)[0].symbol,))
    units = [unit for symbol in symbols for unit in UNITS if unit.symbol == symbol]
    return next((unit for unit in reversed(units) if abs(value) >= unit.factor), units[0])


def _in_unit(unit: Unit, figure: Figure, decimals: int) -> str:
    """The figure in a unit, or nothing where that takes more digits than a float has.

    The typical value is left out of a range where it is the middle.
    """
    parts: tuple[float, ...] = (figure.value,)
    if figure.low is not None and figure.high is not None:
        low, high = Decimal(repr(figure.low)), Decimal(repr(figure.high))
        middle = float((low + high) / 2) == figure.value
        parts = (figure.low, figure.high) if middle else (figure.low, figure.value, figure.high)
    scale, offset = Decimal(repr(unit.factor)), Decimal(repr(unit.offset))
    numbers = [((Decimal(repr(part)) - offset) / scale).normalize() for part in parts]
    if any(len(number.as_tuple().digits) > _DIGITS for number in numbers):
        return ""
    return f"{' .. '.join(_plain(number, decimals) for number in numbers)} {unit.symbol}".rstrip()


def _plain(number: Decimal, decimals: int) -> str:
    if number and not _SMALLEST <= number.adjusted() <= _LARGEST:
        return f"{number:e}"
    whole, _, part = f"{number:f}".partition(".")
    return f"{whole}.{part.ljust(decimals, '0')}" if part or decimals else whole
