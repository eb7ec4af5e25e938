"""The vehicle with a change, or with a component unplugged: vehicle in, vehicle out."""

from dataclasses import fields, is_dataclass, replace
from typing import Any

from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Path, path_text
from loomwright.terms.errors import PathError


def changed(vehicle: Vehicle, change: Change) -> Vehicle:
    """The vehicle after every edit of a change, in order. Raises ``PathError`` for a path it does not have."""
    result: Any = vehicle
    for edit in change.edits:
        result = _put(result, edit.path, edit.value, edit.path)
    assert isinstance(result, Vehicle)
    return result


def disturbed(vehicle: Vehicle, errors: int) -> Vehicle:
    """The vehicle with so many disturbed frames in a row on every line, whatever its files say."""
    lines = Table({name: replace(line, errors_at_once=errors) for name, line in vehicle.lines.items()})
    return replace(vehicle, lines=lines)


def value_at(vehicle: Vehicle, path: Path) -> Any:
    """The value at a path. Raises ``PathError`` where the vehicle has no such place."""
    here: Any = vehicle
    for step in path:
        here = _step(here, step, path)
    return here


def _step(here: Any, step: str | int, path: Path) -> Any:
    try:
        if isinstance(here, Table):
            return here[str(step)]
        if isinstance(here, tuple) and isinstance(step, int):
            return here[step]
        if is_dataclass(here) and any(field.name == step for field in fields(here)):
            return getattr(here, str(step))
    except (KeyError, IndexError):
        pass
    raise PathError(f"the vehicle has no {path_text(path)}: nothing is called {step!r} there")


def _put(here: Any, path: Path, value: Any, whole: Path) -> Any:
    step, rest = path[0], path[1:]
    if isinstance(here, Table):
        if not rest:
            return here.put(str(step), value)
        return here.put(str(step), _put(_step(here, step, whole), rest, value, whole))
    inner = _put(_step(here, step, whole), rest, value, whole) if rest else value
    if isinstance(here, tuple) and isinstance(step, int):
        if not rest:
            _step(here, step, whole)
        return here[:step] + (() if not rest and value is None else (inner,)) + here[step + 1 :]
    if is_dataclass(here) and not isinstance(here, type):
        _step(here, step, whole)
        return replace(here, **{str(step): inner})
    raise PathError(f"the vehicle has no {path_text(whole)}: {step!r} cannot be set there")
