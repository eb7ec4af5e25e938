"""Which way a value comes, and how long it may take there: several gateways, rings, events, pages; worked out by hand."""

import math
from dataclasses import replace

import pytest

from loomwright.model.component import Component, Forward, Need
from loomwright.model.message import Signal
from loomwright.model.table import Table
from loomwright.model.vehicle import Chain
from loomwright.show.words import finding_sentence
from loomwright.solve.layouts import pages_between
from loomwright.terms.fact import Known
from loomwright.terms.finding import Verdict
from tests.judge.test_traffic import findings, needing
from tests.traffic_build import MS, answers, line, message, port, saying, spoken, with_component, with_line

EIGHT_FAST, EIGHT_SLOW = 135 * 2e-6, 135 * 8e-6
"""A frame of 8 bytes with 11 bits of identifier at its longest, 55 + 10 n bits."""


def with_second_gateway(vehicle, **forward):
    """Another gateway on both lines, which passes the pedal on or back."""
    values = {"message": "pedal.travel", "to": "b", "delay_s": Known(5 * MS), **forward}
    ports = Table({"a": port(), "b": port()})
    gateway = Component("gateway", "p", ports=ports, forwards=Table({"again": Forward(**values)}))
    vehicle = replace(vehicle, components=vehicle.components.put("second", gateway))
    fast = line(1, "pedal.can", "vcu.a", "inverter.can", "second.a").stations
    vehicle = with_line(vehicle, "fast", stations=fast)
    return with_line(vehicle, "slow", stations=line(1, "vcu.b", "display.can", "second.b").stations)


def shown(vehicle, within_ms=50.0):
    """The display needs the pedal, and a chain goes there."""
    need = Need("pedal.travel", fresh_s=Known(within_ms * MS), time_out_s=Known(within_ms * MS))
    vehicle = with_component(vehicle, "display", needs=Table({"travel": need}))
    return replace(vehicle, chains=Table({"c": Chain(("pedal.travel",), "display", within_s=Known(within_ms * MS))}))


def judged(vehicle, rule, name):
    (found,) = [each for each in findings(vehicle) if each.rule == rule and name in each.reading.subject]
    return found


@pytest.mark.parametrize("identifier", [0x050, 0x700])
def test_of_two_gateways_the_slower_counts_whatever_its_rank(identifier):
    vehicle = shown(with_second_gateway(spoken(), identifier=Known(identifier), delay_s=Known(200 * MS)))
    for found in (judged(vehicle, "fresh", "display"), judged(vehicle, "chain-in-time", "c")):
        assert found.verdict is Verdict.BROKEN
        assert 210 * MS < found.reading.value < 214 * MS


def test_of_two_gateways_the_one_that_stays_away_longer_counts_for_a_time_out():
    vehicle = shown(with_second_gateway(spoken(), identifier=Known(0x050), period_s=Known(100 * MS)))
    assert judged(vehicle, "in-time-out", "display").reading.value > 100 * MS


def test_a_copy_on_the_sender_s_own_line_is_not_where_a_chain_begins():
    """A second gateway brings the pedal back to the fast line, of higher rank and oftener than it was sent."""
    slow_pedal = saying(spoken(), "pedal", travel=message(0x100, 100.0))
    back = {"to": "a", "identifier": Known(0x050), "period_s": Known(10 * MS), "delay_s": Known(1 * MS)}
    vehicle = shown(with_second_gateway(slow_pedal, **back))
    hops = answers(vehicle).chains["c"].value.hops
    assert [(hop.kind, hop.name, hop.line) for hop in hops] == [
        ("message", "pedal.travel", "fast"), ("gateway", "vcu", "slow"), ("message", "pedal.travel", "slow"),
    ]  # fmt: skip
    assert hops[0].period_s == pytest.approx(100 * MS)
    for found in (judged(vehicle, "fresh", "display"), judged(vehicle, "chain-in-time", "c")):
        assert (found.verdict, found.reading.value > 100 * MS) == (Verdict.BROKEN, True)


