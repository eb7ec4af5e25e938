"""Each limit from both sides: what lies exactly on it is allowed, a hair beyond is broken."""

from dataclasses import replace

import pytest

from loomwright.app.questions import Answers
from loomwright.judge.rules.terminations import OPEN_OHM
from loomwright.model.component import Component
from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Place
from loomwright.terms.fact import Known
from loomwright.terms.finding import Verdict, Weight
from tests.judge.build import (
    findings,
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

HAIR = 1e-6

CANOPEN = with_line(sound(), rule_set="CiA 303-1", bit_rate_bit_per_s=Known(500e3))
ONE_MBIT = with_line(
    with_port(with_port(with_port(with_port(sound(), "vcu", bit_rates_bit_per_s=Known((1e6,))), "pump",
    bit_rates_bit_per_s=Known((1e6,))), "heater", bit_rates_bit_per_s=Known((1e6,))), "inverter",
    bit_rates_bit_per_s=Known((1e6,))),
    rule_set="ISO 11898-2",
    bit_rate_bit_per_s=Known(1e6),
)  # fmt: skip
J1939_11 = with_line(sound(), rule_set="SAE J1939-11")


def trunk(vehicle, metres):
    """The sound vehicle with a trunk of that many metres; its ends' leads are trunk too."""
    others = 3 * 1.2 - 1.2 + 2 * 0.2 + 1.2
    return with_station(vehicle, 1, section_m=metres - others)


def governing(vehicle, rule):
    return [f for f in findings(vehicle) if f.rule == rule and f.reading.weight is Weight.GOVERNS]


#: rule and rule set -> (vehicle whose reading is the given figure, limit, direction in which it breaks)
BOUNDS = {
    "trunk-length ISO 11898-2": (lambda x: trunk(ONE_MBIT, x), 40.0, +1),
    "trunk-length CiA 303-1": (lambda x: trunk(CANOPEN, x), 100.0, +1),
    "trunk-length SAE J1939-11": (lambda x: trunk(J1939_11, x), 40.0, +1),
    # pump and plug 0.2 m each, heater 1.2 + 0.2 m are counted in
    "trunk-length SAE J1939-15": (lambda x: trunk(sound(), x - 1.8), 40.0, +1),
    "branch-length ISO 11898-2": (lambda x: with_station(ONE_MBIT, 3, branch_m=x - 0.2), 0.3, +1),
    "branch-length SAE J1939-11": (lambda x: with_station(J1939_11, 3, branch_m=x - 0.2), 1.0, +1),
    "branch-length SAE J1939-15": (lambda x: with_station(sound(), 3, branch_m=x - 0.2), 3.0, +1),
    "branch-length CiA 303-1": (lambda x: with_station(CANOPEN, 3, branch_m=x - 0.2), 5.5, +1),
    # the heater hangs 1.2 m of run from its joint; a centimetre is allowed for rounding
    "branch-reaches": (lambda x: with_station(sound(), 3, branch_m=x), 1.19, -1),
    "branches-total CiA 303-1": (lambda x: with_station(CANOPEN, 3, branch_m=x - 0.6), 27.5, +1),
    "station-spacing SAE J1939-15": (lambda x: with_station(sound(), 2, section_m=x), 0.1, -1),
    "station-spacing SAE J1939-11": (lambda x: with_station(J1939_11, 2, section_m=x), 0.1, -1),
    "cable-impedance low": (lambda x: with_cable(sound(), impedance_ohm=Known(x)), 108.0, -1),
    "cable-impedance high": (lambda x: with_cable(sound(), impedance_ohm=Known(x)), 132.0, +1),
    "high-voltage-clearance": (lambda x: with_run(sound(), "r1", high_voltage_clearance_m=Known(x)), 0.1, -1),
    "terminator-value low": (lambda x: with_port(sound(), "inverter", termination_ohm=Known(x)), 110.0, -1),
    "terminator-value high": (lambda x: with_port(sound(), "inverter", termination_ohm=Known(x)), 130.0, +1),
    "terminations-at-ends": (
        lambda x: with_line(
            with_port(sound(), "inverter", termination=Known("switchable")),
            stations=(
                *sound().lines["one"].stations[:4],
                Station(terminator_ohm=Known(120.0), at="p4"),
                Station("inverter.a", section_m=x),
            ),
        ),
        0.0,
        +1,
    ),
    "run-length": (lambda x: with_run(sound(), "r4", length_m=Known(x)), 0.99, -1),
}


@pytest.mark.parametrize("name", sorted(BOUNDS))
def test_on_the_limit_holds_and_a_hair_beyond_breaks(name):
    make, limit, beyond = BOUNDS[name]
    rule = name.split()[0]
    on_it = governing(make(limit), rule)
    worst = min(on_it, key=lambda f: f.margin)
    assert worst.reading.value == pytest.approx(limit, abs=1e-9)
    assert worst.margin == pytest.approx(0.0, abs=1e-9)
    assert rule not in verdicts(make(limit))
    assert rule not in verdicts(make(limit - beyond * HAIR if limit else limit))
    assert rule in verdicts(make(limit + beyond * HAIR))


@pytest.mark.parametrize(("nodes", "broken"), [(30, False), (31, True)])
def test_the_thirtieth_node_of_j1939_11_is_the_last(nodes, broken):
    vehicle = with_line(sound(), rule_set="SAE J1939-11")
    first, *rest = vehicle.lines["one"].stations
    boxes = {f"n{i}": Component("sensor", "p1", ports=Table({"a": port()})) for i in range(nodes - 4)}
    vehicle = replace(vehicle, components=Table({**vehicle.components, **boxes}))
    vehicle = with_line(vehicle, stations=(first, *(Station(f"{name}.a") for name in boxes), *rest))
    assert governing(vehicle, "node-count")[0].reading.value == nodes
    assert ("node-count" in verdicts(vehicle)) is broken


def test_spacing_is_the_trunk_between_joints_without_the_leads_of_the_ends():
    assert governing(sound(), "station-spacing")[0].reading.value == pytest.approx(1.2, abs=1e-9)


@pytest.mark.parametrize(
    ("before_it", "behind_it", "apart"), [(0.04, 0.03, 0.07), (0.04, None, 1.24), (None, 0.05, 0.05), (None, None, 1.2)]
)
def test_a_plug_in_terminator_between_two_joints_does_not_part_them(before_it, behind_it, apart):
    first, pump, plug, *rest = sound().lines["one"].stations
    between = Station(terminator_ohm=Known(120.0), at="p1", section_m=before_it)
    vehicle = with_line(sound(), stations=(first, pump, between, replace(plug, section_m=behind_it), *rest))
    finding = governing(vehicle, "station-spacing")[0]
    assert finding.reading.value == pytest.approx(min(apart, 1.2), abs=1e-9)
    assert ("before", "pump.a") in finding.reading.because or apart >= 1.2


def test_joints_at_one_place_are_left_out_unless_somebody_measured_them():
    vehicle = sound()
    box = replace(vehicle.components["pump"], place="p2")
    vehicle = replace(vehicle, components=vehicle.components.put("pump", box))
    assert governing(vehicle, "station-spacing")[0].reading.value == pytest.approx(1.2, abs=1e-9)
    assert "station-spacing" in verdicts(with_station(vehicle, 2, section_m=0.0))


def test_the_connector_that_reads_farthest_from_60_ohm_is_told():
    """With a node of 600 ohm every connector is below 60 ohm, so the lowest is the farthest out."""
    vehicle = with_port(
        with_cable(sound(), conductor_resistance_ohm_per_m=Known(1.0)), "heater", node_resistance_ohm=Known(600.0)
    )
    finding = governing(vehicle, "line-resistance")[0]
    stops = Answers().ohms(vehicle, "one").value.stops
    lowest = min(stops, key=lambda stop: stop.ohm)
    assert max(stop.ohm for stop in stops) - lowest.ohm > 0.5
    assert finding.reading.value == lowest.ohm < 60.0
    assert ("stop", lowest.port) in finding.reading.because


def test_length_by_cross_section_breaks_just_beyond_its_formula():
    thin = with_cable(with_line(sound(), rule_set="CiA 303-1"), conductor_resistance_ohm_per_m=Known(0.9))
    limit = governing(thin, "length-by-cross-section")[0].reading.limit.value
    # 1/(2 rho) (1.5/1.1 - 1) RT Rdiff/(Rdiff + 4 RT) for five ports, 0.9 ohm/m
    by_hand = 1 / 1.8 * (1.5 / 1.1 - 1) * 118.0 * 20e3 / (20e3 + 4 * 118.0)
    assert limit == pytest.approx(by_hand, abs=1e-6)
    assert "length-by-cross-section" not in verdicts(trunk(thin, limit - HAIR))
    assert "length-by-cross-section" in verdicts(trunk(thin, limit + HAIR))


def test_the_highest_resistance_a_cable_may_have_is_the_one_that_counts():
    ranged = with_cable(sound(), conductor_resistance_ohm_per_m=Known(0.03, 0.02, 0.09))
    high = with_cable(sound(), conductor_resistance_ohm_per_m=Known(0.09))
    found = [
        next(f for f in findings(v) if f.rule == "length-by-cross-section").reading.limit.value for v in (ranged, high)
    ]
    assert found[0] == found[1]


def test_the_nearest_that_a_run_comes_to_high_voltage_is_what_counts():
    vehicle = with_run(sound(), "r1", high_voltage_clearance_m=Known(0.2, 0.05, 0.3))
    assert "high-voltage-clearance" in verdicts(vehicle)


@pytest.mark.parametrize(
    ("rule", "segment_s", "worst_m"),
    [("branch-by-propagation", 350e-9, 1.4), ("branches-by-propagation", 90e-9, 1.8)],
)
def test_advice_by_propagation_takes_the_lines_own_bit_timing(rule, segment_s, worst_m):
    """A fiftieth of 350 ns is 1.4 m at 5 ns/m; a tenth of 90 ns is 1.8 m, all branches of the sound vehicle."""
    on_it = with_line(sound(), propagation_segment_s=Known(segment_s))
    short = with_line(sound(), propagation_segment_s=Known(segment_s - 1e-9))
    for vehicle, broken in ((on_it, False), (short, True)):
        finding = next(f for f in findings(vehicle) if f.rule == rule)
        assert finding.reading.value == pytest.approx(worst_m, abs=1e-9)
        assert (finding.verdict is Verdict.BROKEN) is broken
        assert finding.reading.weight is Weight.ADVICE
        assert rule not in verdicts(vehicle)


def test_the_usual_bit_timing_counts_as_assumed():
    finding = next(f for f in findings(sound()) if f.rule == "branch-by-propagation")
    assert ("lines", "one", "propagation_segment_s") in finding.reading.assumed


@pytest.mark.parametrize("stations", [(Station("plug.a"),), (Station("plug.a"), Station("plug2.a", at="p3"))])
def test_a_line_that_reads_open_is_broken_with_a_figure(stations):
    vehicle = with_line(sound(), stations=stations)
    plug = vehicle.components["plug"]
    vehicle = replace(vehicle, components=vehicle.components.put("plug2", plug))
    finding = governing(vehicle, "line-resistance")[0]
    assert (finding.verdict, finding.reading.value) == (Verdict.BROKEN, OPEN_OHM)


def test_places_without_a_height_are_held_against_the_distance_seen_from_above():
    vehicle = sound()
    high = replace(vehicle, places=vehicle.places.put("p0", Place(0.5, 0.0, 3.0)))
    assert "run-length" not in verdicts(high)
    both = replace(high, places=high.places.put("p1", Place(1.5, 0.0, 1.0)))
    assert "run-length" in verdicts(both)


def test_a_fixed_termination_that_a_ring_returns_to_is_one_termination():
    vehicle = with_port(sound(), "vcu", termination=Known("fixed"))
    ring = with_line(vehicle, stations=(*vehicle.lines["one"].stations, Station("vcu.a")))
    assert governing(ring, "two-terminations")[0].reading.value == 2
    assert len(governing(ring, "terminator-value")) == 2
    assert verdicts(ring) == {"station-once"}


@pytest.mark.parametrize(
    ("lock", "kept"),
    [
        ({"port": "pump.a", "must": "be on line", "line": "one"}, True),
        ({"port": "pump.a", "must": "be on line", "line": "two"}, False),
        ({"port": "vcu.a", "must": "be at an end"}, True),
        ({"port": "inverter.a", "must": "be at an end"}, True),
        ({"port": "pump.a", "must": "be at an end"}, False),
        ({"port": "pump.a", "must": "share a line with", "other": "heater.a"}, True),
        ({"port": "pump.a", "must": "share a line with", "other": "spare.a"}, False),
        ({"port": "pump.a", "must": "not share a line with", "other": "spare.a"}, True),
        ({"port": "pump.a", "must": "not share a line with", "other": "heater.a"}, False),
        ({"port": "pump.a", "must": "be joined through"}, True),
        ({"port": "heater.a", "must": "be joined through"}, False),
        ({"port": "spare.a", "must": "be on line", "line": "one"}, False),
        ({"port": "spare.a", "must": "be at an end"}, True),
    ],
    ids=lambda value: value if isinstance(value, bool) else " ".join(value.values()),
)
def test_locks(lock, kept):
    vehicle = with_lock(sound(), **lock)
    spare = Component("fan", "p5", ports=Table({"a": port(needed=False)}))
    vehicle = replace(vehicle, components=vehicle.components.put("spare", spare))
    assert ("lock-kept" not in verdicts(vehicle)) is kept


def test_a_plug_in_terminator_beyond_a_port_leaves_it_at_the_end():
    vehicle = with_port(sound(), "inverter", termination=Known("none"))
    stations = (*vehicle.lines["one"].stations, Station(terminator_ohm=Known(120.0), at="p4"))
    vehicle = with_lock(with_line(vehicle, stations=stations), port="inverter.a", must="be at an end")
    assert verdicts(vehicle) == set()


@pytest.mark.parametrize(
    ("line", "one", "fits"),
    [
        ("11 bit", "11 bit", True),
        ("11 bit", "29 bit", False),
        ("11 bit", "both", True),
        ("29 bit", "29 bit", True),
        ("29 bit", "11 bit", False),
        ("both", "11 bit", True),
        ("both", "29 bit", True),
        ("both", "both", True),
    ],
)
def test_identifier_widths(line, one, fits):
    vehicle = with_line(with_port(sound(), "pump", identifiers=Known(one)), identifiers=Known(line))
    reading = next(
        f for f in findings(vehicle) if f.rule == "identifier-match" and ("port", "pump.a") in f.reading.because
    )
    assert (reading.verdict is Verdict.HOLDS) is fits


@pytest.mark.parametrize(
    ("line", "one", "fits"),
    [
        ("classical", "classical", True),
        ("classical", "FD", False),
        ("classical", "both", True),
        ("FD", "classical", False),
        ("FD", "FD", True),
        ("FD", "both", True),
    ],
)
def test_frames(line, one, fits):
    vehicle = with_line(with_port(sound(), "pump", frames=Known(one)), frames=line)
    reading = next(f for f in findings(vehicle) if f.rule == "frames-match" and ("port", "pump.a") in f.reading.because)
    assert (reading.verdict is Verdict.HOLDS) is fits


def test_a_service_plug_matches_every_line():
    odd = with_port(
        sound(), "plug", bit_rates_bit_per_s=Known((125e3,)), identifiers=Known("11 bit"), frames=Known("FD"),
        protocols=Known(("diagnostics",)),
    )  # fmt: skip
    assert verdicts(odd) == set()
