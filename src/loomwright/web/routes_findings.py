"""What can be done about a finding: try its cure, apply it, accept the deviation, withdraw that."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, Response

from loomwright.app.deviations import DeviationError, accept, withdraw
from loomwright.app.margin import GoneFindingError, finding_named, row_of, tried_rows
from loomwright.app.session import View
from loomwright.terms.change import Change
from loomwright.web.desk import base_of, desk_of, done, part, session_of

router = APIRouter()
Key = Annotated[str, Form(max_length=1000)]
Words = Annotated[str, Form(max_length=400)]


@router.post("/findings/try")
def try_it(request: Request, finding: Key) -> HTMLResponse:
    """A finding's cure as a difference, with the findings it would leave."""
    session = session_of(request)
    view = session.view()
    tried = session.try_change(_cure(view, finding))
    return part(
        request,
        "try.html",
        tried=tried_rows(tried, view.vehicle),
        apply_to="/findings/apply",
        base=view.revision,
        fields=(("finding", finding),),
    )


@router.post("/findings/apply")
def apply_it(request: Request, finding: Key) -> Response:
    """Write a finding's cure."""
    session = session_of(request)
    return done(session, session.apply(_cure(session.view(), finding), base_of(request)))


@router.get("/findings/accept")
def accept_form(request: Request, finding: Annotated[str, Query(max_length=1000)]) -> HTMLResponse:
    """Ask for the reason and the name."""
    return _accept_form(request, finding, "", desk_of(request).signed)


@router.post("/findings/accept")
def accept_it(request: Request, finding: Key, reason: Words = "", by: Words = "") -> Response:
    """Keep a deviation in the files, with its reason and name."""
    session, desk = session_of(request), desk_of(request)
    view = session.view()
    today = date.today().isoformat()
    try:
        change = accept(view.vehicle, finding_named(view.findings, finding), reason, by, today)
    except DeviationError as error:
        return _accept_form(request, finding, reason, by, str(error))
    desk.signed = by.strip()
    return done(session, session.apply(change, base_of(request)))


@router.post("/deviations/withdraw")
def withdraw_it(request: Request, name: Words) -> Response:
    """Take an acceptance back."""
    session = session_of(request)
    return done(session, session.apply(withdraw(session.view().vehicle, name), base_of(request)))


def _accept_form(request: Request, key: str, reason: str, by: str, wrong: str = "") -> HTMLResponse:
    view = session_of(request).view()
    row = row_of(finding_named(view.findings, key), view.vehicle)
    return part(request, "accept.html", 422 if wrong else 200, row=row, reason=reason, by=by, wrong=wrong)


def _cure(view: View, key: str) -> Change:
    change = finding_named(view.findings, key).reading.change
    if change is None:
        raise GoneFindingError("this finding has no cure that could be tried")
    return change
