"""What every route works with: the open session, pages and parts of pages, answers to changes."""

from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined

from loomwright.app.margin import Margin, problem_texts
from loomwright.app.refusal import Refusal
from loomwright.app.session import Session, Step, View
from loomwright.app.signal_told import bits_told
from loomwright.app.workbench import Workbench
from loomwright.terms.errors import LoomwrightError
from loomwright.web.addresses import shown_at
from loomwright.web.events import Events
from loomwright.web.rail import rail
from loomwright.web.words import linked

THEMES = ("light", "dark")


class NothingOpenError(LoomwrightError):
    """No project is open; the first page is where one is opened."""


def environment() -> Environment:
    """The templates: everything is escaped, and a name that a template misspells is an error."""
    made = Environment(
        loader=PackageLoader("loomwright.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["terms"] = linked
    made.filters["shown_at"] = shown_at
    return made


@dataclass(slots=True)
class Desk:
    """One per server, at ``request.app.state.desk``."""

    workbench: Workbench
    events: Events
    templates: Environment = field(default_factory=environment)
    signed: str = ""

    def render(self, template: str, **context: Any) -> str:
        """A template with a context."""
        return self.templates.get_template(template).render(**context, seen_terms=set())


def desk_of(request: Request) -> Desk:
    """The desk of the server that got the request."""
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


def session_of(request: Request) -> Session:
    """The open project. Raises ``NothingOpenError``, which leads to the first page."""
    session = desk_of(request).workbench.session
    if session is None:
        raise NothingOpenError("no project is open")
    return session


def base_of(request: Request) -> str:
    """The revision that the page showed to whoever made a change."""
    return request.headers.get("loomwright-revision", "")[:64]


def page(
    request: Request,
    template: str,
    *,
    title: str,
    scope: tuple[str, ...],
    scripts: tuple[str, ...] = (),
    **context: Any,
) -> HTMLResponse:
    """A whole page, or its changing parts alone where the page itself asks for them.

    ``template`` holds the content of ``<main>``; ``scope`` are the paths of what the page shows: the margin tells
    their findings. Every template gets ``view``, ``state``, ``title``, ``address`` and what is given here.
    """
    session = session_of(request)
    view = session.view()
    margin = Margin.of(view, scope, bits=bits_told(session, scope))
    return _framed(request, view, template, 200, title=title, scripts=scripts, margin=margin, **context)


def broken_page(request: Request, told: Refusal, view: View) -> HTMLResponse:
    """A page that could not be made, in its frame: undo, search and the way to other pages stay. ``view`` has no findings."""
    return _framed(request, view, "broken.html", 500, title=told.heading, scripts=(), margin=None, told=told)


def _framed(request: Request, view: View, template: str, status: int, **context: Any) -> HTMLResponse:
    theme = request.cookies.get("theme", "")
    text = desk_of(request).render(
        "part.html" if request.headers.get("hx-target") == "main#page" else "base.html",
        page=template,
        theme=theme if theme in THEMES else "",
        view=view,
        state=session_of(request).state,
        address=address_of_request(request),
        rail=rail(view, request.url.path),
        problem_texts=problem_texts(view),
        **context,
    )
    return HTMLResponse(text, status)


def address_of_request(request: Request) -> str:
    """The path and the questions of a request, as a page asks for itself again."""
    return request.url.path + (f"?{request.url.query}" if request.url.query else "")


def part(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """A piece of a page for htmx to put in its place."""
    return HTMLResponse(desk_of(request).render(template, **context), status)


def elsewhere(request: Request, address: str) -> Response:
    """Lead to another page, where what was asked for is not there (any more)."""
    if request.headers.get("hx-request") == "true":
        return Response(status_code=204, headers={"HX-Redirect": address})
    return RedirectResponse(address, 303)


def done(session: Session, step: Step | str) -> Response:
    """The answer to a change that was written: the new state, from which the page asks for its parts."""
    title = step if isinstance(step, str) else step.title
    return Response(
        status_code=204,
        headers={"Loomwright-State": session.state, "Loomwright-Done": "yes", "Loomwright-Said": quote(title)},
    )
