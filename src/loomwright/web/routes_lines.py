"""The pages of lines: all on the vehicle plan, and each pulled straight on its ruler."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from loomwright.app.lines import line_names, line_page, line_rows, plan
from loomwright.web.desk import elsewhere, page, session_of

router = APIRouter()


@router.get("/lines")
def lines(request: Request) -> HTMLResponse:
    """Every line along the runs it takes, and the table of them."""
    drawing, rows = session_of(request).ask(lambda project: (plan(project), line_rows(project)))
    names = line_names(session_of(request).view())
    return page(request, "lines.html", title="Lines", scope=("lines",), drawing=drawing, rows=rows, names=names)


@router.get("/lines/{name}")
def line(request: Request, name: str) -> Response:
    """One line: its ruler and its stops."""
    session = session_of(request)
    names = line_names(session.view())
    if name not in dict(names):
        return elsewhere(request, "/lines")
    one = session.ask(lambda project: line_page(project, name))
    scope = (f"lines.{name}",)
    return page(request, "line.html", title=one.row.title, scope=scope, one=one, names=names)
