"""The pages of lines: all on the vehicle plan, and each pulled straight on its ruler, to be worked on."""

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from loomwright.app import edits
from loomwright.app.arranging import arranging
from loomwright.app.drags import drag_station
from loomwright.app.line_page import line_page
from loomwright.app.lines import LOCK_KINDS, line_names, line_rows, lock_rows, port_names
from loomwright.app.plan_drawing import plan
from loomwright.app.words import UnreadableWordError, read_ohms
from loomwright.web.desk import base_of, desk_of, done, elsewhere, page, part, session_of
from loomwright.web.routes_edit import write

router = APIRouter()
Name = Annotated[str, Form(max_length=120)]
Words = Annotated[str, Form(max_length=2000)]
Index = Annotated[int, Query(ge=0, le=10_000)]
MaybeIndex = Annotated[int | None, Query(ge=0, le=10_000)]
Asked = Annotated[str, Query(max_length=120)]


@router.get("/lines")
def lines(request: Request) -> HTMLResponse:
    """Every line along the runs it takes, the table of them, the locks, and the planning of all lines."""
    session = session_of(request)
    view = session.view()
    drawing, rows = session.ask(lambda project: (plan(project), line_rows(project)))
    return page(
        request,
        "lines.html",
        title="Lines",
        scope=("lines", "locks"),
        scripts=("vehicle.js", "arrange.js"),
        drawing=drawing,
        rows=rows,
        names=line_names(view),
        locks=lock_rows(view.vehicle),
        lock_kinds=LOCK_KINDS,
        ports=port_names(view.vehicle),
        arranging=arranging(session),
    )


@router.post("/lines/add")
def add(request: Request, title: Words = "") -> Response:
    """Begin a line and go to its page."""
    session = session_of(request)
    name, change = edits.add_line(session.view().vehicle, title)
    answer = done(session, session.apply(change, base_of(request)))
    answer.headers["HX-Redirect"] = f"/lines/{name}"
    return answer


@router.post("/lines/lock")
def lock(
    request: Request, port: Name = "", must: Name = "", line: Name = "", other: Name = "", why: Words = ""
) -> Response:
    """Lock something for the planner; what is missing is told beside its field."""
    session = session_of(request)
    vehicle = session.view().vehicle
    try:
        return write(request, edits.add_lock(vehicle, port.strip(), must, line, other.strip(), why))
    except edits.EditError as error:
        given = {"port": port, "must": must, "line": line, "other": other, "why": why}
        return part(
            request, "lock_form.html", 422, ports=port_names(vehicle), lock_kinds=LOCK_KINDS,
            names=line_names(session.view()), given=given, wrong=str(error), field=error.field or "port",
        )  # fmt: skip


@router.get("/lines/{name}")
def line(request: Request, name: str, without: Asked = "") -> Response:
    """One line: the vehicle with it, its ruler, its stops. ``without``: what is unplugged for the readings."""
    session = session_of(request)
    names = line_names(session.view())
    if name not in dict(names):
        return elsewhere(request, "/lines")
    one = session.ask(lambda project: line_page(project, name, without))
    scope = (f"lines.{name}",)
    return page(
        request, "line.html", title=one.row.title, scope=scope, scripts=("line.js",), one=one, names=names, name=name
    )


@router.get("/lines/{name}/try")
def try_station(
    request: Request, name: str, index: Index, to: MaybeIndex = None, at: Asked = "", without: Asked = ""
) -> Response:
    """What a stop on the move would do there: ruler, plan, lengths. Nothing is written."""
    session = session_of(request)
    if name not in session.view().vehicle.lines:
        raise edits.EditError(f"there is no line {name!r}")
    tried, ruler = session.ask(lambda project: drag_station(project, name, index, to, at, without))
    reading = desk_of(request).render("drag.html", tried=tried)
    return JSONResponse({"wires": tried.wires, "ruler": ruler, "reading": reading})


@router.post("/lines/{name}/terminator")
def terminator(request: Request, name: str, place: Name = "", ohm: Name = "120 ohm", end: Name = "last") -> Response:
    """Plug a terminator in before the first or after the last stop."""
    try:
        ohms = read_ohms(ohm.strip())
    except UnreadableWordError as error:
        raise edits.EditError(str(error), "ohm") from error
    vehicle = session_of(request).view().vehicle
    return write(request, edits.add_terminator(vehicle, name, place.strip(), first=end == "first", ohm=ohms))
