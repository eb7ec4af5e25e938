"""A path as people would say it: ``("runs", "firewall", "length_m")`` is the length of run firewall."""

from collections.abc import Mapping
from types import MappingProxyType

from loomwright.model.component import Component, Forward, Need, Port
from loomwright.model.line import Line, Station
from loomwright.model.message import Message, MessageSet, Signal
from loomwright.model.vehicle import Axle, Cable, Chain, Lock, Place, Run
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
    "chains": ("chain", Chain),
    "messages": ("messages of", MessageSet),
}

_INSIDE: Mapping[tuple[str | int, str | int], tuple[str, type]] = MappingProxyType(
    {
        ("components", "ports"): ("port {}.{}", Port),
        ("components", "needs"): ("need {1} of {0}", Need),
        ("components", "forwards"): ("forward {1} of {0}", Forward),
        ("messages", "messages"): ("message {}.{}", Message),
    }
)


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
    inner = _INSIDE.get((path[0], path[2])) if len(path) > 3 else None
    if inner is not None:
        words, cls = inner
        if path[0] == "messages" and path[4:5] == ("signals",) and len(path) > 5:
            return f"signal {path[1]}.{path[3]}.{path[5]}", Signal, path[6:]
        return words.format(path[1], path[3]), cls, path[4:]
    kind, cls = _KINDS[str(path[0])]
    whole = f"{kind} {_counted(path[1])}" if path[1] != "" else f"the line's {kind}"
    if path[0] == "lines" and path[2:3] == ("stations",):
        if len(path) == 3:
            return f"the stations of {whole}", Station, ()
        return f"station {_counted(path[3])} of {whole}", Station, path[4:]
    return whole, cls, path[2:]


def _counted(step: str | int) -> str:
    """People count from one."""
    return str(step + 1) if isinstance(step, int) else step


def _field_name(cls: type, name: str) -> str:
    """The key that stands in the file, as words."""
    key = next((field.key for field in fields_of(cls) if field.name == name), name)
    return key.replace("_", " ")
