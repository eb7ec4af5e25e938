"""The command that opens the workbench in the browser."""

from pathlib import Path
from typing import Annotated

import typer

from loomwright.cli.words import app, has_screen


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
    if not no_browser and has_screen():
        import threading
        import webbrowser

        threading.Timer(0.5, webbrowser.open, (server.address,)).start()
    server.run()
