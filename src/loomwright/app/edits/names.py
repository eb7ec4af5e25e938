"""Names that edits may use, and the error that says why one cannot be."""

import re
from collections.abc import Callable
from typing import TypeVar

from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Edit
from loomwright.terms.errors import LoomwrightError

T = TypeVar("T")

NAME = re.compile(r"[a-z][a-z0-9_]{0,59}")


class EditError(LoomwrightError):
    """A change that cannot be made; ``field`` names the form field that is at fault, where one is."""

    def __init__(self, message: str, field: str = "") -> None:
        super().__init__(message)
        self.field = field


class Slips:
    """Collects what is wrong with a form, so that all of it is told at once."""

    def __init__(self) -> None:
        self.found: list[EditError] = []

    def note(self, message: str, field: str) -> None:
        """Note something that is wrong."""
        self.found.append(EditError(message, field))

    def look(self, read: Callable[[], T], otherwise: T) -> T:
        """What a part of the form means, or something else in its place after noting why it cannot be read."""
        try:
            return read()
        except EditError as error:
            self.found.append(error)
            return otherwise

    def end(self) -> None:
        """Raise one ``EditError`` that tells everything noted; its field is that of the first."""
        if self.found:
            told = [str(error) for error in self.found]
            sentences = [told[0], *(f"{each[:1].upper()}{each[1:]}" for each in told[1:])]
            raise EditError(". ".join(sentences), self.found[0].field)


def named(name: str, what: str, field: str = "name") -> str:
    """The name, if it is one."""
    if not NAME.fullmatch(name):
        raise EditError(
            f"{name!r} is no name for a {what}: small letters, digits and _, beginning with a letter", field
        )
    return name


def free(table: Table[T], name: str, what: str) -> None:
    """Refuse a name that is none or is taken."""
    if named(name, what) in table:
        raise EditError(f"there is a {what} called {name!r} already", "name")


def known(table: Table[T], name: str, what: str, field: str = "") -> T:
    """The entry of that name."""
    if name not in table:
        raise EditError(f"there is no {what} {name!r}", field)
    return table[name]


def subject_edits(vehicle: Vehicle, whole: tuple[str, str], inside: tuple[str, str]) -> list[Edit]:
    """Let accepted deviations follow a new name: as the subject itself or what it begins with, and inside brackets."""
    edits = []
    for name, deviation in vehicle.deviations.items():
        subject = deviation.subject
        if subject == whole[0] or subject.startswith(f"{whole[0]}."):
            subject = whole[1] + subject[len(whole[0]) :]
        subject = subject.replace(*inside)
        if subject != deviation.subject:
            edits.append(Edit(("deviations", name, "subject"), subject))
    return edits


def free_name(table: Table[T], wanted: str) -> str:
    """A name like the wanted words that nothing in the table has yet."""
    kept = "".join(letter if letter.isascii() and letter.isalnum() else " " for letter in wanted.lower())
    stem = "_".join(kept.split())[:50] or "new"
    stem = stem if stem[0].isalpha() else f"n_{stem}"
    return next(name for number in range(1, len(table) + 2) if (name := _numbered(stem, number)) not in table)


def _numbered(stem: str, number: int) -> str:
    return stem if number == 1 else f"{stem}_{number}"
