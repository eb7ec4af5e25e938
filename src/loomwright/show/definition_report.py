"""What taking over or giving out a definition file did not bring through, as tables for a terminal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from rich.console import Group
    from rich.table import Table

SHOWN = 3
"""Places that are named for each kind; the others are counted, and all are in the plain data."""


class Told(Protocol):
    """One kind of loss or remark with its places."""

    @property
    def kind(self) -> str:
        """What it is."""

    @property
    def places(self) -> tuple[str, ...]:
        """Where it happened."""

    @property
    def taken(self) -> bool:
        """Whether it came through all the same, otherwise than it stood."""


def report_table(title: str, told: Iterable[Told], *, every: bool = False) -> Group | Table:
    """Losses, then remarks, each with its count and the first of its places."""
    from rich import box
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    made = Table(title=Text(title), title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    made.add_column("", no_wrap=True)
    made.add_column("what", overflow="fold", ratio=3)
    made.add_column("how often", justify="right", no_wrap=True)
    made.add_column("where", overflow="fold", ratio=2)
    lines = list(told)
    for each in lines:
        places = each.places if every else each.places[:SHOWN]
        more = len(each.places) - len(places)
        where = "\n".join(places) + (f"\nand {more} more" if more else "")
        made.add_row("changed" if each.taken else "left out", Text(each.kind), str(len(each.places)), Text(where))
    if not lines:
        return Group(Text(title), Text("Everything came through.\n"))
    return made
