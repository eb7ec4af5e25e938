"""A path as people would say it: ``("runs", "firewall", "length_m")`` is the length of run firewall."""

from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.vehicle import Axle, Cable, Lock, Place, Run
from loomwright.terms.change import Path, path_text
from loomwright.terms.field import fields_of

_KINDS = {
    "components": ("component", Component),
    "lines": ("line", Line),
    "runs": ("run", Run),
    "places": ("place", Place),
    "cables": ("cable", Cable),
    "locks": ("lock", Lock),
    "axles": ("axle", Axle),
}


def path_words(path: Path) -> str:
    """What a path stands for; the path itself where it is none of the usual ones."""
    if not path or path[0] not in _KINDS or len(path) < 2:
        return path_text(path) if path else "the vehicle"
    whole, cls, rest = _thing(path)
    return f"{_field_name(cls, str(rest[0]))} of {whole}" if rest else whole


def path_question(path: Path) -> tuple[str, str]:
    """The question to put to a manual about the fact at a path, and the chapter that usually answers it."""
    if len(path) < 2 or path[0] not in _KINDS:
        return "", ""
    _, cls, rest = _thing(path)
    field = next((field.field for field in fields_of(cls) if rest and field.name == rest[0]), None)
    return (field.ask, field.where) if field else ("", "")


def _thing(path: Path) -> tuple[str, type, Path]:
    """The thing a path leads into, its class, and the steps that are left."""
    kind, cls = _KINDS[str(path[0])]
    rest = path[2:]
    whole = f"{kind} {_counted(path[1])}" if path[1] != "" else f"the line's {kind}"
    if path[0] == "components" and rest[:1] == ("ports",) and len(rest) > 1:
        return f"port {path[1]}.{rest[1]}", Port, rest[2:]
    if path[0] == "lines" and rest[:1] == ("stations",):
        if len(rest) == 1:
            return f"the stations of {whole}", Station, ()
        return f"station {_counted(rest[1])} of {whole}", Station, rest[2:]
    return whole, cls, rest


def _counted(step: str | int) -> str:
    """People count from one."""
    return str(step + 1) if isinstance(step, int) else step


def _field_name(cls: type, name: str) -> str:
    """The key that stands in the file, as words."""
    key = next((field.key for field in fields_of(cls) if field.name == name), name)
    return key.replace("_", " ")
