"""The one place that puts a number and its unit into words."""

import math
from collections.abc import Callable
from typing import Any

from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.quantity import Kind

THIN = "\u202f"
"""Narrow no-break space: between figure and unit, and between groups of three figures."""
MINUS = "\u2212"

#: For each kind its units from small to large: symbol and size in SI.
_UNITS: dict[Kind, tuple[tuple[str, float], ...]] = {
    Kind.LENGTH: (("mm", 1e-3), ("m", 1e-2)),  # metres begin at a centimetre: a harness is measured in metres
    Kind.AREA: (("mm²", 1e-6),),
    Kind.RESISTANCE: (("mΩ", 1e-3), ("Ω", 1.0), ("kΩ", 1e3), ("MΩ", 1e6)),
    Kind.RESISTANCE_PER_LENGTH: (("mΩ/m", 1e-3), ("Ω/m", 1.0)),
    Kind.CAPACITANCE: (("pF", 1e-12), ("nF", 1e-9), ("µF", 1e-6)),
    Kind.CAPACITANCE_PER_LENGTH: (("pF/m", 1e-12),),
    Kind.TIME: (("ns", 1e-9), ("µs", 1e-6), ("ms", 1e-3), ("s", 1.0)),
    Kind.DELAY_PER_LENGTH: (("ns/m", 1e-9),),
    Kind.BIT_RATE: (("bit/s", 1.0), ("kbit/s", 1e3), ("Mbit/s", 1e6)),
    Kind.FREQUENCY: (("Hz", 1.0), ("kHz", 1e3), ("MHz", 1e6)),
    Kind.VOLTAGE: (("mV", 1e-3), ("V", 1.0), ("kV", 1e3)),
    Kind.CURRENT: (("µA", 1e-6), ("mA", 1e-3), ("A", 1.0)),
    Kind.TEMPERATURE: (("°C", 1.0),),
    Kind.RATIO: (("%", 1e-2),),
}
_SCALE = {("m", 1e-2): 1.0}
_ZERO_CELSIUS_K = 273.15


def text(value: float | None, kind: Kind, tolerance: float | None = None) -> str:
    """A quantity in words: ``2.40 m``, ``58.8 Ω``, ``250 kbit/s``.

    ``value`` and ``tolerance`` are in SI. With a tolerance the last figure shown is the tolerance's first; without one
    lengths go to the centimetre and other kinds to three significant figures.
    """
    if value is None or math.isnan(value):
        return "?"
    if math.isinf(value):
        return "open" if kind is Kind.RESISTANCE else ("∞" if value > 0 else f"{MINUS}∞")
    symbol, scale = _unit(value, kind)
    shown = (value - _ZERO_CELSIUS_K) if kind is Kind.TEMPERATURE else value / scale
    if math.isinf(shown):  # no such quantity is met, but a figure must not end the page
        return f"{value:.2e}"
    decimals = _decimals(shown, kind, symbol, None if tolerance is None else abs(tolerance) / scale)
    return f"{number(shown, decimals)}{THIN}{symbol}" if symbol else number(shown, decimals)


def bare(value: float | None, kind: Kind, symbol: str) -> str:
    """The figure alone, in a unit that stands in the column's head: ``bare(0.4, LENGTH, "mm")`` is ``400``."""
    if value is None or math.isnan(value):
        return "?"
    if math.isinf(value):
        return "open" if kind is Kind.RESISTANCE else "∞"
    scale = next(_SCALE.get((name, size), size) for name, size in _UNITS[kind] if name == symbol)
    shown = value - _ZERO_CELSIUS_K if kind is Kind.TEMPERATURE else value / scale
    return number(shown, _decimals(shown, kind, symbol, None))


def number(value: float, decimals: int) -> str:
    """A figure with that many decimals, a true minus, and thin spaces between thousands from 10 000."""
    shown = f"{abs(value):.{decimals}f}"
    whole, _, rest = shown.partition(".")
    if len(whole) > 4:
        whole = f"{int(whole):,}".replace(",", THIN)
    sign = MINUS if value < 0 and any(letter not in "0." for letter in shown) else ""
    return sign + (f"{whole}.{rest}" if rest else whole)


