"""Whether a change still meets the vehicle that its author saw."""

from dataclasses import dataclass
from typing import Any

from loomwright.model.variant import changed, value_at
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Path
from loomwright.terms.errors import LoomwrightError, PathError


@dataclass(frozen=True, slots=True)
class Clash:
    """A value that two people set: what both began with, what stands there now, what was refused. ``None``: absent."""

    path: Path
    was: Any
    now: Any
    wanted: Any


class StaleChangeError(LoomwrightError):
    """The change was made on a page that is out of date where it matters; nothing was written."""

    def __init__(self, change: Change, found: tuple[Clash, ...]) -> None:
        super().__init__(f"{change.title}: somebody else changed this since the page was read; nothing was written")
        self.change, self.clashes = change, found


def clashes(change: Change, was: Vehicle, now: Vehicle) -> tuple[Clash, ...]:
    """Every value that the change sets and that is another one than its author saw.

    A place in a list is no name: where a path goes through a list, the list as a whole is compared. Who wants just what
    stands there now is in nobody's way: a form that is sent twice, by its field and by the enter key, is no clash.
    """
    paths = dict.fromkeys(_named(edit.path) for edit in change.edits)
    met = [path for path in paths if _value(was, path) != _value(now, path)]
    if not met:
        return ()
    wanted = changed(was, change)
    found = (Clash(path, _value(was, path), _value(now, path), _value(wanted, path)) for path in met)
    return tuple(clash for clash in found if clash.now != clash.wanted)


def _named(path: Path) -> Path:
    for number, step in enumerate(path):
        if isinstance(step, int):
            return path[:number]
    return path


def _value(vehicle: Vehicle, path: Path) -> Any:
    try:
        return value_at(vehicle, path)
    except PathError:
        return None
