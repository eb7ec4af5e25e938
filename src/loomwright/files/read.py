"""Values of one TOML table, read against the fields of a model class; every problem is noted, none raised."""

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import UnionType
from typing import Any, Union, get_args, get_origin

from loomwright.files.quantity import QuantityError, expected, parse_quantity, parse_range
from loomwright.files.scanner import KeyPath, Scan, scan
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Known, Source, Unknown
from loomwright.terms.field import FieldOf, fields_of
from loomwright.terms.problem import Problem
from loomwright.terms.quantity import Kind

SIBLINGS = ("_source", "_assumed", "_ask")
SIGNED = ("x_m", "y_m", "z_m", "ground_offset_v")
"""Coordinates and offsets may be negative; every other length, resistance or time may not."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a value stands: file, line and column from 1, span in characters."""

    file: str
    line: int
    column: int
    start: int
    end: int


@dataclass(slots=True)
class Text:
    """One file's text with its positions, and the problems found in it."""

    name: str
    text: str
    data: Mapping[str, Any]
    problems: list[Problem]
    spots: dict[Path, Spot] = field(default_factory=dict)
    scan: Scan = field(init=False)

    def __post_init__(self) -> None:
        self.scan = scan(self.text)

    def spot(self, path: KeyPath, *, key: bool = False) -> Spot:
        """Where a key or its value stands; the nearest table above it when it is not there."""
        while path and path not in self.scan.marks:
            path = path[:-1]
        if not path:
            return Spot(self.name, 1, 1, 0, 0)
        mark = self.scan.marks[path]
        start, end = mark.key if key else mark.value
        line = self.text.count("\n", 0, start) + 1
        column = start - (self.text.rfind("\n", 0, start) + 1) + 1
        return Spot(self.name, line, column, start, end)

    def problem(self, path: KeyPath, message: str, wanted: str = "", nearest: str = "", *, key: bool = False) -> None:
        """Note one problem at a key or value."""
        spot = self.spot(path, key=key)
        excerpt = self.text.split("\n")[spot.line - 1].rstrip("\r")[:200]
        width = max(1, min(spot.end - spot.start, len(excerpt) - spot.column + 1))
        self.problems.append(Problem(self.name, spot.line, spot.column, message, wanted, nearest, excerpt, width))


def near(word: str, words: Iterable[str]) -> str:
    """The nearest known word, or nothing."""
    return next(iter(difflib.get_close_matches(word, list(words), 1, 0.6)), "")


def read_table(
    text: Text, data: Any, at: KeyPath, cls: type, model: Path, document: str = "", extra: tuple[str, ...] = ()
) -> dict[str, Any] | None:
    """Constructor arguments for ``cls`` from a table; ``None`` when something required is missing or wrong.

    ``extra`` are keys that the caller reads itself (sub-tables).
    """
    if not isinstance(data, Mapping):
        text.problem(at, "found a single value where a table belongs", f"a table such as [{'.'.join(map(str, at))}]")
        return None
    fields = {field.key: field for field in fields_of(cls)}
    allowed = {*fields, *extra}
    siblings = {key + ending for key, field in fields.items() if is_fact(field) for ending in SIBLINGS}
    for key in data:
        if key not in allowed | siblings:
            hint = near(key, allowed)
            text.problem((*at, key), f"unknown key {key!r}", f"one of: {', '.join(sorted(allowed))}", hint, key=True)
    document = _word(data.get("manual")) or document
    values: dict[str, Any] = {}
    sound = True
    for key, item in fields.items():
        path = (*model, item.name)
        if key in data:
            value = read_value(text, data, key, at, item, document)
            text.spots[path] = text.spot((*at, key))
            if value is BAD:
                sound = sound and not item.required
            else:
                values[item.name] = value
        else:
            _stray(text, data, key, at)
            if item.required:
                text.problem(at, f"{key!r} is missing", f"{item.field.meaning}: {key} = {_example(item)}", key=True)
                sound = False
    return values if sound else None


BAD = object()
"""Stands for a value that could not be read."""


def _word(value: Any) -> str:
    return value if isinstance(value, str) else ""


def is_fact(item: FieldOf) -> bool:
    """Whether the field is known, assumed or unknown, and not just a value."""
    return Unknown in _parts(item.type)


def _parts(kind: Any) -> tuple[Any, ...]:
    """The members of a union, generic aliases reduced to their class."""
    if get_origin(kind) in (UnionType, Union):
        return tuple(part for member in get_args(kind) for part in _parts(member))
    return (kind,)


def inner_type(item: FieldOf) -> Any:
    """The bare value type of a field: float, str, bool, tuple of str or float."""
    for part in _parts(item.type):
        if get_origin(part) is Known:
            return get_args(part)[0]
    return next(part for part in _parts(item.type) if part is not type(None))


def _example(item: FieldOf) -> str:
    example = item.field.example
    if item.field.kind in (Kind.NONE, Kind.COUNT) or example.startswith("["):
        return example
    return f'"{example}"'


def _stray(text: Text, data: Mapping[str, Any], key: str, at: KeyPath) -> None:
    for ending in SIBLINGS:
        if key + ending in data:
            text.problem((*at, key + ending), f"{key + ending!r} stands alone", f"{key!r} beside it", key=True)