def test_a_chain_follows_the_gateway_that_brought_it_to_the_line_where_the_next_one_heard_it():
    """Onward from the slow line, where a second gateway brings a slower copy with a higher rank."""
    vehicle = with_second_gateway(spoken(), identifier=Known(0x050), delay_s=Known(200 * MS))
    third = Component(
        "gateway", "p", ports=Table({"b": port(), "c": port()}), forwards=Table({"on": Forward("pedal.travel", "c", delay_s=Known(1 * MS))})
    )  # fmt: skip
    vehicle = replace(
        vehicle,
        components=vehicle.components.put("third", third).put("far", Component("display", "p", ports=Table({"can": port()}))),
        chains=Table({"c": Chain(("pedal.travel",), "far", within_s=Known(1.0))}),
        lines=vehicle.lines.put("last", line(125e3, "third.c", "far.can")),
    )  # fmt: skip
    vehicle = with_line(vehicle, "slow", stations=(*vehicle.lines["slow"].stations, *line(1, "third.b").stations))
    (stream,) = answers(vehicle).on("last")
    hops = answers(vehicle).chains["c"].value.hops
    named = next(hop.name for hop in hops if hop.kind == "gateway" and hop.line == "slow")
    assert stream.heard == ("components", named, "forwards", {"vcu": "travel", "second": "again"}[named])


def event(gap_ms):
    pressed = message(0x300, None, minimum_gap_s=Known(gap_ms * MS))
    vehicle = saying(spoken(), "pedal", pressed=pressed)
    need = Need("pedal.pressed", fresh_s=Known(1 * MS), time_out_s=Known(1.0))
    return with_component(vehicle, "inverter", needs=Table({"pressed": need}))


def test_the_second_of_two_events_waits_for_the_least_gap():
    found = judged(event(500.0), "fresh", "inverter")
    assert found.verdict is Verdict.BROKEN
    assert found.reading.value == pytest.approx(500 * MS + 3 * EIGHT_FAST, abs=1e-9)
    chain = Table({"c": Chain(("pedal.pressed",), "inverter", within_s=Known(1.0))})
    assert answers(replace(event(500.0), chains=chain)).chains["c"].value.reaction_s == pytest.approx(
        500 * MS + 3 * EIGHT_FAST, abs=1e-9
    )


def test_an_event_may_stay_away_for_ever():
    found = judged(event(500.0), "in-time-out", "inverter")
    assert (found.verdict, found.reading.value) == (Verdict.BROKEN, math.inf)
    assert "sent on an event" in finding_sentence(found)


def test_an_event_that_a_gateway_repeats_in_a_period_does_not_stay_away():
    vehicle = saying(spoken(), "pedal", travel=message(0x100, None, minimum_gap_s=Known(20 * MS)))
    vcu = vehicle.components["vcu"]
    forward = replace(vcu.forwards["travel"], period_s=Known(30 * MS))
    vehicle = shown(with_component(vehicle, "vcu", forwards=Table({"travel": forward})))
    assert judged(vehicle, "in-time-out", "display").reading.value < 37 * MS


def paged(own, *others):
    """The pedal's value on some values of its selector, and others on other ones."""
    signals = {"page": Signal(0, 4, selects=True), "value": Signal(8, 16, selected_by="page", selected_when=own)}
    signals |= {f"other{n}": Signal(8, 16, selected_by="page", selected_when=when) for n, when in enumerate(others)}
    return Table(signals)


@pytest.mark.parametrize(
    ("signals", "after"),
    [
        (paged((1,)), 1),
        (paged((1,), (2,)), 2),
        (paged((1,), (2,), (3, 4)), 4),
        (paged((1, 2), (3,), (4,)), 3),
        (paged((1,), (1,)), 1),
    ],
)
def test_after_how_many_messages_a_page_comes_again(signals, after):
    assert pages_between(message(0x100, signals=signals), "value") == after
    assert pages_between(message(0x100, signals=signals), "page") == 1


def test_a_page_within_a_page_comes_again_after_both():
    inner = Table(
        {
            "page": Signal(0, 4, selects=True),
            "plain": Signal(8, 4, selected_by="page", selected_when=(2,)),
            "sub": Signal(8, 4, selects=True, selected_by="page", selected_when=(1,)),
            "value": Signal(16, 8, selected_by="sub", selected_when=(5,)),
            "other": Signal(16, 8, selected_by="sub", selected_when=(6, 7)),
        }
    )
    assert pages_between(message(0x100, signals=inner), "value") == 2 * 3


def test_a_value_on_one_of_two_pages_is_twice_as_old_and_stays_away_twice_as_long():
    plain = needing(spoken(), "vcu", fresh_s=Known(31 * MS), time_out_s=Known(11 * MS))
    vehicle = saying(plain, "pedal", travel=message(0x100, signals=paged((1,), (2,))))
    for rule in ("fresh", "in-time-out"):
        one, two = (judged(each, rule, "vcu") for each in (plain, vehicle))
        assert two.reading.value - one.reading.value == pytest.approx(10 * MS, abs=1e-9)
        assert "taken to be sent in turn, again after 2" in finding_sentence(two)
        assert "in turn" not in finding_sentence(one)
    assert judged(vehicle, "in-time-out", "vcu").verdict is Verdict.BROKEN
