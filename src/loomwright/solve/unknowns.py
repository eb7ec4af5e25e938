"""Which fact should be looked up next, and what does it free?"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, is_dataclass
from typing import Any

from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.field import FieldOf, fields_of


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """One unknown fact: the question, where to look, and the answers that wait for it."""

    path: Path
    question: str
    where: str
    document: str
    blocks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FactAt:
    """A fact with its path, its definition, and the document its neighbours come from."""

    path: Path
    fact: Known[Any] | Assumed[Any] | Unknown
    field: FieldOf
    document: str


def facts_of(vehicle: Vehicle) -> Iterator[FactAt]:
    """Every fact of the vehicle, depth first."""
    yield from _walk(vehicle, (), "")


def _walk(here: Any, path: Path, document: str) -> Iterator[FactAt]:
    if isinstance(here, Table):
        for name, value in here.items():
            yield from _walk(value, (*path, name), document)
    elif isinstance(here, tuple):
        for index, value in enumerate(here):
            yield from _walk(value, (*path, index), document)
    elif is_dataclass(here) and not isinstance(here, (type, Known, Assumed, Unknown)):
        document = getattr(here, "manual", "") or document
        for field in fields_of(type(here)):
            value = getattr(here, field.name)
            if isinstance(value, (Known, Assumed, Unknown)):
                yield FactAt((*path, field.name), value, field, document)
        for name in here.__slots__ if hasattr(here, "__slots__") else ():
            value = getattr(here, name)
            if isinstance(value, (Table, tuple)):
                yield from _walk(value, (*path, name), document)


def unknowns(vehicle: Vehicle, waiting: Iterable[tuple[str, tuple[Path, ...]]]) -> tuple[OpenQuestion, ...]:
    """Every unknown fact, the one that frees most answers first.

    ``waiting`` pairs the name of a blocked answer with the paths that block it.
    """
    blocks: dict[Path, list[str]] = {}
    for answer, paths in waiting:
        for path in paths:
            blocks.setdefault(path, []).append(answer)
    questions = [
        OpenQuestion(
            item.path,
            item.fact.question or item.field.field.ask or item.field.field.meaning,
            item.fact.where or item.field.field.where,
            item.document,
            tuple(dict.fromkeys(blocks.get(item.path, ()))),
        )
        for item in facts_of(vehicle)
        if isinstance(item.fact, Unknown) and (item.path in blocks or not _of_bare_contacts(vehicle, item.path))
    ]
    return tuple(sorted(questions, key=lambda question: (-len(question.blocks), [str(step) for step in question.path])))


def _of_bare_contacts(vehicle: Vehicle, path: Path) -> bool:
    """Whether a fact belongs to a service plug, which says nothing of its own."""
    return path[0] == "components" and vehicle.components[str(path[1])].role == "service plug"
