"""One bit timing for a wired line, held against the arithmetic of the laws."""

from dataclasses import replace

import pytest

from loomwright.judge.rule import judge
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.judge.rules.signal_evidence import SignalEvidence
from loomwright.laws.node_timing import Obstacle
from loomwright.model.line import Station
from loomwright.model.vehicle import Cable
from loomwright.show.words import finding_sentence
from loomwright.solve.bit_timing import line_timing
from loomwright.solve.levels import line_levels
from loomwright.solve.signal import line_signal
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.answer import Blocked, Solved
from loomwright.terms.fact import Known, Unknown
from tests.solve.build import port, string_vehicle

CABLE = Cable(conductor_resistance_ohm_per_m=Known(0.0), impedance_ohm=Known(120.0), delay_s_per_m=Known(5e-9))
NOT_COMPUTED = Blocked(())


def told(delay_s=150e-9, **facts):
    return replace(port(termination="fixed"), transceiver_delay_s=Known(delay_s), **facts)


def clocked(hertz, **facts):
    return told(clock_hz=Known(hertz), oscillator_tolerance=Known(0.001), **facts)


def line_of(positions_m, ports, rate=500e3, stations=None):
    vehicle = string_vehicle(positions_m, ports, stations, CABLE)
    line = replace(vehicle.lines["one"], bit_rate_bit_per_s=Known(rate))
    wired = line_topology("one", line, vehicle.components, run_ways(vehicle.places, vehicle.runs)).value
    return line, vehicle.components, wired


def timing_of(*args, signal=NOT_COMPUTED, **named):
    line, components, wired = line_of(*args, **named)
    return line_timing(line, components, CABLE, wired, signal).value


def test_every_setting_makes_the_bit_rate_and_leaves_room_for_the_answer():
    timing = timing_of([0.0, 10.0, 20.0], [clocked(8e6), clocked(40e6), clocked(80e6)])
    for node, (name, clock) in zip(timing.common.nodes, timing.clocks_hz, strict=True):
        assert node.name == name
        assert node.setting.bit_rate_bit_per_s(clock) == pytest.approx(500e3)
        assert node.setting.propagation * node.setting.quantum_s(clock) >= timing.round_trip.time_s - 1e-15
    assert timing.common.sample_point == pytest.approx(0.875, abs=0.011)


def test_the_farthest_pair_counts_its_branches_and_both_transceivers():
    """20 m of trunk and two branches of 1 m: 22 m, 110 ns there, as much back, 150 ns and 250 ns of electronics."""
    stations = (Station("c0.can", at="p0", branch_m=1.0), Station("c1.can"), Station("c2.can", at="p2", branch_m=1.0))
    ports = [replace(told(), termination=Known("none")), told(), replace(told(250e-9), termination=Known("none"))]
    trip = timing_of([0.0, 10.0, 20.0], ports, stations=stations).round_trip
    assert {trip.asking, trip.answering} == {"c0.can", "c2.can"}
    assert trip.length_m == pytest.approx(22.0, abs=1e-9)
    assert trip.time_s == pytest.approx(2 * 22.0 * 5e-9 + 400e-9, abs=1e-12)


def test_a_settled_answer_is_later_than_a_carried_one():
    line, components, wired = line_of([0.0, 20.0], [clocked(40e6), clocked(40e6)])
    signal = line_signal(line, components, CABLE, wired)
    plain = line_timing(line, components, CABLE, wired, NOT_COMPUTED).value.round_trip
    settled = line_timing(line, components, CABLE, wired, signal).value.round_trip
    slowest = max(pair.dominant_s for pair in signal.value.pairs)
    assert settled.time_s - plain.time_s == pytest.approx(slowest - 20.0 * 5e-9, abs=1e-12)


def test_a_clock_that_cannot_make_the_rate_is_an_obstacle_with_a_name():
    timing = timing_of([0.0, 1.0], [clocked(42e6), clocked(8e6)], rate=800e3)
    assert timing.common is None
    assert [(reason.obstacle, reason.nodes) for reason in timing.reasons] == [(Obstacle.BIT_RATE, ("c0.can",))]


