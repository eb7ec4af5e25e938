"""The value of one field, read from a table's keys."""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from loomwright.files.quantity import Figure, QuantityError, believed, parse_range
from loomwright.files.scanner import KeyPath
from loomwright.files.schema import ASK, ASSUMED, SIBLINGS, SOURCE, Form, Slot
from loomwright.terms.fact import Assumed, Known, Source, Unknown
from loomwright.terms.quantity import Kind

MOST_IDENTIFIER = (1 << 29) - 1
"""The highest identifier that 29 bits can hold."""
MOST_COUNT = 1_000_000
"""Nothing that is counted in these files comes near."""

BAD: Any = object()
"""Stands for a value that could not be read; the problem has been noted."""


class Note(Protocol):
    """Where problems go: a path in the text, what is wrong, what was expected, a word and the words it may have meant."""

    def __call__(
        self,
        at: KeyPath,
        message: str,
        expected: str = "",
        *,
        key: bool = False,
        like: tuple[str, Iterable[str]] = ("", ()),
    ) -> None:
        """Note a problem with a value, or with its key."""


@dataclass(frozen=True, slots=True)
class FieldReader:
    """Reads fields out of one table. ``document`` is the manual that a bare "page 12" means there."""

    data: Mapping[str, Any]
    at: KeyPath
    document: str
    note: Note

    def value(self, slot: Slot) -> Any:
        """The value of a field; ``BAD`` when it is not there or cannot be read."""
        if not slot.fact:
            return self._bare(slot) if slot.key in self.data else BAD
        beside = {ending: self._beside(slot, ending) for ending in SIBLINGS if slot.key + ending in self.data}
        if slot.key not in self.data:
            for ending in beside:
                self.note(
                    (*self.at, slot.key + ending), f"there is no {slot.key} beside it", f"{slot.key} = ...", key=True
                )
            return BAD
        raw = self.data[slot.key]
        fine = BAD not in beside.values()
        for ending in _contradicting(beside, unknown=raw == "?"):
            fine = False
            expected = f'one of: a value, a value with {SOURCE} or {ASSUMED}, "?", "?" with {ASK}'
            self.note((*self.at, slot.key + ending), f"{slot.key + ending} contradicts {slot.key}", expected, key=True)
        if raw == "?":
            return Unknown(beside.get(ASK, "")) if fine else BAD
        figure = self._figure(slot, raw, (*self.at, slot.key)) if slot.form is Form.FIGURE else Figure(self._bare(slot))
        if figure.value is BAD or not fine:
            return BAD
        if ASSUMED in beside:
            return Assumed(figure.value, beside[ASSUMED], figure.low, figure.high)
        source = source_of(beside[SOURCE], self.document) if SOURCE in beside else None
        return Known(figure.value, figure.low, figure.high, source)

    def _beside(self, slot: Slot, ending: str) -> Any:
        words = self.data[slot.key + ending]
        if isinstance(words, str) and words.strip():
            return words
        expected = {SOURCE: 'where it was read: "page 12"', ASSUMED: "the reason for the assumption", ASK: "a question"}
        found = "found nothing" if isinstance(words, str) else f"found {called(words)}"
        self.note((*self.at, slot.key + ending), found, expected[ending])
        return BAD

    def _bare(self, slot: Slot) -> Any:
        """A value that carries nothing but itself."""
        raw, at = self.data[slot.key], (*self.at, slot.key)
        one = {
            Form.FLAG: self._flag,
            Form.TEXT: self._word,
            Form.TEXTS: self._word,
            Form.WHOLE: self._whole,
            Form.WHOLES: self._whole,
            Form.NUMBER: self._number,
        }.get(slot.form, self._one_figure)
        if slot.form not in (Form.TEXTS, Form.FIGURES, Form.WHOLES):
            return one(slot, raw, at)
        if not isinstance(raw, list):
            return self._wrong(slot, raw, at)
        if not raw and slot.item.default != ():
            self.note(at, "the list is empty", f"at least one, such as {slot.example}, or the key left out")
            return BAD
        values = [one(slot, each, (*at, number)) for number, each in enumerate(raw)]
        return BAD if BAD in values else tuple(values)

    def _flag(self, slot: Slot, raw: Any, at: KeyPath) -> Any:
        return raw if isinstance(raw, bool) else self._wrong(slot, raw, at)

    def _word(self, slot: Slot, raw: Any, at: KeyPath) -> Any:
        if not isinstance(raw, str):
            return self._wrong(slot, raw, at)
        choices = slot.item.field.choices
        if choices and raw not in choices:
            self.note(at, f"{raw!r} is no choice here", f"one of {', '.join(choices)}", like=(raw, choices))
            return BAD
        return raw

    def _whole(self, slot: Slot, raw: Any, at: KeyPath) -> Any:
        """A whole number that is not negative; identifiers are usually written in hexadecimal digits."""
        if isinstance(raw, bool) or not isinstance(raw, int):
            return self._wrong(slot, raw, at)
        field = slot.item.field
        most = int(field.most or (MOST_IDENTIFIER if field.kind is Kind.IDENTIFIER else MOST_COUNT))
        if not 0 <= raw <= most:
            shown = f"0x{most:X}" if field.kind is Kind.IDENTIFIER else str(most)
            self.note(at, f"{raw} is out of range", f"0 to {shown}, such as {slot.example}")
            return BAD
        return raw

    def _number(self, slot: Slot, raw: Any, at: KeyPath) -> Any:
        if isinstance(raw, bool) or not isinstance(raw, (int, float)):
            return self._wrong(slot, raw, at)
        try:
            number = float(raw)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            self.note(at, f"{raw} is no finite number", f"{slot.key} = {slot.example}")
            return BAD
        if number == 0.0 and not slot.item.field.zero:
            self.note(at, f"{slot.key} is 0", f"another number, such as {slot.example}")
            return BAD
        return number

    def _one_figure(self, slot: Slot, raw: Any, at: KeyPath) -> Any:
        if raw == "?":
            self.note(at, f"{slot.key} cannot be left unknown", f"a value such as {slot.example}")
            return BAD
        figure = self._figure(slot, raw, at)
        if figure.low is None:
            return figure.value
        self.note(at, f"{raw!r} is a range", f"one value, such as {slot.example}")
        return BAD

    def _figure(self, slot: Slot, raw: Any, at: KeyPath) -> Figure:
        if not isinstance(raw, str):
            return Figure(self._wrong(slot, raw, at))
        kind = slot.item.field.kind
        try:
            return believed(parse_range(raw, kind), slot.item.field, raw, slot.key)
        except QuantityError as error:
            self.note(at, error.message, error.expected, like=(error.nearest, (error.nearest,)))
            return Figure(BAD)

    def _wrong(self, slot: Slot, raw: Any, at: KeyPath) -> Any:
        bare = isinstance(raw, (int, float)) and not isinstance(raw, bool)
        unit = " without a unit" if bare and slot.form in (Form.FIGURE, Form.FIGURES) else ""
        wanted = "true or false" if slot.form is Form.FLAG else f"{slot.key} = {slot.example}"
        self.note(at, f"found {called(raw)}{unit}", wanted)
        return BAD


def source_of(words: str, document: str) -> Source:
    """The source that a file's words name.

    ``other document: place`` names its document; any other text is a place in ``document``, or, where there is none,
    the document itself. ``other document:`` names a document without a place.
    """
    other, colon, place = words.partition(": ")
    if colon:
        return Source(other, place)
    if words.endswith(":"):
        return Source(words[:-1])
    return Source(document, words) if document else Source(words)


def called(value: Any) -> str:
    """What a value of TOML is, in words."""
    names = {bool: "true or false", int: "a bare number", float: "a bare number", str: "text", list: "a list"}
    return names.get(type(value), "a table" if isinstance(value, dict) else "a date or time")


def _contradicting(beside: Mapping[str, Any], *, unknown: bool) -> Iterator[str]:
    if unknown:
        yield from (ending for ending in (SOURCE, ASSUMED) if ending in beside)
    elif ASK in beside:
        yield ASK
    elif SOURCE in beside and ASSUMED in beside:
        yield ASSUMED
