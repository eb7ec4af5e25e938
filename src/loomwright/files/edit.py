"""Smallest edits of one TOML text: keys set, added and dropped, tables added and taken out. All other bytes stay.

An edit is noted as a splice of the text as it was; ``result`` puts all splices in at once.
"""

import re
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from functools import cached_property
from typing import NamedTuple

from loomwright.files.scanner import KeyPath, Scan, Statement, scan
from loomwright.terms.errors import RefusedWriteError

Words = str | list[str] | None
"""What a key is set to: a value's text, those of an array's elements, or nothing, which takes the key out."""

_COMMA = re.compile(r"[ \t]*,[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")


_DOTS_IN_BRACES = "dotted keys inside of braces cannot be edited; write them on lines of their own"


class Block(NamedTuple):
    """A headed table: from the comments right above its header to the end of the line of its last value."""

    path: KeyPath
    start: int
    end: int


class Editor:
    """One text and the edits noted for it."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.newline = "\r\n" if "\r\n" in text else "\n"
        self.found: Scan = scan(text)
        self._splices: list[tuple[int, int, str]] = []
        self._statements: dict[KeyPath, dict[str, Statement]] = {}
        for statement in self.found.statements:
            self._statements.setdefault(statement.path[:-1], {})[str(statement.path[-1])] = statement

    def result(self) -> str:
        """The text with all edits; it ends with a line end if and only if it did before."""
        made, at = [], 0
        for start, end, put in sorted(self._splices, key=lambda splice: splice[:2]):
            made += [self.text[at:start], put]
            at = max(at, end)
        text = "".join([*made, self.text[at:]])
        if not self.text:
            return text
        if self.text[0] not in "\r\n":
            text = text.lstrip("\r\n")
        if self.text.endswith("\n"):
            return text if text.endswith("\n") or not text else text + self.newline
        return text.removesuffix(self.newline)

    def value(self, table: KeyPath, key: str) -> str:
        """The present text of a value, empty when the table has no such key."""
        mark = self.found.marks.get((*table, key))
        return self.text[mark.start : mark.end] if mark is not None and mark.form == "key" else ""

    def splice(self, start: int, end: int, put: str) -> None:
        """Note that a span is replaced."""
        self._splices.append((start, end, put))

    # Keys

    def set_keys(self, table: KeyPath, wanted: Mapping[str, Words], order: Sequence[str]) -> None:
        """Set keys of a table to texts (a list of them for an array), or drop them where there is ``None``.

        A new key goes on a line of its own below the one that stands before it in ``order``.
        """
        mark = self.found.marks.get(table)
        if mark is not None and mark.form == "key":
            self._set_inline(table, wanted, order)
            return
        present = self._statements.get(table, {})
        for key, text in wanted.items():
            statement = present.get(key)
            if text is not None and self.value(table, key):
                self._set_value((*table, key), text)
            elif statement is not None:
                self.splice(*self._lines(statement.parts[0], statement.end), "")
            elif self.value(table, key):
                raise RefusedWriteError(_DOTS_IN_BRACES)
        new = [key for key, text in wanted.items() if text is not None and not self.value(table, key)]
        for key in sorted(new, key=order.index):
            self._add_key(table, f"{key_text(key)} = {joined(wanted[key])}", self._anchor(present, key, order))

    def _set_value(self, path: KeyPath, text: str | Sequence[str]) -> None:
        """Replace a value; of an array only the elements that differ, so that comments between them stay."""
        mark = self.found.marks[path]
        spans: list[tuple[int, int]] = []
        while (element := self.found.marks.get((*path, len(spans)))) is not None:
            spans.append((element.start, element.end))
        if isinstance(text, str) or not spans or not text:
            self.splice(mark.start, mark.end, joined(text))
            return
        old = [self.text[start:end] for start, end in spans]
        for tag, first, last, new_first, new_last in SequenceMatcher(None, old, text, autojunk=False).get_opcodes():
            if tag == "equal":
                continue
            pairs = min(last - first, new_last - new_first)
            for number in range(pairs):
                self.splice(*spans[first + number], text[new_first + number])
            for number in range(first + pairs, last):
                self._drop_element(spans, number)
            self._add_elements(spans, first + pairs, text[new_first + pairs : new_last])

    def _drop_element(self, spans: Sequence[tuple[int, int]], number: int) -> None:
        start, end = spans[number]
        after = _COMMA.match(self.text, end)
        if after is not None and number + 1 < len(spans):
            self.splice(start, after.end(), "")
            return
        before = _COMMA.match(self.text, spans[number - 1][1]) if number else None
        self.splice(before.start() if before is not None and before.end() == start else start, end, "")

    def _add_elements(self, spans: Sequence[tuple[int, int]], number: int, texts: Sequence[str]) -> None:
        """Note new elements before one of an array, or behind its last."""
        if not texts:
            return
        if number < len(spans):
            self.splice(spans[number][0], spans[number][0], "".join(f"{text}, " for text in texts))
        else:
            self.splice(spans[-1][1], spans[-1][1], "".join(f", {text}" for text in texts))

    def _anchor(
        self, present: Mapping[str, Statement], key: str, order: Sequence[str]
    ) -> tuple[Statement, bool] | None:
        """The statement of the table next to which a new key goes, and whether below it."""
        before = [name for name in order[: order.index(key)] if name in present]
        if before:
            return present[before[-1]], True
        return (min(present.values(), key=lambda statement: statement.end), False) if present else None

    def _add_key(self, table: KeyPath, line: str, anchor: tuple[Statement, bool] | None) -> None:
        if anchor is not None:
            statement, below = anchor
            start = self._line_start(statement.parts[0])
            indent = self.text[start : statement.parts[0]]
            prefix = self.text[statement.parts[0] : statement.parts[-1]]
            self._add_line(self._line_end(statement.end) if below else start, f"{indent}{prefix}{line}")
            return
        header = next((header for header in self.found.headers if header.path == table), None)
        if header is not None:
            self._add_line(self._line_end(header.end), line)
            return
        if table:
            raise RefusedWriteError(_DOTS_IN_BRACES)
        blocks = self.blocks
        first = blocks[0].start if blocks else len(self.text)
        self._add_line(first, line + (self.newline if blocks else ""))

    def _add_line(self, at: int, line: str) -> None:
        """Note a new line at the start of a line, or at the end of the text."""
        broken = at == len(self.text) and self.text and not self.text.endswith("\n")
        self.splice(at, at, f"{self.newline if broken else ''}{line}{'' if broken else self.newline}")

    def _set_inline(self, table: KeyPath, wanted: Mapping[str, Words], order: Sequence[str]) -> None:
        """The same inside of ``{ ... }``: values alone are replaced in place, else the braces are written anew."""
        mark = self.found.marks[table]
        inner = {
            str(path[-1]): found
            for path, found in self.found.marks.items()
            if path[:-1] == table and len(path) == len(table) + 1
        }
        if all(key in inner and text is not None for key, text in wanted.items()):
            for key, text in wanted.items():
                if text is not None:
                    self._set_value((*table, key), text)
            return
        if any(found.form == "dotted" for found in inner.values()):
            raise RefusedWriteError(_DOTS_IN_BRACES)
        keys = list(inner)
        for key in (key for key in wanted if key not in inner):
            before = [keys.index(name) for name in order[: order.index(key)] if name in keys]
            keys.insert(max(before, default=-1) + 1, key)
        texts: dict[str, Words] = {key: self.text[found.start : found.end] for key, found in inner.items()}
        texts |= wanted
        parts = [f"{key_text(key)} = {joined(text)}" for key in keys if (text := texts[key]) is not None]
        self.splice(mark.start, mark.end, braces(parts))

    # Tables

    @cached_property
    def blocks(self) -> list[Block]:
        """Every headed table of the text with its comments."""
        made: list[Block] = []
        ends = {-1: 0}
        for statement in self.found.statements:
            ends[statement.header] = self._line_end(statement.end)
        for number, header in enumerate(self.found.headers):
            ends[number] = max(ends.get(number, 0), self._line_end(header.end))
            floor = max(ends[number - 1] if number else ends[-1], 0)
            made.append(Block(header.path, self._above(self._line_start(header.start), floor), ends[number]))
        limits = [*(block.start for block in made), len(self.text)][1:]
        return [block._replace(end=self._below(block.end, limit)) for block, limit in zip(made, limits, strict=True)]

    def add_blocks(self, texts: Sequence[str], *, below: int | None = None, above: int | None = None) -> None:
        """Note new blocks where a block ends or begins, else at the end of the text, with empty lines between."""
        if not texts:
            return
        made = (self.newline * 2).join(text.rstrip("\r\n") for text in texts) + self.newline
        if above is not None:
            self.splice(above, above, made + self.newline)
            return
        at = len(self.text) if below is None else below
        broken = at == len(self.text) and self.text and not self.text.endswith("\n")
        self.splice(at, at, f"{self.newline if broken else ''}{self.newline if self.text else ''}{made}")

    def drop_block(self, block: Block) -> None:
        """Note that a block goes, with the empty lines above it (below it at the start of the text)."""
        start = block.start
        while start and not self.text[self._line_start(start - 1) : start].strip():
            start = self._line_start(start - 1)
        self.splice(start, block.end, "")

    def drop_table(self, table: KeyPath) -> None:
        """Note that a table goes, however it is written."""
        blocks = [block for block in self.blocks if block.path[: len(table)] == table]
        for block in blocks:
            self.drop_block(block)
        if blocks:
            return
        mark = self.found.marks.get(table)
        if mark is not None and mark.form == "key":
            self.set_keys(table[:-1], {str(table[-1]): None}, (str(table[-1]),))
            return
        for statement in self.found.statements:
            if statement.path[: len(table)] == table:
                self.splice(*self._lines(statement.parts[0], statement.end), "")

    def rename_table(self, table: KeyPath, name: str) -> bool:
        """Note another name for a table, in its header and in those of the tables inside it; whether that could be done.

        It cannot where a part of it stands under a header of another table.
        """
        mark = self.found.marks.get(table)
        inside = [header for header in self.found.headers if header.path[: len(table)] == table]
        if mark is not None and mark.form == "key" and not inside:
            self.splice(mark.name_start, mark.name_end, key_text(name))
            return True
        within = {number for number, header in enumerate(self.found.headers) if header in inside}
        elsewhere = (each for each in self.found.statements if each.path[: len(table)] == table)
        if not inside or any(statement.header not in within for statement in elsewhere):
            return False
        named = tuple(step for step in table if isinstance(step, str))
        for header in inside:
            own = scan(self.text[header.start : header.end]).marks[named]
            self.splice(header.start + own.name_start, header.start + own.name_end, key_text(name))
        return True

    def add_table(self, table: KeyPath, lines: Sequence[str]) -> None:
        """Note a new named table behind the last one of its kind, else at the end of the text."""
        header = f"[{'.'.join(key_text(str(step)) for step in table)}]"
        ends = [block.end for block in self.blocks if block.path[: len(table) - 1] == table[:-1]]
        self.add_blocks([self.newline.join([header, *lines])], below=ends[-1] if ends else None)

    def lines_of(self, table: KeyPath) -> list[str] | None:
        """The lines below the header of a table, comments and all; ``None`` when it has no header of its own."""
        block = next((block for block in self.blocks if block.path == table), None)
        header = next((header for header in self.found.headers if header.path == table), None)
        if block is None or header is None:
            return None
        lines = self.text[self._line_end(header.end) : block.end].split("\n")
        return [line.removesuffix("\r") for line in (lines if lines[-1] else lines[:-1])]

    # Lines

    def _line_start(self, at: int) -> int:
        return self.text.rfind("\n", 0, at) + 1

    def _line_end(self, at: int) -> int:
        """Where the next line begins."""
        end = self.text.find("\n", at)
        return len(self.text) if end < 0 else end + 1

    def _lines(self, start: int, end: int) -> tuple[int, int]:
        return self._line_start(start), self._line_end(end)

    def _above(self, at: int, floor: int) -> int:
        """Go up over lines that hold a comment alone."""
        while at > floor:
            start = self._line_start(at - 1)
            if start < floor or not self.text[start:at].lstrip().startswith("#"):
                break
            at = start
        return at

    def _below(self, at: int, limit: int) -> int:
        """Go down over lines that hold a comment alone, as far as ``limit``."""
        while at < limit and self.text[at : self._line_end(at)].lstrip().startswith("#"):
            at = self._line_end(at)
        return min(at, limit) if at else at


def key_text(key: str) -> str:
    """A key as TOML writes it."""
    if _BARE.fullmatch(key):
        return key
    raise RefusedWriteError(f"{key!r} is no name")


def joined(text: Words | Sequence[str]) -> str:
    """The text of a value, or of an array of such."""
    return text if isinstance(text, str) else f"[{', '.join(text or ())}]"


def braces(parts: Sequence[str]) -> str:
    """An inline table of ``key = value`` parts."""
    return f"{{ {', '.join(parts)} }}" if parts else "{}"