def test_a_node_fixed_at_75_percent_pulls_the_others_to_it():
    timing = timing_of([0.0, 1.0], [clocked(40e6), told(sample_point=Known(0.75))])
    assert [node.sample_point for node in timing.common.nodes] == pytest.approx([0.75, 0.75], abs=0.01)


def test_a_node_of_which_nothing_is_told_is_named_and_nothing_is_made_up_for_it():
    timing = timing_of([0.0, 1.0], [clocked(40e6), told()])
    assert timing.untold == ("c1.can",)
    assert [node.name for node in timing.common.nodes] == ["c0.can"]
    nobody = timing_of([0.0, 1.0], [told(), told()])
    assert (nobody.common, nobody.reasons) == (None, ())


def test_an_unknown_clock_blocks():
    line, components, wired = line_of([0.0, 1.0], [told(clock_hz=Unknown()), told()])
    answer = line_timing(line, components, CABLE, wired, NOT_COMPUTED)
    assert answer == Blocked((("components", "c0", "ports", "can", "clock_hz"),))


@pytest.mark.parametrize(("point", "verdict", "advice"), [(0.875, "holds", "holds"), (0.75, "holds", "broken")])
def test_the_rule_counts_obstacles_and_holds_the_point_against_the_recommended_band(point, verdict, advice):
    found = verdicts([0.0, 1.0], [clocked(40e6), told(sample_point=Known(point))])
    assert found == [(verdict, "governs"), (advice, "advice")]


def test_the_rule_is_broken_where_two_nodes_cannot_meet():
    assert verdicts([0.0, 1.0], [told(sample_point=Known(0.75)), told(sample_point=Known(0.875))]) == [
        ("broken", "governs")
    ]


def test_an_oscillator_of_unknown_tolerance_is_taken_as_exact_and_named():
    line, components, wired = line_of([0.0, 1.0, 2.0], [clocked(40e6), told(clock_hz=Known(40e6)), told()])
    timing = line_timing(line, components, CABLE, wired, NOT_COMPUTED)
    assert timing.value.exact == ("c1.can",), "c0 tells its own, c2 tells nothing and is named for that"
    evidence = SignalEvidence("one", 5e-9, Solved(wired), NOT_COMPUTED, NOT_COMPUTED, timing)
    (found, _) = [own for own in judge(SIGNAL_RULES, evidence) if own.rule == "bit-timing"]
    assert "No tolerance is told for the oscillator of c1.can: taken as exact." in finding_sentence(found)
    assert timing_of([0.0, 1.0], [clocked(40e6), clocked(8e6)]).exact == ()


def verdicts(positions_m, ports):
    line, components, wired = line_of(positions_m, ports)
    signal = line_signal(line, components, CABLE, wired)
    levels = line_levels(line, components, CABLE, wired, (293.15, 293.15))
    timing = line_timing(line, components, CABLE, wired, signal)
    assert isinstance(timing, Solved)
    findings = judge(SIGNAL_RULES, SignalEvidence("one", 5e-9, Solved(wired), signal, levels, timing))
    return [(f.verdict.value, f.reading.weight.value) for f in findings if f.rule == "bit-timing"]


# --- the data phase of FD lines ------------------------------------------------------------------------------------


TWO_MBIT = Known(2e6)


def fd_line(positions_m, ports, stations=None, data_rate=TWO_MBIT):
    line, components, wired = line_of(positions_m, ports, stations=stations)
    return replace(line, frames="FD", data_bit_rate_bit_per_s=data_rate), components, wired


def fd_timing(*args, signal=NOT_COMPUTED, **named):
    line, components, wired = fd_line(*args, **named)
    return line_timing(line, components, CABLE, wired, signal)


