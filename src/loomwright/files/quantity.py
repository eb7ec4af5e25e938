"""The text of a quantity, read against the kind that a field declares.

Figures are read as decimals, scaled as decimals and made floats last, so that ``300 mm`` and ``0.3 m`` are the same float.
"""

import difflib
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from loomwright.terms.field import Field
from loomwright.terms.quantity import UNITS, Kind, Unit, units_of

_NUMBER = r"[+-]?[0-9]{1,30}(?:\.[0-9]{1,30})?(?:[eE][+-]?[0-9]{1,3})?"
_UNIT = r"[^\s0-9.+±-][^\s+±.]*"
_QUANTITY = re.compile(
    rf"(?P<first>{_NUMBER})(?:\s*(?P<first_unit>{_UNIT})?\s*\.\.\s*(?P<second>{_NUMBER}))?"
    rf"(?:\s*(?P<second_unit>{_UNIT})?\s*\.\.\s*(?P<third>{_NUMBER}))?"
    rf"(?:\s*(?P<unit>{_UNIT}))?(?:\s*(?:\+-|±)\s*(?P<share>{_NUMBER})\s*%)?"
)
_STARTS_WITH_NUMBER = re.compile(_NUMBER)
_COMMA = re.compile(r"[0-9],[0-9]")
_SAME_SIGN = str.maketrans({"\N{OHM SIGN}": "Ω", "\N{GREEK SMALL LETTER MU}": "µ", "\N{MINUS SIGN}": "-"})
"""Signs that look alike and mean the same."""

LONGEST = 100
"""Characters a quantity may have."""

_BY_SYMBOL: Mapping[str, Unit] = {unit.symbol: unit for unit in UNITS}
_SCALES: Mapping[str, tuple[Decimal, Decimal]] = {
    unit.symbol: (Decimal(repr(unit.factor)), Decimal(repr(unit.offset))) for unit in UNITS
}

PLAUSIBLE: Mapping[Kind, tuple[float, float]] = {
    Kind.LENGTH: (0.0, 1e4),
    Kind.AREA: (0.0, 1e-2),
    Kind.RESISTANCE: (0.0, 1e12),
    Kind.RESISTANCE_PER_LENGTH: (0.0, 1e3),
    Kind.CAPACITANCE: (0.0, 1.0),
    Kind.CAPACITANCE_PER_LENGTH: (0.0, 1e-6),
    Kind.TIME: (0.0, 1e8),
    Kind.DELAY_PER_LENGTH: (0.0, 1e-6),
    Kind.BIT_RATE: (1e3, 2e7),
    Kind.FREQUENCY: (0.0, 1e10),
    Kind.TEMPERATURE: (173.15, 573.15),
    Kind.VOLTAGE: (0.0, 1e5),
    Kind.CURRENT: (0.0, 1e5),
    Kind.RATIO: (0.0, 1e3),
}
"""Bounds in SI against a slip of unit or key, far outside of anything in a vehicle; they judge nothing."""


_EXAMPLES: Mapping[Kind, str] = {
    Kind.RESISTANCE: "120",
    Kind.RESISTANCE_PER_LENGTH: "37",
    Kind.CAPACITANCE: "100",
    Kind.BIT_RATE: "250",
    Kind.FREQUENCY: "40",
    Kind.TEMPERATURE: "-20",
}
"""Numbers that go with the first unit of a kind."""


class QuantityError(ValueError):
    """Text that is no quantity of the kind: what is wrong, what was expected, the nearest known unit."""

    def __init__(self, message: str, expected: str, nearest: str = "") -> None:
        super().__init__(f"{message}; expected {expected}" + (f" (nearest: {nearest})" if nearest else ""))
        self.message, self.expected, self.nearest = message, expected, nearest


class Figure(NamedTuple):
    """A quantity in SI: the typical value, and its bounds where the text gives some."""

    value: float
    low: float | None = None
    high: float | None = None


def parse_quantity(text: str, kind: Kind) -> float:
    """One number with its unit, in SI. Raises ``QuantityError``, also for a range."""
    figure = parse_range(text, kind)
    if figure.low is not None:
        raise QuantityError(f"{text!r} is a range", f"one value, such as {example(kind)}")
    return figure.value


def parse_range(text: str, kind: Kind) -> Figure:
    """Read ``a``, ``low .. high``, ``low .. typical .. high`` or ``a +- share %``, in SI. Raises ``QuantityError``.

    The middle of ``low .. high`` is its typical value. Each number may have its own unit; else the last one's holds.
    """
    words = text.strip().translate(_SAME_SIGN)
    match = _QUANTITY.fullmatch(words) if len(words) <= LONGEST else None
    symbol = "" if match is None else match["unit"] or ""
    if match is None or (not symbol and "" not in (unit.symbol for unit in units_of(kind))):
        raise _diagnosed(words, kind)
    last = _unit(symbol, kind, text)
    scaled = []
    for number, own in (("first", "first_unit"), ("second", "second_unit"), ("third", "")):
        if match[number] is not None:
            unit = _unit(match[own], kind, text) if own and match[own] else last
            factor, offset = _SCALES[unit.symbol]
            scaled.append(Decimal(match[number]) * factor + offset)
    if match["share"] is not None:
        scaled = _with_tolerance(scaled, Decimal(match["share"]), text)
    if len(scaled) == 1:
        return Figure(float(scaled[0]))
    if len(scaled) == 2:
        scaled.insert(1, (scaled[0] + scaled[1]) / 2)
    low, value, high = (float(part) for part in scaled)
    if not low <= value <= high:
        raise QuantityError(f"{text!r} does not rise from low to high", "low .. high or low .. typical .. high")
    return Figure(value, low, high)


