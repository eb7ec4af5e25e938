"""A small project as texts, for bending."""

from loomwright.files.load import understood
from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.vehicle import Axle, Cable, Deviation, Lock, Place, Run, Vehicle

BODY = b"""format = 1
name = "x"
length = "4 m"
width = "2 m"
[places.a]
x = "1 m"
y = "0 m"
[places.b]
x = "2 m"
y = "0 m"
"""
COMPONENT = b'role = "other"\nplace = "a"\n[ports.can]\n'
LINE = b'controller = "box.can"\n[[stations]]\nport = "box.can"\n'
TEXTS = {"vehicle.toml": BODY, "components/box.toml": COMPONENT, "lines/one.toml": LINE}

HEADS = {
    "vehicle.toml": (
        (b"", Vehicle), (b"[places.n]\n", Place), (b"[runs.n]\n", Run), (b"[cables.n]\n", Cable), (b"[locks.n]\n", Lock),
        (b"[deviations.n]\n", Deviation), (b"[[axles]]\n", Axle),
    ),
    "components/box.toml": ((b"", Component), (b"[ports.p]\n", Port)),
    "lines/one.toml": ((b"", Line), (b"[[stations]]\n", Station)),
}  # fmt: skip
"""Where an object of each class begins in a file."""


def problems(**files):
    """Problems of the small project with some files in other words; ``components__box`` is components/box.toml."""
    return understood(TEXTS | {name.replace("__", "/") + ".toml": text for name, text in files.items()}).problems
