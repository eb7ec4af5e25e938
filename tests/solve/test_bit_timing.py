"""One bit timing for a wired line, held against the arithmetic of the laws."""

from dataclasses import replace

import pytest

from loomwright.judge.rule import judge
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.judge.rules.signal_evidence import SignalEvidence
from loomwright.laws.node_timing import Obstacle
from loomwright.model.line import Station
from loomwright.model.vehicle import Cable
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


def verdicts(positions_m, ports):
    line, components, wired = line_of(positions_m, ports)
    signal = line_signal(line, components, CABLE, wired)
    levels = line_levels(line, components, CABLE, wired, (293.15, 293.15))
    timing = line_timing(line, components, CABLE, wired, signal)
    assert isinstance(timing, Solved)
    findings = judge(SIGNAL_RULES, SignalEvidence("one", 5e-9, Solved(wired), signal, levels, timing))
    return [(f.verdict.value, f.reading.weight.value) for f in findings if f.rule == "bit-timing"]