def span(low: float, high: float, kind: Kind) -> str:
    """A range in words: ``110 … 130 Ω``; one figure where both ends look the same."""
    first, last = text(low, kind), text(high, kind)
    if first == last:
        return last
    unit = last.rpartition(THIN)
    if unit[2] == first.rpartition(THIN)[2]:
        first = first.rpartition(THIN)[0]
    return f"{first}{THIN}…{THIN}{last}"


def fact_text(fact: Any, kind: Kind = Kind.NONE) -> str:
    """A fact in words, with its range, and with ``(assumed)`` where nobody has looked it up; ``?`` when unknown."""
    if isinstance(fact, Unknown) or fact is None:
        return "?"
    if not isinstance(fact, (Known, Assumed)):
        return _plain(fact, kind)
    shown = _plain(fact.value, kind)
    if isinstance(fact.value, float) and fact.low is not None and fact.high is not None:
        ends = span(fact.low, fact.high, kind)
        shown = shown if ends == shown else f"{shown} ({ends})"
    return f"{shown} (assumed)" if isinstance(fact, Assumed) else shown


def fact_reason(fact: Any) -> str:
    """Where a fact comes from: its source, the reason of an assumption, or the question that is still open."""
    if isinstance(fact, Known):
        return str(fact.source) if fact.source else ""
    if isinstance(fact, Assumed):
        return fact.why
    return fact.question if isinstance(fact, Unknown) else ""


def _plain(value: Any, kind: Kind) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (tuple, list, frozenset)):
        return ", ".join(_plain(item, kind) for item in value) or "none"
    if isinstance(value, (int, float)):
        return text(float(value), kind)
    return str(value)


def _unit(value: float, kind: Kind) -> tuple[str, float]:
    """The largest unit in which the figure, as it will be rounded, is at least one."""
    units = _UNITS.get(kind, (("", 1.0),))
    size = abs(value) * (1.0 + 1e-9)
    if size == 0.0:
        symbol = _FOR_ZERO.get(kind, units[0][0])
        return next((name, _SCALE.get((name, scale), scale)) for name, scale in units if name == symbol)
    fitting = [unit for unit in units if size >= unit[1]] or [units[0]]
    chosen = fitting[-1]
    return chosen[0], _SCALE.get(chosen, chosen[1])


_FOR_ZERO = {
    Kind.LENGTH: "m",
    Kind.RESISTANCE: "Ω",
    Kind.TIME: "s",
    Kind.VOLTAGE: "V",
    Kind.CURRENT: "A",
    Kind.BIT_RATE: "kbit/s",
}


def _decimals(shown: float, kind: Kind, symbol: str, tolerance: float | None) -> int:
    if tolerance is not None and 0.0 < tolerance < math.inf:
        return max(0, min(6, -math.floor(math.log10(tolerance) + 1e-9)))
    if kind is Kind.COUNT:
        return 0 if abs(shown - round(shown)) < 1e-9 else 1
    if kind is Kind.TEMPERATURE:
        return 0 if abs(shown - round(shown)) < 0.05 else 1
    if kind is Kind.LENGTH and symbol == "m":
        return 2 if abs(shown) < 100.0 else (1 if abs(shown) < 1000.0 else 0)
    rule = _DIGITS.get(kind, _trimmed)
    return rule(shown)


def _significant(shown: float, digits: int = 3) -> int:
    """Decimals that leave so many significant figures, rounding taken into account (9.996 becomes 10.0)."""
    if shown == 0.0:
        return 0
    power = int(f"{abs(shown):.{digits - 1}e}".partition("e")[2])
    return max(0, min(6, digits - 1 - power))


def _trimmed(shown: float, least: int = 0, digits: int = 3) -> int:
    """The same without zeros at the end, but at least so many decimals."""
    decimals = _significant(shown, digits)
    while decimals > least and abs(round(shown, decimals) - round(shown, decimals - 1)) < 10.0 ** -(decimals + 2):
        decimals -= 1
    return max(decimals, least)


_DIGITS: dict[Kind, Callable[[float], int]] = {
    Kind.RESISTANCE: _significant,
    Kind.DELAY_PER_LENGTH: lambda shown: _trimmed(shown, 1),
    Kind.BIT_RATE: lambda shown: _trimmed(shown, 0, 4),
}
