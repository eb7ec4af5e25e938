"""A field's value in the words of a form, read and written by the same rules as in a file."""

import json
import tomllib
from dataclasses import dataclass
from typing import Any, get_args, get_origin

from loomwright.files.read import BAD, Text, inner_type, is_fact, read_value
from loomwright.files.render import keys_for, quoted, source_text, table_lines, value_text
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.field import FieldOf

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
    words = form.words.strip()
    if form.status == "unknown" or words == "?":
        if not is_fact(item):
            raise UnreadableFieldError(f"{item.field.meaning}: this has to be said, it cannot stay open")
        return Unknown(form.ask.strip())
    if not words:
        if item.required and inner_type(item) is not str:
            raise UnreadableFieldError(f"{item.field.meaning}: something is needed, for example {item.field.example}")
        return "" if item.required else item.default
    lines = [f"{item.key} = {_toml(item, words)}"]
    if form.status == "assumed":
        if not form.why.strip():
            raise UnreadableFieldError("an assumption says why: what it was guessed from")
        lines.append(f"{item.key}_assumed = {quoted(form.why.strip())}")
    elif form.source.strip():
        lines.append(f"{item.key}_source = {quoted(form.source.strip())}")
    text = Text("the form", "\n".join(lines), tomllib.loads("\n".join(lines)), [])
    value = read_value(text, text.data, item.key, (), item, document)
    if value is BAD:
        problem = text.problems[0]
        raise UnreadableFieldError(f"{problem.message}; expected: {problem.expected}")
    return value


def field_words(item: FieldOf, value: Any, document: str = "") -> FieldWords:
    """A model value as a form shows it; a default too."""
    if isinstance(value, Unknown):
        return FieldWords("", "unknown", ask=value.question)
    words = "" if value is None else _words(tomllib.loads(f"it = {value_text(item, value)}")["it"])
    if isinstance(value, Assumed):
        return FieldWords(words, "assumed", why=value.why)
    if isinstance(value, Known):
        return FieldWords(words, "known", source_text(value.source, document) if value.source else "")
    return FieldWords(words)


def written(value: Any, item: FieldOf | None, document: str = "") -> str:
    """A value as a file would hold it, for showing two versions side by side."""
    if value is None:
        return "(not there)"
    if item is not None:
        return "\n".join(f"{key} = {text}" for key, text in keys_for(item, value, document).put) or "(as by default)"
    if isinstance(value, tuple):
        return "\n\n".join(written(entry, None, document) for entry in value) or "(none)"
    return "\n".join(table_lines(value, document))


def holds_many(item: FieldOf) -> bool:
    """Whether a field is a list of words or quantities."""
    return get_origin(inner_type(item)) is tuple


def is_switch(item: FieldOf) -> bool:
    """Whether a field is yes or no."""
    inner = inner_type(item)
    return inner is bool or bool in get_args(inner)


def _toml(item: FieldOf, words: str) -> str:
    if holds_many(item):
        return json.dumps([part.strip() for part in words.split(",") if part.strip()], ensure_ascii=False)
    if is_switch(item):
        if words.lower() in TRUE_WORDS:
            return "true"
        if words.lower() in FALSE_WORDS:
            return "false"
    return quoted(words)


def _words(found: Any) -> str:
    if isinstance(found, list):
        return ", ".join(found)
    if isinstance(found, bool):
        return "yes" if found else "no"
    return str(found)
