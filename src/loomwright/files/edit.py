"""Smallest edits of a TOML text: set or drop one key, add or take out one table. Comments and all other bytes stay."""

import re

from loomwright.files.scanner import KeyPath, Mark, Scan, scan

_COMMENTS_ABOVE = re.compile(r"(?:^[ \t]*#[^\n]*\n)+\Z", re.MULTILINE)


def newline_of(text: str) -> str:
    """The line end this text uses."""
    return "\r\n" if "\r\n" in text else "\n"


def set_key(text: str, table: KeyPath, key: str, value: str, above: str = "") -> str:
    """Set one key of a table that is there; a new key goes under ``above``, else under the table's last own key."""
    found = scan(text)
    mark = found.marks.get((*table, key))
    if mark is not None and not mark.table:
        start, end = mark.value
        return text[:start] + value + text[end:]
    return _insert(text, found, table, key, value, above)


def drop_key(text: str, table: KeyPath, key: str) -> str:
    """Take one key out, with its line when it stands alone on it. A key that is not there is fine."""
    found = scan(text)
    mark = found.marks.get((*table, key))
    if mark is None or mark.table:
        return text
    start, end = mark.key[0], mark.value[1]
    line_start = text.rfind("\n", 0, start) + 1
    line_end = text.find("\n", end)
    line_end = len(text) if line_end < 0 else line_end + 1
    rest = text[end:line_end].strip()
    if not text[line_start:start].strip() and (not rest or rest.startswith("#")):
        return text[:line_start] + text[line_end:]
    # Inside an inline table: the comma before or after goes with it.
    after = re.compile(r"\s*,\s*").match(text, end)
    if after:
        return text[:start] + text[after.end() :]
    before = re.search(r"\s*,\s*\Z", text[:start])
    return text[: before.start() if before else start] + text[end:]


def _insert(text: str, found: Scan, table: KeyPath, key: str, value: str, above: str) -> str:
    ends, line = newline_of(text), f"{key} = {value}"
    own = found.marks.get(table)
    if own is not None and not own.table and text[own.value[0]] == "{":
        body = text[own.value[0] + 1 : own.value[1] - 1].strip()
        at = own.value[1] - 1
        head = text[:at].rstrip()
        return f"{head}{',' if body else ''} {line} {text[at:]}"
    children = [
        mark
        for path, mark in found.marks.items()
        if path[:-1] == table and not mark.table and len(path) == len(table) + 1
    ]
    if children:
        last = found.marks.get((*table, above)) or max(children, key=lambda mark: mark.value[1])
        prefix = _dotted_prefix(text, last)
        at = text.find("\n", last.value[1])
        indent = text[text.rfind("\n", 0, last.key[0]) + 1 : last.key[0]]
        if at < 0:
            return f"{text}{ends}{indent}{prefix}{line}{ends}"
        return f"{text[: at + 1]}{indent}{prefix}{line}{ends}{text[at + 1 :]}"
    if not table:
        return f"{line}{ends}{text}"
    at = text.find("\n", own.value[1]) if own is not None else -1
    if at < 0:
        return f"{text.rstrip()}{ends}{line}{ends}"
    return f"{text[: at + 1]}{line}{ends}{text[at + 1 :]}"


def _dotted_prefix(text: str, mark: Mark) -> str:
    """``places.dash.`` of a key written ``places.dash.x``, so that a new key lands in the same table."""
    written = text[mark.key[0] : mark.key[1]]
    head, dot, _ = written.rpartition(".")
    return head + dot if '"' not in written and "'" not in written else ""


def block_spans(text: str) -> list[tuple[KeyPath, int, int]]:
    """Every headed table with its comments above it: (path, start, end), in order, without gaps to the end."""
    starts = []
    for path, start, _ in scan(text).headers:
        line_start = text.rfind("\n", 0, start) + 1
        above = _COMMENTS_ABOVE.search(text[:line_start].replace("\r\n", "\r\n"))
        starts.append((path, above.start() if above else line_start))
    ends = [*(start for _, start in starts[1:]), len(text)][: len(starts)]
    return [(path, start, end) for (path, start), end in zip(starts, ends, strict=True)]


def own_end(text: str, start: int, end: int) -> int:
    """Where the block from ``start`` to ``end`` really ends: comments set apart by a blank line speak of what follows."""
    lines = text[start:end].splitlines(keepends=True)
    last = max((n for n, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")), default=-1)
    while last + 1 < len(lines) and lines[last + 1].lstrip().startswith("#"):
        last += 1
    return start + sum(len(line) for line in lines[: last + 1])


def add_table(text: str, header: str, lines: list[str]) -> str:
    """Add a table behind the last one of its kind (``[places.x]`` behind other places), else at the end."""
    ends = newline_of(text)
    block = ends.join([header, *lines]) + ends
    kind = header.strip("[]").split(".")[0]
    same = [own_end(text, start, end) for path, start, end in block_spans(text) if path[0] == kind]
    at = max(same, default=len(text))
    head = text[:at].rstrip()
    rest = text[at:].lstrip("\r\n")
    gap = ends + ends if head else ""
    return f"{head}{gap}{block}{ends + rest if rest else ''}"


def drop_table(text: str, table: KeyPath) -> str:
    """Take a table out, with the tables inside it and the comments right above it."""
    spans = [(start, end) for path, start, end in block_spans(text) if path[: len(table)] == table]
    for start, end in reversed(spans):
        text = text[:start] + text[own_end(text, start, end) :].lstrip("\r\n")
    if not spans:
        mark = scan(text).marks.get(table)
        if mark is not None:
            return drop_key(text, table[:-1], str(table[-1]))
    return text.rstrip() + newline_of(text) if spans and text.strip() else text
