"""What a page shows when a command of ``app`` refuses: the reason, and both versions where two people wrote."""

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from loomwright.app.project import UnreadableError
from loomwright.app.refusal import Refusal, breakdown, refusal
from loomwright.terms.errors import LoomwrightError
from loomwright.web.desk import THEMES, NothingOpenError, address_of_request, broken_page, desk_of, part

INTO_THE_SHEET = {"HX-Retarget": "#sheet-body", "HX-Reswap": "innerHTML"}


def handle(app: FastAPI) -> None:
    """Have every ``LoomwrightError`` of a route, every bad form, lost address and mistake answered by a page or a sheet."""
    app.add_exception_handler(LoomwrightError, refused)
    app.add_exception_handler(RequestValidationError, unfit)
    app.add_exception_handler(HTTPException, lost)
    app.add_exception_handler(Exception, broken)


def refused(request: Request, error: Exception) -> Response:
    """The answer to a refused command."""
    if isinstance(error, NothingOpenError):
        if _asked_by_htmx(request):
            return Response(status_code=204, headers={"HX-Redirect": "/start"})
        return RedirectResponse("/start", 303)
    assert isinstance(error, LoomwrightError)
    session = desk_of(request).workbench.session
    told = refusal(error, session.view().vehicle if session is not None else None)
    stale = told.values or told.files or isinstance(error, UnreadableError)
    return _told(request, told, 409 if stale else 422)


def unfit(request: Request, error: Exception) -> Response:
    """The answer to a form with a field that is missing, too long or of the wrong kind."""
    assert isinstance(error, RequestValidationError)
    fields = sorted({str(item["loc"][-1]) for item in error.errors()})
    return _told(request, Refusal("Not done", f"These fields are missing or cannot be read: {', '.join(fields)}."), 422)


def lost(request: Request, error: Exception) -> Response:
    """The answer to an address that leads nowhere."""
    assert isinstance(error, HTTPException)
    return _told(request, Refusal("There is no such page", "The address leads nowhere."), error.status_code)


def broken(request: Request, error: Exception) -> Response:
    """The answer where the program itself fails: the page keeps its frame, and with it the way back."""
    session = desk_of(request).workbench.session
    if session is None:
        return _told(request, breakdown(error), 500)
    view = session.unjudged()
    told = breakdown(error, view.undo)
    if request.url.path == "/margin":
        address = address_of_request(request)
        return part(request, "margin_broken.html", 500, view=view, state=session.state, address=address)
    if request.method == "GET" and request.headers.get("hx-target") in (None, "main#page"):
        return broken_page(request, told, view)
    return _told(request, told, 500)


def _told(request: Request, told: Refusal, status: int) -> HTMLResponse:
    desk, sheet = desk_of(request), _asked_by_htmx(request)
    theme = request.cookies.get("theme", "")
    text = desk.render(
        "refused.html" if sheet else "base.html",
        page="refused_page.html",
        sheet=sheet,
        title=told.heading,
        scripts=(),
        theme=theme if theme in THEMES else "",
        view=None,
        heading=told.heading,
        message=told.message,
        values=told.values,
        files=told.files,
        problem_texts=told.problems,
    )
    return HTMLResponse(text, status, headers=INTO_THE_SHEET if sheet else None)


def _asked_by_htmx(request: Request) -> bool:
    return request.headers.get("hx-request") == "true"
