"""Where every key, value and table header of a TOML text stands.

``tomllib`` gives the values, this scanner the positions; a property test holds the two to the same keys. It trusts that
``tomllib`` has accepted the text. Offsets count characters of the text as it was handed over, CRLF included.
"""

import re
import tomllib
from typing import NamedTuple

KeyPath = tuple[str | int, ...]

_SPACE = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_KEY = re.compile(r"[ \t]*(?:([A-Za-z0-9_-]+)|(\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'))[ \t]*")
_VALUE = re.compile(
    r'"""(?:[^"\\]|\\[\s\S]|""?(?!"))*"{3,5}'
    r"|'''(?:[^']|''?(?!'))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'"
    r"|[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9:.]+(?:[Zz]|[+-][0-9:]+)?"
    r"|[^\s,\[\]{}#\"']+"
)
_PLAIN_LINE = re.compile(
    r"[ \t]*([A-Za-z0-9_-]+)[ \t]*=[ \t]*"
    r"(\"(?!\"\")(?:[^\"\\\n]|\\.)*\"|'(?!'')[^'\n]*'|[A-Za-z0-9+.:-]+)[ \t]*(?:#[^\n]*)?(?:\r?\n|\Z)"
)
"""A bare key with a value on one line: nearly every line there is, so it is read in one match."""


class Mark(NamedTuple):
    """Spans of a key's own name and of its value, and how it is written.

    ``form`` is ``key`` (also an array's element, whose name is itself), ``dotted`` (a table named on the way in
    ``a.b = 1``), ``header`` (``[a]``, ``[[a]]``) or ``implied`` (a table named on the way in ``[a.b]``).
    """

    name_start: int
    name_end: int
    start: int
    end: int
    form: str


class Statement(NamedTuple):
    """One ``key = value`` outside of inline tables: its path, the start of every part of its key, its end."""

    path: KeyPath
    parts: tuple[int, ...]
    value: int
    end: int
    header: int


class Header(NamedTuple):
    """One ``[table]`` or ``[[table]]`` line, brackets included."""

    path: KeyPath
    start: int
    end: int


class Scan(NamedTuple):
    """All positions of a text, in its order. ``Statement.header`` counts into ``headers``; -1 is before the first."""

    marks: dict[KeyPath, Mark]
    statements: list[Statement]
    headers: list[Header]


def scan(text: str) -> Scan:
    """List the positions in a text that ``tomllib`` accepts."""
    return _Scanner(text).run()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.marks: dict[KeyPath, Mark] = {}
        self.statements: list[Statement] = []
        self.headers: list[Header] = []
        self.counts: dict[KeyPath, int] = {}

    def run(self) -> Scan:
        text, marks, statements = self.text, self.marks, self.statements
        here: KeyPath = ()
        at, end, number = _after(_GAP, text, 0), len(text), -1
        while at < end:
            plain = _PLAIN_LINE.match(text, at)
            if plain is not None:
                name, value = plain.span(1), plain.span(2)
                path = (*here, plain[1])
                marks[path] = Mark(*name, *value, "key")
                statements.append(Statement(path, (name[0],), *value, number))
                at = plain.end()
            elif text[at] == "[":
                here, at = self.header(at)
                number += 1
            else:
                at = self.statement(at, here, number)
            at = _after(_GAP, text, at)
        return Scan(marks, statements, self.headers)

    def names(self, at: int) -> tuple[list[tuple[str, int, int]], int]:
        """The parts of a key with their spans, and where it ends."""
        found = []
        while True:
            match = _KEY.match(self.text, at)
            if match is None:
                raise ValueError("no key where one belongs; the text was not checked by tomllib")
            group = 1 if match[1] is not None else 2
            name = match[1] if group == 1 else str(next(iter(tomllib.loads(f"{match[2]} = 0"))))
            found.append((name, *match.span(group)))
            at = match.end()
            if self.text[at : at + 1] != ".":
                return found, at
            at += 1

    def header(self, start: int) -> tuple[KeyPath, int]:
        brackets = 2 if self.text.startswith("[[", start) else 1
        names, at = self.names(start + brackets)
        end = at + brackets
        path: KeyPath = ()
        for number, (name, name_start, name_end) in enumerate(names):
            last = number == len(names) - 1
            path = (*path, name)
            mark = Mark(name_start, name_end, start, end, "header" if last else "implied")
            if brackets == 2 and last:
                self.marks.setdefault(path, mark._replace(form="implied"))
                self.counts[path] = self.counts.get(path, 0) + 1
                path = (*path, self.counts[path] - 1)
                self.marks[path] = mark
            elif last:
                self.marks[path] = mark
            else:
                self.marks.setdefault(path, mark)
                if path in self.counts:
                    path = (*path, self.counts[path] - 1)
        self.headers.append(Header(path, start, end))
        return path, end

    def statement(self, at: int, here: KeyPath, number: int) -> int:
        path, parts, start, end = self.pair(at, here)
        self.statements.append(Statement(path, parts, start, end, number))
        return end

    def pair(self, at: int, here: KeyPath) -> tuple[KeyPath, tuple[int, ...], int, int]:
        """Read ``key = value``: its path, the starts of the key's parts, the value's start and end."""
        names, at = self.names(at)
        start = _after(_SPACE, self.text, at + 1)
        path = here
        for name, name_start, name_end in names[:-1]:
            path = (*path, name)
            self.marks.setdefault(path, Mark(name_start, name_end, name_start, name_end, "dotted"))
        name, name_start, name_end = names[-1]
        path = (*path, name)
        end = self.value(start, path)
        self.marks[path] = Mark(name_start, name_end, start, end, "key")
        return path, tuple(part[1] for part in names), start, end

    def value(self, at: int, path: KeyPath) -> int:
        """Where the value that begins here ends; what is inside it is marked."""
        first = self.text[at]
        if first not in "[{":
            match = _VALUE.match(self.text, at)
            if match is None:
                raise ValueError("no value where one belongs; the text was not checked by tomllib")
            return match.end()
        closing, number = ("]" if first == "[" else "}"), 0
        at = _after(_GAP, self.text, at + 1)
        while self.text[at] != closing:
            if first == "{":
                at = self.pair(at, path)[3]
            else:
                end = self.value(at, (*path, number))
                self.marks[*path, number] = Mark(at, end, at, end, "key")
                at, number = end, number + 1
            at = _after(_GAP, self.text, at)
            if self.text[at] == ",":
                at = _after(_GAP, self.text, at + 1)
        return at + 1


def _after(pattern: re.Pattern[str], text: str, at: int) -> int:
    match = pattern.match(text, at)
    return at if match is None else match.end()
