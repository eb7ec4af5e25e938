"""Fields by path: what stands there, in the words of a form, and a change that sets it."""

from dataclasses import dataclass, is_dataclass, replace
from typing import Any

from loomwright.files.form import FieldWords, UnreadableFieldError, field_value, field_words, holds_many, is_switch
from loomwright.files.read import is_fact
from loomwright.model.component import Component
from loomwright.model.message import MessageSet
from loomwright.model.table import Table
from loomwright.model.variant import value_at
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Edit, Path, path_text
from loomwright.terms.errors import PathError
from loomwright.terms.fact import Assumed, Unknown
from loomwright.terms.field import FieldOf, fields_of
from loomwright.terms.quantity import units_of

__all__ = [
    "FieldForm", "FieldWords", "UnreadableFieldError", "document_at", "field_at", "field_form", "set_field", "words_at",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class FieldForm:
    """A field as a form: made from the field's own annotation. ``ask`` and ``where`` are what to put to which manual."""

    path: str
    id: str
    label: str
    meaning: str
    example: str
    choices: tuple[str, ...]
    units: tuple[str, ...]
    fact: bool
    many: bool
    switch: bool
    ask: str
    where: str
    document: str
    now: FieldWords
    wrong: str


def field_form(vehicle: Vehicle, path: Path, given: FieldWords | None = None, wrong: str = "") -> FieldForm:
    """The form of a field; with ``given`` what somebody typed, and why it is ``wrong``."""
    item = field_at(vehicle, path)
    text = path_text(path)
    return FieldForm(
        text,
        "field-" + "".join(letter if letter.isalnum() else "-" for letter in text),
        _label(item),
        item.field.meaning,
        item.field.example.strip('"[]').replace('", "', ", "),
        item.field.choices,
        tuple(dict.fromkeys(unit.symbol for unit in units_of(item.field.kind) if unit.symbol.isascii())),
        is_fact(item),
        holds_many(item),
        is_switch(item),
        item.field.ask,
        item.field.where,
        document_at(vehicle, path),
        given or words_at(vehicle, path),
        wrong,
    )


def field_at(vehicle: Vehicle, path: Path) -> FieldOf:
    """The field that a path leads to. Raises ``PathError`` where it leads to something else."""
    owner = value_at(vehicle, path[:-1])
    if is_dataclass(owner):
        for item in fields_of(type(owner)):
            if item.name == path[-1]:
                return item
    raise PathError(f"the vehicle has no field {path_text(path)}")


def document_at(vehicle: Vehicle, path: Path) -> str:
    """The manual that a bare page number at this path belongs to."""
    owners: dict[str, Table[Any]] = {"components": vehicle.components, "messages": vehicle.messages}
    owner = owners[str(path[0])].get(str(path[1])) if path[0] in owners and len(path) > 1 else None
    return owner.manual if isinstance(owner, (Component, MessageSet)) else ""


def words_at(vehicle: Vehicle, path: Path) -> FieldWords:
    """A field's present value, as a form shows it."""
    return field_words(field_at(vehicle, path), value_at(vehicle, path), document_at(vehicle, path))


def set_field(vehicle: Vehicle, path: Path, form: FieldWords) -> Change:
    """The change that sets one field from words. Raises ``UnreadableFieldError`` with what was expected."""
    item = field_at(vehicle, path)
    value = field_value(item, _meant(item, value_at(vehicle, path), form), document_at(vehicle, path))
    return Change(f"{_owner(path)}: {_label(item)}", (Edit(path, value),))


def _meant(item: FieldOf, now: object, form: FieldWords) -> FieldWords:
    """What somebody means who types a value and leaves the rest of the form as it stood.

    A value typed where nothing was known, or where the usual value was only assumed, makes it known: the reason that
    the usual value came with does not speak of the new one.
    """
    if isinstance(now, Unknown) and form.status == "unknown" and form.words.strip() not in ("", "?"):
        return replace(form, status="known")
    usual = item.default
    as_usual = form.status == "assumed" and isinstance(usual, Assumed) and form.why.strip() == usual.why
    if as_usual and form.words.strip() != field_words(item, usual).words:
        return replace(form, status="known", why="")
    return form


def _owner(path: Path) -> str:
    kinds = ("components", "places", "runs", "lines", "cables", "locks", "messages", "signals", "chains")
    names = [str(step) for step in path[:-1] if step not in kinds]
    return " ".join(names).replace("_", " ") or "vehicle"


def _label(item: FieldOf) -> str:
    return item.key.replace("_", " ")
