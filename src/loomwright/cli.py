"""The face in a terminal. It reads words, calls one command of ``app``, prints, and ends with the verdict as its code.

Exit codes: 0 everything holds, 3 something is tight, 4 something is unknown, 5 something is broken,
2 the text or the call could not be read (nothing was written), 1 the program itself failed.
"""

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from loomwright.app.definitions import Taken
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
            _refuse(f"there is no example {example!r}; shipped are {', '.join(start.examples())}")
        start.start_from_example(folder, example)
    else:
        answers = {
            "name": name or _prompt("What is the vehicle called?", "Conversion"),
            "length": length or _prompt("How long is it?", "4.60 m"),
            "width": width or _prompt("How wide is it?", "1.75 m"),
            "axles": axles or _prompt("Where do its axles stand, behind the foremost point?", "0.85 m, 3.40 m"),
        }
        axles_m = tuple(_metres(part) for part in answers["axles"].split(",") if part.strip())
        start.start(folder, answers["name"], _metres(answers["length"]), _metres(answers["width"]), axles_m)
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
        _print_json(of_checked(checked))
    elif checked.problems:
        _print_problems(checked.problems)
    else:
        console = _console()
        for line in checked.lines:
            console.print(tables.line_table(line.name, line.topology, line.ohms))
            if ohms:
                console.print(tables.unplugged_table(line.name, line.ohms))
        console.print(tables.findings_table(checked.findings, every=every))
        console.print(tables.verdict_line(checked.findings))
    _end(checked.verdict)


@app.command()
def arrange(
    folder: Folder,
    as_json: Json = False,
    write: Annotated[bool, typer.Option("--write", help="Write the plan into the line files.")] = False,
    seconds: Annotated[float, typer.Option(min=0.1, max=3600, help="Time to look for the best plan.")] = 10.0,
    keep_lines: Annotated[bool, typer.Option("--keep-lines", help="Every port stays on the line it is on.")] = False,
    quick: Annotated[bool, typer.Option("--quick", help="Leave out lock prices and the second-best plan.")] = False,
) -> None:
    """Propose which line each component belongs on and how the trunks run; show it as a difference."""
    from loomwright.app.arrange import apply, propose_lines
    from loomwright.app.plain import of_proposed
    from loomwright.show import tables
    from loomwright.show.arranged import arrangement_text
    from loomwright.show.change import difference

    project = _open(folder, as_json=as_json)
    vehicle = project.vehicle
    with _progress(quiet=as_json) as progress:
        proposed = propose_lines(project, seconds=seconds, keep_lines=keep_lines, compare=not quick, progress=progress)
    if write:
        apply(project, proposed)
    if as_json:
        _print_json(of_proposed(proposed, vehicle, written=write))
    else:
        console = _console()
        console.print(arrangement_text(proposed.arrangement))
        if not proposed.texts:
            console.print("The lines lie as planned already.\n")
        for name, old, new in proposed.texts:
            console.print(difference(name, old, new), markup=False, highlight=False, soft_wrap=True)
        console.print(tables.findings_table(proposed.after, every=False))
        console.print(tables.verdict_line(proposed.after))
        console.print("Written." if write else "Nothing written; add --write to keep it.")
    _end(proposed.verdict)


@app.command(name="open")
def open_workbench(
    folder: Annotated[Path | None, typer.Argument(help="The project folder to open at once.")] = None,
    example: Annotated[str, typer.Option("--example", help="Open a fresh copy of a shipped example.")] = "",
    base: Annotated[Path | None, typer.Option("--in", help="Folder below which projects may be opened.")] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port on this machine; 0 takes a free one.")] = 0,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only print the address.")] = False,
) -> None:
    """Work on a project in the browser of this machine. Ends with Ctrl C."""
    from loomwright.web.server import Server

    inside = base or (folder.resolve().parent if folder is not None else Path.cwd())
    server = Server(inside, port)
    if example:
        server.workbench.open_example(example, str(folder.resolve()) if folder is not None else "")
    elif folder is not None:
        server.workbench.open_folder(str(folder.resolve()))
    typer.echo(f"The workbench is open at {server.address}")
    typer.echo("Only this machine can reach it, and only with this address. Ctrl C ends it.")
    if not no_browser and _has_screen():
        import threading
        import webbrowser

        threading.Timer(0.5, webbrowser.open, (server.address,)).start()
    server.run()


