"""Read a project folder into a vehicle. Never raises for what a user wrote; tells every problem at once."""

import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Any

from loomwright.files.read import Spot, Text, near, read_table
from loomwright.files.scanner import KeyPath
from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Axle, Cable, Deviation, Lock, Place, Run, Vehicle
from loomwright.terms.change import Path
from loomwright.terms.problem import Problem

FORMAT = 1
LARGEST = 2_000_000
"""Bytes a file may have; a person's file stays far below, and anything larger is something else."""

NAME = re.compile(r"[a-z][a-z0-9_]*")
TABLES: Mapping[str, type] = {"places": Place, "runs": Run, "cables": Cable, "locks": Lock, "deviations": Deviation}
FOLDERS = ("components", "lines")


@dataclass(frozen=True, slots=True)
class Loaded:
    """What was read. ``vehicle`` is there whenever nothing is wrong; with problems it is ``None``.

    ``places`` tells where each value stands, ``texts`` holds the exact bytes by file name relative to the folder.
    """

    vehicle: Vehicle | None
    problems: tuple[Problem, ...]
    places: Mapping[Path, Spot] = field(default_factory=dict)
    texts: Mapping[str, bytes] = field(default_factory=dict)


def load(folder: FilePath) -> Loaded:
    """Read a folder."""
    problems: list[Problem] = []
    texts = read_texts(folder, problems)
    return understood(texts, problems)


def understood(texts: Mapping[str, bytes], problems: list[Problem] | None = None) -> Loaded:
    """Make a vehicle of the bytes of a project's files."""
    found = [] if problems is None else problems
    reader = _Reader(found)
    vehicle = reader.vehicle(texts)
    ordered = tuple(sorted(set(found)))
    return Loaded(None if ordered else vehicle, ordered, reader.spots, dict(texts))


def read_texts(folder: FilePath, problems: list[Problem]) -> dict[str, bytes]:
    """The bytes of every file that belongs to the project; trouble with the disk is noted as problems."""
    texts: dict[str, bytes] = {}

    def trouble(name: str, message: str, wanted: str = "") -> None:
        problems.append(Problem(name, 0, 0, message, wanted))

    if not folder.is_dir():
        trouble(
            str(folder),
            "is not a folder" if folder.exists() else "there is no such folder",
            "a folder with vehicle.toml in it",
        )
        return texts
    names = ["vehicle.toml"]
    for part in FOLDERS:
        inner = folder / part
        try:
            if inner.is_dir():
                names += [f"{part}/{entry.name}" for entry in sorted(inner.iterdir()) if entry.suffix == ".toml"]
        except OSError as error:
            trouble(part, f"cannot be read: {error.strerror}", "a folder you may read")
    root = os.path.realpath(folder)
    for name in names:
        path = folder / name
        try:
            if not os.path.realpath(path).startswith(root + os.sep):
                trouble(name, "leads outside the project folder", "a file inside it")
            elif path.stat().st_size > LARGEST:
                trouble(name, f"is {path.stat().st_size / 1e6:.0f} MB large", f"at most {LARGEST / 1e6:.0f} MB")
            else:
                texts[name] = path.read_bytes()
        except FileNotFoundError:
            trouble(name, "is missing", "every project has a vehicle.toml with format, name, length and width")
        except OSError as error:
            trouble(name, f"cannot be read: {error.strerror}", "a file you may read")
    return texts


@lru_cache(maxsize=512)
def _toml(text: str) -> Mapping[str, Any]:
    """Values of a text, remembered; nobody changes them."""
    return tomllib.loads(text)


