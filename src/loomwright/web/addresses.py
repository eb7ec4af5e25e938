"""Where a thing of the vehicle is shown."""

from urllib.parse import quote

from loomwright.terms.change import Path, path_of, path_text

OWN_PAGES = {"components": "/components/{name}", "lines": "/lines/{name}", "locks": "/lines"}
"""Kinds of things that have a page each; everything else is shown on ``ELSEWHERE``."""

ELSEWHERE = "/vehicle"


IN_THE_SHEET = {"glossary": "/glossary/{name}", "rules": "/rules/{name}"}
"""Kinds of things that are explained in the sheet over whatever page is shown."""


def address_of(path: Path) -> str:
    """The address of the page that shows a path, with the path as fragment, so that it lights up there."""
    if path[0] in IN_THE_SHEET:  # no thing of the vehicle: an entry of the glossary page
        return f"/glossary#{'rule-' if path[0] == 'rules' else ''}{quote(str(path[1]), safe='')}"
    pattern = OWN_PAGES.get(str(path[0]), ELSEWHERE)
    return f"{pattern.format(name=quote(str(path[1]), safe=''))}#{quote(path_text(path), safe='')}"


def sheet_of(path: Path) -> str:
    """The address of what the sheet shows of a path; empty where a path has a page instead."""
    pattern = IN_THE_SHEET.get(str(path[0]), "")
    return pattern.format(name=quote(str(path[1]), safe="")) if pattern else ""


def shown_at(path: str) -> str:
    """The address of the page that shows a path given as text."""
    return address_of(path_of(path))
