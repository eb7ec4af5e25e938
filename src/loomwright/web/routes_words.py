"""What pages explain on demand: why a figure is what it is, and what a word means."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from loomwright.app.ask import explain, rule_codes
from loomwright.app.glossary import term, terms
from loomwright.app.margin import rule_title
from loomwright.app.why import why
from loomwright.terms.change import path_of
from loomwright.web.addresses import address_of
from loomwright.web.desk import page, part, session_of

router = APIRouter()


@router.get("/why")
def ask_why(request: Request, of: Annotated[str, Query(max_length=1000)]) -> HTMLResponse:
    """The formula, inputs, source and assumptions of a figure."""
    found = session_of(request).ask(lambda project: why(project, of))
    entries = (*found.inputs, *found.waits_for, *found.assumptions)
    there = {entry.path: address_of(path_of(entry.path)) for entry in entries if entry.path}
    return part(request, "why.html", why=found, there=there)


@router.get("/glossary")
def glossary(request: Request) -> HTMLResponse:
    """Every trade term, and every rule."""
    rules = [(code, rule_title(code), explain(code)) for code in rule_codes()]
    names = {entry.name: entry.term for entry in terms()}
    return page(
        request, "glossary.html", title="Glossary", scope=("glossary",), terms=terms(), names=names, rules=rules
    )


@router.get("/glossary/{name}")
def entry(request: Request, name: str) -> HTMLResponse:
    """One trade term, for the sheet."""
    found = term(name)
    return part(request, "term.html", term=found, see=[term(other) for other in found.see])
