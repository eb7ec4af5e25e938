"""A small project as texts, for bending."""

from loomwright.files.load import understood
from loomwright.model.component import Component, Forward, Need, Port
from loomwright.model.line import Line, Station
from loomwright.model.message import Message, MessageSet, Signal
from loomwright.model.vehicle import Axle, Cable, Chain, Deviation, Lock, Place, Run, Vehicle

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
MESSAGES = b'sender = "box.can"\n[messages.hello]\nidentifier = 0x123\nperiod = "10 ms"\n[messages.hello.signals.speed]\nstart = 0\nbits = 8\n'
LINE = b'controller = "box.can"\n[[stations]]\nport = "box.can"\n'
TEXTS = {"vehicle.toml": BODY, "components/box.toml": COMPONENT, "lines/one.toml": LINE}

HEADS = {
    "vehicle.toml": (
        (b"", Vehicle), (b"[places.n]\n", Place), (b"[runs.n]\n", Run), (b"[cables.n]\n", Cable), (b"[locks.n]\n", Lock),
        (b"[deviations.n]\n", Deviation), (b"[chains.c]\n", Chain), (b"[[axles]]\n", Axle),
    ),
    "components/box.toml": ((b"", Component), (b"[ports.p]\n", Port), (b"[needs.n]\n", Need), (b"[forwards.f]\n", Forward)),
    "messages/box.toml": ((b"", MessageSet), (b"[messages.m]\n", Message), (b"[messages.m.signals.s]\n", Signal)),
    "lines/one.toml": ((b"", Line), (b"[[stations]]\n", Station)),
}  # fmt: skip
"""Where an object of each class begins in a file."""


def problems(**files):
    """Problems of the small project with some files in other words; ``components__box`` is components/box.toml."""
    return understood(TEXTS | {name.replace("__", "/") + ".toml": text for name, text in files.items()}).problems
