"""Two changes of one text in one: how a step is taken back from a file that somebody edited since."""

from difflib import SequenceMatcher

Hunk = tuple[int, int, tuple[bytes, ...]]


def merged(base: bytes, mine: bytes, theirs: bytes) -> bytes | None:
    """``base`` with both changes; ``None`` where they touch the same lines. Method: comparison by lines."""
    lines = base.splitlines(keepends=True)
    first, second = _hunks(lines, mine), _hunks(lines, theirs)
    if any(_clash(a, b) for a in first for b in second if a != b):
        return None
    for start, end, put in sorted({*first, *second}, reverse=True):
        lines[start:end] = put
    return b"".join(lines)


def _hunks(lines: list[bytes], other: bytes) -> list[Hunk]:
    new = other.splitlines(keepends=True)
    codes = SequenceMatcher(None, lines, new, autojunk=False).get_opcodes()
    return [(a, b, tuple(new[c:d])) for tag, a, b, c, d in codes if tag != "equal"]


def _clash(one: Hunk, other: Hunk) -> bool:
    """Whether two replacements share a line, or one puts lines exactly where the other begins or ends."""
    (a, b, _), (c, d, _) = one, other
    if a == b or c == d:
        return a <= d and c <= b
    return a < d and c < b
