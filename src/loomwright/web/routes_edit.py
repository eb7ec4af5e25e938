"""Edits of single things, as forms and small modules post them. Each route is one command of ``app.edits``.

Every route takes form fields, applies one ``Change`` and answers ``done`` (204 with the new state). A refusal comes back
as a sheet (409 or 422); a field that cannot be read comes back as its own form field with the reason beside it.
"""

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, Response

from loomwright.app import edits
from loomwright.app.component_sheet import fact_form
from loomwright.app.fields import FieldWords, UnreadableFieldError, field_form, set_field
from loomwright.app.words import UnreadableWordError, read_length
from loomwright.terms.change import Change, Path, path_of
from loomwright.terms.errors import PathError
from loomwright.web.desk import base_of, done, part, session_of

router = APIRouter(prefix="/edit")
Words = Annotated[str, Form(max_length=2000)]
Name = Annotated[str, Form(max_length=120)]
Index = Annotated[int, Form(ge=0, le=10_000)]


def read_path(words: str) -> Path:
    """A path as it stands in ``data-path``. Raises ``PathError``."""
    try:
        return path_of(words)
    except ValueError as error:
        raise PathError(str(error)) from error


def write(request: Request, change: Change) -> Response:
    """Apply a change and answer with the new state."""
    session = session_of(request)
    return done(session, session.apply(change, base_of(request)))


@router.get("/field")
def field(request: Request, path: Annotated[str, Query(max_length=300)]) -> HTMLResponse:
    """The form of one field."""
    return part(request, "field.html", field=field_form(session_of(request).view().vehicle, read_path(path)))


@router.post("/field")
def field_set(
    request: Request,
    path: Name,
    words: Words = "",
    status: Name = "",
    source: Words = "",
    why: Words = "",
    ask: Words = "",
    look: Name = "",
) -> Response:
    """Set one field from words; what cannot be read comes back beside the field, in the same ``look``."""
    vehicle, where = session_of(request).view().vehicle, read_path(path)
    given = FieldWords(words, status, source, why, ask)
    try:
        return write(request, set_field(vehicle, where, given))
    except UnreadableFieldError as error:
        if look == "sheet":
            return part(request, "fact.html", 422, fact=fact_form(vehicle, where, given, str(error)))
        form = field_form(vehicle, where, given, str(error))
        return part(request, "own_field.html" if look == "own" else "field.html", 422, field=form)


@router.post("/component/add")
def component_add(request: Request, name: Name, role: Name, place: Name, title: Words = "") -> Response:
    """Add a component with one port."""
    return write(request, edits.add_component(_vehicle(request), name, role, place, title))


@router.post("/component/remove")
def component_remove(request: Request, name: Name) -> Response:
    """Take a component out, with its stations."""
    return write(request, edits.remove_component(_vehicle(request), name))


@router.post("/component/rename")
def component_rename(request: Request, name: Name, new: Name) -> Response:
    """Rename a component everywhere."""
    return write(request, edits.rename_component(_vehicle(request), name, new))


@router.post("/component/duplicate")
def component_duplicate(request: Request, name: Name, new: Name) -> Response:
    """Double a component."""
    return write(request, edits.duplicate_component(_vehicle(request), name, new))


@router.post("/component/move")
def component_move(request: Request, name: Name, place: Name) -> Response:
    """Mount a component at another place."""
    return write(request, edits.move_component(_vehicle(request), name, place))


@router.post("/place/add")
def place_add(request: Request, name: Name, x: Name, y: Name, title: Words = "") -> Response:
    """Add a place; ``x`` and ``y`` are lengths in words."""
    x_m, y_m = _length(x, "x"), _length(y, "y")
    return write(request, edits.add_place(_vehicle(request), name, x_m, y_m, title))


@router.post("/place/move")
def place_move(request: Request, name: Name, x: Name, y: Name) -> Response:
    """Move a place; ``x`` and ``y`` are lengths in words."""
    return write(request, edits.move_place(_vehicle(request), name, _length(x, "x"), _length(y, "y")))


@router.post("/place/remove")
def place_remove(request: Request, name: Name) -> Response:
    """Take a place out, with the runs that end there."""
    return write(request, edits.remove_place(_vehicle(request), name))


@router.post("/place/rename")
def place_rename(request: Request, name: Name, new: Name) -> Response:
    """Rename a place everywhere."""
    return write(request, edits.rename_place(_vehicle(request), name, new))


@router.post("/run/add")
def run_add(request: Request, name: Name, start: Name, end: Name) -> Response:
    """Add a run between two places."""
    return write(request, edits.add_run(_vehicle(request), name, start, end))


@router.post("/run/remove")
def run_remove(request: Request, name: Name) -> Response:
    """Take a run out."""
    return write(request, edits.remove_run(_vehicle(request), name))


@router.post("/station/move")
def station_move(request: Request, line: Name, index: Index, to: Index) -> Response:
    """Another order along the trunk."""
    return write(request, edits.move_station(_vehicle(request), line, index, to))


@router.post("/station/at")
def station_at(request: Request, line: Name, index: Index, at: Name = "") -> Response:
    """Where a branch leaves the trunk; empty for a component that the trunk passes through."""
    return write(request, edits.set_station_at(_vehicle(request), line, index, at))


@router.post("/station/terminated")
def station_terminated(request: Request, line: Name, index: Index, on: Annotated[bool, Form()]) -> Response:
    """Switch a switchable termination."""
    return write(request, edits.set_terminated(_vehicle(request), line, index, on=on))


@router.post("/station/add")
def station_add(
    request: Request, line: Name, port: Name, index: Annotated[int | None, Form(ge=0, le=10_000)] = None
) -> Response:
    """Put a port on a line."""
    return write(request, edits.add_station(_vehicle(request), line, port, index))


@router.post("/station/remove")
def station_remove(request: Request, line: Name, index: Index) -> Response:
    """Take a stop off a line."""
    return write(request, edits.remove_station(_vehicle(request), line, index))


def _vehicle(request: Request) -> edits.Vehicle:
    return session_of(request).view().vehicle


def _length(words: str, field: str) -> float:
    try:
        return read_length(words)
    except UnreadableWordError as error:
        raise edits.EditError(str(error), field) from error