@app.command()
def draw(
    folder: Folder,
    to: Annotated[Path | None, typer.Option("--to", help="Folder for the drawings; else FOLDER/drawings.")] = None,
    as_json: Json = False,
    signal: Annotated[bool, typer.Option("--signal", help="Rulers tell when bits are sure, and their level.")] = False,
) -> None:
    """Draw the vehicle plan and a ruler for every line, as SVG."""
    from loomwright.app.draw import draw as run_draw
    from loomwright.app.plain import headed

    written = run_draw(_open(folder, as_json=as_json), to or folder / "drawings", signal=signal)
    if as_json:
        _print_json(headed("draw", {"files": [str(path) for path in written]}))
    else:
        for path in written:
            typer.echo(str(path))


@app.command()
def signal(
    folder: Folder,
    line: Annotated[str, typer.Option("--line", help="One line alone.")] = "",
    draws: Annotated[int, typer.Option(min=0, max=100_000, help="Build it so many times, each within tolerances.")] = 0,
    seed: Annotated[int, typer.Option(min=0, help="Which draws: the same number gives the same ones.")] = 1,
    advice: Annotated[bool, typer.Option("--advice", help="Try terminations, branches and bit rates.")] = False,
    fault: Annotated[
        str, typer.Option(help="Ask of the line with a fault, such as 'stub 2 m at charger'; list: all.")
    ] = "",
    as_json: Json = False,
) -> None:
    """Compute whether the bits arrive: settling of every edge at every receiver, levels, delays, bit timing."""
    if fault:
        if advice:
            _refuse("--advice is for the line as drawn; ask for it without --fault")
        _signal_with_fault(_open(folder, as_json=as_json), line, fault, draws, seed, as_json=as_json)
    from loomwright.app.check import worst
    from loomwright.app.plain import of_signals
    from loomwright.app.signal import LEFT_OUT, drawn, signals
    from loomwright.app.signal_advice import advice as advise
    from loomwright.show import tables
    from loomwright.show.signal import advice_text, draws_text, signal_text, timing_text
    from loomwright.terms.answer import Blocked, Solved

    project = _open(folder, as_json=as_json)
    with _counting(quiet=as_json) as progress:
        found = signals(project, line, progress)
        able = [item.name for item in found if draws and not isinstance(item.signal, Blocked)]
        built = {name: drawn(project, name, draws, seed, progress) for name in able}
        advised = [advise(project, item.name, progress) for item in found] if advice else []
    findings = tuple(finding for physics in found for finding in physics.findings)
    if as_json:
        _print_json(of_signals(found, LEFT_OUT, built, advised))
    else:
        console = _console()
        for physics in found:
            console.print(signal_text(physics.name, physics.signal, physics.levels, LEFT_OUT))
            console.print(timing_text(physics.timing))
            if isinstance(many := built.get(physics.name), Solved):
                console.print(draws_text(many.value))
        for one in advised:
            console.print(advice_text(one.name, one.effects, one.longest))
        console.print(tables.findings_table(findings, every=False))
        console.print(tables.verdict_line(findings))
    _end(worst(findings))


@app.command()
def traffic(
    folder: Folder,
    line: Annotated[str, typer.Option("--line", help="One line alone.")] = "",
    margins: Annotated[
        bool, typer.Option("--margins", help="How slow could the line be, how much later each message?")
    ] = False,
    play: Annotated[
        float, typer.Option("--play", min=0.0, max=86_400.0, help="Play so many seconds of each line.")
    ] = 0.0,
    seed: Annotated[int, typer.Option(min=0, help="Which play: the same number gives the same one.")] = 1,
    as_json: Json = False,
) -> None:
    """Compute what each line carries, how full it is, and whether everything is heard and there in time."""
    from loomwright.app.check import worst
    from loomwright.app.plain_traffic import of_traffic
    from loomwright.app.traffic import LEFT_OUT, traffic_report
    from loomwright.show import tables, traffic_tables

    project = _open(folder, as_json=as_json)
    with _counting(quiet=as_json or not (margins or play)) as progress:
        report = traffic_report(project, line, margins=margins, seconds=play, seed=seed, progress=progress)
    if as_json:
        _print_json(of_traffic(report, LEFT_OUT))
    else:
        console = _console()
        for one in report.lines:
            console.print(traffic_tables.load_text(one.name, one.load))
            console.print(traffic_tables.responses_text(one.name, one.responses))
            if one.margins is not None:
                console.print(traffic_tables.margins_text(one.margins, one.bit_rate_bit_per_s))
            if one.play is not None:
                console.print(traffic_tables.play_text(one.play))
        console.print(LEFT_OUT + "\n", style="dim")
        console.print(tables.findings_table(report.findings, every=False))
        console.print(tables.verdict_line(report.findings))
    _end(worst(report.findings))


