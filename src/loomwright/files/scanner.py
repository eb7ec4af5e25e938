"""Where every key and value of a TOML text stands.

``tomllib`` reads the values; this scanner, which trusts that the text is valid, lists positions. A property test holds
the two together: both see the same keys. Offsets count characters of the decoded text.
"""

import re
from dataclasses import dataclass, field
from functools import lru_cache

KeyPath = tuple[str | int, ...]

_SPACE = re.compile(r"[ \t]*")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^\s,\]}#][^,\]}#\r\n]*")
_BASIC = re.compile(r'"(?:[^"\\]|\\.)*"')
_LITERAL = re.compile(r"'[^']*'")
_LONG_BASIC = re.compile(r'"""(?:[^\\]|\\.)*?"""(?!")"{0,2}', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''.*?'''(?!')'{0,2}", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Mark:
    """A key and its value: both spans as (start, end)."""

    key: tuple[int, int]
    value: tuple[int, int]
    table: bool = False


@dataclass(slots=True)
class Scan:
    """Every key path with its mark; ``headers`` are the ``[table]`` and ``[[table]]`` lines in order."""

    marks: dict[KeyPath, Mark] = field(default_factory=dict)
    headers: list[tuple[KeyPath, int, int]] = field(default_factory=list)


@lru_cache(maxsize=512)
def scan(text: str) -> Scan:
    """List the positions in a text that ``tomllib`` accepts. Remembered by text: after an edit one file is new."""
    return _Scanner(text).run()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.out = Scan()
        self.counts: dict[KeyPath, int] = {}

    def run(self) -> Scan:
        here: KeyPath = ()
        while True:
            self._skip(_BLANK)
            if self.at >= len(self.text):
                return self.out
            if self.text[self.at] == "[":
                here = self._header()
            else:
                self._pair(here)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        found = pattern.match(self.text, self.at)
        assert found is not None
        self.at = found.end()

    def _header(self) -> KeyPath:
        start = self.at
        double = self.text.startswith("[[", self.at)
        self.at += 2 if double else 1
        names = self._names()
        path: KeyPath = ()
        for number, (name, _, _) in enumerate(names):
            path = (*path, name)
            last = number == len(names) - 1
            if path in self.counts and not (last and double):
                path = (*path, self.counts[path] - 1)
            elif last and double:
                self.counts[path] = self.counts.get(path, 0) + 1
                path = (*path, self.counts[path] - 1)
        self._skip(_SPACE)
        self.at += 2 if double else 1
        mark = Mark((names[-1][1], names[-1][2]), (start, self.at), table=True)
        self._mark_parents(path, mark)
        self.out.marks.setdefault(path, mark)
        self.out.headers.append((path, start, self.at))
        return path

    def _mark_parents(self, path: KeyPath, mark: Mark) -> None:
        for length in range(1, len(path)):
            self.out.marks.setdefault(path[:length], mark)

    def _names(self) -> list[tuple[str, int, int]]:
        names = []
        while True:
            self._skip(_SPACE)
            start = self.at
            if self.text[start] == '"':
                self._skip(_BASIC)
                name = _unescaped(self.text[start : self.at])
            elif self.text[start] == "'":
                self._skip(_LITERAL)
                name = self.text[start + 1 : self.at - 1]
            else:
                self._skip(_BARE)
                name = self.text[start : self.at]
            names.append((name, start, self.at))
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return names
            self.at += 1

    def _pair(self, here: KeyPath) -> None:
        names = self._names()
        self._skip(_SPACE)
        self.at += 1  # the equals sign
        self._skip(_SPACE)
        path = (*here, *(name for name, _, _ in names))
        start = self.at
        self._value(path)
        mark = Mark((names[0][1], names[-1][2]), (start, self.at))
        for length in range(len(here) + 1, len(path)):
            self.out.marks.setdefault(path[:length], mark)
        self.out.marks[path] = mark

    def _value(self, path: KeyPath) -> None:
        text, first = self.text, self.text[self.at]
        if first == "[":
            self._array(path)
        elif first == "{":
            self._inline(path)
        elif text.startswith('"""', self.at):
            self._skip(_LONG_BASIC)
        elif text.startswith("'''", self.at):
            self._skip(_LONG_LITERAL)
        elif first == '"':
            self._skip(_BASIC)
        elif first == "'":
            self._skip(_LITERAL)
        else:
            found = _SCALAR.match(text, self.at)
            assert found is not None
            self.at += len(found.group().rstrip())

    def _array(self, path: KeyPath) -> None:
        self.at += 1
        number = 0
        while True:
            self._skip(_BLANK)
            if self.text[self.at] == "]":
                self.at += 1
                return
            if self.text[self.at] == ",":
                self.at += 1
                continue
            start = self.at
            self._value((*path, number))
            self.out.marks[(*path, number)] = Mark((start, self.at), (start, self.at))
            number += 1

    def _inline(self, path: KeyPath) -> None:
        self.at += 1
        while True:
            self._skip(_BLANK)
            if self.text[self.at] == "}":
                self.at += 1
                return
            if self.text[self.at] == ",":
                self.at += 1
                continue
            self._pair(path)


def _unescaped(quoted: str) -> str:
    import tomllib

    return str(next(iter(tomllib.loads(f"{quoted} = 0"))))
