"""The single definition of a field: its annotation.

File schema, manual page, error text, form field and table heading are all made from ``Field`` objects carried in
``Annotated[...]`` on the model's dataclasses.
"""

from dataclasses import MISSING, dataclass, fields
from functools import cache
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from loomwright.terms.quantity import SUFFIX, Kind


@dataclass(frozen=True, slots=True)
class Field:
    """What one field means to a person.

    ``ask`` is the question to put to a manual when the fact is missing, ``where`` the chapter that usually answers
    it, ``choices`` the closed list of words, ``key`` the spelling in a file where it is not the field's own name,
    ``signed`` a quantity that may be negative, ``zero`` whether it may be nothing at all, ``most`` the highest number that it
    can be. ``instead`` tells what to write where zero was meant.
    """

    meaning: str
    kind: Kind = Kind.NONE
    example: str = ""
    choices: tuple[str, ...] = ()
    ask: str = ""
    where: str = ""
    key: str = ""
    signed: bool = False
    zero: bool = True
    most: float | None = None
    instead: str = ""


@dataclass(frozen=True, slots=True)
class FieldOf:
    """A field as it stands in a class: name in Python, key in a file, bare type, meaning, default."""

    name: str
    key: str
    type: Any
    field: Field
    default: Any
    required: bool


def fields_of(cls: type[Any]) -> tuple[FieldOf, ...]:
    """Every annotated field of a model class, in the order in which it is declared."""
    key: Any = cls  # a class is hashable; its metaclass does not say so to the type checker
    return _fields_of(key)


@cache
def _fields_of(cls: type[Any]) -> tuple[FieldOf, ...]:
    hints = get_type_hints(cls, include_extras=True)
    found = []
    for item in fields(cls):
        hint = hints[item.name]
        if get_origin(hint) is not Annotated:
            continue
        bare, field = get_args(hint)[:2]
        suffix = SUFFIX[field.kind]
        key = field.key or (item.name.removesuffix(suffix) if suffix else item.name)
        default = item.default
        if default is MISSING and item.default_factory is not MISSING:
            default = item.default_factory()
        found.append(FieldOf(item.name, key, bare, field, None if default is MISSING else default, default is MISSING))
    return tuple(found)
