from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.judge import RULES
from loomwright.judge.rule import Rule, compare
from loomwright.show.words import (
    SIGNS,
    finding_cure,
    finding_sentence,
    finding_why,
    limit_source,
    limit_text,
    margin_text,
    path_words,
    verdict_words,
)
from loomwright.show.words.found import FOUND
from loomwright.terms.change import Change
from loomwright.terms.fact import Source
from loomwright.terms.finding import Finding, Reading, Verdict, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

THREE_M = Limit(3.0, Bound.AT_MOST, Kind.LENGTH, Source("SAE J1939-15", "topology"), Standing.SECONDARY)
STATION = ("lines", "body", "stations", 6)
BRANCH = Reading(
    STATION,
    4.25,
    THREE_M,
    (("component", "telematics"), ("joint", "dash"), ("lead_m", 0.25)),
    line="body",
    rule_set="SAE J1939-15",
)


def finding(code, reading, verdict=Verdict.BROKEN, margin=-1.25):
    return Finding(code, verdict, margin, reading)


def plain(text):
    return text.replace("\u202f", " ")


def test_a_broken_finding_names_what_was_measured_the_limit_and_who_says_so():
    said = plain(finding_sentence(finding("branch-length", BRANCH)))
    assert said == (
        "The branch to telematics is 4.25 m long, 0.25 m of it its own lead; SAE J1939-15 allows at most 3.00 m."
    )


def test_what_is_not_kept_of_a_rule_set_that_does_not_govern_is_advice_and_not_broken():
    governs, advised = finding("branch-length", BRANCH), finding("branch-length", replace(BRANCH, weight=Weight.ADVICE))
    assert verdict_words(governs) == (SIGNS[Verdict.BROKEN], "broken")
    assert verdict_words(advised) == ("◇", "advice")
    tight = finding("branch-length", replace(BRANCH, weight=Weight.ADVICE), Verdict.TIGHT)
    assert verdict_words(tight) == (SIGNS[Verdict.TIGHT], "tight")


def test_a_tight_finding_says_what_is_left():
    tight = replace(BRANCH, value=2.9)
    assert plain(finding_sentence(finding("branch-length", tight, Verdict.TIGHT, 0.1))).endswith("Only 0.10 m is left.")
    assert finding_cure(finding("branch-length", tight, Verdict.TIGHT, 0.1))


def test_an_unknown_finding_names_the_facts_and_what_to_ask():
    path = ("components", "inverter", "ports", "can", "termination")
    reading = replace(BRANCH, value=None, blocked_by=(path,))
    unknown = finding("facts-known", reading, Verdict.UNKNOWN, None)
    assert finding_sentence(unknown) == "Unknown: termination of port inverter.can."
    assert "Is a terminating resistor built in" in finding_cure(unknown)
    several = replace(reading, blocked_by=tuple(("runs", f"r{n}", "length_m") for n in range(7)))
    assert "4 more" in finding_sentence(finding("trunk-length", several, Verdict.UNKNOWN, None))


def test_assumptions_are_told():
    leaning = replace(BRANCH, assumed=(("runs", "dash_floor", "length_m"),))
    assert "It leans on an assumption: length of run dash_floor." in finding_sentence(finding("branch-length", leaning))
    leaning = replace(BRANCH, assumed=(("runs", "a", "length_m"), ("runs", "b", "length_m")))
    assert "It leans on 2 assumptions." in finding_sentence(finding("branch-length", leaning))


def test_the_offered_change_comes_first_in_the_cure():
    offered = replace(BRANCH, change=Change("Lead the trunk through telematics", ()))
    assert finding_cure(finding("branch-length", offered)).startswith("Lead the trunk through telematics. Or: ")
    assert finding_cure(finding("branch-length", BRANCH, Verdict.HOLDS, 1.0)) == ""


@pytest.mark.parametrize(
    ("rule", "sender", "told"),
    [
        ("signal-settling", "a.can", "b.can is sure of what a.can sends"),
        ("signal-settling", "b.can", "b.can is sure of its own bits"),
        ("data-settling", "a.can", "In the data phase b.can is sure of what a.can sends"),
        ("data-settling", "b.can", "In the data phase b.can is sure of its own bits"),
    ],
)
def test_a_sender_is_sure_of_its_own_bits(rule, sender, told):
    reading = Reading(("components", "b", "ports", "can"), 1.0, THREE_M, (("port", "b.can"), ("sender", sender)))
    assert finding_sentence(finding(rule, reading, Verdict.HOLDS, 2.0)).startswith(told)


