"""What stands around every page: margin, search, undo and redo, events, rules, the files of the look."""

from typing import Annotated

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import FileResponse, HTMLResponse, Response, StreamingResponse

from loomwright.app.ask import explain
from loomwright.app.look import style_file
from loomwright.app.margin import Margin, rule_page
from loomwright.app.search import search
from loomwright.app.signal_told import bits_told
from loomwright.web.addresses import address_of, sheet_of
from loomwright.web.desk import desk_of, done, part, session_of

router = APIRouter()
Scope = Annotated[list[str], Query(max_length=50)]


@router.get("/look/{name}")
def look(name: str) -> FileResponse:
    """A style file that pages share with drawings."""
    found = style_file(name)
    if found is None:
        raise HTTPException(404)
    return FileResponse(found, media_type="text/css", headers={"cache-control": "no-cache"})


@router.get("/events")
async def events(request: Request) -> StreamingResponse:
    """A stream that tells every new state of the project."""
    return StreamingResponse(desk_of(request).events.stream(), media_type="text/event-stream")


@router.get("/margin")
def margin(request: Request, scope: Scope = [], show: str = "", holds: bool = False) -> HTMLResponse:  # noqa: B006
    """The findings of what a page shows, or of everything."""
    session = session_of(request)
    state, view = session.state, session.view()
    bits = bits_told(session, tuple(scope))
    made = Margin.of(view, tuple(scope), everywhere=show == "all", with_holds=holds, bits=bits)
    return part(request, "margin.html", view=view, state=state, margin=made)


@router.get("/search")
def find(request: Request, q: Annotated[str, Query(max_length=80)] = "") -> HTMLResponse:
    """Everything whose name holds the words, or nearly."""
    found = session_of(request).ask(lambda project: search(project.vehicle, q))
    hits = [(hit, address_of(hit.path), sheet_of(hit.path)) for hit in found]
    return part(request, "hits.html", query=q.strip(), hits=hits)


@router.get("/rules/{code}")
def rule(request: Request, code: str) -> HTMLResponse:
    """What a rule measures, why, and where its limit comes from."""
    return part(request, "rule.html", about=rule_page(code, explain(code)))


@router.post("/undo")
def undo(request: Request) -> Response:
    """Take the last step back."""
    session = session_of(request)
    return done(session, f"taken back: {session.undo().title}")


@router.post("/redo")
def redo(request: Request) -> Response:
    """Do the step again that was taken back last."""
    session = session_of(request)
    return done(session, f"done again: {session.redo().title}")
