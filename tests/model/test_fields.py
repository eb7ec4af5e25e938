"""The annotation is the single definition of a field, so none may be missing."""

from dataclasses import fields

import pytest

from loomwright.model.component import Component, Forward, Need, Port
from loomwright.model.line import Line, Station
from loomwright.model.message import Message, MessageSet, Signal
from loomwright.model.vehicle import Axle, Cable, Chain, Deviation, Lock, Place, Run, Vehicle
from loomwright.terms.field import fields_of

NESTED = {
    Vehicle: {"axles", "places", "runs", "cables", "locks", "deviations", "components", "lines", "chains", "messages"},
    Component: {"ports", "needs", "forwards"},
    Line: {"stations"},
    Message: {"signals"},
    MessageSet: {"messages"},
}


@pytest.mark.parametrize(
    "cls",
    [
        Axle,
        Cable,
        Chain,
        Component,
        Deviation,
        Forward,
        Line,
        Lock,
        Message,
        MessageSet,
        Need,
        Place,
        Port,
        Run,
        Signal,
        Station,
        Vehicle,
    ],
)
def test_every_field_is_told_what_it_means(cls):
    plain = {field.name for field in fields(cls)} - NESTED.get(cls, set())
    assert {item.name for item in fields_of(cls)} == plain
