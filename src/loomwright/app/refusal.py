"""An error of a command as a page tells it: a heading, a sentence, both versions where two people wrote."""

import traceback
from dataclasses import dataclass
from pathlib import Path

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


def breakdown(error: BaseException, last_step: str = "") -> Refusal:
    """What to tell of an error of the program itself: what was said, where it stands, and that nothing is lost."""
    told = [f"The program has a mistake here: {type(error).__name__}, {str(error) or 'without a word'}{_place(error)}."]
    told.append("Your files are as they were written.")
    if last_step:
        told.append(f"The last step was: {last_step}. Undo takes it back.")
    return Refusal("This could not be worked out", " ".join(told))


def _place(error: BaseException) -> str:
    """The last place in the program's own text that the error came by."""
    package = Path(__file__).parents[1]
    own = [each for each in traceback.extract_tb(error.__traceback__) if Path(each.filename).is_relative_to(package)]
    if not own:
        return ""
    return f" ({Path(own[-1].filename).relative_to(package).as_posix()}, line {own[-1].lineno})"


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