def believed(figure: Figure, field: Field, text: str, key: str) -> Figure:
    """The figure, where a vehicle can have it: no negative length, no resistance of a parsec. Raises ``QuantityError``.

    ``key`` is what the field is called in a file.
    """
    kind = field.kind
    low, high = PLAUSIBLE[kind]
    values = [each for each in figure if each is not None]
    if min(values) == 0.0 and not field.zero:
        what = f"is no {key.replace('_', ' ')}" if max(values) == 0.0 else "begins with nothing"
        raise QuantityError(f"{text!r} {what}", "; ".join(filter(None, (f"a {kind.value} above 0", field.instead))))
    if field.most is not None and max(values) > field.most:
        raise QuantityError(f"{text!r} is too much", f"at most {100 * field.most:g} %")
    if field.signed:
        low = -high
    if min(values) < 0.0 <= low:
        raise QuantityError(f"{text!r} is negative", f"a {kind.value} of 0 or more")
    if not low <= min(values) <= max(values) <= high:
        unit = units_of(kind)[0]
        bounds = (f"{(bound - unit.offset) / unit.factor:.6g}" for bound in (low, high))
        raise QuantityError(f"{text!r} is not believable", f"a {kind.value} within {' .. '.join(bounds)} {unit.symbol}")
    return figure


def example(kind: Kind) -> str:
    """A quantity of the kind as it would be written."""
    return f'"{_EXAMPLES.get(kind, "1.5")} {units_of(kind)[0].symbol}"'


def _with_tolerance(scaled: list[Decimal], percent: Decimal, text: str) -> list[Decimal]:
    if len(scaled) > 1:
        raise QuantityError(f"{text!r} has both a range and a tolerance", "one of the two")
    if not 0 <= percent <= 100:
        raise QuantityError(f"{text!r} has a tolerance of {percent} %", "a tolerance between 0 and 100 %")
    spread = abs(scaled[0]) * percent / 100
    return [scaled[0] - spread, scaled[0], scaled[0] + spread]


def _units_text(kind: Kind) -> str:
    return ", ".join(unit.symbol for unit in units_of(kind) if unit.symbol.isascii() and unit.symbol)


def _nearest(symbol: str, kind: Kind) -> str:
    """The unit most like a symbol, one that differs in large and small letters alone before all others."""
    known = [unit.symbol for unit in units_of(kind) if unit.symbol]
    alike = [each for each in known if each.lower() == symbol.lower()]
    alike.sort(key=lambda each: each[0] != symbol[0])
    return next(iter(alike or difflib.get_close_matches(symbol[:30], known, 1, 0.5)), "")


def _unit(symbol: str, kind: Kind, text: str) -> Unit:
    unit = _BY_SYMBOL.get(symbol)
    wanted = f"a {kind.value} in {_units_text(kind)}"
    if unit is None:
        raise QuantityError(f"{text!r} has no known unit: {symbol!r}", wanted, _nearest(symbol, kind))
    if unit.kind is not kind:
        raise QuantityError(f"{text!r} is a {unit.kind.value}, not a {kind.value}", wanted)
    return unit


def _diagnosed(text: str, kind: Kind) -> QuantityError:
    """What keeps a text from being a quantity, told the way its writer can mend it."""
    shown = text if len(text) <= LONGEST else f"{text[:LONGEST]}..."
    wanted = f"a {kind.value} as number and unit ({_units_text(kind)}), such as {example(kind)}"
    if _COMMA.search(shown):
        return _comma(shown)
    if len(text) > LONGEST:
        return QuantityError(f"{shown!r} is too long", wanted)
    if _QUANTITY.fullmatch(text):
        return QuantityError(f"{shown!r} has no unit", wanted)
    if _STARTS_WITH_NUMBER.match(text) is None:
        return QuantityError(f"{shown!r} does not begin with a number", wanted)
    if ".." in text:
        wanted = "low .. high with the unit once, at the end: 110 .. 130 ohm"
    elif "+-" in text or "±" in text:
        wanted = "a tolerance in percent: 120 ohm +- 1 %"
    return QuantityError(f"{shown!r} is no {kind.value}", wanted)


def _comma(shown: str) -> QuantityError:
    mended = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", shown)
    if re.search(r"[0-9]\.[0-9]+\.[0-9]", mended):
        return QuantityError(f"{shown!r} groups its digits with commas", "digits without separators, such as 1500")
    return QuantityError(f"{shown!r} has a decimal comma", f'a decimal point: write "{mended}"')
