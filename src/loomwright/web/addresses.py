"""Where a thing of the vehicle is shown."""

from urllib.parse import quote

from loomwright.terms.change import Path, path_of, path_text

OWN_PAGES = {
    "components": "/components/{name}",
    "lines": "/lines/{name}",
    "locks": "/lines",
    "chains": "/messages/chains",
}
"""Kinds of things that have a page each; everything else is shown on ``ELSEWHERE``."""

SAID = ("needs", "forwards")
"""Parts of a component that are shown with the message they are about."""

ELSEWHERE = "/vehicle"


IN_THE_SHEET = {"glossary": "/glossary/{name}", "rules": "/rules/{name}"}
"""Kinds of things that are explained in the sheet over whatever page is shown."""


def address_of(path: Path) -> str:
    """The address of the page that shows a path, with the path as fragment, so that it lights up there."""
    if path[0] in IN_THE_SHEET:  # no thing of the vehicle: an entry of the glossary page
        return f"/glossary#{'rule-' if path[0] == 'rules' else ''}{quote(str(path[1]), safe='')}"
    steps = [quote(str(step), safe="") for step in path]
    if path[0] == "messages":
        return f"/messages/{steps[1]}/{steps[3]}#{_text(path)}" if len(path) > 3 else "/messages"
    if path[0] == "components" and len(path) > 3 and path[2] in SAID:
        return f"/messages/via/{steps[1]}/{steps[2]}/{steps[3]}#{_text(path)}"
    pattern = OWN_PAGES.get(str(path[0]), ELSEWHERE)
    return f"{pattern.format(name=steps[1])}#{_text(path)}"


def sheet_of(path: Path) -> str:
    """The address of what the sheet shows of a path; empty where a path has a page instead."""
    pattern = IN_THE_SHEET.get(str(path[0]), "")
    return pattern.format(name=quote(str(path[1]), safe="")) if pattern else ""


def shown_at(path: str, traffic: bool = False) -> str:
    """The address of the page that shows a path given as text; with ``traffic`` what is said there, not how it is wired."""
    steps = path_of(path)
    if traffic and steps[0] == "lines":
        return f"/messages?line={quote(str(steps[1]), safe='')}#{_text(steps)}"
    return address_of(steps)


def _text(path: Path) -> str:
    return quote(path_text(path), safe="")
