"""What may stand in a table of a file, made from the annotations of the model's classes and from nothing else."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import Enum
from functools import cache
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.terms.fact import Known, Unknown
from loomwright.terms.field import FieldOf, fields_of
from loomwright.terms.quantity import Kind

SOURCE, ASSUMED, ASK = "_source", "_assumed", "_ask"
SIBLINGS = (SOURCE, ASSUMED, ASK)
"""Endings of the keys that stand beside a fact and tell how it is known."""

FOLDERS = ("components", "lines", "messages")
"""Tables of the vehicle whose entries have a file each, in a folder of that name."""


class Form(Enum):
    """What the value of a key is: one or several of text, quantity, whole number, or a bare number, or yes or no."""

    TEXT = "text"
    FLAG = "flag"
    FIGURE = "figure"
    TEXTS = "texts"
    FIGURES = "figures"
    WHOLE = "whole number"
    WHOLES = "whole numbers"
    NUMBER = "number"


_FORMS: Mapping[Any, Form] = {
    str: Form.TEXT,
    bool: Form.FLAG,
    float: Form.FIGURE,
    int: Form.WHOLE,
    tuple[int, ...]: Form.WHOLES,
    tuple[str, ...]: Form.TEXTS,
    tuple[float, ...]: Form.FIGURES,
}


@dataclass(frozen=True, slots=True)
class Slot:
    """One key of a table: the field it fills, what its value looks like, whether it is a fact."""

    item: FieldOf
    form: Form
    fact: bool

    @property
    def key(self) -> str:
        """The spelling in a file."""
        return self.item.key

    @property
    def keys(self) -> tuple[str, ...]:
        """The key and, of a fact, the keys that may stand beside it."""
        return (self.key, *(self.key + ending for ending in SIBLINGS)) if self.fact else (self.key,)

    @property
    def example(self) -> str:
        """A value as it would stand in a file."""
        shown = self.item.field.example
        if self.form not in (Form.TEXT, Form.FIGURE) or shown.startswith('"'):
            return shown
        return f'"{shown}"'


@dataclass(frozen=True, slots=True)
class Shape:
    """Everything a model class may have in a file: keys, tables of named entries, lists of entries."""

    slots: Mapping[str, Slot]
    tables: Mapping[str, type]
    lists: Mapping[str, type]
    keys: frozenset[str]


@cache
def shape_of(cls: Any) -> Shape:
    """The shape of a model class. Raises ``TypeError`` for an annotation that no file can say."""
    slots = {item.key: slot_of(item) for item in fields_of(cls)}
    annotated = {item.name for item in fields_of(cls)}
    tables: dict[str, type] = {}
    lists: dict[str, type] = {}
    hints = get_type_hints(cls)
    for field in fields(cls):
        if field.name in annotated or (cls is Vehicle and field.name in FOLDERS):
            continue
        origin, args = get_origin(hints[field.name]), get_args(hints[field.name])
        if origin not in (Table, tuple):
            raise TypeError(f"{cls.__name__}.{field.name} has no annotation that a file could be read by")
        (tables if origin is Table else lists)[field.name] = args[0]
    known = frozenset(key for slot in slots.values() for key in slot.keys) | tables.keys() | lists.keys()
    return Shape(slots, tables, lists, known)


def slot_of(item: FieldOf) -> Slot:
    """The key of a field. Raises ``TypeError`` for a type that no file can say."""
    members = _members(item.type)
    known = [get_args(member)[0] for member in members if get_origin(member) is Known]
    bare = known[0] if known else next(member for member in members if member is not type(None))
    form = _FORMS.get(bare)
    if form is Form.FIGURE and item.field.kind is Kind.NONE:
        form = Form.NUMBER
    unitless = item.field.kind in (Kind.NONE, Kind.COUNT, Kind.IDENTIFIER)
    if form is None or (form in (Form.FIGURE, Form.FIGURES) and unitless):
        raise TypeError(f"no file can say a field {item.name} of type {item.type}")
    return Slot(item, form, fact=Unknown in members)


def _members(annotation: Any) -> tuple[Any, ...]:
    return get_args(annotation) if get_origin(annotation) in (Union, UnionType) else (annotation,)
