"""A project folder becomes a vehicle, the problems in its text, and the place where everything stands.

``load`` never raises for what a user wrote or for the state of the folder; all problems are told at once.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Any

from loomwright.files.disk import BODY, NAME, NAME_RULE, read_files
from loomwright.files.read import Reading
from loomwright.files.references import check_references
from loomwright.files.schema import FOLDERS
from loomwright.files.text import Notes, Spot, read_text
from loomwright.files.value import BAD, called
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.message import MessageSet
from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Path
from loomwright.terms.problem import Problem

FORMAT = 1
"""The version of the file format that is written, and the newest that is read."""

SMALL = 100_000
"""Bytes up to which the reading of a file is remembered; most files of messages stay below."""

CLASSES: Mapping[str, type] = {"components": Component, "lines": Line, "messages": MessageSet}


@dataclass(frozen=True, slots=True)
class Loaded:
    """What was read from a folder.

    ``vehicle`` is the whole vehicle when there are no problems. With problems it is what could be read: an optional
    value that cannot be read has its default, an entry without its required values is left out, and names may point at
    nothing; it is ``None`` when vehicle.toml does not give a vehicle. So look at ``problems`` first.
    ``places`` tells where each value that is written stands (a table: where it begins), ``texts`` holds the exact bytes
    that were read, by file name within the folder.
    """

    vehicle: Vehicle | None
    problems: tuple[Problem, ...]
    places: Mapping[Path, Spot] = field(default_factory=dict)
    texts: Mapping[str, bytes] = field(default_factory=dict)


class Places(Mapping[Path, Spot]):
    """Where the values of a model are written. Positions are worked out when asked for."""

    def __init__(self, readings: Iterable[Reading]) -> None:
        self._texts = {path: reading.text for reading in readings for path in reading.where}
        self._where = {path: at for reading in readings for path, at in reading.where.items()}

    def __getitem__(self, path: Path) -> Spot:
        return self._texts[path].spot(self._where[path])

    def __iter__(self) -> Iterator[Path]:
        return iter(self._where)

    def __len__(self) -> int:
        return len(self._where)


def load(folder: FilePath) -> Loaded:
    """Read a project folder."""
    problems: list[Problem] = []
    return _understood(read_files(folder, problems), problems)


def understood(texts: Mapping[str, bytes]) -> Loaded:
    """Read a project whose files are at hand as bytes, by their names within the folder."""
    return _understood(texts, [])


def spot_of(loaded: Loaded, path: Path) -> Spot | None:
    """Where a path is written, or, where it is left to its default, the nearest table around it."""
    while path not in loaded.places and path:
        path = path[:-1]
    return loaded.places.get(path)


@dataclass(frozen=True, slots=True)
class _File:
    """One file as it was read: the object it holds (or ``BAD``), what came up, and why it cannot be read."""

    value: Any
    reading: Reading | None
    problems: tuple[Problem, ...]


def _understood(found: Mapping[str, bytes | None], problems: list[Problem]) -> Loaded:
    tables: dict[str, dict[str, Any]] = {part: {} for part in FOLDERS}
    names: dict[Path, set[str]] = {(part,): set() for part in FOLDERS if f"{part}/" not in found}
    readings: list[Reading] = []
    vehicle: Any = BAD
    for file, raw in found.items():
        part, _, leaf = file.rpartition("/")
        if part in FOLDERS and leaf:
            names[part,].add(leaf[: -len(".toml")])
        if raw is None:
            continue
        read = _remembered(file, raw) if len(raw) <= SMALL else _read(file, raw)
        problems += read.problems
        if read.reading is not None:
            readings.append(read.reading)
            names |= read.reading.names
        if file == BODY:
            vehicle = read.value
        elif read.value is not BAD:
            tables[part][leaf[: -len(".toml")]] = read.value
    if vehicle is not BAD:
        vehicle = replace(vehicle, **{part: Table(table) for part, table in tables.items()})
    notes = Notes()
    check_references((entry for reading in readings for entry in reading.entries), names, notes)
    texts = {file: raw for file, raw in found.items() if raw is not None}
    told = tuple(sorted({*problems, *notes.problems}))
    return Loaded(None if vehicle is BAD else vehicle, told, Places(readings), texts)


def _read(file: str, raw: bytes) -> _File:
    part, _, leaf = file.rpartition("/")
    name = leaf.removesuffix(".toml")
    if part and not (leaf.endswith(".toml") and NAME.fullmatch(name)):
        return _File(BAD, None, (Problem(file, 0, 0, f"{leaf!r} is no name for a file", f"{NAME_RULE}, and .toml"),))
    problems: list[Problem] = []
    text = read_text(file, raw, problems)
    if text is None:
        return _File(BAD, None, tuple(problems))
    reading = Reading(text)
    if file == BODY:
        _check_format(reading)
        value = reading.read(text.data, Vehicle, (), (), own="format")
    else:
        value = reading.read(text.data, CLASSES[part], (), (part, name))
    return _File(value, reading, tuple(reading.notes.problems))


@lru_cache(maxsize=512)
def _remembered(file: str, raw: bytes) -> _File:
    """The same, remembered: after an edit all files but one are as they were."""
    return _read(file, raw)


def _check_format(body: Reading) -> None:
    data = body.text.data
    if "format" not in data:
        body.note((), "format is missing", f"format = {FORMAT}", like=("format", data))
        return
    version = data["format"]
    wanted = f"format = {FORMAT}"
    if isinstance(version, bool) or not isinstance(version, int):
        body.note(("format",), f"found {called(version)}", wanted)
    elif version > FORMAT:
        body.note(("format",), "the project has a format newer than this program knows", wanted)
    elif version < FORMAT:
        body.note(("format",), "there is no such format", wanted)
