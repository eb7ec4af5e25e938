"""Components: the table, the sheet of each, and what can be done to one as a whole."""

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, Response

from loomwright.app import edits
from loomwright.app.component_sheet import component_sheet, references
from loomwright.app.components import (
    FACTS,
    ROLES,
    STATUSES,
    Filter,
    choices,
    component_rows,
    gone_to,
    label_of,
    scope_of,
)
from loomwright.terms.change import Change, path_of
from loomwright.web.addresses import address_of
from loomwright.web.desk import base_of, done, elsewhere, page, part, session_of

router = APIRouter()
Name = Annotated[str, Form(max_length=120)]
Words = Annotated[str, Form(max_length=400)]
Wanted = Annotated[str, Query(max_length=120)]


@router.get("/components")
def components(
    request: Request, status: Wanted = "", line: Wanted = "", role: Wanted = "", place: Wanted = ""
) -> HTMLResponse:
    """What is known of every component."""
    session = session_of(request)
    wanted = Filter(status if status in STATUSES else "", line, role, place)
    rows = session.ask(lambda project: component_rows(project, wanted))
    vehicle = session.view().vehicle
    return page(
        request, "components.html", title="Components", scope=("components",), rows=rows, wanted=wanted,
        all=len(vehicle.components), choices=choices(vehicle), facts=[label_of(item) for item in FACTS],
    )  # fmt: skip


@router.get("/component/add")
def add_form(request: Request) -> HTMLResponse:
    """Ask for what a new component needs."""
    return _ask(request, "add", "")


@router.get("/components/{name}")
def component(request: Request, name: str) -> Response:
    """The sheet of one component."""
    session = session_of(request)
    vehicle = session.view().vehicle
    if name not in vehicle.components:
        new = gone_to(session.history(), name)
        return elsewhere(request, f"/components/{new}" if new in vehicle.components else "/components")
    sheet = session.ask(lambda project: component_sheet(project, name))
    refers = [(entry, address_of(path_of(entry.path))) for entry in sheet.references]
    return page(
        request, "component.html", title=sheet.title, scope=scope_of(vehicle, name), sheet=sheet, refers=refers,
        places=[(key, place.title) for key, place in vehicle.places.items()],
    )  # fmt: skip


@router.get("/component/{what}")
def ask(request: Request, what: str, name: Wanted) -> Response:
    """Ask before a component is renamed, doubled or taken out."""
    if what not in _CHANGES or name not in session_of(request).view().vehicle.components:
        return elsewhere(request, "/components")
    return _ask(request, what, name)


@router.post("/component/add")
def add(request: Request, title: Words = "", name: Name = "", role: Name = "", place: Name = "") -> Response:
    """Add a component; its name is made from its title where none is given."""
    vehicle = session_of(request).view().vehicle
    given = {"title": title, "new": name, "role": role, "place": place}
    try:
        name = name.strip() or edits.free_name(vehicle.components, title or role)
        change = edits.add_component(vehicle, name, role if role in ROLES else "other", place, title)
    except edits.EditError as error:
        return _ask(request, "add", "", error, **given)
    return _written(request, change, f"/components/{name}")


@router.post("/component/{what}")
def change(request: Request, what: str, name: Name, new: Name = "") -> Response:
    """Rename, double or take out a component."""
    if what not in _CHANGES:
        return elsewhere(request, "/components")
    try:
        made = _CHANGES[what](session_of(request).view().vehicle, name, new.strip())
    except edits.EditError as error:
        return _ask(request, what, name, error, new=new)
    return _written(request, made, "/components" if what == "remove" else f"/components/{new.strip()}")


def _remove(vehicle: edits.Vehicle, name: str, _: str) -> Change:
    return edits.remove_component(vehicle, name)


_CHANGES = {
    "rename": edits.rename_component,
    "duplicate": edits.duplicate_component,
    "remove": _remove,
}


def _ask(request: Request, what: str, name: str, error: edits.EditError | None = None, **given: str) -> HTMLResponse:
    vehicle = session_of(request).view().vehicle
    there = name in vehicle.components
    start = {"title": "", "role": "other", "place": "", "new": ""}
    if there:
        start["new"] = edits.free_name(vehicle.components, name) if what == "duplicate" else name
    return part(
        request, "component_change.html", 422 if error else 200, what=what, name=name,
        title=(vehicle.components[name].title or name) if there else "", roles=ROLES,
        places=[(key, place.title) for key, place in vehicle.places.items()],
        references=references(vehicle, name) if there and what != "duplicate" else (),
        given={**start, **given}, wrong=str(error) if error else "", field=(error.field or "new") if error else "",
    )  # fmt: skip


def _written(request: Request, change: Change, address: str) -> Response:
    """Apply a change and go where its result is."""
    session = session_of(request)
    answer = done(session, session.apply(change, base_of(request)))
    answer.headers["HX-Redirect"] = address
    return answer
