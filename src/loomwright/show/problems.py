"""A problem of the text as a block for a terminal: where, what, the line itself with a caret, what was expected."""

from loomwright.terms.problem import Problem

WIDEST = 160
"""Characters of a line that are shown; a longer one is cut around the trouble."""


def problem_text(problem: Problem) -> str:
    """``file:line:column: message``, the line with the trouble underlined, what was expected, the nearest known name."""
    rows = [f"{_where(problem)}: {problem.message}"]
    if problem.excerpt and problem.line:
        rows += _pointed(problem)
    if problem.expected:
        rows.append(f"    expected: {problem.expected}")
    if problem.nearest:
        rows.append(f"    did you mean {problem.nearest}?")
    return "\n".join(_printable(row) for row in rows)


def _where(problem: Problem) -> str:
    if not problem.line:
        return problem.file
    return f"{problem.file}:{problem.line}:{problem.column}" if problem.column else f"{problem.file}:{problem.line}"


def _pointed(problem: Problem) -> list[str]:
    start = max(problem.column - 1, 0)
    cut = max(0, start - WIDEST // 2) if len(problem.excerpt) > WIDEST else 0
    shown = problem.excerpt[cut : cut + WIDEST].replace("\t", " ")
    lead = "    "
    if not problem.column:
        return [lead + shown]
    start = min(start - cut, len(shown))
    width = max(1, min(problem.width, len(shown) - start))
    return [lead + shown, lead + " " * start + "^" + "~" * (width - 1)]


def _printable(row: str) -> str:
    """Control characters from a broken file must not reach the terminal."""
    return "".join(letter if letter.isprintable() or letter == " " else "\ufffd" for letter in row)