def test_a_classical_line_is_not_asked_for_its_data_bit_rate_and_an_fd_line_is():
    line, components, wired = line_of([0.0, 1.0], [clocked(40e6), clocked(40e6)])
    assert isinstance(line.data_bit_rate_bit_per_s, Unknown)
    assert line_timing(line, components, CABLE, wired, NOT_COMPUTED).value.data is None
    assert fd_timing([0.0, 1.0], [clocked(40e6), clocked(40e6)], data_rate=Unknown()) == Blocked(
        (("lines", "one", "data_bit_rate_bit_per_s"),)
    )


def test_both_phases_of_every_node_are_set_with_equal_quanta():
    timing = fd_timing([0.0, 1.0, 2.0], [clocked(20e6), clocked(40e6), clocked(80e6)]).value
    points = []
    for node, (_, clock) in zip(timing.common.nodes, timing.clocks_hz, strict=True):
        assert node.setting.bit_rate_bit_per_s(clock) == pytest.approx(500e3)
        assert node.data.bit_rate_bit_per_s(clock) == pytest.approx(2e6)
        assert node.equal_quanta
        assert node.tolerance >= 0.001
        points.append(node.data.sample_point)
    assert max(points) - min(points) <= 0.01 + 1e-9
    assert timing.data.sample_point == pytest.approx(0.75, abs=0.06)


def test_an_unknown_data_sample_point_blocks_an_fd_line_alone():
    ports = [told(sample_point=Known(0.8), data_sample_point=Unknown()), clocked(40e6)]
    assert fd_timing([0.0, 1.0], ports).by == (("components", "c0", "ports", "can", "data_sample_point"),)
    assert timing_of([0.0, 1.0], ports).common is not None


def test_where_the_data_phase_suits_nobody_the_nominal_phase_is_still_set():
    """30 MHz makes 500 kbit/s of 60 quanta, but no whole number of quanta at 4 Mbit/s."""
    timing = fd_timing([0.0, 1.0], [clocked(30e6), clocked(40e6)], data_rate=Known(4e6)).value
    assert timing.common.sample_point == pytest.approx(0.875, abs=0.02)
    assert all(node.data is None for node in timing.common.nodes)
    assert [(reason.obstacle, reason.nodes) for reason in timing.data.reasons] == [(Obstacle.DATA_PHASE, ("c0.can",))]
    assert timing.data.sample_point is None
    assert timing.data.compensation == ()


def test_what_is_wrong_with_the_nominal_phase_is_not_told_twice():
    timing = fd_timing([0.0, 1.0], [clocked(40e6, sample_point=Known(0.8)), told(sample_point=Known(0.5))]).value
    assert [reason.obstacle for reason in timing.reasons] == [Obstacle.SAMPLE_POINT]
    assert timing.data.reasons == ()


def test_compensation_begins_at_1_mbit_per_s():
    for rate, wanted in ((800e3, False), (1e6, True), (2e6, True)):
        data = fd_timing([0.0, 1.0], [clocked(40e6), clocked(40e6)], data_rate=Known(rate)).value.data
        assert bool(data.compensation) is wanted, rate
    (first, own), _ = data.compensation
    assert (first, own.delay, own.able) == ("c0.can", 6, True)


def test_the_way_along_the_cable_does_not_count_in_the_data_phase():
    """A receiver follows the edges it sees, and after 40 m an edge is as steep as after 1 m."""
    near, far = (
        settled_data([0.0, length], [clocked(40e6), clocked(40e6)])
        for length in (1.0, 40.0)
    )  # fmt: skip
    for one, other in zip(near.sure, far.sure, strict=True):
        assert one.typical_s == pytest.approx(other.typical_s, abs=12e-9)
        assert other.typical_s < 60e-9


def settled_data(positions_m, ports, stations=None):
    line, components, wired = fd_line(positions_m, ports, stations)
    signal = line_signal(line, components, CABLE, wired)
    return line_timing(line, components, CABLE, wired, signal).value.data


