"""Every rule as data: what breaks it, and which rules must notice, and no other."""

from dataclasses import replace

import pytest

from loomwright.judge import LINE_RULES, RULES, VEHICLE_RULES
from loomwright.judge.about_signal import SIGNAL_ABOUT
from loomwright.judge.pages import PAGES
from loomwright.judge.rule import Rule, compare
from loomwright.model.component import Component
from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.show.words import finding_sentence
from loomwright.terms.fact import Known, Source, Unknown
from loomwright.terms.finding import Reading, Verdict, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind
from tests.judge.build import findings, port, sound, verdicts, with_cable, with_line, with_port, with_run, with_station
from tests.judge.cases import BROKEN, long_trunk


def test_the_sound_vehicle_is_sound():
    assert verdicts(sound()) == set()
    assert verdicts(sound(), Verdict.UNKNOWN) == set()
    assert verdicts(sound(), Verdict.TIGHT) == set()


@pytest.mark.parametrize("case", sorted(BROKEN))
def test_each_mistake_is_found_by_its_rule_and_by_no_other(case):
    break_it, rules = BROKEN[case]
    assert verdicts(break_it(sound())) == rules


def test_two_ports_of_a_line_file_is_one_port_on_two_lines():
    vehicle = sound()
    twice = replace(
        vehicle, lines=vehicle.lines.put("two", replace(vehicle.lines["one"], stations=(Station("pump.a"),)))
    )
    assert "port-on-one-line" in verdicts(twice)


def test_more_than_thirty_nodes_break_j1939_11():
    vehicle = with_line(sound(), rule_set="SAE J1939-11")
    boxes = {f"n{i}": Component("sensor", "p1", ports=Table({"a": port()})) for i in range(27)}
    for name, box in boxes.items():
        vehicle = replace(vehicle, components=vehicle.components.put(name, box))
    thirty = tuple(Station(f"n{i}.a") for i in range(26))
    first, *rest = vehicle.lines["one"].stations
    assert "node-count" not in verdicts(with_line(vehicle, stations=(first, *thirty, *rest)))
    assert "node-count" in verdicts(with_line(vehicle, stations=(first, *thirty, Station("n26.a"), *rest)))


def test_branches_together_break_the_canopen_table():
    vehicle = with_line(sound(), rule_set="CiA 303-1", bit_rate_bit_per_s=Known(500e3))
    vehicle = with_port(vehicle, "pump", pigtail_m=Known(0.0))
    stations = vehicle.lines["one"].stations
    held = with_line(vehicle, stations=(stations[0], *(replace(s, branch_m=5.0) for s in stations[1:4]), stations[4]))
    assert "branches-total" not in verdicts(held)
    boxes = {f"n{i}": Component("sensor", "p1", ports=Table({"a": port()})) for i in range(4)}
    for name, box in boxes.items():
        vehicle = replace(vehicle, components=vehicle.components.put(name, box))
    many = (
        stations[0],
        *(Station(f"n{i}.a", branch_m=5.0) for i in range(4)),
        *(replace(s, branch_m=5.0) for s in stations[1:4]),
        stations[4],
    )
    assert "branches-total" in verdicts(with_line(vehicle, stations=many))


def test_length_by_cross_section_bites_on_thin_cable():
    thin = with_cable(sound(), conductor_resistance_ohm_per_m=Known(2.0))
    governed = with_line(thin, rule_set="CiA 303-1")
    assert "length-by-cross-section" in verdicts(long_trunk(governed, 20.0))


@pytest.mark.parametrize(
    ("break_it", "waits"),
    [
        (lambda v: with_port(v, "pump", termination=Unknown()), {"two-terminations", "line-resistance", "facts-known"}),
        (lambda v: with_port(v, "pump", bit_rates_bit_per_s=Unknown()), {"bit-rate-match", "facts-known"}),
        (lambda v: with_port(v, "pump", identifiers=Unknown()), {"identifier-match", "facts-known"}),
        (lambda v: with_run(v, "r1", high_voltage_clearance_m=Unknown()), {"high-voltage-clearance"}),
        (lambda v: with_cable(v, impedance_ohm=Unknown()), {"cable-impedance"}),
    ],
    ids=["termination", "bit rates", "identifiers", "clearance", "impedance"],
)
def test_an_unknown_fact_makes_unknown_never_a_guess(break_it, waits):
    vehicle = break_it(sound())
    assert verdicts(vehicle) == set()
    assert verdicts(vehicle, Verdict.UNKNOWN) == waits


def test_a_run_of_unknown_length_blocks_every_length():
    vehicle = with_run(sound(), "r1", length_m=Unknown())
    assert {"trunk-length", "line-resistance", "facts-known"} <= verdicts(vehicle, Verdict.UNKNOWN)


LENGTH = Limit(3.0, Bound.AT_MOST, Kind.LENGTH, Source("a document"), Standing.SEEN)
RULE = Rule("some-rule", "", lambda _: ())


