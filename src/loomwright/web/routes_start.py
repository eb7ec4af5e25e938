"""The first page: open a project folder, open a copy of a shipped example, start a vehicle with four questions."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from loomwright.app.project import UnreadableError
from loomwright.app.refusal import refusal
from loomwright.app.start import example_titles
from loomwright.terms.errors import LoomwrightError
from loomwright.web.desk import THEMES, desk_of
from loomwright.web.rail import PAGES

router = APIRouter()
Words = Annotated[str, Form(max_length=400)]


@router.get("/")
def first(request: Request) -> Response:
    """The open project's first page, or the page where one is opened."""
    return RedirectResponse(PAGES[0].address if desk_of(request).workbench.session else "/start", 303)


@router.get("/start")
def start(request: Request) -> HTMLResponse:
    """The three ways to begin."""
    return _start(request)


@router.post("/open/folder")
def open_folder(request: Request, folder: Words) -> Response:
    """Open a project folder below the base folder."""
    try:
        desk_of(request).workbench.open_folder(folder)
    except LoomwrightError as error:
        return _start(request, error, folder=folder)
    return RedirectResponse("/", 303)


@router.post("/open/example")
def open_example(request: Request, example: Words, folder: Words = "") -> Response:
    """Copy a shipped example and open the copy."""
    try:
        desk_of(request).workbench.open_example(example, folder)
    except LoomwrightError as error:
        return _start(request, error)
    return RedirectResponse("/", 303)


@router.post("/open/new")
def start_vehicle(request: Request, name: Words, length: Words, width: Words, axles: Words) -> Response:
    """Start a vehicle from four answers."""
    answers = {"name": name, "length": length, "width": width, "axles": axles}
    try:
        desk_of(request).workbench.start_vehicle("", name, length, width, axles)
    except LoomwrightError as error:
        return _start(request, error, **answers)
    return RedirectResponse("/", 303)


def _start(request: Request, error: LoomwrightError | None = None, **given: str) -> HTMLResponse:
    desk = desk_of(request)
    theme = request.cookies.get("theme", "")
    told = refusal(error) if error is not None else None
    text = desk.render(
        "base.html",
        page="start.html",
        title="Start",
        scripts=(),
        theme=theme if theme in THEMES else "",
        view=None,
        base=desk.workbench.base,
        projects=desk.workbench.projects(),
        open_now=desk.workbench.session is not None,
        examples=example_titles(),
        told=told,
        given={"folder": "", "name": "", "length": "", "width": "", "axles": "", **given},
    )
    status = 200 if error is None else 409 if isinstance(error, UnreadableError) else 422
    return HTMLResponse(text, status)
