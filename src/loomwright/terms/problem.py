"""A problem is text that cannot be read; a finding is a design that is judged. They stay apart."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing wrong in a file: where, what was found, what was expected, the nearest known name.

    ``line`` and ``column`` count from 1; 0 means the file as a whole. ``excerpt`` is the line's text, ``width`` the
    number of characters to underline from ``column``.
    """

    file: str
    line: int
    column: int
    message: str
    expected: str = ""
    nearest: str = ""
    excerpt: str = ""
    width: int = 1
