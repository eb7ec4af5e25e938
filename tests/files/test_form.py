"""What a form shows of a field can be given back unchanged, and wrong words are refused with what was expected."""

from dataclasses import replace

import pytest
from hypothesis import given, settings

from loomwright.files.change import settled
from loomwright.files.form import FieldWords, UnreadableFieldError, field_value, field_words, holds_many, is_switch
from loomwright.files.read import is_fact
from loomwright.model.component import Component, Port
from loomwright.model.line import Station
from loomwright.model.message import Message, Signal
from loomwright.model.vehicle import Place
from loomwright.terms.fact import Assumed, Known, Source, Unknown
from loomwright.terms.field import fields_of
from tests.files.generate import ports


def field(cls, name):
    return next(item for item in fields_of(cls) if item.name == name)


PIGTAIL = field(Port, "pigtail_m")


@settings(max_examples=60, deadline=None)
@given(ports())
def test_every_field_of_a_port_comes_back_from_its_form(port):
    for item in fields_of(Port):
        value = getattr(port, item.name)
        if isinstance(value, Assumed):
            value = replace(value, why=value.why.strip())
        assert settled(field_value(item, field_words(item, value, "a manual"), "a manual")) == settled(value)


def test_a_form_shows_the_default_too():
    assert field_words(PIGTAIL, PIGTAIL.default) == FieldWords("0 m", "assumed", why=PIGTAIL.default.why)
    assert field_words(field(Port, "bit_rates_bit_per_s"), Unknown("Which?")) == FieldWords("", "unknown", ask="Which?")
    assert field_words(field(Place, "wet"), None) == FieldWords("")
    assert field_words(field(Place, "wet"), True) == FieldWords("yes")
    assert field_words(field(Station, "via"), ("a", "b")) == FieldWords("a, b")


def test_words_become_facts():
    assert field_value(PIGTAIL, FieldWords("30 cm", "known", "page 3"), "m") == Known(0.3, source=Source("m", "page 3"))
    assert field_value(PIGTAIL, FieldWords("30 cm", "assumed", why="seen")) == Assumed(0.3, "seen")
    assert field_value(PIGTAIL, FieldWords("?", ask="How long?")) == Unknown("How long?")
    assert field_value(PIGTAIL, FieldWords(" ")) == PIGTAIL.default
    assert field_value(field(Place, "wet"), FieldWords("no")) is False
    assert field_value(field(Station, "via"), FieldWords("a, b,")) == ("a", "b")


@pytest.mark.parametrize(
    ("cls", "name", "words", "message"),
    [
        (Port, "pigtail_m", FieldWords("30"), "has no unit"),
        (Port, "pigtail_m", FieldWords("30 ohm"), "is a resistance, not a length"),
        (Port, "pigtail_m", FieldWords("-1 m"), "is negative"),
        (Port, "pigtail_m", FieldWords("1 m", "assumed"), "says why"),
        (Place, "x_m", FieldWords("?"), "cannot stay open"),
        (Place, "x_m", FieldWords(""), "something is needed"),
        (Place, "wet", FieldWords("perhaps"), "found text"),
        (Component, "role", FieldWords("inverer"), "is no choice"),
        (
            Message,
            "period_s",
            FieldWords("0 ms"),
            "is no period; expected: a time above 0; leave it out for a message sent",
        ),
        (Component, "cycle_s", FieldWords("0 s"), "is no cycle"),
        (Signal, "factor", FieldWords("0"), "factor is 0"),
    ],
)
def test_words_that_a_field_cannot_hold_are_refused(cls, name, words, message):
    with pytest.raises(UnreadableFieldError, match=message):
        field_value(field(cls, name), words)


def test_what_sort_of_field_it_is():
    assert is_fact(PIGTAIL)
    assert not is_fact(field(Place, "x_m"))
    assert holds_many(field(Port, "protocols"))
    assert not holds_many(PIGTAIL)
    assert is_switch(field(Place, "wet"))
    assert not is_switch(PIGTAIL)


def test_a_title_can_be_a_question_mark_and_a_place_cannot():
    assert field_value(field(Component, "title"), FieldWords("?")) == "?"
    with pytest.raises(UnreadableFieldError, match="cannot stay open"):
        field_value(field(Component, "place"), FieldWords("?"))
