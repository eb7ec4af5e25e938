"""Model values as TOML text, in the unit already used where that is possible."""

import json
import re
from dataclasses import dataclass
from typing import Any

from loomwright.files.quantity import QuantityError, parse_quantity, parse_range
from loomwright.terms.errors import RefusedWriteError
from loomwright.terms.fact import Assumed, Known, Source, Unknown
from loomwright.terms.field import FieldOf, fields_of
from loomwright.terms.quantity import Kind, Unit, units_of

_UNIT_AT_END = re.compile(r"[^\d.\s+-][^\s]*$")
_HUMAN: dict[Kind, tuple[tuple[float, str], ...]] = {
    Kind.RESISTANCE: ((1.0, "ohm"), (1e3, "kohm"), (1e6, "Mohm")),
    Kind.BIT_RATE: ((1e3, "kbit/s"), (1e6, "Mbit/s")),
    Kind.CAPACITANCE: ((1e-12, "pF"), (1e-9, "nF"), (1e-6, "uF")),
    Kind.TIME: ((1e-9, "ns"), (1e-6, "us"), (1e-3, "ms"), (1.0, "s")),
}
"""The unit a person would write from each size on; other kinds use the first of the table of units."""


@dataclass(frozen=True, slots=True)
class Keys:
    """What a field needs in a file: keys to set, in order, and keys that must not be there."""

    put: tuple[tuple[str, str], ...]
    drop: tuple[str, ...]


def keys_for(item: FieldOf, value: Any, document: str, old: str = "") -> Keys:
    """The keys that say a value; ``old`` is the text now there, ``document`` the manual its neighbours come from."""
    key = item.key
    siblings = {"source": f"{key}_source", "assumed": f"{key}_assumed", "ask": f"{key}_ask"}
    if value is None or (value == item.default and not isinstance(value, Known) and not old):
        return Keys((), (key, *siblings.values()))
    if value == item.default and (isinstance(value, Assumed) or value in ("", (), False, None)):
        return Keys((), (key, *siblings.values()))
    put = [(key, value_text(item, value, old))]
    if isinstance(value, Known) and value.source is not None:
        put.append((siblings["source"], quoted(source_text(value.source, document))))
    elif isinstance(value, Assumed):
        put.append((siblings["assumed"], quoted(value.why)))
    elif isinstance(value, Unknown) and value.question:
        put.append((siblings["ask"], quoted(value.question)))
    kept = {name for name, _ in put}
    return Keys(tuple(put), tuple(name for name in siblings.values() if name not in kept))


def table_lines(value: Any, document: str = "") -> list[str]:
    """``key = value`` lines for every field of a model object that is not at its default."""
    lines = []
    for item in fields_of(type(value)):
        keys = keys_for(item, getattr(value, item.name), document)
        lines += [f"{key} = {text}" for key, text in keys.put]
    return lines


def value_text(item: FieldOf, value: Any, old: str = "") -> str:
    """One value as TOML. Raises ``RefusedWriteError`` for what a file cannot say."""
    if isinstance(value, Unknown):
        return quoted("?")
    if isinstance(value, (Known, Assumed)):
        if isinstance(value.value, float):
            return quoted(_range_text(value, item.field.kind, old))
        value = value.value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, float):
        return quoted(quantity_text(value, item.field.kind, old))
    if isinstance(value, tuple):
        entries = [
            quoted(entry) if isinstance(entry, str) else quoted(quantity_text(entry, item.field.kind, old))
            for entry in value
        ]
        return f"[{', '.join(entries)}]"
    raise RefusedWriteError(f"a file cannot hold {value!r} for {item.key}")


def source_text(source: Source, document: str) -> str:
    """The words from which ``source_of`` reads the same source again."""
    if source.document == document and source.place:
        return source.place
    return f"{source.document}: {source.place}" if source.place or document else source.document


def quoted(words: str) -> str:
    """A TOML basic string."""
    return json.dumps(words, ensure_ascii=False).replace("\x7f", "\\u007f")


def quantity_text(value: float, kind: Kind, old: str = "") -> str:
    """A quantity that reads back as exactly the same float, in the old text's unit or the usual one."""
    for unit in _units(kind, old, value):
        number = (value - unit.offset) / unit.factor
        for digits in range(1, 18):
            for digits_text in (_plain(number, digits), f"{number:.{digits}g}"):
                text = f"{digits_text} {unit.symbol}"
                if _same(text, kind, value):
                    return text
    raise RefusedWriteError(f"{value!r} cannot be written as a {kind.value}")


def _range_text(fact: Known[float] | Assumed[float], kind: Kind, old: str) -> str:
    if fact.low is None and fact.high is None:
        return quantity_text(fact.value, kind, old)
    low = fact.value if fact.low is None else fact.low
    high = fact.value if fact.high is None else fact.high
    if old and _same_range(_unquoted(old), kind, (fact.value, low, high)):
        return _unquoted(old)
    for percent in (0.1, 0.5, 1, 2, 5, 10, 20):
        text = f"{quantity_text(fact.value, kind, old)} +- {percent:g} %"
        if _same_range(text, kind, (fact.value, low, high)):
            return text
    unit = _units(kind, old, fact.value)[0].symbol
    parts = [quantity_text(part, kind, f'"1 {unit}"') for part in (low, fact.value, high)]
    if all(part.endswith(f" {unit}") for part in parts):
        parts = [part.removesuffix(f" {unit}") for part in parts[:-1]] + parts[-1:]
    return " .. ".join(parts)


def _same_range(text: str, kind: Kind, wanted: tuple[float, float, float]) -> bool:
    try:
        return parse_range(text, kind) == wanted
    except QuantityError:
        return False


def _same(text: str, kind: Kind, value: float) -> bool:
    try:
        return parse_quantity(text, kind) == value
    except QuantityError:
        return False


def _unquoted(text: str) -> str:
    return text.strip().strip("\"'")


def _units(kind: Kind, old: str, value: float) -> list[Unit]:
    """Units to try: the one in the old text, the usual one for the size, then all."""
    found = _UNIT_AT_END.search(_unquoted(old))
    wanted = [found.group()] if found else []
    steps = _HUMAN.get(kind, ())
    wanted += [symbol for size, symbol in reversed(steps) if abs(value) >= size * (1 - 1e-12)][:1] or [
        s for _, s in steps[:1]
    ]
    return sorted(units_of(kind), key=lambda unit: wanted.index(unit.symbol) if unit.symbol in wanted else len(wanted))


def _plain(number: float, digits: int) -> str:
    """The number with so many significant digits and no exponent; two decimals where that costs nothing."""
    text = f"{number:.{digits}g}"
    if "e" in text:
        text = f"{float(text):.15f}".rstrip("0").rstrip(".") if abs(number) < 1.0 else f"{float(text):.0f}"
    return text