@pytest.mark.parametrize(
    ("bound", "value", "high", "readings"),
    [
        (Bound.AT_MOST, 3.0, None, {2.0: "holds", 2.699: "holds", 2.71: "tight", 3.0: "tight", 3.0000001: "broken"}),
        (Bound.AT_LEAST, 3.0, None, {4.0: "holds", 3.301: "holds", 3.29: "tight", 3.0: "tight", 2.9999999: "broken"}),
        (Bound.BETWEEN, 50.0, 70.0, {60.0: "holds", 50.0: "tight", 69.5: "tight", 49.999: "broken", 70.001: "broken"}),
        (Bound.EXACTLY, 2.0, None, {2.0: "holds", 3.0: "broken", 1.0: "broken"}),
    ],
)
def test_comparing_is_dense_around_the_bound(bound, value, high, readings):
    limit = Limit(value, bound, Kind.LENGTH, Source("a document"), Standing.SEEN, high)
    for reading, verdict in readings.items():
        assert compare(RULE, Reading(("x",), reading, limit)).verdict == verdict, reading


def test_the_last_bit_of_a_sum_does_not_break_a_limit():
    limit = Limit(0.3, Bound.AT_MOST, Kind.LENGTH, Source("a document"), Standing.SEEN)
    assert compare(RULE, Reading(("x",), 0.1 + 0.2, limit)).verdict is not Verdict.BROKEN


@pytest.mark.parametrize(("beyond_m", "verdict"), [(0.0, "holds"), (1e-10, "holds"), (1e-8, "broken")])
def test_where_no_length_is_allowed_a_nanometre_is_rounding(beyond_m, verdict):
    limit = Limit(0.0, Bound.AT_MOST, Kind.LENGTH, Source("a document"), Standing.SEEN)
    assert compare(RULE, Reading(("x",), beyond_m, limit)).verdict == verdict


def test_small_quantities_are_not_rounded_like_lengths():
    limit = Limit(1e-12, Bound.AT_MOST, Kind.CAPACITANCE, Source("a document"), Standing.SEEN)
    assert compare(RULE, Reading(("x",), 1.1e-12, limit)).verdict is Verdict.BROKEN


def test_an_infinite_reading_breaks_every_upper_limit():
    assert compare(RULE, Reading(("x",), float("inf"), LENGTH)).verdict is Verdict.BROKEN


def test_counts_are_never_tight():
    limit = Limit(30.0, Bound.AT_MOST, Kind.COUNT, Source("a document"), Standing.SEEN)
    assert compare(RULE, Reading(("x",), 30.0, limit)).verdict is Verdict.HOLDS


def test_every_rule_has_a_case_here_and_a_page():
    told = {rule for _, rules in BROKEN.values() for rule in rules}
    apart = {"port-on-one-line", "node-count", "branches-total", "length-by-cross-section", "facts-known"}
    advice = {"branch-by-propagation", "branches-by-propagation"}
    assert told | apart | advice == {rule.code for rule in (*LINE_RULES, *VEHICLE_RULES)}
    assert {rule.code for rule in RULES} == set(PAGES) - set(SIGNAL_ABOUT)
    for page in PAGES.values():
        assert all((page.measures, page.why, page.example, page.cure, page.source))


def test_a_branch_is_held_against_the_way_it_has_to_go_whatever_ends_the_trunk():
    """Found for a stub of no length, for one that ends the trunk, and over a run whose length is open."""
    bare = with_port(with_station(sound(), 3, branch_m=0.0), "heater", pigtail_m=Known(0.0))
    assert verdicts(bare) == {"branch-reaches"}
    ended = with_station(sound(), 4, at="p3", branch_m=0.4)
    assert "branch-reaches" in verdicts(ended)
    inner = with_station(with_station(with_run(sound(), "r2", length_m=Unknown()), 3, section_m=1.2), 4, section_m=1.2)
    for branch_m, rules in ((0.98, {"branch-reaches"}), (0.995, set())):  # 1 m apart as the crow flies
        assert verdicts(with_station(inner, 3, branch_m=branch_m)) == rules
    told = [f for f in findings(with_station(sound(), 3, branch_m=0.5)) if f.rule == "branch-reaches"]
    assert finding_sentence(told[0]).replace("\u202f", " ") == (
        "The branch to heater is 0.50 m and cannot reach: its way along the runs from p3 needs at least 1.19 m."
    )


def test_advice_is_given_beside_the_governing_set():
    long_branch = with_station(sound(), 3, branch_m=2.0)
    advice = {
        (f.rule, f.reading.rule_set): f.verdict
        for f in findings(long_branch)
        if f.rule == "branch-length" and f.reading.weight is Weight.ADVICE
    }
    assert advice["branch-length", "SAE J1939-11"] is Verdict.BROKEN
    assert advice["branch-length", "CiA 303-1"] is Verdict.HOLDS


def test_what_holds_is_kept_with_its_margin():
    trunk = next(f for f in findings(sound()) if f.rule == "trunk-length" and f.reading.weight is Weight.GOVERNS)
    assert trunk.verdict is Verdict.HOLDS
    assert trunk.margin == pytest.approx(trunk.reading.limit.value - trunk.reading.value, abs=1e-9)
