"""A proposal is a change is an edit: one small value that is tried on the model, shown, and written into the text."""

from dataclasses import dataclass, field
from typing import Any

Path = tuple[str | int, ...]
"""Steps from the vehicle down to a value: ``("lines", "drive", "stations", 3, "terminated")``."""


@dataclass(frozen=True, slots=True)
class Edit:
    """Set the value at a path. ``None`` removes an optional field or an entry of a table.

    The value is a model value (SI float, text, ``Fact``, a whole ``Station`` or tuple of them), never file text.
    """

    path: Path
    value: Any


@dataclass(frozen=True, slots=True)
class Change:
    """Edits that belong together, with the reason a person would give for them."""

    title: str
    edits: tuple[Edit, ...] = field(default=())


def path_text(path: Path) -> str:
    """A path as people read and type it: ``lines.drive.stations[3].terminated``."""
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else (f".{step}" if text else str(step))
    return text


def path_of(text: str) -> Path:
    """The path that ``path_text`` printed. Raises ``ValueError`` for text that is no path."""
    steps: list[str | int] = []
    for part in text.split("."):
        name, *indices = part.split("[")
        if not name or any(not index.endswith("]") for index in indices):
            raise ValueError(f"{text!r} is no path; one looks like lines.drive.stations[3].terminated")
        steps.append(name)
        steps.extend(int(index[:-1]) for index in indices)
    return tuple(steps)
