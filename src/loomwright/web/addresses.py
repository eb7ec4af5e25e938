"""Where a thing of the vehicle is shown."""

from urllib.parse import quote

from loomwright.terms.change import Path, path_text

OWN_PAGES = {"lines": "/lines/{name}"}
"""Kinds of things that have a page each; everything else is shown on ``ELSEWHERE``."""

ELSEWHERE = "/lines"


def address_of(path: Path) -> str:
    """The address of the page that shows a path, with the path as fragment, so that it lights up there."""
    pattern = OWN_PAGES.get(str(path[0]), ELSEWHERE)
    return f"{pattern.format(name=quote(str(path[1]), safe=''))}#{quote(path_text(path), safe='')}"
