"""What cannot be judged yet says so, and names the facts it waits for; what is certain without them is judged."""

from dataclasses import replace

import pytest

from loomwright.judge.rules.governing import facts_only
from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Place
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.finding import Verdict, Weight
from tests.judge.build import findings, sound, verdicts, with_cable, with_line, with_port, with_run

LENGTHS = {"trunk-length", "branch-length", "station-spacing", "line-resistance", "facts-known"}
PIGTAIL = ("components", "pump", "ports", "a", "pigtail_m")


def unknown(vehicle):
    return verdicts(vehicle, Verdict.UNKNOWN)


@pytest.mark.parametrize(
    ("vehicle", "waits", "path"),
    [
        (with_run(sound(), "r1", length_m=Unknown()), LENGTHS, ("runs", "r1", "length_m")),
        (with_port(sound(), "pump", pigtail_m=Unknown()), LENGTHS, PIGTAIL),
        (
            with_line(sound(), bit_rate_bit_per_s=Unknown()),
            {"trunk-length", "branch-length", "station-spacing", "bit-rate-match", "facts-known"},
            ("lines", "one", "bit_rate_bit_per_s"),
        ),
        (
            with_line(sound(), identifiers=Unknown()),
            {"identifier-match", "facts-known"},
            ("lines", "one", "identifiers"),
        ),
        (
            with_port(sound(), "pump", protocols=Unknown()),
            {"protocol-match", "facts-known"},
            ("components", "pump", "ports", "a", "protocols"),
        ),
        (
            with_port(sound(), "pump", frames=Unknown()),
            {"frames-match", "facts-known"},
            ("components", "pump", "ports", "a", "frames"),
        ),
        (
            with_port(sound(), "inverter", termination_ohm=Unknown()),
            {"terminator-value", "line-resistance", "facts-known"},
            ("components", "inverter", "ports", "a", "termination_ohm"),
        ),
        (
            with_port(sound(), "pump", node_resistance_ohm=Unknown()),
            {"line-resistance", "facts-known"},
            ("components", "pump", "ports", "a", "node_resistance_ohm"),
        ),
        (
            with_cable(sound(), conductor_resistance_ohm_per_m=Unknown()),
            {"line-resistance", "facts-known"},
            ("cables", "pair", "conductor_resistance_ohm_per_m"),
        ),
    ],
    ids=lambda value: value[-1] if isinstance(value, tuple) else "",
)
def test_each_open_fact_leaves_its_answers_open_and_breaks_nothing(vehicle, waits, path):
    assert verdicts(vehicle) == set()
    assert unknown(vehicle) == waits
    for finding in findings(vehicle):
        if finding.verdict is Verdict.UNKNOWN and finding.reading.weight is Weight.GOVERNS:
            assert finding.reading.blocked_by == (path,), finding.rule
            assert finding.reading.value is None
            assert finding.margin is None


def test_each_open_fact_is_one_finding():
    vehicle = with_port(with_run(sound(), "r1", length_m=Unknown()), "pump", termination=Unknown())
    asked = [f.reading.blocked_by for f in findings(vehicle) if f.rule == "facts-known"]
    assert sorted(asked) == [
        (("components", "pump", "ports", "a", "termination"),),
        (("runs", "r1", "length_m"),),
    ]


def test_an_open_termination_at_an_end_leaves_the_ends_open():
    vehicle = with_port(sound(), "inverter", termination=Unknown())
    stations = (
        *sound().lines["one"].stations[:4],
        Station(terminator_ohm=Known(120.0), at="p3"),
        Station("inverter.a"),
    )
    assert {"terminations-at-ends", "two-terminations"} <= unknown(with_line(vehicle, stations=stations))
    assert "terminations-at-ends" not in verdicts(with_line(vehicle, stations=stations))


def test_three_terminations_are_too_many_whatever_the_open_one_is():
    vehicle = with_port(with_port(sound(), "pump", termination=Known("fixed")), "heater", termination=Unknown())
    assert "two-terminations" in verdicts(vehicle)


def test_an_open_bit_rate_names_the_strictest_limit_of_the_set():
    vehicle = with_line(sound(), rule_set="CiA 303-1", bit_rate_bit_per_s=Unknown())
    finding = next(f for f in findings(vehicle) if f.rule == "trunk-length")
    assert (finding.verdict, finding.reading.limit.value) == (Verdict.UNKNOWN, 25.0)


def test_a_missing_way_is_broken_and_what_hangs_on_it_is_left_out():
    vehicle = sound()
    torn = with_line(vehicle, stations=(*vehicle.lines["one"].stations[:4], Station("inverter.a", at="p4")))
    cut = {name: run for name, run in vehicle.runs.items() if name != "r1"}
    torn = replace(torn, runs=Table(cut))
    assert verdicts(torn) == {"way-exists"}
    assert unknown(torn) == {"line-resistance"}


def test_a_terminator_that_no_run_leads_to_is_named():
    stations = (*sound().lines["one"].stations[:4], Station(terminator_ohm=Known(120.0), at="far"))
    vehicle = replace(sound(), places=sound().places.put("far", Place(9.0, 0.0)))
    finding = next(f for f in findings(with_line(vehicle, stations=stations)) if f.rule == "way-exists")
    assert finding.verdict is Verdict.BROKEN
    assert finding.reading.because == (("stop", "plug-in terminator"), ("at", "far"))


def test_paths_of_stations_are_no_facts_but_their_terminators_are():
    station = ("lines", "one", "stations", 3)
    fact = (*station, "terminator_ohm")
    run = ("runs", "r1", "length_m")
    assert facts_only((station, fact, run)) == (fact, run)


@pytest.mark.parametrize(
    ("vehicle", "rule", "path"),
    [
        (with_line(sound(), bit_rate_bit_per_s=Assumed(250e3, "why")), "bit-rate-match", ("lines", "one", "bit_rate_bit_per_s")),
        (with_line(sound(), bit_rate_bit_per_s=Assumed(250e3, "why")), "branch-length", ("lines", "one", "bit_rate_bit_per_s")),
        (with_port(sound(), "pump", identifiers=Assumed("29 bit", "why")), "identifier-match", ("components", "pump", "ports", "a", "identifiers")),
        (with_port(sound(), "pump", termination=Assumed("none", "why")), "two-terminations", ("components", "pump", "ports", "a", "termination")),
        (with_run(sound(), "r1", length_m=Assumed(1.2, "why")), "trunk-length", ("runs", "r1", "length_m")),
        (with_run(sound(), "r1", length_m=Assumed(1.2, "why")), "run-length", ("runs", "r1", "length_m")),
        (with_cable(sound(), impedance_ohm=Assumed(120.0, "why")), "cable-impedance", ("cables", "pair", "impedance_ohm")),
        (with_line(sound(), cable=""), "cable-impedance", ("lines", "one", "cable")),
        (with_line(sound(), cable=""), "length-by-cross-section", ("lines", "one", "cable")),
        (sound(), "branch-by-propagation", ("cables", "pair", "delay_s_per_m")),
        (sound(), "terminator-value", ("components", "inverter", "ports", "a", "termination_ohm")),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)  # fmt: skip
def test_what_is_assumed_is_told(vehicle, rule, path):
    assert any(path in finding.reading.assumed for finding in findings(vehicle) if finding.rule == rule)
    assert verdicts(vehicle) == set()


def test_a_line_without_stations_is_told_as_having_no_controller_and_no_plug():
    assert verdicts(with_line(sound(), stations=())) == {"line-has-controller", "service-plug", "port-on-a-line"}
