"""A field's value in the words of a form, read and written by the same rules as in a file."""

import tomllib
from dataclasses import dataclass
from typing import Any

from loomwright.files.render import keys_of, plain_keys, table_lines, toml
from loomwright.files.scanner import KeyPath
from loomwright.files.schema import ASSUMED, SOURCE, Form, slot_of
from loomwright.files.value import BAD, FieldReader
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.field import FieldOf

_LISTS = (Form.TEXTS, Form.FIGURES, Form.WHOLES)
TRUE_WORDS = ("true", "yes", "on")
FALSE_WORDS = ("false", "no", "off")


class UnreadableFieldError(LoomwrightError):
    """Words that a field cannot hold; the message says what was found and what was expected."""


@dataclass(frozen=True, slots=True)
class FieldWords:
    """What a form shows of a field, and gives back.

    ``status`` is "known", "assumed", "unknown" or, for a field that is no fact, empty. ``words`` are text as a file
    would have it, lists with commas between.
    """

    words: str
    status: str = ""
    source: str = ""
    why: str = ""
    ask: str = ""


def field_value(item: FieldOf, form: FieldWords, document: str = "") -> Any:
    """The model value that a form's words mean; ``document`` is the manual that a bare page belongs to.

    No words mean the field's default, where it has one. Raises ``UnreadableFieldError``.
    """
    slot = slot_of(item)
    words = form.words.strip()
    # Text that may be left out, such as a title, can be a question mark; everything else says with it that it is open.
    free = slot.form is Form.TEXT and not (slot.fact or item.required or item.field.choices)
    if form.status == "unknown" or (words == "?" and not free):
        if not slot.fact:
            raise UnreadableFieldError(f"{item.field.meaning}: this has to be said, it cannot stay open")
        return Unknown(form.ask.strip())
    if not words:
        if item.required and slot.form is not Form.TEXT:
            raise UnreadableFieldError(f"{item.field.meaning}: something is needed, for example {item.field.example}")
        return "" if item.required else item.default
    keys: dict[str, Any] = {slot.key: _said(slot.form, words)}
    if form.status == "assumed":
        if not form.why.strip():
            raise UnreadableFieldError("an assumption says why: what it was guessed from")
        keys[slot.key + ASSUMED] = form.why.strip()
    elif form.source.strip():
        keys[slot.key + SOURCE] = form.source.strip()
    value = FieldReader(keys, (), document, _refuse).value(slot)
    assert value is not BAD
    return value


def field_words(item: FieldOf, value: Any, document: str = "") -> FieldWords:
    """A model value as a form shows it; a default too."""
    slot = slot_of(item)
    if isinstance(value, Unknown):
        return FieldWords("", "unknown", ask=value.question)
    keys = {} if value is None else plain_keys(slot, value, document)
    said = toml(keys[slot.key]) if keys else ""
    words = said if slot.form is Form.WHOLE else _words(tomllib.loads(f"it = {said}")["it"]) if keys else ""
    if isinstance(value, Assumed):
        return FieldWords(words, "assumed", why=value.why)
    if isinstance(value, Known):
        return FieldWords(words, "known", keys.get(slot.key + SOURCE, ""))
    return FieldWords(words)


def written(value: Any, item: FieldOf | None, document: str = "") -> str:
    """A value as a file would hold it, for showing two versions side by side."""
    if value is None:
        return "(not there)"
    if item is not None:
        keys = keys_of(slot_of(item), value, document)
        return "\n".join(f"{key} = {toml(said)}" for key, said in keys.items()) or "(as by default)"
    if isinstance(value, tuple):
        return "\n\n".join(written(entry, None, document) for entry in value) or "(none)"
    return "\n".join(table_lines(value, document))


def holds_many(item: FieldOf) -> bool:
    """Whether a field is a list of words or quantities."""
    return slot_of(item).form in _LISTS


def is_switch(item: FieldOf) -> bool:
    """Whether a field is yes or no."""
    return slot_of(item).form is Form.FLAG


def _refuse(at: KeyPath, message: str, expected: str = "", **_: Any) -> None:  # noqa: ARG001  (a Note has it)
    raise UnreadableFieldError(f"{message}; expected: {expected}")


def _said(form: Form, words: str) -> Any:
    if form in _LISTS:
        parts = [part.strip() for part in words.split(",") if part.strip()]
        return [_counted(part) for part in parts] if form is Form.WHOLES else parts
    if form is Form.WHOLE:
        return _counted(words)
    if form is Form.NUMBER:
        try:
            return float(words)
        except ValueError:
            return words
    if form is Form.FLAG and words.lower() in (*TRUE_WORDS, *FALSE_WORDS):
        return words.lower() in TRUE_WORDS
    return words


def _counted(words: str) -> int | str:
    """The whole number that words mean, in decimal or, after 0x, in hexadecimal digits; else the words."""
    try:
        return int(words, 16 if words.lower().startswith("0x") else 10)
    except ValueError:
        return words


def _words(found: Any) -> str:
    if isinstance(found, list):
        return ", ".join(str(each) for each in found)
    if isinstance(found, bool):
        return "yes" if found else "no"
    return str(found)
