"""The vehicle's page: the plan to work on. While something is dragged the page asks here what that would do."""

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from loomwright.app import edits
from loomwright.app.cells import Cell, refused, set_cell
from loomwright.app.drags import drag
from loomwright.app.fields import UnreadableFieldError
from loomwright.app.margin import tried_rows
from loomwright.app.plan_drawing import spot_m
from loomwright.app.vehicle_page import vehicle_page
from loomwright.terms.change import Change, Path
from loomwright.web.desk import base_of, desk_of, done, page, part, session_of
from loomwright.web.routes_edit import read_path, write

router = APIRouter(prefix="/vehicle")
Name = Annotated[str, Form(max_length=120)]
Words = Annotated[str, Form(max_length=2000)]
Pixels = Annotated[float, Form(ge=-20_000, le=20_000)]
PathQuery = Annotated[str, Query(max_length=300)]
PixelsQuery = Annotated[float, Query(ge=-20_000, le=20_000)]

STEP_M, FINE_M = 0.05, 0.01
"""What an arrow key moves a place by, and with Shift."""

MOST_STEPS = 40


@router.get("")
def vehicle(request: Request) -> HTMLResponse:
    """The plan, and the tables of components, places and runs."""
    shown = session_of(request).ask(vehicle_page)
    return page(request, "vehicle.html", title="Vehicle", scope=(), scripts=("vehicle.js",), shown=shown)


@router.get("/try")
def try_move(
    request: Request,
    path: PathQuery,
    place: PathQuery = "",
    x: PixelsQuery = 0.0,
    y: PixelsQuery = 0.0,
    line: PathQuery = "",
) -> JSONResponse:
    """What a component or place on the move would do there, on a plan where ``line`` stands out. Nothing is written."""
    session, where = session_of(request), read_path(path)
    name, is_place = str(where[-1]), where[0] == "places"
    tried = session.ask(
        lambda project: drag(
            project,
            _move(project.vehicle, where, place, x, y),
            component="" if is_place else name,
            place=name if is_place else "",
            emphasis=line,
        )
    )
    reading = desk_of(request).render("drag.html", tried=tried)
    return JSONResponse({"wires": tried.wires, "reading": reading, "spot": tried.spot})


@router.post("/move")
def move(request: Request, path: Name, place: Name = "", x: Pixels = 0.0, y: Pixels = 0.0) -> Response:
    """Drop a component at a place, or a place at a spot of the plan."""
    return write(request, _move(session_of(request).view().vehicle, read_path(path), place, x, y))


@router.post("/step")
def step(
    request: Request,
    path: Name,
    direction: Name,
    fine: Annotated[bool, Form()] = False,
    times: Annotated[int, Form(ge=1, le=MOST_STEPS)] = 1,
) -> Response:
    """Move by the keyboard: a component to the next place in a direction, a place by some centimetres."""
    whole, where = session_of(request).view().vehicle, read_path(path)
    name = str(where[-1])
    if where[0] == "places":
        x_m, y_m = edits.step_from(whole, name, direction, times * (FINE_M if fine else STEP_M))
        return write(request, edits.move_place(whole, name, x_m, y_m))
    if name not in whole.components:
        raise edits.EditError(f"there is no component {name!r}")
    place = whole.components[name].place
    for _ in range(times):
        place = edits.next_place(whole, place, direction) or place
    return write(request, edits.move_component(whole, name, place))


@router.post("/place")
def add_place(request: Request, x: Pixels, y: Pixels) -> Response:
    """Add a place at a spot of the plan, on the run that passes there if one does."""
    session = session_of(request)
    whole = session.view().vehicle
    name, change = edits.new_place(whole, *spot_m(whole, x, y))
    answer = done(session, session.apply(change, base_of(request)))
    answer.headers["Loomwright-Made"] = f"places.{name}"
    return answer


@router.post("/run")
def add_run(request: Request, start: Name, end: Name, name: Name = "") -> Response:
    """Add a run between two places."""
    session = session_of(request)
    whole = session.view().vehicle
    name = name or edits.free_name(whole.runs, f"{start} {end}")
    answer = done(session, session.apply(edits.add_run(whole, name, start, end), base_of(request)))
    answer.headers["Loomwright-Made"] = f"runs.{name}"
    return answer


@router.post("/cell")
def cell(
    request: Request, path: Name, words: Words = "", unit: Name = "", label: Words = "", names: Name = ""
) -> Response:
    """Set one cell of a table; what cannot be read comes back as the cell with the reason."""
    try:
        return write(request, set_cell(session_of(request).view().vehicle, read_path(path), words, unit))
    except (UnreadableFieldError, edits.EditError) as error:
        given = refused(Cell(path, words, label, unit, names), words, str(error))
        return part(request, "cell.html", 422, cell=given)


@router.get("/remove")
def ask_remove(request: Request, path: PathQuery) -> HTMLResponse:
    """Show what taking something out would do, and ask."""
    session = session_of(request)
    view = session.view()
    tried = session.try_change(edits.removal(view.vehicle, read_path(path)))
    return part(
        request,
        "try.html",
        tried=tried_rows(tried, view.vehicle),
        apply_to="/vehicle/remove",
        base=view.revision,
        fields=(("path", path),),
    )


@router.post("/remove")
def remove(request: Request, path: Name) -> Response:
    """Take something out."""
    return write(request, edits.removal(session_of(request).view().vehicle, read_path(path)))


def _move(whole: edits.Vehicle, path: Path, place: str, x: float, y: float) -> Change:
    name = str(path[-1])
    if path[0] == "components":
        return edits.move_component(whole, name, place)
    if path[0] == "places":
        x_m, y_m, _ = edits.snapped(whole, *spot_m(whole, x, y), name)
        return edits.move_place(whole, name, x_m, y_m)
    raise edits.EditError("only components and places can be moved on the plan")
