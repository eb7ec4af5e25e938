"""Read one file of a project by itself: its part of the vehicle, its problems, what it names and what it refers to.

A pure function of the file's name and bytes, and remembered as such: after an edit only the edited file is read again,
and everything else is the very same value as before.
"""

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from loomwright.files.read import Spot, Text, read_table
from loomwright.files.scanner import KeyPath
from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Axle, Cable, Deviation, Lock, Place, Run, Vehicle
from loomwright.terms.change import Path
from loomwright.terms.problem import Problem

FORMAT = 1
NAME = re.compile(r"[a-z][a-z0-9_]*")
TABLES: Mapping[str, type] = {"places": Place, "runs": Run, "cables": Cable, "locks": Lock, "deviations": Deviation}
REMEMBERED = 1024
"""Files remembered; a project has some fifty."""


@dataclass(frozen=True, slots=True)
class Reference:
    """A name that something else has to declare: where it stands, what kind of thing, the name."""

    at: KeyPath
    what: str
    name: str


@dataclass(frozen=True, slots=True)
class FileRead:
    """What one file says.

    ``value`` is a component, a line, or for the body a vehicle without either; ``None`` where something required is
    missing. ``declares`` are pairs of kind and name.
    """

    value: Component | Line | Vehicle | None
    problems: tuple[Problem, ...]
    spots: Mapping[Path, Spot]
    references: tuple[Reference, ...]
    declares: frozenset[tuple[str, str]]


@lru_cache(maxsize=REMEMBERED)
def read_file(name: str, raw: bytes) -> FileRead:
    """Read ``vehicle.toml``, ``components/NAME.toml`` or ``lines/NAME.toml``. Nobody may change what it gives."""
    problems: list[Problem] = []
    reader = _Reader()
    text = decoded(name, raw, problems)
    value = reader.value(text) if text is not None else None
    return FileRead(
        value, tuple(problems), text.spots if text else {}, tuple(reader.references), frozenset(reader.declares)
    )


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
        data = tomllib.loads(text)
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
    """Builds one file's value; references are looked up when every file is there."""

    def __init__(self) -> None:
        self.references: list[Reference] = []
        self.declares: set[tuple[str, str]] = set()

    def value(self, text: Text) -> Component | Line | Vehicle | None:
        """The part of the vehicle that the file holds."""
        part, _, leaf = text.name.partition("/")
        name = leaf.removesuffix(".toml")
        if part == "components":
            return self._component(text, name)
        return self._line(text, name) if part == "lines" else self._body(text)

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
        declared = text.data.get("ports")
        self._declare("port", (f"{name}.{port}" for port in declared) if isinstance(declared, Mapping) else ())
        self._refer(("place",), "place", text.data.get("place"))
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
        self._refer(("cable",), "cable", text.data.get("cable"))
        self._refer(("controller",), "port", text.data.get("controller"))
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
        self._refer((*at, "port"), "port", values.get("port", ""))
        self._refer((*at, "at"), "place", values.get("at", ""))
        for number, place in enumerate(values.get("via", ())):
            self._refer((*at, "via", number), "place", place)
        return Station(**values)

    def _body(self, text: Text) -> Vehicle | None:
        values = read_table(text, text.data, (), Vehicle, (), extra=("format", "axles", *TABLES))
        self._format(text)
        tables: dict[str, Any] = {}
        for key, cls in TABLES.items():
            tables[key] = self._named_tables(text, text.data, key, cls, ())
            declared = text.data.get(key)
            self._declare(key.removesuffix("s"), declared if isinstance(declared, Mapping) else ())
        for name, run in tables["runs"].items():
            self._refer(("runs", name, "from"), "place", run.start)
            self._refer(("runs", name, "to"), "place", run.end)
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
            self._refer((*at, "port"), "port", lock.port)
            if lock.must == "be on line":
                if not lock.line:
                    text.problem(at, "says no line", 'line = "..."')
                self._refer((*at, "line"), "line", lock.line)
                other = seen.setdefault(("line", lock.port), lock.line)
                if other != lock.line:
                    text.problem(
                        at, f"{lock.port} cannot be on line {lock.line!r} and on line {other!r}", "one of the two locks"
                    )
            elif lock.must in ("share a line with", "not share a line with"):
                if not lock.other:
                    text.problem(at, "says no other port", 'with = "component.port"')
                self._refer((*at, "with"), "port", lock.other)
                pair = ("pair", *sorted((lock.port, lock.other)))
                if seen.setdefault(pair, lock.must) != lock.must:
                    text.problem(
                        at, f"contradicts another lock on {lock.port} and {lock.other}", "one of the two locks"
                    )

    def _refer(self, at: KeyPath, what: str, name: object) -> None:
        """Remember a reference, to be looked up when everything is read; what is no text is told elsewhere."""
        if name and isinstance(name, str):
            self.references.append(Reference(at, what, name))

    def _declare(self, what: str, names: Iterable[str]) -> None:
        self.declares.update((what, name) for name in names)