def decoded(name: str, raw: bytes, problems: list[Problem]) -> Text | None:
    """Text and data of one file, or ``None`` with the reason noted."""

    def trouble(line: int, column: int, message: str, wanted: str) -> None:
        lines = raw.decode("utf-8", "replace").split("\n")
        excerpt = lines[line - 1].rstrip("\r")[:200] if 0 < line <= len(lines) else ""
        problems.append(Problem(name, line, column, message, wanted, "", excerpt))

    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in raw[:4096]:
        trouble(1, 1, "is not UTF-8 text (it looks like UTF-16 or a binary file)", "save it as UTF-8")
        return None
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        column = error.start - (before.rfind(b"\n") + 1) + 1
        trouble(
            before.count(b"\n") + 1, column, f"byte 0x{raw[error.start]:02x} is not UTF-8", "save the file as UTF-8"
        )
        return None
    if text.startswith("\ufeff"):
        trouble(1, 1, "begins with a byte order mark", "save it as UTF-8 without one")
        return None
    try:
        data = _toml(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        where = re.search(r"\(at line (\d+), column (\d+)\)", message)
        at = (int(where[1]), int(where[2])) if where else (max(1, text.count("\n") + 1), 1)
        trouble(*at, re.sub(r"\s*\(at .*\)$", "", message), 'a valid TOML line such as key = "value"')
        return None
    except (RecursionError, ValueError) as error:
        trouble(1, 1, f"cannot be read as TOML: {error}", "plain keys, tables and text")
        return None
    return Text(name, text, data, problems)


class _Reader:
    """Builds the vehicle file by file; references are checked when everything is there."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = problems
        self.spots: dict[Path, Spot] = {}
        self.references: list[tuple[Text, KeyPath, str, str]] = []
        self.places: set[str] = set()
        self.ports: set[str] = set()
        self.named: dict[str, set[str]] = {"lines": set(), "cables": set()}

    def vehicle(self, texts: Mapping[str, bytes]) -> Vehicle | None:
        files = {name: decoded(name, raw, self.problems) for name, raw in texts.items()}
        components = self._folder(files, "components", self._component)
        lines = self._folder(files, "lines", self._line)
        vehicle = self._body(files.get("vehicle.toml"), components, lines)
        self._check_references()
        for text in files.values():
            if text is not None:
                self.spots.update(text.spots)
        return vehicle

    def _folder(self, files: Mapping[str, Text | None], part: str, read: Any) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for file, text in files.items():
            folder, _, leaf = file.partition("/")
            if folder != part:
                continue
            name = leaf.removesuffix(".toml")
            self.named.setdefault(part, set()).add(name)
            if not NAME.fullmatch(name):
                self.problems.append(
                    Problem(file, 0, 0, f"{name!r} is no name", "small letters, digits and _, beginning with a letter")
                )
            elif text is not None:
                value = read(text, name)
                if value is not None:
                    found[name] = value
        return found

    def _named_tables(
        self, text: Text, data: Any, key: str, cls: type, model: Path, document: str = ""
    ) -> dict[str, Any]:
        inner = data.get(key, {})
        if not isinstance(inner, Mapping):
            text.problem((key,), f"{key!r} is a single value", f"tables such as [{key}.name]")
            return {}
        found = {}
        for name, body in inner.items():
            if not NAME.fullmatch(name):
                text.problem(
                    (key, name),
                    f"{name!r} is no name",
                    "small letters, digits and _, beginning with a letter",
                    key=True,
                )
                continue
            values = read_table(text, body, (key, name), cls, (*model, key, name), document)
            if values is not None:
                found[name] = cls(**values)
        return found

    def _component(self, text: Text, name: str) -> Component | None:
        model: Path = ("components", name)
        values = read_table(text, text.data, (), Component, model, extra=("ports",))
        document = text.data.get("manual", "")
        ports = self._named_tables(text, text.data, "ports", Port, model, document if isinstance(document, str) else "")
        self.ports |= (
            {f"{name}.{port}" for port in (text.data.get("ports") or {})}
            if isinstance(text.data.get("ports", {}), Mapping)
            else set()
        )
        self._refer(text, ("place",), "place", text.data.get("place"))
        if values is None:
            return None
        return Component(**values, ports=Table(ports))

    def _line(self, text: Text, name: str) -> Line | None:
        model: Path = ("lines", name)
        values = read_table(text, text.data, (), Line, model, extra=("stations",))
        stations = self._list(text, text.data, "stations")
        made = [
            self._station(text, entry, ("stations", number), (*model, "stations", number))
            for number, entry in enumerate(stations)
        ]
        self._refer(text, ("cable",), "cable", text.data.get("cable"))
        self._refer(text, ("controller",), "port", text.data.get("controller"))
        if values is None:
            return None
        return Line(**values, stations=tuple(station for station in made if station is not None))

    def _list(self, text: Text, data: Any, key: str) -> list[Any]:
        inner = data.get(key, [])
        if isinstance(inner, list):
            return inner
        text.problem((key,), f"{key!r} is not a list of tables", f"[[{key}]]")
        return []

    def _station(self, text: Text, entry: Any, at: KeyPath, model: Path) -> Station | None:
        values = read_table(text, entry, at, Station, model)
        if values is None:
            return None
        if bool(values.get("port")) == ("terminator_ohm" in values):
            text.problem(at, "a station is either a port or a plug-in terminator", "one of: port, terminator")
            return None
        if "terminator_ohm" in values and not values.get("at"):
            text.problem(at, "a plug-in terminator needs its place", 'at = "place"')
        self._refer(text, (*at, "port"), "port", values.get("port", ""))
        self._refer(text, (*at, "at"), "place", values.get("at", ""))
        for number, place in enumerate(values.get("via", ())):
            self._refer(text, (*at, "via", number), "place", place)
        return Station(**values)

    def _body(self, text: Text | None, components: dict[str, Any], lines: dict[str, Any]) -> Vehicle | None:
        if text is None:
            return None
        values = read_table(text, text.data, (), Vehicle, (), extra=("format", "axles", *TABLES))
        self._format(text)
        tables: dict[str, Any] = {}
        for key, cls in TABLES.items():
            tables[key] = self._named_tables(text, text.data, key, cls, ())
            declared = text.data.get(key)
            self.named[key] = set(declared) if isinstance(declared, Mapping) else set()
        self.places = self.named["places"]
        for name, run in tables["runs"].items():
            self._refer(text, ("runs", name, "from"), "place", run.start)
            self._refer(text, ("runs", name, "to"), "place", run.end)
            if run.start == run.end:
                text.problem(("runs", name, "to"), "a run joins a place to itself", "two places")
        self._locks(text, tables["locks"])
        axles = [
            read_table(text, entry, ("axles", number), Axle, ("axles", number))
            for number, entry in enumerate(self._list(text, text.data, "axles"))
        ]
        if values is None:
            return None
        return Vehicle(
            **values,
            axles=tuple(Axle(**axle) for axle in axles if axle is not None),
            places=Table(tables["places"]),
            runs=Table(tables["runs"]),
            cables=Table(tables["cables"]),
            locks=Table(tables["locks"]),
            deviations=Table(tables["deviations"]),
            components=Table(components),
            lines=Table(lines),
        )

    def _format(self, text: Text) -> None:
        found = text.data.get("format")
        if found is None:
            text.problem((), "'format' is missing", f"format = {FORMAT}")
        elif isinstance(found, bool) or found != FORMAT:
            text.problem(
                ("format",),
                f"this project is of format {found!r}",
                f"format = {FORMAT}; a newer one needs a newer loomwright",
            )

    def _locks(self, text: Text, locks: dict[str, Any]) -> None:
        seen: dict[tuple[str, ...], str] = {}
        for name, lock in locks.items():
            at = ("locks", name)
            self._refer(text, (*at, "port"), "port", lock.port)
            if lock.must == "be on line":
                if not lock.line:
                    text.problem(at, "says no line", 'line = "..."')
                self._refer(text, (*at, "line"), "line", lock.line)
                other = seen.setdefault(("line", lock.port), lock.line)
                if other != lock.line:
                    text.problem(
                        at, f"{lock.port} cannot be on line {lock.line!r} and on line {other!r}", "one of the two locks"
                    )
            elif lock.must in ("share a line with", "not share a line with"):
                if not lock.other:
                    text.problem(at, "says no other port", 'with = "component.port"')
                self._refer(text, (*at, "with"), "port", lock.other)
                pair = ("pair", *sorted((lock.port, lock.other)))
                if seen.setdefault(pair, lock.must) != lock.must:
                    text.problem(
                        at, f"contradicts another lock on {lock.port} and {lock.other}", "one of the two locks"
                    )

    def _refer(self, text: Text, at: KeyPath, what: str, name: object) -> None:
        """Remember a reference, to be looked up when everything is read; what is no text is told elsewhere."""
        if name and isinstance(name, str):
            self.references.append((text, at, what, name))

    def _check_references(self) -> None:
        known = {"place": self.places, "port": self.ports, "line": self.named["lines"], "cable": self.named["cables"]}
        for text, at, what, name in self.references:
            if name not in known[what]:
                wanted = "a port written component.port" if what == "port" else f"a {what} of this project"
                text.problem(at, f"there is no {what} {name!r}", wanted, near(name, known[what]))
