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
    """A fact with its path, its definition, and the document its neighbours come from; ``None`` where nobody spoke of it."""

    path: Path
    fact: Known[Any] | Assumed[Any] | Unknown | None
    field: FieldOf
    document: str


def facts_of(vehicle: Vehicle) -> Iterator[FactAt]:
    """Every fact of the vehicle, depth first."""
    return (item for item in _walk(vehicle, (), "") if item.fact is not None)


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
            if value is None or isinstance(value, (Known, Assumed, Unknown)):
                yield FactAt((*path, field.name), value, field, document)
        for name in here.__slots__ if hasattr(here, "__slots__") else ():
            value = getattr(here, name)
            if isinstance(value, (Table, tuple)):
                yield from _walk(value, (*path, name), document)


def unknowns(vehicle: Vehicle, waiting: Iterable[tuple[str, tuple[Path, ...]]]) -> tuple[OpenQuestion, ...]:
    """Every unknown fact, the one that frees most answers first.

    ``waiting`` pairs the name of a blocked answer with the paths that block it. What nobody spoke of is asked only where
    an answer waits for it.
    """
    blocks: dict[Path, list[str]] = {}
    for answer, paths in waiting:
        for path in paths:
            blocks.setdefault(path, []).append(answer)
    questions = [
        OpenQuestion(
            item.path,
            open_fact.question or item.field.field.ask or item.field.field.meaning,
            open_fact.where or item.field.field.where,
            item.document,
            tuple(dict.fromkeys(blocks.get(item.path, ()))),
        )
        for item in _walk(vehicle, (), "")
        if isinstance(open_fact := item.fact or Unknown(), Unknown)
        and (item.path in blocks or not (item.fact is None or _of_no_use(vehicle, item.path)))
    ]
    return tuple(sorted(questions, key=lambda question: (-len(question.blocks), [str(step) for step in question.path])))


def _of_no_use(vehicle: Vehicle, path: Path) -> bool:
    """Whether nothing can come of a fact: a service plug says nothing of its own, a classical line has no data phase."""
    if path[0] == "lines":
        return path[-1] == "data_bit_rate_bit_per_s" and vehicle.lines[str(path[1])].frames != "FD"
    return path[0] == "components" and vehicle.components[str(path[1])].role == "service plug"
