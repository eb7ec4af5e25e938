"""Changes in words: an edit as one line, and the difference it makes in a file."""

import difflib
from dataclasses import fields, is_dataclass
from typing import Any

from loomwright.model.line import Station
from loomwright.model.variant import value_at
from loomwright.model.vehicle import Vehicle
from loomwright.show.quantity import fact_text
from loomwright.terms.change import Change, Edit, path_text
from loomwright.terms.errors import PathError
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.quantity import SUFFIX, Kind

ARROW = "→"


def edit_text(edit: Edit, before: Vehicle | None = None) -> str:
    """One edit as a line: ``lines.drive.stations[3].terminated: no → yes``; without ``before`` only the new value."""
    kind = kind_of(str(edit.path[-1]) if edit.path else "")
    new = "removed" if edit.value is None else value_words(edit.value, kind)
    if before is None:
        return f"{path_text(edit.path)}: {new}"
    try:
        old = value_words(value_at(before, edit.path), kind)
    except PathError:
        old = "nothing"
    return f"{path_text(edit.path)}: {old} {ARROW} {new}"


def change_text(change: Change, before: Vehicle | None = None) -> str:
    """A change: its title, then a line for each edit."""
    return "\n".join([change.title, *(f"  {edit_text(edit, before)}" for edit in change.edits)])


def difference(name: str, old: bytes, new: bytes) -> str:
    """A file's text before and after, as a unified difference; empty where nothing changes."""
    before, after = (raw.decode("utf-8", errors="replace").splitlines() for raw in (old, new))
    heads = f"{name} (now)" if old else "nothing", f"{name} (proposed)" if new else "nothing"
    return "\n".join(difflib.unified_diff(before, after, heads[0], heads[1], lineterm="", n=2))


def value_words(value: Any, kind: Kind = Kind.NONE) -> str:
    """A value of the model in words."""
    if value is None:
        return "nothing"
    if isinstance(value, Station):
        return station_words(value)
    if isinstance(value, (Known, Assumed, Unknown, bool, int, float)):
        return fact_text(value, kind)
    if isinstance(value, tuple):
        return "; ".join(value_words(item, kind) for item in value) or "nothing"
    if is_dataclass(value) and not isinstance(value, type):
        told = [f"{item.name} {value_words(getattr(value, item.name))}" for item in fields(value)]
        return f"{type(value).__name__.lower()} ({', '.join(told)})"
    return str(value) or "nothing"


def station_words(station: Station) -> str:
    """A station in words: ``display.can, branch from dash``."""
    if station.port:
        parts = [station.port]
        parts += [f"branch from {station.at}"] if station.at else []
    else:
        parts = [f"terminator {fact_text(station.terminator_ohm, Kind.RESISTANCE)} at {station.at}"]
    if station.via:
        parts.append(f"via {', '.join(station.via)}")
    for length_m, what in ((station.section_m, "section"), (station.branch_m, "branch")):
        if length_m is not None:
            parts.append(f"{what} {fact_text(length_m, Kind.LENGTH)}")
    if station.terminated:
        parts.append("terminated")
    return ", ".join(parts)


def kind_of(name: str) -> Kind:
    """What a field measures, from the ending of its name: ``trunk_m`` is a length."""
    endings = sorted(((ending, kind) for kind, ending in SUFFIX.items() if ending), key=lambda pair: -len(pair[0]))
    return next((kind for ending, kind in endings if name.endswith(ending)), Kind.NONE)
