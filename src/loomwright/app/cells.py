"""Values that are typed into a table: what stands there, and the change that a new word means."""

import re
from dataclasses import dataclass
from decimal import Decimal

from loomwright.app import edits
from loomwright.app.fields import FieldWords, UnreadableFieldError, field_at, set_field, words_at
from loomwright.app.words import UnreadableWordError, read_length
from loomwright.files.quantity import parse_range
from loomwright.files.read import is_fact
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Path, path_text
from loomwright.terms.quantity import Kind

SENTENCES = ("title", "why")
HINTS = {"at": "on the trunk", "high_voltage_clearance_m": "none near"}
PLACE_AXES = ("x_m", "y_m", "z_m")
_BARE = re.compile(r"[+-]?\d*\.?\d+")


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell. ``unit`` stands in the column's head and is added to a bare figure; ``names`` lists what may be typed.

    ``status`` tells how a fact is known, ``long`` words of a sentence, ``hint`` what no words
    mean. ``wrong`` is why the words in ``value`` were refused.
    """

    path: str
    value: str
    label: str
    unit: str = ""
    names: str = ""
    status: str = ""
    wrong: str = ""
    long: bool = False
    hint: str = ""

    @property
    def name(self) -> bool:
        """Whether it is a thing's own name."""
        return self.path.count(".") == 1


def cell(vehicle: Vehicle, path: Path, label: str, unit: str = "", names: str = "") -> Cell:
    """The cell of a field as it is now."""
    now = words_at(vehicle, path)
    long, hint = path[-1] in SENTENCES, "?" if now.status == "unknown" else HINTS.get(str(path[-1]), "")
    return Cell(path_text(path), _bare(now.words, unit), label, unit, names, now.status, long=long, hint=hint)


def name_cell(path: Path, label: str) -> Cell:
    """The cell of a thing's own name."""
    return Cell(path_text(path), str(path[-1]), label)


def set_cell(vehicle: Vehicle, path: Path, words: str, unit: str = "") -> Change:
    """The change that the words mean. Raises ``EditError`` or ``UnreadableFieldError`` with the reason."""
    words = words.strip()
    if unit and _BARE.fullmatch(words):
        words = f"{words} {unit}"
    if path[0] == "places" and len(path) == 2:
        return edits.rename_place(vehicle, str(path[1]), words)
    if path[0] == "places" and path[-1] in PLACE_AXES:
        return _moved(vehicle, str(path[1]), str(path[-1]), words)
    if path[0] == "components" and path[-1] == "place":
        return edits.move_component(vehicle, str(path[1]), words)
    if path[0] == "runs" and path[-1] in ("start", "end"):
        return _other_end(vehicle, path, words)
    if path[0] == "lines" and len(path) == 5 and path[-1] == "at" and isinstance(path[3], int):
        return edits.set_station_at(vehicle, str(path[1]), path[3], words)
    now, item = words_at(vehicle, path), field_at(vehicle, path)
    # Somebody who types a figure has measured or read it; a range of an assumption is typed in the field's own form.
    status = "unknown" if words == "?" else "known" if is_fact(item) else ""
    return set_field(vehicle, path, FieldWords(words, status, now.source if now.words == words else ""))


def _bare(words: str, unit: str) -> str:
    """Words without the unit that stands in the column's head; metres to the centimetre, so that points line up."""
    bare = words.removesuffix(f" {unit}") if unit else words
    if unit == "ms" and bare == words and words not in ("", "?"):
        bare = _in_ms(words)
    whole, _, rest = bare.partition(".")
    return f"{whole}.{rest:0<2}" if unit == "m" and _BARE.fullmatch(bare) else bare


def _in_ms(words: str) -> str:
    """A time in the unit of its column, whatever the file writes it in; a range as it is."""
    figure = parse_range(words, Kind.TIME)
    return words if figure.low is not None else f"{(Decimal(repr(figure.value)) * 1000).normalize():f}"


def refused(given: Cell, words: str, reason: str) -> Cell:
    """The cell with the words that were refused, and why."""
    return Cell(given.path, words, given.label, given.unit, given.names, given.status, reason, given.long, given.hint)


def _moved(vehicle: Vehicle, name: str, axis: str, words: str) -> Change:
    place = vehicle.places.get(name)
    if place is None:
        raise edits.EditError(f"there is no place {name!r}")
    try:
        value = read_length(words)
    except UnreadableWordError as error:
        raise UnreadableFieldError(str(error)) from error
    spot = {"x_m": place.x_m, "y_m": place.y_m, axis: value}
    return edits.move_place(vehicle, name, spot["x_m"], spot["y_m"], spot.get("z_m"))


def _other_end(vehicle: Vehicle, path: Path, words: str) -> Change:
    run = vehicle.runs.get(str(path[1]))
    if words not in vehicle.places:
        raise edits.EditError(f"there is no place {words!r}")
    if run is not None and words in (run.start, run.end) and words != getattr(run, str(path[-1])):
        raise edits.EditError("a run joins two different places")
    return set_field(vehicle, path, FieldWords(words))
