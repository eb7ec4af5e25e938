"""Commands about what is said: traffic, chains, definition files in and out."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from loomwright.cli.words import (
    Folder,
    Json,
    app,
    console_of,
    counting,
    end,
    end_with_problems,
    opened,
    print_json,
    read_bytes,
    refuse,
)

if TYPE_CHECKING:
    from loomwright.app.definitions import Taken


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
    errors: Annotated[
        int | None, typer.Option(min=0, max=100, help="With so many disturbed frames in a row on every line.")
    ] = None,
    propose: Annotated[
        bool, typer.Option("--propose", help="Look for other identifiers, offsets, and components to move.")
    ] = False,
    write: Annotated[
        bool, typer.Option("--write", help="With --propose: write the proposed identifiers into the files.")
    ] = False,
    every: Annotated[bool, typer.Option("--all", help="Show what holds too, each with its margin.")] = False,
    as_json: Json = False,
) -> None:
    """Compute what each line carries, how full it is, and whether everything is heard and there in time."""
    from loomwright.app.check import worst
    from loomwright.app.plain_traffic import of_traffic
    from loomwright.app.traffic import LEFT_OUT, traffic_report
    from loomwright.app.traffic_proposals import traffic_proposals, write_identifiers
    from loomwright.show import tables, traffic_tables
    from loomwright.show.traffic_proposals import proposals_text

    if write and not propose:
        refuse("--write writes what --propose finds; give both")
    project = opened(folder, as_json=as_json)
    with counting(quiet=as_json or not (margins or play or propose)) as progress:
        report = traffic_report(
            project, line, margins=margins, seconds=play, seed=seed, errors=errors, progress=progress
        )
        proposals = traffic_proposals(project, line or None, progress) if propose else ()
    written = write_identifiers(project, proposals) if write else ()
    if as_json:
        print_json(of_traffic(report, LEFT_OUT, proposals, written))
    else:
        console = console_of()
        if errors is not None:
            frames = "frame" if errors == 1 else "frames"
            console.print(f"With {errors} disturbed {frames} in a row on every line, not as the lines' files say.\n")
        for one in report.lines:
            console.print(traffic_tables.load_text(one.name, one.load, one.least))
            console.print(traffic_tables.responses_text(one.name, one.responses))
            if one.margins is not None:
                console.print(traffic_tables.margins_text(one.margins, one.bit_rate_bit_per_s))
            if one.play is not None:
                console.print(traffic_tables.play_text(one.play))
        console.print(LEFT_OUT + "\n", style="dim")
        for found in proposals:
            console.print(proposals_text(found.name, found.identifiers, found.offsets, found.moves))
        console.print(tables.findings_table(report.findings, every=every))
        console.print(tables.verdict_line(report.findings))
        if propose:
            console.print(f"Written: {', '.join(written)}." if written else "Nothing written.")
    end(worst(report.findings))


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

    project = opened(folder, as_json=as_json)
    found = chain_reports(project, name)
    if not found:
        refuse(
            "there is no chain yet: add [chains.NAME] with steps, effect and within to vehicle.toml (docs/traffic.md)"
        )
    every = project.answers.marked_traffic(project.vehicle)
    subjects = {("chains", one.name) for one in found}
    findings = tuple(finding for finding in every if finding.reading.subject in subjects)
    if as_json:
        print_json(of_chains(found, findings))
    else:
        console = console_of()
        for one in found:
            console.print(traffic_tables.chain_text(one.title, one.within_s, one.times))
        console.print(tables.verdict_line(findings))
    end(worst(findings))


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
    incomplete: Annotated[
        bool, typer.Option("--incomplete", help="Take what there is of a file that ends in the middle.")
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only report; write nothing.")] = False,
    every: Annotated[bool, typer.Option("--all", help="Name every place, not the first ones.")] = False,
    as_json: Json = False,
) -> None:
    """Take the messages of definition files over; report everything that does not come through."""
    from loomwright.app import definitions
    from loomwright.app.project import UnreadableError, open_project

    project = open_project(folder)  # with its problems: it may wait for the very messages that are taken
    try:
        ports = definitions.ports_by_node(sender or [])
        taken = definitions.take(
            project, [(path.name, read_bytes(path)) for path in files], ports, name=name, again=again
        )
    except UnreadableError as error:
        end_with_problems(error.problems, as_json=as_json)
    torn = not incomplete and any(one.torn for one in taken.files)
    written = not (dry_run or torn)
    if written:
        definitions.keep(project, taken, incomplete=incomplete)
    if as_json:
        print_json(definitions.of_taken(taken, written=written))
    else:
        _print_taken(taken, again=again, every=every)
        typer.echo(
            f"Written: {', '.join(taken.texts) or 'nothing, all is as it was'}" if written else "Nothing written."
        )
    if torn and not dry_run:
        refuse("a file ends in the middle; --incomplete takes what there is of it")


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

    given = definition_giving.give(opened(folder, as_json=as_json), what, to.suffix[1:].lower())
    definition_giving.write(to, given)
    if as_json:
        print_json(definition_giving.of_given(given, str(to)))
    else:
        title = f"{given.what} as {to}: {given.messages} messages"
        console_of().print(report_table(title, given.left_out, every=every))


def _print_taken(taken: "Taken", *, again: bool, every: bool) -> None:
    from loomwright.show.definition_report import report_table

    console = console_of()
    for warning in (one.warning for one in taken.files if one.warning):
        console.print(warning, markup=False, style="bold", soft_wrap=True)
    for one in taken.files:
        console.print(report_table(one.summary, one.left_out, every=every))
        for what, paths in (("stays as made by hand", one.stays), ("gives way to the file", one.gives_way)):
            for path in paths:
                typer.echo(f"{what}: messages.{one.name}.{path}")
        if again and one.replaced and not one.compared:
            typer.echo(f"There is no old copy to compare with: all of messages/{one.name}.toml is replaced.")
    for text in (name for name, (old, _) in taken.texts.items() if again and old):
        console.print(taken.difference(text), markup=False, highlight=False, soft_wrap=True)
