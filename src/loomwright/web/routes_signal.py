"""Will the bits arrive: the page of one line, its slow work, its waveforms, its offers."""

from dataclasses import replace
from typing import Annotated
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from loomwright.app.jobs import BusyError
from loomwright.app.lines import line_names
from loomwright.app.margin import GoneFindingError, tried_rows
from loomwright.app.signal import LEFT_OUT
from loomwright.app.signal_fault_page import fault_form, fault_page
from loomwright.app.signal_jobs import KINDS, begin, stop
from loomwright.app.signal_offers import Offered, offer_of, tried_told
from loomwright.app.signal_page import signal_page
from loomwright.app.signal_told import BITS
from loomwright.app.signal_wave import wave
from loomwright.web.desk import base_of, done, elsewhere, page, part, session_of

router = APIRouter()
Port = Annotated[str, Query(max_length=240)]
Fault = Annotated[str, Query(max_length=240)]
Words = Annotated[str, Form(max_length=400)]


@router.get("/lines/{name}/signal")
def signal(request: Request, name: str, fault: Fault = "", stub: Fault = "", at: Fault = "") -> Response:
    """Who is sure when, what the edges meet, what would help; or the same of the line with a fault."""
    session = session_of(request)
    names = line_names(session.view())
    if name not in dict(names):
        return elsewhere(request, "/lines")
    if stub:
        return elsewhere(request, f"/lines/{quote(name)}/signal?{urlencode({'fault': f'stub {stub} at {at}'})}")
    if fault:
        return page(
            request, "signal_fault.html", title=f"{dict(names)[name]}, with a fault: will the bits arrive?",
            scope=(f"lines.{name}",), scripts=("signal.js",), one=fault_page(session, name, fault),
            form=fault_form(session, name, fault), names=names, name=name, busy="", revision=session.revision,
            left_out=LEFT_OUT,
        )  # fmt: skip
    return page(
        request, "signal.html", title=f"{dict(names)[name]}: will the bits arrive?", scope=(f"lines.{name}", f"{BITS}.{name}"),
        scripts=("signal.js",), one=signal_page(session, name), form=fault_form(session, name), names=names,
        name=name, busy="", asked="", revision=session.revision,
    )  # fmt: skip


@router.get("/lines/{name}/signal/part")
def signal_part(request: Request, name: str, fault: Fault = "") -> HTMLResponse:
    """The computed part alone, while it is worked on."""
    return _part(request, name, fault=fault)


@router.post("/lines/{name}/signal/begin/{kind}")
def signal_begin(request: Request, name: str, kind: str, fault: Fault = "") -> HTMLResponse:
    """Begin slow work on the line."""
    session = session_of(request)
    busy = ""
    if kind in KINDS and (kind == "fault") == bool(fault) and name in session.view().vehicle.lines:
        try:
            begin(session, kind, name, fault)
        except BusyError as error:
            busy = str(error)
    return _part(request, name, busy, fault, kind)


@router.post("/lines/{name}/signal/stop")
def signal_stop(request: Request, name: str, fault: Fault = "") -> HTMLResponse:
    """Stop what is under way; older figures stay."""
    stop(session_of(request))
    return _part(request, name, fault=fault)


@router.get("/lines/{name}/signal/wave")
def signal_wave(request: Request, name: str, sender: Port, receiver: Port, fault: Fault = "") -> JSONResponse:
    """The waveform of one pair."""
    return JSONResponse(wave(session_of(request), name, sender, receiver, fault))


@router.post("/lines/{name}/signal/try")
def signal_try(request: Request, name: str, offer: Words) -> HTMLResponse:
    """An offered change as a difference."""
    session = session_of(request)
    view = session.view()
    effect = _offered(request, name, offer)
    rows = tried_rows(session.try_change(effect.change), view.vehicle)
    told = replace(rows, balance=tried_told(effect, rows.balance))
    return part(
        request, "try.html", tried=told, apply_to=f"/lines/{name}/signal/apply", base=view.revision,
        fields=(("offer", offer),),
    )  # fmt: skip


@router.post("/lines/{name}/signal/apply")
def signal_apply(request: Request, name: str, offer: Words) -> Response:
    """Write an offered change."""
    session = session_of(request)
    return done(session, session.apply(_offered(request, name, offer).change, base_of(request)))


def _offered(request: Request, name: str, title: str) -> Offered:
    effect = offer_of(session_of(request), name, title)
    if effect is None:
        raise GoneFindingError("this change is not on offer any more; ask for advice again")
    return effect


def _part(request: Request, name: str, busy: str = "", fault: str = "", asked: str = "") -> HTMLResponse:
    session = session_of(request)
    if fault:
        one = fault_page(session, name, fault)
        return part(request, "signal_fault_part.html", one=one, name=name, busy=busy, revision=session.revision)
    return part(
        request, "signal_part.html", one=signal_page(session, name), name=name, busy=busy, asked=asked,
        revision=session.revision,
    )  # fmt: skip
