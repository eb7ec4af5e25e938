"""An error of a command as a page tells it: a heading, a sentence, both versions where two people wrote."""

from dataclasses import dataclass

from loomwright.app.fields import document_at, field_at
from loomwright.app.project import UnreadableError
from loomwright.app.stale import Clash, StaleChangeError
from loomwright.files.form import written
from loomwright.model.vehicle import Vehicle
from loomwright.show.problems import problem_text
from loomwright.terms.change import path_text
from loomwright.terms.errors import LoomwrightError, PathError, StaleWriteError


@dataclass(frozen=True, slots=True)
class TwoVersions:
    """Something that two people wrote: what stands there now, and the other version."""

    name: str
    now: str
    other: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a command was not carried out. ``values`` and ``files`` show both versions, ``problems`` the unreadable text."""

    heading: str
    message: str
    values: tuple[TwoVersions, ...] = ()
    files: tuple[TwoVersions, ...] = ()
    problems: tuple[str, ...] = ()


def refusal(error: LoomwrightError, vehicle: Vehicle | None = None) -> Refusal:
    """What to tell of an error."""
    message = _sentence(str(error))
    if isinstance(error, StaleChangeError):
        values = tuple(_value(clash, vehicle) for clash in error.clashes)
        return Refusal("Changed by somebody else meanwhile", message, values)
    if isinstance(error, StaleWriteError):
        now, read = (raw.decode("utf-8", "replace") or "(no file)" for raw in (error.found, error.read))
        return Refusal("Edited outside meanwhile", message, files=(TwoVersions(error.file, now, read),))
    if isinstance(error, UnreadableError):
        return Refusal("The text cannot be read", message, problems=tuple(problem_text(p) for p in error.problems))
    return Refusal("Not done", message)


def _value(clash: Clash, vehicle: Vehicle | None) -> TwoVersions:
    item, document = None, ""
    if vehicle is not None:
        try:
            item, document = field_at(vehicle, clash.path), document_at(vehicle, clash.path)
        except PathError:
            item = None
    return TwoVersions(path_text(clash.path), written(clash.now, item, document), written(clash.wanted, item, document))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"
