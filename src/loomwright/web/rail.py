"""The pages in the order of the job. A page stands here when it is there; nothing is announced that is not."""

from dataclasses import dataclass

from loomwright.app.margin import TRAFFIC, Count, count
from loomwright.app.session import View


@dataclass(frozen=True, slots=True)
class Page:
    """A page: its address begins with ``address``, and it owns the findings whose subject begins with ``owns``."""

    name: str
    address: str
    owns: tuple[str, ...]


PAGES = (
    Page("Vehicle", "/vehicle", ("places", "runs")),
    Page("Components", "/components", ("components",)),
    Page("Lines", "/lines", ("lines",)),
    Page("Messages", "/messages", (TRAFFIC,)),
)


@dataclass(frozen=True, slots=True)
class Entry:
    """A page as it stands in the rail."""

    name: str
    address: str
    here: bool
    broken: int
    unknown: int


def rail(view: View, path: str) -> tuple[Entry, ...]:
    """Every page with its count of broken and unknown; ``path`` is that of the page shown."""
    entries = []
    for page in PAGES:
        found: Count = count(view.findings, page.owns)
        here = path == page.address or path.startswith(f"{page.address}/")
        entries.append(Entry(page.name, page.address, here, found.broken, found.unknown))
    return tuple(entries)