@app.command()
def chain(
    folder: Folder,
    name: Annotated[str, typer.Argument(help="One chain alone, by its name in vehicle.toml.")] = "",
    as_json: Json = False,
) -> None:
    """Follow each cause to its effect over lines, gateways and cycles: how long it takes, and where the time goes."""
    from loomwright.app.check import worst
    from loomwright.app.plain_traffic import of_chains
    from loomwright.app.traffic import chain_reports
    from loomwright.show import tables, traffic_tables

    project = _open(folder, as_json=as_json)
    found = chain_reports(project, name)
    if not found:
        _refuse(
            "there is no chain yet: add [chains.NAME] with steps, effect and within to vehicle.toml (docs/traffic.md)"
        )
    every = project.answers.marked_traffic(project.vehicle)
    subjects = {("chains", one.name) for one in found}
    findings = tuple(finding for finding in every if finding.reading.subject in subjects)
    if as_json:
        _print_json(of_chains(found, findings))
    else:
        console = _console()
        for one in found:
            console.print(traffic_tables.chain_text(one.title, one.within_s, one.times))
        console.print(tables.verdict_line(findings))
    _end(worst(findings))


def _signal_with_fault(project: "Project", line: str, text: str, draws: int, seed: int, *, as_json: bool) -> None:
    """A line with a fault beside the sound one. Ends with 0, or with 4 where facts are missing: it judges no vehicle."""
    from loomwright.app.faults import LIST, line_with
    from loomwright.app.plain import of_fault
    from loomwright.app.signal import drawn
    from loomwright.app.signal_fault import fault_look, fault_report
    from loomwright.show.signal import draws_text
    from loomwright.terms.answer import Blocked, Solved

    if text.strip() == LIST:
        _list_faults(project, line, as_json=as_json)
    with _counting(quiet=as_json) as progress:
        found = fault_look(project, line or line_with(project, text), text, progress)
        able = draws and not isinstance(found.faulty.signal, Blocked)
        built = drawn(project, found.line.name, draws, seed, progress, found.line) if able else None
    if as_json:
        _print_json(of_fault(found, built))
    else:
        _console().print(fault_report(found))
        if isinstance(built, Solved):
            _console().print(draws_text(built.value))
    raise typer.Exit(
        EXIT_CODES["unknown"] if isinstance(found.faulty.signal, Blocked) and found.faulty.signal.by else 0
    )


def _list_faults(project: "Project", line: str, *, as_json: bool) -> None:
    """All faults of one line or of every line."""
    from loomwright.app.faults import faults_of
    from loomwright.app.plain import headed

    found = faults_of(project, line)
    if as_json:
        _print_json(headed("faults", {"lines": [{"name": name, "faults": list(texts)} for name, texts in found]}))
    else:
        for name, texts in found:
            typer.echo(f"Line {name}:\n" + "\n".join(f"  {text}" for text in texts))
    raise typer.Exit


@app.command()
def unknowns(folder: Folder, as_json: Json = False) -> None:
    """List the facts still unknown, the one that frees most answers first."""
    from loomwright.app.ask import open_questions
    from loomwright.app.plain import of_questions
    from loomwright.show import tables

    questions = open_questions(_open(folder, as_json=as_json))
    if as_json:
        _print_json(of_questions(questions))
    else:
        _console().print(tables.unknowns_table(questions))
    raise typer.Exit(EXIT_CODES["unknown"] if questions else 0)


@app.command()
def take(
    folder: Folder,
    files: Annotated[list[Path], typer.Argument(help="Definition files: .dbc, .kcd, .arxml, .sym.")],
    sender: Annotated[
        list[str] | None, typer.Option(help="NODE=component.port, once for each node; or component.port for all.")
    ] = None,
    name: Annotated[str, typer.Option(help="Name of the set in messages/; else made from the file's name.")] = "",
    again: Annotated[
        bool, typer.Option("--again", help="Replace a set; hand-made values stay where it can be told.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only report; write nothing.")] = False,
    every: Annotated[bool, typer.Option("--all", help="Name every place, not the first ones.")] = False,
    as_json: Json = False,
) -> None:
    """Take the messages of definition files over; report everything that does not come through."""
    from loomwright.app import definitions
    from loomwright.app.project import UnreadableError

    project = _open(folder, as_json=as_json)
    try:
        ports = definitions.ports_by_node(sender or [])
        taken = definitions.take(project, [(path.name, _bytes(path)) for path in files], ports, name=name, again=again)
    except UnreadableError as error:
        _end_with_problems(error.problems, as_json=as_json)
    if not dry_run:
        definitions.keep(project, taken)
    if as_json:
        _print_json(definitions.of_taken(taken, written=not dry_run))
    else:
        _print_taken(taken, again=again, every=every)
        typer.echo(
            "Nothing written." if dry_run else f"Written: {', '.join(taken.texts) or 'nothing, all is as it was'}"
        )