def read_value(text: Text, data: Mapping[str, Any], key: str, at: KeyPath, item: FieldOf, document: str) -> Any:
    """One field's value from a table that has its key; ``BAD`` when the text was no such value (the problem is noted)."""
    raw, here = data[key], (*at, key)
    fact = is_fact(item)
    if fact and raw == "?":
        ask = _word(data.get(key + "_ask"))
        return Unknown(ask)
    inner = inner_type(item)
    if fact:
        read = _fact_value(text, raw, here, item, inner)
        if read is BAD:
            return BAD
        value, low, high = read
        return _as_fact(text, data, key, at, value, low, high, document)
    return _single(text, raw, here, item, inner)


def _as_fact(
    text: Text, data: Mapping[str, Any], key: str, at: KeyPath, value: Any, low: Any, high: Any, document: str
) -> Any:
    source, why = data.get(key + "_source"), data.get(key + "_assumed")
    for name, word in ((key + "_source", source), (key + "_assumed", why), (key + "_ask", data.get(key + "_ask"))):
        if word is not None and not isinstance(word, str):
            text.problem((*at, name), f"found {_called(word)}", 'text such as "page 12"')
            return BAD
    if why is not None and source is not None:
        text.problem((*at, key + "_assumed"), "a fact is either assumed or has a source", "one of the two", key=True)
        return BAD
    if why is not None:
        return Assumed(value, why, low, high)
    return Known(value, low, high, source_of(source, document) if source else None)


def source_of(words: str, document: str) -> Source:
    """``page 12`` is a place in the document at hand; ``other document: place`` names another one."""
    other, colon, place = words.partition(": ")
    if colon:
        return Source(other.strip(), place.strip())
    return Source(document, words) if document else Source(words)


def _fact_value(text: Text, raw: Any, here: KeyPath, item: FieldOf, inner: Any) -> Any:
    if inner is float:
        if not isinstance(raw, str):
            text.problem(
                here,
                f"found {_called(raw)} without a unit" if _bare(raw) else f"found {_called(raw)}",
                expected(item.field.kind),
            )
            return BAD
        try:
            typical, low, high = parse_range(raw, item.field.kind)
        except QuantityError as error:
            text.problem(here, f"cannot read {raw!r} as {item.field.kind.value}", str(error))
            return BAD
        if _negative(item, min(typical, typical if low is None else low)):
            text.problem(here, f"{raw!r} is negative", f"{item.field.meaning}: 0 or more")
            return BAD
        return typical, low, high
    value = _single(text, raw, here, item, inner)
    return BAD if value is BAD else (value, None, None)


def _negative(item: FieldOf, value: float) -> bool:
    return value < 0.0 and item.name not in SIGNED and item.field.kind is not Kind.TEMPERATURE


def _bare(raw: Any) -> bool:
    return isinstance(raw, (int, float)) and not isinstance(raw, bool)


def _called(raw: Any) -> str:
    names = {
        bool: "true or false",
        int: "a bare number",
        float: "a bare number",
        str: "text",
        list: "a list",
        dict: "a table",
    }
    return names.get(type(raw), f"a {type(raw).__name__}")


def _single(text: Text, raw: Any, here: KeyPath, item: FieldOf, inner: Any) -> Any:
    if get_origin(inner) is tuple:
        return _list(text, raw, here, item, get_args(inner)[0])
    if bool in _parts(inner) or inner is bool:
        return raw if isinstance(raw, bool) else _wrong(text, raw, here, "true or false")
    if inner is str:
        return _choice(text, raw, here, item)
    if inner is float:
        read = _fact_value(text, raw, here, item, float)
        if read is not BAD and read[1] is not None:
            text.problem(here, f"found the range {raw!r}", "one value")
            return BAD
        return read if read is BAD else read[0]
    raise AssertionError(f"a field of type {inner} cannot be read")


def _wrong(text: Text, raw: Any, here: KeyPath, wanted: str) -> Any:
    text.problem(here, f"found {_called(raw)}", wanted)
    return BAD


def _choice(text: Text, raw: Any, here: KeyPath, item: FieldOf) -> Any:
    choices = item.field.choices
    if not isinstance(raw, str):
        return _wrong(text, raw, here, f"text, for example {_example(item)}")
    if choices and raw not in choices:
        text.problem(here, f"{raw!r} is not among the choices", f"one of: {', '.join(choices)}", near(raw, choices))
        return BAD
    return raw


def _list(text: Text, raw: Any, here: KeyPath, item: FieldOf, inner: Any) -> Any:
    if not isinstance(raw, list) or not raw:
        return _wrong(text, raw, here, f"a list such as {_example(item)}")
    values = []
    for number, entry in enumerate(raw):
        spot = (*here, number)
        value = _choice(text, entry, spot, item) if inner is str else _fact_value(text, entry, spot, item, float)
        if value is BAD:
            return BAD
        values.append(value if inner is str else value[0])
    return tuple(values)


def read_single(raw: str, kind: Kind) -> float:
    """One quantity, for callers outside a file."""
    return parse_quantity(raw, kind)
