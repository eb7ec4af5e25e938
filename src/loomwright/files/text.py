"""One file as text: its data, where everything in it stands, the problems found in it."""

import difflib
import re
import tomllib
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from loomwright.files.scanner import KeyPath, Scan, scan
from loomwright.terms.problem import Problem

MOST_PROBLEMS = 100
"""Problems told of one file; whoever has more is helped by mending these first."""

WIDEST = 200
"""Characters of a line shown as an excerpt."""

_AT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_REPEATED = re.compile(r"Cannot overwrite|Cannot declare|Duplicate inline|Cannot mutate|Cannot redefine")
_UNSEEN = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_BOM = "\N{ZERO WIDTH NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a value stands: file, line and column from 1, and its span in characters of the file's text."""

    file: str
    line: int
    column: int
    start: int
    end: int


class Text:
    """The text of one file, read as TOML. Positions are looked up only when somebody asks."""

    def __init__(self, file: str, text: str, data: Mapping[str, Any]) -> None:
        self.file, self.text, self.data = file, text, data

    @cached_property
    def scan(self) -> Scan:
        """Every position in the text."""
        try:
            return scan(self.text)
        except RecursionError:
            return Scan({}, [], [])

    @cached_property
    def _lines(self) -> list[int]:
        return [0, *(match.end() for match in re.finditer("\n", self.text))]

    def spot(self, path: KeyPath, *, key: bool = False) -> Spot:
        """Where a value (or its key) stands; the nearest table around it when it is not written."""
        marks = self.scan.marks
        while path and path not in marks:
            path = path[:-1]
        if not path:
            return Spot(self.file, 1, 1, 0, 0)
        mark = marks[path]
        start, end = (mark.name_start, mark.name_end) if key else (mark.start, mark.end)
        line, column = self.line_column(start)
        return Spot(self.file, line, column, start, end)

    def line_column(self, at: int) -> tuple[int, int]:
        """Line and column, both from 1, of a position in the text."""
        line = bisect_right(self._lines, at)
        return line, at - self._lines[line - 1] + 1

    def problem(self, path: KeyPath, message: str, expected: str = "", near: str = "", *, key: bool = False) -> Problem:
        """A problem with a value (or with its key), shown where it stands."""
        spot = self.spot(path, key=key)
        line_end = self.text.find("\n", spot.start)
        width = min(spot.end, len(self.text) if line_end < 0 else line_end) - spot.start
        excerpt = excerpt_of(self.text[self._lines[spot.line - 1] : None if line_end < 0 else line_end], spot.column)
        return Problem(self.file, spot.line, spot.column, message, expected, near, excerpt, max(1, width))


class Notes:
    """Problems as they are found. Of one file no more than ``MOST_PROBLEMS`` are kept."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self._told: Counter[str] = Counter()

    def note(
        self,
        text: Text,
        path: KeyPath,
        message: str,
        expected: str = "",
        *,
        key: bool = False,
        like: tuple[str, Iterable[str]] = ("", ()),
    ) -> None:
        """Keep a problem; ``like`` is a word and the known words, of which the nearest is offered."""
        self._told[text.file] += 1
        if self._told[text.file] <= MOST_PROBLEMS:
            self.problems.append(text.problem(path, message, expected, nearest(*like), key=key))
        elif self._told[text.file] == MOST_PROBLEMS + 1:
            self.problems.append(Problem(text.file, 0, 0, "there are more problems than these", "these mended first"))


def read_text(file: str, raw: bytes, problems: list[Problem]) -> Text | None:
    """Decode and parse one file; ``None`` with the reason noted where that cannot be done."""
    text = _decoded(file, raw, problems)
    if text is None:
        return None
    try:
        return Text(file, text, tomllib.loads(text))
    except RecursionError:
        problems.append(Problem(file, 0, 0, "lists or tables are nested too deeply", "at most a few levels"))
    except ValueError as error:  # TOMLDecodeError is one; so is an integer of thousands of digits
        problems.append(_syntax_problem(file, text, str(error)))
    return None


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word most like this one, or nothing."""
    return next(iter(difflib.get_close_matches(word[:60], sorted(known), 1, 0.6)), "") if word else ""


def excerpt_of(line: str, column: int) -> str:
    """A line to show, one character for one, without control characters; empty when the column is far right."""
    return _UNSEEN.sub(" ", line.rstrip("\r\n")[:WIDEST]) if column <= WIDEST else ""


def without_mark(text: str) -> tuple[str, str]:
    """The byte order mark, if there is one, and the text behind it."""
    return (_BOM, text[1:]) if text.startswith(_BOM) else ("", text)


def _decoded(file: str, raw: bytes, problems: list[Problem]) -> str | None:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in raw[:2]:
        problems.append(Problem(file, 1, 1, "the file is UTF-16 text", "UTF-8: save it again with that encoding"))
        return None
    try:
        text = without_mark(raw.decode("utf-8"))[1]
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        start = before.rfind(b"\n") + 1
        line, column = before.count(b"\n") + 1, len(before[start:].decode("utf-8", "replace")) + 1
        shown = raw[start:].split(b"\n", 1)[0].decode("latin-1")
        message = f"byte 0x{raw[error.start]:02x} is not UTF-8; the file may be Latin-1 or Windows-1252 text"
        expected = "UTF-8: save it again with that encoding"
        problems.append(Problem(file, line, column, message, expected, "", excerpt_of(shown, column)))
        return None
    if "\0" in text:
        line, column = _line_column(text, text.index("\0"))
        problems.append(Problem(file, line, column, "there is a NUL byte here", "a text file in UTF-8"))
        return None
    return text


def _line_column(text: str, at: int) -> tuple[int, int]:
    return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)


def _syntax_problem(file: str, text: str, message: str) -> Problem:
    """The parser's complaint with its place; a name given twice is shown where it is given again."""
    found = _AT.search(message)
    line, column = _line_column(text, len(text))
    if found is not None and found[1] is not None:
        line, column = int(found[1]), int(found[2])
    told = _AT.sub("", message)
    if _REPEATED.match(message):
        again = _repetition("\n".join(text.split("\n")[:line]))
        if again is not None:
            name, start, first = again
            line, column = _line_column(text, start)
            where = _line_column(text, first)[0]
            return Problem(
                file, line, column, f"{name!r} is given twice; first on line {where}", "each name once", "",
                excerpt_of(_line(text, line), column), len(name),
            )  # fmt: skip
    expected = 'a line such as key = "value" or [table]'
    return Problem(file, line, column, f"not TOML: {told}", expected, "", excerpt_of(_line(text, line), column))


def _line(text: str, line: int) -> str:
    lines = text.split("\n")
    return lines[line - 1] if 0 < line <= len(lines) else ""


def _repetition(text: str) -> tuple[str, int, int] | None:
    """The last part of the first key or header path given twice, its position, and that of the first."""
    try:
        found = scan(text)
    except (ValueError, IndexError, RecursionError):
        return None
    seen: dict[KeyPath, int] = {}
    places = [(entry.path, entry.parts[-1]) for entry in found.statements]
    places += [(header.path, header.start) for header in found.headers]
    for path, start in sorted(places, key=lambda place: place[1]):
        if path in seen:
            return str(path[-1]), start, seen[path]
        seen[path] = start
    return None