@app.command()
def give(
    folder: Folder,
    what: Annotated[
        str, typer.Argument(help="A line or a set of messages: drive, or lines.drive, or messages.inverter.")
    ],
    to: Annotated[Path, typer.Option("--to", help="The file to write: .dbc, .kcd or .sym.")],
    every: Annotated[bool, typer.Option("--all", help="Name every place, not the first ones.")] = False,
    as_json: Json = False,
) -> None:
    """Give the messages of a line, or of a set, out as a definition file; report what it cannot say."""
    from loomwright.app import definition_giving
    from loomwright.show.definition_report import report_table

    given = definition_giving.give(_open(folder, as_json=as_json), what, to.suffix[1:].lower())
    definition_giving.write(to, given)
    if as_json:
        _print_json(definition_giving.of_given(given, str(to)))
    else:
        title = f"{given.what} as {to}: {given.messages} messages"
        _console().print(report_table(title, given.left_out, every=every))


def _print_taken(taken: "Taken", *, again: bool, every: bool) -> None:
    from loomwright.show.definition_report import report_table

    console = _console()
    for one in taken.files:
        console.print(report_table(one.summary, one.left_out, every=every))
        for what, paths in (("stays as made by hand", one.stays), ("gives way to the file", one.gives_way)):
            for path in paths:
                typer.echo(f"{what}: messages.{one.name}.{path}")
        if again and one.replaced and not one.compared:
            typer.echo(f"There is no old copy to compare with: all of messages/{one.name}.toml is replaced.")
    for text in (name for name, (old, _) in taken.texts.items() if again and old):
        console.print(taken.difference(text), markup=False, highlight=False, soft_wrap=True)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        _refuse(f"{path} cannot be read: {error.strerror}")


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
            _print_json(headed("rules", {"rules": list(rule_codes())}))
        else:
            typer.echo("\n".join(rule_codes()))
        return
    about = look_up(rule)
    if as_json:
        _print_json(headed("explain", {"rule": rule, **plain(about)}))
    else:
        _console().print(tables.about_text(rule, about))


def _open(folder: Path, *, as_json: bool) -> "Project":
    """Open a project or end with every problem shown."""
    from loomwright.app.project import open_project

    project = open_project(folder)
    if project.loaded.problems:
        _end_with_problems(project.loaded.problems, as_json=as_json)
    return project


def _end_with_problems(problems: "tuple[Problem, ...]", *, as_json: bool) -> NoReturn:
    """Show what keeps a text from being read, and end."""
    from loomwright.app.plain import headed, of_problem

    if as_json:
        _print_json(headed("problems", {"problems": [of_problem(problem) for problem in problems]}))
    else:
        _print_problems(problems)
    raise typer.Exit(UNREADABLE)


def _print_problems(problems: tuple[Any, ...]) -> None:
    from loomwright.show.problems import problem_text

    for problem in problems:
        typer.echo(problem_text(problem) + "\n", err=True)
    count = f"{len(problems)} problem{'s' if len(problems) != 1 else ''}"
    typer.echo(f"{count}; nothing was checked or written.", err=True)


def _print_json(body: dict[str, Any]) -> None:
    typer.echo(json.dumps(body, indent=2, ensure_ascii=False, allow_nan=False))


def _console() -> "Console":
    from rich.console import Console

    return Console(highlight=False)


def _end(verdict: "Verdict | None") -> None:
    raise typer.Exit(UNREADABLE if verdict is None else EXIT_CODES[verdict.value])


def _has_screen() -> bool:
    """Whether a browser with windows can be shown; a text browser in this very terminal would only be in the way."""
    import os

    return sys.platform in ("win32", "darwin") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _prompt(question: str, example: str) -> str:
    if not sys.stdin.isatty():
        _refuse(f"{question} Give it as an option (see loomwright new --help), for example {example!r}")
    return str(typer.prompt(question, default=example))


def _metres(text: str) -> float:
    from loomwright.app.words import read_length

    return read_length(text.strip())


def _refuse(message: str) -> NoReturn:
    typer.echo(f"loomwright: {message}", err=True)
    raise typer.Exit(UNREADABLE)


@contextmanager
def _progress(*, quiet: bool) -> Iterator[Callable[[str, float, float], None] | None]:
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
def _counting(*, quiet: bool) -> Iterator[Callable[[str, int, int], bool] | None]:
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


if __name__ == "__main__":
    main()