def test_high_voltage_defers_to_licensed_practice_and_local_rules():
    near = Reading(("runs", "rail"), 0.03, replace(THREE_M, value=0.1, bound=Bound.AT_LEAST), (("run", "rail"),))
    cure = finding_cure(finding("high-voltage-clearance", near))
    assert "licensed" in cure
    assert "local rules" in cure


@pytest.mark.parametrize(
    ("limit", "shown"),
    [
        (THREE_M, "at most 3.00 m"),
        (Limit(50.0, Bound.BETWEEN, Kind.RESISTANCE, Source("x"), Standing.SEEN, 70.0), "50.0 … 70.0 Ω"),
        (Limit(2.0, Bound.EXACTLY, Kind.COUNT, Source("x"), Standing.SEEN), "exactly 2"),
        (Limit(0.1, Bound.AT_LEAST, Kind.LENGTH, Source("x"), Standing.SEEN), "at least 0.10 m"),
    ],
)
def test_limits_read_as_people_say_them(limit, shown):
    assert plain(limit_text(limit)) == shown


def test_a_source_says_how_it_was_seen():
    assert limit_source(THREE_M) == "SAE J1939-15, topology (seen in a second source that quotes it)"


def test_a_margin_of_temperatures_is_in_kelvin():
    limit = Limit(333.15, Bound.AT_MOST, Kind.TEMPERATURE, Source("x"), Standing.SEEN)
    hot = Finding("cable-temperature", Verdict.HOLDS, 12.0, Reading(("places", "nose"), 321.15, limit))
    assert margin_text(hot) == "12.0 K"
    assert "48 °C" in plain(finding_sentence(hot))


@pytest.mark.parametrize(
    ("path", "words"),
    [
        (("runs", "firewall", "length_m"), "length of run firewall"),
        (("lines", "drive", "stations", 3), "station 4 of line drive"),
        (("lines", "drive", "bit_rate_bit_per_s"), "bit rate of line drive"),
        (("components", "inverter", "ports", "can", "termination_ohm"), "termination resistance of port inverter.can"),
        (("components", "inverter"), "component inverter"),
        (("cables", "", "impedance_ohm"), "impedance of the line's cable"),
        (("something", "else", 3), "something.else[3]"),
        ((), "the vehicle"),
    ],
)
def test_paths_read_as_people_say_them(path, words):
    assert path_words(path) == words


def test_every_rule_has_a_sentence_of_its_own_and_says_why_it_matters():
    codes = {rule.code for rule in RULES}
    assert codes - FOUND.keys() == set()
    for code in codes:
        assert finding_why(Finding(code, Verdict.HOLDS, 0.0, BRANCH))


def test_signs_differ_and_are_one_character_wide():
    assert set(SIGNS) == set(Verdict)
    assert len(set(SIGNS.values())) == len(Verdict)
    assert all(len(sign) == 1 for sign in SIGNS.values())


KEYS = ("component", "stop", "port", "lines", "on", "end", "lead_m", "low_ohm", "nodes", "line_has", "port_has", "why")
VALUES = (
    st.none() | st.booleans() | st.text(max_size=5) | st.floats() | st.lists(st.text(max_size=3), max_size=3).map(tuple)
)


@given(
    st.sampled_from([*sorted(FOUND), "a-rule-of-tomorrow"]),
    st.none() | st.floats(allow_nan=False),
    st.lists(st.tuples(st.sampled_from(KEYS), VALUES), max_size=6),
    st.sampled_from(list(Kind)),
    st.sampled_from(list(Bound)),
)
def test_any_reading_of_any_rule_can_be_worded(code, value, because, kind, bound):
    limit = Limit(1.0, bound, kind, Source("x"), Standing.SEEN, 2.0)
    reading = Reading(("lines", "a"), value, limit, tuple(because))
    found = compare(Rule(code, code, lambda _: ()), reading)
    assert finding_sentence(found)
    assert (finding_cure(found) != "") or found.verdict in (Verdict.HOLDS, Verdict.UNKNOWN)
