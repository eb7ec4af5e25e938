"""What a page shows when a command of ``app`` refuses: the reason, and both versions where two people wrote."""

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from loomwright.app.project import UnreadableError
from loomwright.app.refusal import refusal
from loomwright.terms.errors import LoomwrightError
from loomwright.web.desk import NothingOpenError, desk_of

INTO_THE_SHEET = {"HX-Retarget": "#sheet-body", "HX-Reswap": "innerHTML"}


def handle(app: FastAPI) -> None:
    """Have every ``LoomwrightError`` of a route answered by a page or a sheet."""
    app.add_exception_handler(LoomwrightError, refused)


def refused(request: Request, error: Exception) -> Response:
    """The answer to a refused command."""
    asked_by_htmx = request.headers.get("hx-request") == "true"
    if isinstance(error, NothingOpenError):
        return (
            Response(status_code=204, headers={"HX-Redirect": "/start"})
            if asked_by_htmx
            else RedirectResponse("/start", 303)
        )
    assert isinstance(error, LoomwrightError)
    session = desk_of(request).workbench.session
    told = refusal(error, session.view().vehicle if session is not None else None)
    status = 409 if told.values or told.files or isinstance(error, UnreadableError) else 422
    text = desk_of(request).render(
        "refused.html",
        heading=told.heading,
        message=told.message,
        values=told.values,
        files=told.files,
        problem_texts=told.problems,
    )
    return HTMLResponse(text, status, headers=INTO_THE_SHEET if asked_by_htmx else None)
