"""Commands about a project as a whole: start it, check it, what is open, what a rule means."""

from pathlib import Path
from typing import Annotated

import typer

from loomwright.cli.words import (
    EXIT_CODES,
    Folder,
    Json,
    app,
    asked,
    console_of,
    end,
    metres,
    opened,
    print_json,
    print_problems,
    refuse,
)


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="Where the project shall be; a new or empty folder.")],
    example: Annotated[str, typer.Option("--from", help="Copy a shipped example instead of starting empty.")] = "",
    name: Annotated[str, typer.Option(help="Name of the vehicle.")] = "",
    length: Annotated[str, typer.Option(help="Length of its outline, such as '4.60 m'.")] = "",
    width: Annotated[str, typer.Option(help="Width of its outline, such as '1.75 m'.")] = "",
    axles: Annotated[str, typer.Option(help="Axle positions behind the front, such as '0.85 m, 3.40 m'.")] = "",
) -> None:
    """Start a vehicle with four questions, or from a shipped example."""
    from loomwright.app import start

    if example:
        if example not in start.examples():
            refuse(f"there is no example {example!r}; shipped are {', '.join(start.examples())}")
        start.start_from_example(folder, example)
    else:
        answers = {
            "name": name or asked("What is the vehicle called?", "Conversion"),
            "length": length or asked("How long is it?", "4.60 m"),
            "width": width or asked("How wide is it?", "1.75 m"),
            "axles": axles or asked("Where do its axles stand, behind the foremost point?", "0.85 m, 3.40 m"),
        }
        axles_m = tuple(metres(part) for part in answers["axles"].split(",") if part.strip())
        start.start(folder, answers["name"], metres(answers["length"]), metres(answers["width"]), axles_m)
    typer.echo(f"Written to {folder}. Next: loomwright check {folder}, and loomwright unknowns {folder}")


@app.command()
def check(
    folder: Folder,
    as_json: Json = False,
    every: Annotated[bool, typer.Option("--all", help="Show what holds too, each with its margin.")] = False,
    ohms: Annotated[bool, typer.Option("--ohms", help="Show what an ohm-meter must read, unplugged too.")] = False,
) -> None:
    """Check a project against published limits."""
    from loomwright.app.check import check as run_check
    from loomwright.app.plain import of_checked
    from loomwright.show import tables

    checked = run_check(folder)
    if as_json:
        print_json(of_checked(checked))
    elif checked.problems:
        print_problems(checked.problems)
    else:
        console = console_of()
        for line in checked.lines:
            console.print(tables.line_table(line.name, line.topology, line.ohms))
            if ohms:
                console.print(tables.unplugged_table(line.name, line.ohms))
        console.print(tables.findings_table(checked.findings, every=every))
        console.print(tables.verdict_line(checked.findings))
    end(checked.verdict)


@app.command()
def unknowns(folder: Folder, as_json: Json = False) -> None:
    """List the facts still unknown, the one that frees most answers first."""
    from loomwright.app.ask import open_questions
    from loomwright.app.plain import of_questions
    from loomwright.show import tables

    questions = open_questions(opened(folder, as_json=as_json))
    if as_json:
        print_json(of_questions(questions))
    else:
        console_of().print(tables.unknowns_table(questions))
    raise typer.Exit(EXIT_CODES["unknown"] if questions else 0)


@app.command()
def explain(
    rule: Annotated[str, typer.Argument(help="The rule's code, as findings print it; without it, all codes.")] = "",
    as_json: Json = False,
) -> None:
    """Say what a rule measures, why it matters, what cures it, and where its limit comes from."""
    from loomwright.app.ask import explain as look_up
    from loomwright.app.ask import rule_codes
    from loomwright.app.plain import headed, plain
    from loomwright.show import tables

    if not rule:
        if as_json:
            print_json(headed("rules", {"rules": list(rule_codes())}))
        else:
            typer.echo("\n".join(rule_codes()))
        return
    about = look_up(rule)
    if as_json:
        print_json(headed("explain", {"rule": rule, **plain(about)}))
    else:
        console_of().print(tables.about_text(rule, about))
