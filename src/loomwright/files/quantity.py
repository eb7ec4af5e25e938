"""Text of a quantity, read against the kind that a field declares."""

import math
import re
from decimal import Decimal

from loomwright.terms.quantity import Kind, Unit, units_of

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?\d+,\d+")
_TOLERANCE = re.compile(r"(?P<typical>.*?)\s*(?:\+-|±)\s*(?P<share>[^%]+)%\s*")


class QuantityError(ValueError):
    """Text that is no quantity of the kind; the message says what was expected."""


def parse_quantity(text: str, kind: Kind) -> float:
    """One number with its unit, in SI. Raises ``QuantityError``."""
    number, unit = _split(text, kind)
    return _si(number, unit, text)


def parse_range(text: str, kind: Kind) -> tuple[float, float | None, float | None]:
    """Typical, low and high from ``a``, ``a .. b``, ``a .. b .. c`` or ``a +- p %``, in SI. Raises ``QuantityError``."""
    tolerance = _TOLERANCE.fullmatch(text)
    if tolerance is not None:
        typical = parse_quantity(tolerance["typical"], kind)
        share = _plain(tolerance["share"].strip()) / 100.0
        if not 0.0 <= share < 1.0:
            raise QuantityError("a tolerance between 0 and 100 %")
        return typical, typical * (1.0 - share), typical * (1.0 + share)
    parts = [part.strip() for part in text.split("..")]
    if len(parts) == 1:
        return parse_quantity(text, kind), None, None
    if len(parts) > 3:
        raise QuantityError("low .. high or low .. typical .. high")
    _, unit = _split(parts[-1], kind)
    values = []
    for part in parts:
        bare = _NUMBER.fullmatch(part) is not None
        values.append(_si(Decimal(part), unit, part) if bare else parse_quantity(part, kind))
    if sorted(values) != values:
        raise QuantityError("a range that rises from low to high")
    low, high = values[0], values[-1]
    return (values[1] if len(values) == 3 else (low + high) / 2.0), low, high


def expected(kind: Kind) -> str:
    """What a file may say for this kind, with an example."""
    units = units_of(kind)
    shown = ", ".join(dict.fromkeys(unit.symbol for unit in units if unit.symbol.isascii()))
    return f'a {kind.value} as text with its unit ({shown}), for example "1.5 {units[0].symbol}"'


def _plain(text: str) -> float:
    if _COMMA.fullmatch(text):
        raise QuantityError(f"a decimal point, not a comma: write {text.replace(',', '.')}")
    if not _NUMBER.fullmatch(text):
        raise QuantityError("a number")
    return float(text)


def _split(text: str, kind: Kind) -> tuple[Decimal, Unit]:
    body = text.strip().replace("−", "-")
    comma = _COMMA.match(body)
    if comma:
        right = body.replace(",", ".", 1)
        raise QuantityError(f'a decimal point, not a comma: write "{right}"')
    number = _NUMBER.match(body)
    if number is None:
        raise QuantityError(expected(kind))
    symbol = body[number.end() :].strip()
    unit = next((unit for unit in units_of(kind) if unit.symbol == symbol), None)
    if unit is None:
        raise QuantityError(expected(kind))
    return Decimal(number.group()), unit


def _si(number: Decimal, unit: Unit, text: str) -> float:
    """Scaled as decimals and rounded once, so that 350 mm and 0.35 m are the same float."""
    value = float(number * Decimal(repr(unit.factor)) + Decimal(repr(unit.offset)))
    if not math.isfinite(value) or abs(value) > 1e15:
        raise QuantityError(f"a figure of believable size, not {text}")
    return value
