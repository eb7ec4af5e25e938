"""Tables of a text become objects of the model; every problem is noted where it stands, and reading goes on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from loomwright.files.disk import NAME, NAME_RULE
from loomwright.files.scanner import KeyPath
from loomwright.files.schema import FOLDERS, SIBLINGS, shape_of, slot_of
from loomwright.files.text import Notes, Text
from loomwright.files.value import BAD, FieldReader, called
from loomwright.model.table import Table
from loomwright.terms.change import Path
from loomwright.terms.field import FieldOf


@dataclass(frozen=True, slots=True)
class Entry:
    """An object that was read: where it stands, its path in the model, its values by field name, the keys written."""

    text: Text
    at: KeyPath
    path: Path
    cls: type
    values: Mapping[str, Any]
    written: frozenset[str]


class Reading:
    """What comes up while one file is read.

    ``entries`` are its objects, ``where`` says which key a value of the model is written at. ``names`` are the names in
    each table, by the table's path, those of entries that cannot be read too.
    """

    def __init__(self, text: Text) -> None:
        self.text = text
        self.notes = Notes()
        self.entries: list[Entry] = []
        self.where: dict[Path, KeyPath] = {}
        self.names: dict[Path, set[str]] = {}

    def note(
        self,
        at: KeyPath,
        message: str,
        expected: str = "",
        *,
        key: bool = False,
        like: tuple[str, Iterable[str]] = ("", ()),
    ) -> None:
        """Note a problem with a value, or with its key."""
        self.notes.note(self.text, at, message, expected, key=key, like=like)

    def read(self, data: Any, cls: type, at: KeyPath, path: Path, document: str = "", own: str = "") -> Any:
        """An object of a model class from a table, or ``BAD`` where a required field is missing or wrong.

        ``document`` is the manual that a bare "page 12" means. ``own`` is a key that the caller reads itself.
        """
        self.where[path] = at
        if not isinstance(data, dict):
            self.note(at, f"found {called(data)}", "a table of keys and values")
            return BAD
        shape = shape_of(cls)
        for key in data:
            if key not in shape.keys and key != own:
                self._unknown_key(key, (*at, key), shape.keys)
        if "manual" in shape.slots:
            manual = data.get("manual")
            document = manual if isinstance(manual, str) else ""
        reader = FieldReader(data, at, document, self.note)
        values: dict[str, Any] = {}
        complete = True
        for slot in shape.slots.values():
            value = reader.value(slot)
            if slot.key in data:
                self.where[*path, slot.item.name] = (*at, slot.key)
            elif slot.item.required:
                meaning = slot.item.field.meaning
                expected = f"{meaning[:1].lower()}{meaning[1:]}: {slot.key} = {slot.example}"
                self.note(at, f"{slot.key} is missing", expected)
            if value is not BAD:
                values[slot.item.name] = value
            elif slot.item.required:
                complete = False
        for key, inner in shape.tables.items():
            values[key] = self._table(data.get(key, {}), inner, (*at, key), (*path, key), document)
        for key, inner in shape.lists.items():
            values[key] = self._list(data.get(key, []), inner, (*at, key), (*path, key), document)
        self.entries.append(Entry(self.text, at, path, cls, values, frozenset(data)))
        return cls(**values) if complete else BAD

    def _table(self, data: Any, cls: type, at: KeyPath, path: Path, document: str) -> Table[Any]:
        if not isinstance(data, dict):
            self.note(at, f"found {called(data)}", f"tables such as [{at[-1]}.name]")
            return Table()
        names = self.names.setdefault(path, set())
        found = {}
        for name, inner in data.items():
            names.add(name)
            if NAME.fullmatch(name):
                found[name] = self.read(inner, cls, (*at, name), (*path, name), document)
            else:
                self.note((*at, name), f"{name!r} is no name", NAME_RULE, key=True)
        return Table({name: value for name, value in found.items() if value is not BAD})

    def _list(self, data: Any, cls: type, at: KeyPath, path: Path, document: str) -> tuple[Any, ...]:
        if not isinstance(data, list):
            self.note(at, f"found {called(data)}", f"tables such as [[{at[-1]}]]")
            return ()
        found = [self.read(inner, cls, (*at, n), (*path, n), document) for n, inner in enumerate(data)]
        return tuple(value for value in found if value is not BAD)

    def _unknown_key(self, key: str, at: KeyPath, known: frozenset[str]) -> None:
        head = next((key.removesuffix(ending) for ending in SIBLINGS if key.endswith(ending)), None)
        if head in known:
            self.note(at, f"{head} is no fact: {key} has no meaning", f"{head} alone", key=True)
        elif key in FOLDERS:
            self.note(at, f"{key} do not stand in this file", f"a file for each: {key}/NAME.toml", key=True)
        else:
            main = sorted(name for name in known if not name.endswith(SIBLINGS))
            self.note(at, f"unknown key {key!r}", f"one of {', '.join(main)}", key=True, like=(key, known))


def is_fact(item: FieldOf) -> bool:
    """Whether a field is known, assumed or unknown, and not just a value."""
    return slot_of(item).fact
