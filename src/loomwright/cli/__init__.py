"""The face in a terminal. It reads words, calls one command of ``app``, prints, and ends with the verdict as its code.

Exit codes: 0 everything holds, 3 something is tight, 4 something is unknown, 5 something is broken,
2 the text or the call could not be read (nothing was written), 1 the program itself failed.
"""

import sys  # noqa: I001  (commands are listed by --help in the order of the imports below)

import typer

from loomwright.cli import project, lines, messages, workbench
from loomwright.cli.words import EXIT_CODES, UNREADABLE, app

__all__ = ["EXIT_CODES", "app", "lines", "main", "messages", "project", "workbench"]


def main() -> None:
    """Run the program; errors that a person can mend end with exit code 2 and one sentence."""
    from loomwright.terms.errors import LoomwrightError

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a terminal without UTF-8 must not end the check
            stream.reconfigure(errors="replace")
    try:
        app()
    except LoomwrightError as error:
        typer.echo(f"loomwright: {error}", err=True)
        sys.exit(UNREADABLE)