def data_verdicts(positions_m, ports, stations=None, data_rate=TWO_MBIT):
    line, components, wired = fd_line(positions_m, ports, stations, data_rate)
    signal = line_signal(line, components, CABLE, wired)
    levels = line_levels(line, components, CABLE, wired, (293.15, 293.15))
    timing = line_timing(line, components, CABLE, wired, signal)
    found = judge(SIGNAL_RULES, SignalEvidence("one", 5e-9, Solved(wired), signal, levels, timing))
    return {
        (f.rule, f.reading.rule_set): f.verdict.value
        for f in sorted(found, key=lambda f: ("holds", "tight", "broken").index(f.verdict.value))
        if f.rule.startswith("data-")
    }


def test_a_clean_fd_line_holds_in_every_rule_of_the_data_phase():
    found = data_verdicts([0.0, 2.0], [clocked(40e6), clocked(80e6)])
    assert found == {
        ("data-timing", ""): "holds",
        ("data-timing", "equal quanta"): "holds",
        ("data-timing", "compensation"): "holds",
        ("data-settling", ""): "holds",
        ("data-settling", "worst corner"): "holds",
    }


def test_branches_that_ring_in_the_nominal_phase_s_spare_time_are_too_late_for_the_data_phase():
    """Two branches of 8 m ring on for longer than the 187 ns that 4 Mbit/s leave, well within the 1.75 us of 500 kbit/s."""
    bare = replace(clocked(40e6), termination=Known("none"))
    stations = (
        Station("c0.can"), Station("c1.can", at="p1", branch_m=8.0), Station("c2.can", at="p2", branch_m=8.0),
        Station("c3.can"),
    )  # fmt: skip
    ports = [clocked(40e6), bare, bare, clocked(40e6)]
    found = data_verdicts([0.0, 5.0, 10.0, 15.0], ports, stations, Known(4e6))
    assert found["data-settling", ""] == "broken"
    assert found["data-timing", ""] == "holds"
    line, components, wired = fd_line([0.0, 5.0, 10.0, 15.0], ports, stations)
    signal = line_signal(line, components, CABLE, wired).value
    assert max(pair.typical_s for pair in signal.pairs) + signal.electronics_s < signal.sample_s


def test_where_no_waves_can_be_computed_the_edges_of_the_data_phase_are_unknown_not_silent():
    line, components, wired = fd_line([0.0, 2.0], [clocked(40e6), clocked(80e6)])
    missing = Blocked((("components", "c0", "ports", "can", "node_capacitance_f"),))
    timing = line_timing(line, components, CABLE, wired, missing)
    evidence = SignalEvidence("one", 5e-9, Solved(wired), missing, missing, timing)
    (found,) = [own for own in judge(SIGNAL_RULES, evidence) if own.rule == "data-settling"]
    assert (found.verdict.value, found.reading.blocked_by) == ("unknown", missing.by)


def test_two_stated_data_points_that_differ_break_the_rule_of_the_data_phase_alone():
    ports = [told(sample_point=Known(0.8), data_sample_point=Known(point)) for point in (0.7, 0.75)]
    assert data_verdicts([0.0, 1.0], ports)["data-timing", ""] == "broken"
    assert verdicts([0.0, 1.0], ports)[0] == ("holds", "governs")


def test_unlike_quanta_are_remarked_on_where_nothing_better_fits():
    """At 50 kbit/s 80 MHz takes a prescaler of 20 or more, at 2 Mbit/s one of 8 at most."""
    line, components, wired = fd_line([0.0, 1.0], [told(clock_hz=Known(80e6))] * 2)
    line = replace(line, bit_rate_bit_per_s=Known(50e3))
    timing = line_timing(line, components, CABLE, wired, NOT_COMPUTED)
    assert not any(node.equal_quanta for node in timing.value.common.nodes)
    found = judge(SIGNAL_RULES, SignalEvidence("one", 5e-9, Solved(wired), NOT_COMPUTED, NOT_COMPUTED, timing))
    remark = next(f for f in found if f.reading.rule_set == "equal quanta")
    assert (remark.verdict.value, remark.reading.value, remark.reading.weight.value) == ("broken", 2.0, "advice")
