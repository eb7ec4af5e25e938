"""What every command of the terminal needs: the program itself, its arguments, opening, printing, ending."""

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from loomwright.app.project import Project
    from loomwright.terms.finding import Verdict
    from loomwright.terms.problem import Problem

UNREADABLE = 2
EXIT_CODES = {"holds": 0, "tight": 3, "unknown": 4, "broken": 5}

app = typer.Typer(
    name="loomwright",
    help="Plan, check and draw the low-voltage control system of a vehicle conversion, from plain text files.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

Folder = Annotated[Path, typer.Argument(help="The project folder, the one with vehicle.toml in it.")]
Json = Annotated[bool, typer.Option("--json", help="Print plain data (docs/json.md) instead of tables.")]


def opened(folder: Path, *, as_json: bool) -> "Project":
    """Open a project or end with every problem shown."""
    from loomwright.app.project import open_project

    project = open_project(folder)
    if project.loaded.problems:
        end_with_problems(project.loaded.problems, as_json=as_json)
    return project


def end_with_problems(problems: "tuple[Problem, ...]", *, as_json: bool) -> NoReturn:
    """Show what keeps a text from being read, and end."""
    from loomwright.app.plain import headed, of_problem

    if as_json:
        print_json(headed("problems", {"problems": [of_problem(problem) for problem in problems]}))
    else:
        print_problems(problems)
    raise typer.Exit(UNREADABLE)


def print_problems(problems: tuple[Any, ...]) -> None:
    """Print every problem with its place."""
    from loomwright.show.problems import problem_text

    for problem in problems:
        typer.echo(problem_text(problem) + "\n", err=True)
    count = f"{len(problems)} problem{'s' if len(problems) != 1 else ''}"
    typer.echo(f"{count}; nothing was checked or written.", err=True)


def print_json(body: dict[str, Any]) -> None:
    """Print plain data."""
    typer.echo(json.dumps(body, indent=2, ensure_ascii=False, allow_nan=False))


def console_of() -> "Console":
    """The terminal, as wide as it is."""
    from rich.console import Console

    return Console(highlight=False)


def end(verdict: "Verdict | None") -> None:
    """End with the verdict as the exit code."""
    raise typer.Exit(UNREADABLE if verdict is None else EXIT_CODES[verdict.value])


def has_screen() -> bool:
    """Whether a browser with windows can be shown; a text browser in this very terminal would only be in the way."""
    import os

    return sys.platform in ("win32", "darwin") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def asked(question: str, example: str) -> str:
    """Ask a person at a terminal; refuse where nobody is there to answer."""
    if not sys.stdin.isatty():
        refuse(f"{question} Give it as an option (see loomwright new --help), for example {example!r}")
    return str(typer.prompt(question, default=example))


def metres(text: str) -> float:
    """A length in metres from words such as "4.60 m"; refuse others."""
    from loomwright.app.words import read_length

    return read_length(text.strip())


def refuse(message: str) -> NoReturn:
    """End because the call cannot be done; nothing was written."""
    typer.echo(f"loomwright: {message}", err=True)
    raise typer.Exit(UNREADABLE)


@contextmanager
def progressing(*, quiet: bool) -> Iterator[Callable[[str, float, float], None] | None]:
    """Show the planner's stage, best plan and bound on the error stream while it works."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console

    with Console(stderr=True).status("planning") as status:

        def report(stage: str, best: float, bound: float) -> None:
            status.update(f"{stage}: best {best:.2f}, not below {bound:.2f}")

        yield report


@contextmanager
def counting(*, quiet: bool) -> Iterator[Callable[[str, int, int], bool] | None]:
    """Show how far the waves of a line are on the error stream."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console

    with Console(stderr=True).status("waves") as status:

        def report(name: str, done: int, whole: int) -> bool:
            status.update(f"waves of line {name}: {done} of {whole}")
            return True

        yield report


def read_bytes(path: Path) -> bytes:
    """The bytes of a file, or a refusal that says why not."""
    try:
        return path.read_bytes()
    except OSError as error:
        refuse(f"{path} cannot be read: {error.strerror}")
