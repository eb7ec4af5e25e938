"""The planning of all lines: begin, follow, stop, apply, put away."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, Response

from loomwright.app.arrange import begin_arranging
from loomwright.app.arranging import apply_plan, arranging, put_away, stop
from loomwright.web.desk import done, part, session_of

router = APIRouter(prefix="/arrange")
Seconds = Annotated[float, Form(ge=1.0, le=600.0)]
Ticked = Annotated[bool, Form()]


@router.get("")
def state(request: Request) -> HTMLResponse:
    """Where planning stands."""
    return _state(request)


@router.post("/begin")
def begin(request: Request, seconds: Seconds = 10.0, keep_lines: Ticked = False, compare: Ticked = False) -> Response:
    """Begin to plan beside the pages."""
    begin_arranging(session_of(request), seconds=seconds, keep_lines=keep_lines, compare=compare)
    return _state(request)


@router.post("/stop")
def end(request: Request) -> Response:
    """End with what there is."""
    stop(session_of(request))
    return _state(request)


@router.post("/apply")
def write_plan(request: Request) -> Response:
    """Write the plan as one step."""
    session = session_of(request)
    return done(session, apply_plan(session))


@router.post("/put-away")
def dismiss(request: Request) -> Response:
    """Let go of the plan."""
    put_away(session_of(request))
    return _state(request)


def _state(request: Request) -> HTMLResponse:
    return part(request, "arrange.html", arranging=arranging(session_of(request)))
