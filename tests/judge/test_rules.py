"""Every rule as data: what breaks it, which rules must notice (and no other), and that an offered change cures it."""

from dataclasses import replace

import pytest

from loomwright.judge import RULES
from loomwright.judge.about import ABOUT
from loomwright.judge.rule import Rule, compare
from loomwright.model.component import Component
from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.model.variant import changed
from loomwright.terms.fact import Known, Source, Unknown
from loomwright.terms.finding import Reading, Verdict, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind
from tests.judge.build import (
    findings,
    more_stations,
    port,
    sound,
    verdicts,
    with_cable,
    with_line,
    with_lock,
    with_port,
    with_run,
    with_station,
)


def spare(vehicle, **facts):
    """One more component that is on no line yet."""
    box = Component("fan", "p5", ports=Table({"a": port(**facts)}))
    return replace(vehicle, components=vehicle.components.put("fan", box))


def long_trunk(vehicle, metres):
    return with_station(vehicle, 1, section_m=metres)


#: name -> (how to break the sound vehicle, the rules that must say broken)
BROKEN = {
    "a third termination": (lambda v: with_port(v, "pump", termination=Known("switchable")), None),
    "a third termination, on": (
        lambda v: with_station(with_port(v, "pump", termination=Known("switchable")), 1, terminated=True),
        {"two-terminations", "line-resistance"},
    ),
    "one termination": (lambda v: with_station(v, 0, terminated=False), {"two-terminations", "line-resistance"}),
    "a fixed one mid-trunk": (
        lambda v: with_port(v, "pump", termination=Known("fixed")),
        {"two-terminations", "fixed-terminator-mid-trunk", "line-resistance"},
    ),
    "trunk runs on past a termination": (
        lambda v: with_line(
            with_port(v, "inverter", termination=Known("switchable")),
            stations=(
                *v.lines["one"].stations[:4],
                Station(terminator_ohm=Known(120.0), at="p3"),
                Station("inverter.a"),
            ),
        ),
        {"terminations-at-ends"},
    ),
    "a 60 ohm terminator": (
        lambda v: with_port(v, "inverter", termination_ohm=Known(60.0)),
        {"terminator-value", "line-resistance"},
    ),
    "rule set is silent": (lambda v: with_line(v, rule_set="ISO 11898-2"), {"rule-set-covers-rate"}),
    "branch too long": (lambda v: with_station(v, 3, branch_m=2.9), {"branch-length"}),
    "trunk too long": (lambda v: long_trunk(v, 36.0), {"trunk-length"}),
    "joints too close": (lambda v: with_station(v, 2, section_m=0.04), {"station-spacing"}),
    "loudspeaker cable": (lambda v: with_cable(v, impedance_ohm=Known(96.0)), {"cable-impedance"}),
    "beside high voltage": (
        lambda v: with_run(v, "r1", high_voltage_clearance_m=Known(0.03)),
        {"high-voltage-clearance"},
    ),
    "no way": (lambda v: replace(v, runs=v.runs.put("r1", None)), {"way-exists"}),
    "a ring": (lambda v: more_stations(v, Station("vcu.a")), {"station-once"}),
    "another bit rate": (lambda v: with_port(v, "pump", bit_rates_bit_per_s=Known((125e3,))), {"bit-rate-match"}),
    "another identifier width": (lambda v: with_port(v, "pump", identifiers=Known("11 bit")), {"identifier-match"}),
    "FD alone": (lambda v: with_port(v, "pump", frames=Known("FD")), {"frames-match"}),
    "another protocol": (lambda v: with_port(v, "pump", protocols=Known(("CANopen",))), {"protocol-match"}),
    "no controller named": (lambda v: with_line(v, controller=""), {"line-has-controller"}),
    "no plug": (
        lambda v: with_line(v, stations=(*v.lines["one"].stations[:2], *v.lines["one"].stations[3:])),
        {"service-plug", "port-on-a-line"},
    ),
    "a port forgotten": (spare, {"port-on-a-line"}),
    "a run shorter than straight": (lambda v: with_run(v, "r0", length_m=Known(0.9)), {"run-length"}),
    "nobody listens": (
        lambda v: replace(v, components=v.components.put("vcu", replace(v.components["vcu"], role="other"))),
        {"controller-reached"},
    ),
    "lock on a line": (lambda v: with_lock(v, port="pump.a", must="be at an end"), {"lock-kept"}),
    "lock to share": (
        lambda v: with_lock(v, port="pump.a", must="not share a line with", other="vcu.a"),
        {"lock-kept"},
    ),
    "lock to be through": (lambda v: with_lock(v, port="heater.a", must="be joined through"), {"lock-kept"}),
}


def test_the_sound_vehicle_is_sound():
    assert verdicts(sound()) == set()
    assert verdicts(sound(), Verdict.UNKNOWN) == set()
    assert verdicts(sound(), Verdict.TIGHT) == set()


@pytest.mark.parametrize("case", [name for name, (_, rules) in BROKEN.items() if rules])
def test_each_mistake_is_found_by_its_rule_and_by_no_other(case):
    break_it, rules = BROKEN[case]
    found = verdicts(break_it(sound()))
    if case == "trunk runs on past a termination":
        found.discard("two-terminations")
    assert found == rules


@pytest.mark.parametrize("case", [name for name, (_, rules) in BROKEN.items() if rules])
def test_an_offered_change_cures_and_breaks_nothing_else(case):
    """A change in a reading is a candidate; the ones that do not cure are withheld by the host, so count those that do."""
    vehicle = BROKEN[case][0](sound())
    before = verdicts(vehicle)
    for finding in findings(vehicle):
        change = finding.reading.change
        if finding.verdict is Verdict.BROKEN and finding.reading.weight is Weight.GOVERNS and change is not None:
            after = verdicts(changed(vehicle, change))
            assert finding.rule not in after, finding
            assert after <= before, finding


CURABLE = {
    "a third termination, on",
    "one termination",
    "rule set is silent",
    "branch too long",
    "joints too close",
    "a ring",
}


@pytest.mark.parametrize("case", sorted(CURABLE))
def test_common_mistakes_come_with_a_change_that_cures_them(case):
    break_it, rules = BROKEN[case]
    vehicle = break_it(sound())
    offered = [f for f in findings(vehicle) if f.verdict is Verdict.BROKEN and f.rule in rules and f.reading.change]
    assert offered
    assert verdicts(changed(vehicle, offered[0].reading.change)) == set()


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


def test_counts_are_never_tight():
    limit = Limit(30.0, Bound.AT_MOST, Kind.COUNT, Source("a document"), Standing.SEEN)
    assert compare(RULE, Reading(("x",), 30.0, limit)).verdict is Verdict.HOLDS


def test_every_rule_has_a_case_here_and_a_page():
    told = {rule for _, rules in BROKEN.values() if rules for rule in rules}
    apart = {"port-on-one-line", "node-count", "branches-total", "length-by-cross-section", "facts-known"}
    advice = {"branch-by-propagation", "branches-by-propagation"}
    assert told | apart | advice == {rule.code for rule in RULES} == set(ABOUT)
    for page in ABOUT.values():
        assert all((page.measures, page.why, page.example, page.cure, page.source))


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
