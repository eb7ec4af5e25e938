"""Commands about lines: arrange them, draw them, whether bits arrive."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from loomwright.cli.words import (
    EXIT_CODES,
    Folder,
    Json,
    app,
    console_of,
    counting,
    end,
    opened,
    print_json,
    progressing,
    refuse,
)

if TYPE_CHECKING:
    from loomwright.app.project import Project


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

    project = opened(folder, as_json=as_json)
    vehicle = project.vehicle
    with progressing(quiet=as_json) as progress:
        proposed = propose_lines(project, seconds=seconds, keep_lines=keep_lines, compare=not quick, progress=progress)
    if write:
        apply(project, proposed)
    if as_json:
        print_json(of_proposed(proposed, vehicle, written=write))
    else:
        console = console_of()
        console.print(arrangement_text(proposed.arrangement))
        if not proposed.texts:
            console.print("The lines lie as planned already.\n")
        for name, old, new in proposed.texts:
            console.print(difference(name, old, new), markup=False, highlight=False, soft_wrap=True)
        console.print(tables.findings_table(proposed.after, every=False))
        console.print(tables.verdict_line(proposed.after))
        console.print("Written." if write else "Nothing written; add --write to keep it.")
    end(proposed.verdict)


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

    written = run_draw(opened(folder, as_json=as_json), to or folder / "drawings", signal=signal)
    if as_json:
        print_json(headed("draw", {"files": [str(path) for path in written]}))
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
            refuse("--advice is for the line as drawn; ask for it without --fault")
        _signal_with_fault(opened(folder, as_json=as_json), line, fault, draws, seed, as_json=as_json)
    from loomwright.app.check import worst
    from loomwright.app.plain import of_signals
    from loomwright.app.signal import LEFT_OUT, drawn, signals
    from loomwright.app.signal_advice import advice as advise
    from loomwright.app.signal_others import others, why_blocked
    from loomwright.app.signal_remarks import remarks_of, spots_of
    from loomwright.show import tables
    from loomwright.show.signal import draws_text, signal_text, timing_text
    from loomwright.show.signal_advice import advice_text
    from loomwright.terms.answer import Blocked, Solved
    from loomwright.terms.finding import Verdict

    project = opened(folder, as_json=as_json)
    with counting(quiet=as_json) as progress:
        found = signals(project, line, progress)
        able = [item.name for item in found if draws and not isinstance(item.signal, Blocked)]
        built = {name: drawn(project, name, draws, seed, progress) for name in able}
        advised = [advise(project, item.name, progress) for item in found] if advice else []
    findings = tuple(finding for physics in found for finding in physics.findings)
    if as_json:
        print_json(of_signals(found, LEFT_OUT, built, advised))
    else:
        console = console_of()
        for physics in found:
            effects = next((one.effects for one in advised if one.name == physics.name), None)
            spots = spots_of(project, physics.name)
            meets = remarks_of(project, physics.name, physics, spots, effects, "Changes that may end it: --advice.")
            beside = others(project, physics.name, physics).sentence
            waits = (
                why_blocked(project.vehicle, physics.signal.by)
                if isinstance(physics.signal, Blocked) and physics.signal.by
                else ""
            )
            console.print(
                signal_text(
                    physics.name,
                    physics.signal,
                    physics.levels,
                    LEFT_OUT,
                    beside=beside,
                    meets=meets,
                    waits=waits,
                    findings=physics.findings,
                )
            )
            if not isinstance(physics.signal, Blocked):
                console.print(timing_text(physics.timing))
            if isinstance(many := built.get(physics.name), Solved):
                console.print(draws_text(many.value))
        for one in advised:
            console.print(advice_text(one.name, one.effects, one.rooms))
        console.print(tables.findings_table(findings, every=False))
        console.print(tables.verdict_line(findings))
    verdict = worst(findings)
    # A line that cannot be measured yet has no findings of this kind; that is no sign that it holds.
    waiting = any(isinstance(physics.signal, Blocked) for physics in found)
    end(Verdict.UNKNOWN if waiting and verdict is not Verdict.BROKEN else verdict)


def _signal_with_fault(project: "Project", line: str, text: str, draws: int, seed: int, *, as_json: bool) -> None:
    """A line with a fault beside the sound one. Ends with 0, or with 4 where facts are missing: it judges no vehicle."""
    from loomwright.app.faults import LIST, line_with
    from loomwright.app.plain import of_fault
    from loomwright.app.signal_fault import fault_draws, fault_look, fault_report
    from loomwright.show.signal import draws_text
    from loomwright.terms.answer import Solved

    if text.strip() == LIST:
        _list_faults(project, line, as_json=as_json)
    with counting(quiet=as_json) as progress:
        found = fault_look(project, line or line_with(project, text), text, progress)
        able = draws and not found.blocked_by
        built = fault_draws(project, found, draws, seed, progress) if able else ()
    if as_json:
        print_json(of_fault(found, built))
    else:
        console_of().print(fault_report(project, found))
        for one in built:
            if isinstance(one, Solved):
                console_of().print(draws_text(one.value))
    raise typer.Exit(EXIT_CODES["unknown"] if found.blocked_by else 0)


def _list_faults(project: "Project", line: str, *, as_json: bool) -> None:
    """All faults of one line or of every line."""
    from loomwright.app.faults import faults_of
    from loomwright.app.plain import headed

    found = faults_of(project, line)
    if as_json:
        lines = [
            {
                "name": name,
                "faults": [text for group in groups for text, _ in group.faults],
                "titles": [title for group in groups for _, title in group.faults],
                "kinds": [group.kind.value for group in groups for _ in group.faults],
            }
            for name, groups in found
        ]
        print_json(headed("faults", {"lines": lines}))
    else:
        widest = max((len(text) for _, groups in found for group in groups for text, _ in group.faults), default=0)
        for name, groups in found:
            typer.echo(f"Line {name}:")
            for group in groups:
                typer.echo(f"  {group.words}:")
                for text, title in group.faults:
                    typer.echo(f"    {text:{widest}}  {title}")
    raise typer.Exit
