"""Messages: how full lines are and what is late, chains, who says and who needs, and each message by itself."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, Response

from loomwright.app import edits, messages_edits
from loomwright.app.lines import line_names
from loomwright.app.margin import tried_rows
from loomwright.app.messages_chains import AGE, chain_choices, chain_strips
from loomwright.app.messages_matrix import MEANINGS, matrix
from loomwright.app.messages_message import message_page, message_scope
from loomwright.app.messages_page import messages_page
from loomwright.app.messages_paper import messages_workbook
from loomwright.terms.change import Change
from loomwright.web.desk import base_of, done, elsewhere, page, part, session_of
from loomwright.web.routes_edit import Index, read_path, write
from loomwright.web.routes_table import WORKBOOK

router = APIRouter(prefix="/messages")
Asked = Annotated[str, Query(max_length=120)]
PathQuery = Annotated[str, Query(max_length=300)]
Name = Annotated[str, Form(max_length=120)]
Words = Annotated[str, Form(max_length=400)]

SCRIPTS = ("cells.js", "messages.js")


@router.get("")
def messages(request: Request, line: Asked = "") -> HTMLResponse:
    """How full every line is, and the times of one, or of all."""
    session = session_of(request)
    shown = session.ask(lambda project: messages_page(project, line))
    return page(
        request, "messages.html", title="Messages", scope=("traffic",), scripts=SCRIPTS, shown=shown, here="times",
    )  # fmt: skip


@router.get("/chains")
def chains(request: Request) -> HTMLResponse:
    """Every chain from cause to effect as a strip of hops."""
    session = session_of(request)
    strips, choices = session.ask(chain_strips), chain_choices(session.view().vehicle)
    return page(
        request, "messages_chains.html", title="Messages", scope=("chains",), scripts=SCRIPTS, strips=strips,
        choices=choices, about_age=AGE, here="chains",
    )  # fmt: skip


@router.post("/chains/add")
def chain_add(
    request: Request,
    title: Words = "",
    step: Annotated[list[str] | None, Form(max_length=40)] = None,
    effect: Name = "",
    within: Name = "",
) -> Response:
    """Begin a chain."""
    return write(request, edits.add_chain(_vehicle(request), title, step or [], effect, within)[1])


@router.post("/chains/step")
def chain_step(request: Request, chain: Name, index: Index, step: Name = "") -> Response:
    """Another message at a step, or one more after the last."""
    return write(request, edits.set_step(_vehicle(request), chain, index, step))


@router.post("/chains/earlier")
def chain_earlier(request: Request, chain: Name, index: Index) -> Response:
    """Change a step with the one before it."""
    return write(request, edits.move_step(_vehicle(request), chain, index))


@router.post("/chains/shorter")
def chain_shorter(request: Request, chain: Name, index: Index) -> Response:
    """Take a step out."""
    return write(request, edits.remove_step(_vehicle(request), chain, index))


@router.get("/matrix")
def whole(request: Request, line: Asked = "") -> HTMLResponse:
    """Who says each message, who needs it, and who misses it."""
    session = session_of(request)
    names = line_names(session.view())
    line = line if line in dict(names) else ""
    shown = session.ask(lambda project: matrix(project, line))
    return page(
        request, "messages_matrix.html", title="Messages", scope=(f"traffic.{line}" if line else "traffic",),
        scripts=SCRIPTS, shown=shown, names=names, line=line, meanings=MEANINGS, here="matrix",
    )  # fmt: skip


@router.get("/matrix.xlsx")
def as_workbook(request: Request, line: Asked = "") -> Response:
    """The same on paper: a workbook made for the printer."""
    session, today = session_of(request), date.today().isoformat()
    line = line if line in session.view().vehicle.lines else ""
    raw = session.ask(lambda project: messages_workbook(project, today, line))
    name = f"messages-{line}.xlsx" if line else "messages.xlsx"
    return Response(
        raw, media_type=WORKBOOK, headers={"content-disposition": f'attachment; filename="{name}"'}
    )  # fmt: skip


@router.get("/remove")
def ask_remove(request: Request, path: PathQuery) -> HTMLResponse:
    """Show what taking a message, a signal, a need or a forward out would do, and ask."""
    session = session_of(request)
    view = session.view()
    tried = session.try_change(messages_edits.removal(view.vehicle, read_path(path)))
    return part(
        request, "try.html", tried=tried_rows(tried, view.vehicle), apply_to="/messages/remove", base=view.revision,
        fields=(("path", path),),
    )  # fmt: skip


@router.post("/remove")
def remove(request: Request, path: Name) -> Response:
    """Take it out."""
    return write(request, messages_edits.removal(_vehicle(request), read_path(path)))


@router.get("/taken")
def taken(request: Request, owner: Asked = "", identifier: Asked = "") -> HTMLResponse:
    """Who has an identifier already, told while it is typed."""
    session = session_of(request)
    streams = session.ask(lambda project: project.answers.traffic(project.vehicle).streams)
    return part(
        request, "messages_taken.html", taken=messages_edits.taken_by(_vehicle(request), streams, owner, identifier)
    )


@router.get("/rename")
def ask_rename(request: Request, path: PathQuery) -> Response:
    """Ask for another name of a message, and tell what follows."""
    steps = read_path(path)
    if len(steps) != 4 or messages_edits.message_called(_vehicle(request), str(steps[1]), str(steps[3])) is None:
        return elsewhere(request, "/messages/matrix")
    return _ask_rename(request, str(steps[1]), str(steps[3]))


@router.post("/rename")
def rename(request: Request, set_name: Name, name: Name, new: Name = "") -> Response:
    """Rename a message everywhere, and go to its page."""
    new = new.strip()
    try:
        change = edits.rename_message(_vehicle(request), set_name, name, new)
    except edits.EditError as error:
        return _ask_rename(request, set_name, name, new, str(error))
    return _written(request, change, f"/messages/{set_name}/{new}")


@router.post("/add")
def add(request: Request, owner: Name = "", title: Words = "", identifier: Name = "", period: Name = "") -> Response:
    """Add a message to a set, or begin the set of a port with it, and go to its page."""
    path, change = messages_edits.add_message(_vehicle(request), owner, title, identifier, period)
    return _written(request, change, f"/messages/{path[1]}/{path[3]}")


@router.post("/{set_name}/{name}/signal")
def add_signal(
    request: Request, set_name: str, name: str, title: Words = "", start: Name = "", bits: Name = ""
) -> Response:
    """Add a signal."""
    signal, change = messages_edits.add_signal(_vehicle(request), set_name, name, title, start, bits)
    return _written(request, change, f"/messages/{set_name}/{name}?signal={signal}")


@router.post("/{set_name}/{name}/need")
def add_need(request: Request, set_name: str, name: str, component: Name = "", signal: Name = "") -> Response:
    """Say that a component needs the message or one of its signals."""
    return write(request, messages_edits.add_need(_vehicle(request), component, set_name, name, signal))


@router.get("/via/{component}/{kind}/{name}")
def via(request: Request, component: str, kind: str, name: str) -> Response:
    """The page of the message that a need or a forward of a component is about; the browser keeps the fragment."""
    found = messages_edits.message_of(_vehicle(request), ("components", component, kind, name))
    return elsewhere(request, f"/messages/{found.replace('.', '/')}" if found else f"/components/{component}")


@router.get("/{set_name}/{name}")
def message(request: Request, set_name: str, name: str, signal: Asked = "") -> Response:
    """One message: its bits, its signals, who sends and who needs it."""
    session = session_of(request)
    sets = session.view().vehicle.messages
    if set_name not in sets or name not in sets[set_name].messages:
        new = messages_edits.gone_to(session.history(), set_name, name)
        there = set_name in sets and new in sets[set_name].messages
        return elsewhere(request, f"/messages/{set_name}/{new}" if there else "/messages/matrix")
    shown = session.ask(lambda project: message_page(project, set_name, name, signal))
    return page(
        request, "messages_message.html", title=shown.title, scope=message_scope(shown), scripts=SCRIPTS, shown=shown,
        here="message",
    )  # fmt: skip


def _vehicle(request: Request) -> edits.Vehicle:
    return session_of(request).view().vehicle


def _ask_rename(request: Request, set_name: str, name: str, new: str = "", wrong: str = "") -> HTMLResponse:
    vehicle = _vehicle(request)
    return part(
        request, "messages_rename.html", 422 if wrong else 200, set_name=set_name, name=name, new=new or name, wrong=wrong,
        message=messages_edits.message_called(vehicle, set_name, name),
        references=messages_edits.references(vehicle, f"{set_name}.{name}"),
    )  # fmt: skip


def _written(request: Request, change: Change, address: str) -> Response:
    """Apply a change and go where its result is."""
    session = session_of(request)
    answer = done(session, session.apply(change, base_of(request)))
    answer.headers["HX-Redirect"] = address
    return answer
