"""The physical layer of a wired line, held against closed forms that know nothing of the wave engine."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

import loomwright.solve.signal_parts as parts_module
from loomwright.app.project import open_project
from loomwright.app.signal import NoSuchPairError, signals, waveform
from loomwright.app.start import start_from_example
from loomwright.judge.rule import judge
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.judge.rules.signal_evidence import SignalEvidence
from loomwright.laws.levels import STRONG_DRIVER, TYPICAL_DRIVER, WEAK_DRIVER
from loomwright.model.line import Station
from loomwright.model.vehicle import Cable
from loomwright.solve.levels import line_levels
from loomwright.solve.signal import line_signal, trace
from loomwright.solve.signal_parts import EDGE_S
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.answer import Blocked, Solved
from loomwright.terms.fact import Known, Unknown
from tests.solve.build import port, string_vehicle

LOSSLESS = Cable(conductor_resistance_ohm_per_m=Known(0.0), impedance_ohm=Known(120.0), delay_s_per_m=Known(5e-9))


def bare(**facts):
    """A port without capacitance, so that edges are only late and never round."""
    return replace(port(**facts), node_capacitance_f=Known(0.0), transceiver_delay_s=Known(0.0))


def answers(positions_m, ports, stations=None, rate=500e3):
    vehicle = string_vehicle(positions_m, ports, stations, LOSSLESS)
    line = replace(vehicle.lines["one"], bit_rate_bit_per_s=Known(rate))
    wired = line_topology("one", line, vehicle.components, run_ways(vehicle.places, vehicle.runs)).value
    signal = line_signal(line, vehicle.components, LOSSLESS, wired)
    levels = line_levels(line, vehicle.components, LOSSLESS, wired, (293.15, 293.15))
    return vehicle, line, wired, signal, levels


def pair_of(signal, sender, receiver):
    return next(pair for pair in signal.value.pairs if (pair.sender, pair.receiver) == (sender, receiver))


def ramp_s(threshold_v, *, rising):
    """Time from the start of the edge to the threshold at the driver's own node: 3 V behind a ramped conductance, 60 ohm."""
    volts, full = TYPICAL_DRIVER.volts, 1.0 / TYPICAL_DRIVER.ohm
    conductance = threshold_v / 60.0 / (volts - threshold_v)
    share = conductance / full
    return EDGE_S * (share if rising else 1.0 - share)


def test_on_a_matched_line_a_bit_arrives_one_cable_delay_later():
    _, _, _, signal, _ = answers([0.0, 20.0], [bare(termination="fixed"), bare(termination="fixed")])
    pair = pair_of(signal, "c0.can", "c1.can")
    expected = 20.0 * 5e-9 + max(ramp_s(0.9, rising=True), ramp_s(0.5, rising=False))
    assert pair.typical_s == pytest.approx(expected, abs=0.5e-9)


def test_an_open_stub_in_mid_trunk_delays_the_recessive_bit_by_one_round_trip_of_the_stub(monkeypatch):
    """After n arrivals the junction is at Vinf (-1/3)^n: from 2 V it passes 0.5 V for good at the second, 2 Ts later."""
    monkeypatch.setattr(parts_module, "EDGE_S", 0.1e-9)
    stations = (Station("c0.can"), Station("c1.can", at="p1", branch_m=3.0), Station("c2.can"))
    ends = bare(termination="fixed")
    with_stub = answers([0.0, 10.0, 20.0], [ends, bare(), ends], stations)[3]
    without = answers([0.0, 10.0, 20.0], [ends, bare(), ends])[3]
    late = pair_of(with_stub, "c0.can", "c2.can").typical_s - pair_of(without, "c0.can", "c2.can").typical_s
    assert late == pytest.approx(2 * 3.0 * 5e-9, abs=0.5e-9)


def test_a_missing_termination_delays_everybody_by_the_way_back():
    ends = bare(termination="fixed")
    matched = answers([0.0, 10.0, 20.0], [ends, bare(), ends])[3]
    missing = answers([0.0, 10.0, 20.0], [ends, bare(), bare()])[3]
    assert pair_of(missing, "c0.can", "c1.can").typical_s - pair_of(
        matched, "c0.can", "c1.can"
    ).typical_s == pytest.approx(100e-9, abs=20e-9)


def test_no_termination_at_all_never_settles_and_is_broken():
    _, _, wired, signal, levels = answers([0.0, 20.0], [bare(node_ohm=30e3), bare(node_ohm=30e3)])
    assert pair_of(signal, "c0.can", "c1.can").typical_s == float("inf")
    findings = judge(SIGNAL_RULES, SignalEvidence("one", 5e-9, Solved(wired), signal, levels))
    assert {f.rule for f in findings if f.verdict == "broken"} >= {"signal-settling"}


def test_three_terminations_leave_the_weakest_driver_what_the_divider_says():
    ends = bare(termination="fixed")
    levels = answers([0.0, 1.0, 2.0], [ends, ends, ends])[4].value
    expected = WEAK_DRIVER.volts * 40.0 / (40.0 + WEAK_DRIVER.ohm)
    assert levels.receivers[0].low_v == pytest.approx(expected, abs=0.001)


def test_40_m_at_1_mbit_with_slow_transceivers_is_not_back_in_time():
    """Microchip online documents GUID-E48B4A26 eq. 14-9: 910 ns, against 875 ns at 87.5 %."""
    slow = replace(port(termination="fixed"), transceiver_delay_s=Known(255e-9), sample_point=Known(0.875))
    _, _, wired, signal, levels = answers([0.0, 40.0], [slow, slow], rate=1e6)
    findings = judge(SIGNAL_RULES, SignalEvidence("one", 5e-9, Solved(wired), signal, levels))
    back = next(f for f in findings if f.rule == "there-and-back")
    assert back.reading.value == pytest.approx(910e-9, abs=0.1e-9)
    assert back.reading.limit.value == pytest.approx(875e-9, abs=0.1e-9)
    assert back.verdict == "broken"


def divided(wired, loop_ohm_per_m, driver, siemens):
    """Levels at the nodes' tips, drivers in rows: Kirchhoff's current law written down anew, wires of 0.1 micro-ohm at least."""
    tips = [stop.tip for stop in wired.stops]
    own = np.zeros((wired.nodes, wired.nodes))
    for piece in wired.pieces:
        between = 1.0 / max(loop_ohm_per_m * piece.length_m, 1e-7)
        for one, other in ((piece.start, piece.end), (piece.end, piece.start)):
            own[one, one] += between
            own[one, other] -= between
    for tip, shunt in zip(tips, siemens, strict=True):
        own[tip, tip] += shunt
    rows = []
    for tip in tips:
        driven, into = own.copy(), np.zeros(wired.nodes)
        driven[tip, tip] += 1.0 / driver.ohm
        into[tip] = driver.volts / driver.ohm
        rows.append(np.linalg.solve(driven, into)[tips])
    return np.array(rows)


def test_lowest_and_highest_level_are_those_of_all_corners_of_terminations_nodes_and_copper():
    """A driver far from the terminations sees more at its own pins through hot copper than through cold."""
    cable = replace(LOSSLESS, conductor_resistance_ohm_per_m=Known(0.07, low=0.05, high=0.09))
    ends, between = bare(termination="fixed"), bare()
    ports = [
        replace(
            own,
            node_resistance_ohm=Known(30e3, low=5e3, high=50e3),
            termination_ohm=Known(120.0, low=100.0, high=135.0),
        )
        for own in (ends, between, ends, between)
    ]
    stations = (*(Station(f"c{i}.can", at=f"p{i}", branch_m=5.0 * i) for i in range(3)), Station("c3.can"))
    vehicle = string_vehicle([0.0, 30.0, 70.0, 120.0], ports, stations, cable)
    line = vehicle.lines["one"]
    wired = line_topology("one", line, vehicle.components, run_ways(vehicle.places, vehicle.runs)).value
    found = line_levels(line, vehicle.components, cable, wired, (233.15, 358.15)).value.receivers
    low, high = np.full(4, np.inf), np.zeros(4)
    copper = [2.0 * ohm * (1.0 + 0.00393 * (kelvin - 293.15)) for ohm in (0.05, 0.09) for kelvin in (233.15, 358.15)]
    for loop in copper:
        for corner in product(*[(5e3, 50e3)] * 4, *[(100.0, 135.0)] * 2):
            siemens = [1.0 / ohm for ohm in corner[:4]]
            for stop, ohm in zip((0, 2), corner[4:], strict=True):
                siemens[stop] += 1.0 / ohm
            low = np.minimum(low, divided(wired, loop, WEAK_DRIVER, siemens).min(axis=0))
            high = np.maximum(high, divided(wired, loop, STRONG_DRIVER, siemens).max(axis=0))
    assert [own.low_v for own in found] == pytest.approx(low, abs=1e-4)
    assert [own.high_v for own in found] == pytest.approx(high, abs=1e-4)


def test_what_waits_for_a_fact_is_told_by_every_rule_that_waits(tmp_path):
    """A run nobody measured: nothing can be said of the bits, and nothing holds."""
    start_from_example(tmp_path / "b", "bench")
    file = tmp_path / "b" / "vehicle.toml"
    told = 'length = "0.80 m"\nlength_source = "cut from the drum: first piece"\n'
    text = file.read_text("utf-8")
    assert told in text
    file.write_text(text.replace(told, "", 1), "utf-8")
    (physics,) = signals(open_project(tmp_path / "b"))
    found = {own.rule: own for own in physics.findings}
    assert set(found) == {"signal-settling", "signal-level", "there-and-back", "bit-timing"}
    for own in found.values():
        assert own.verdict == "unknown", own.rule
        assert [path[0] for path in own.reading.blocked_by] == ["runs"], own.rule
        assert own.reading.blocked_by[0][-1] == "length_m", own.rule


def test_an_unknown_node_resistance_leaves_the_level_unknown_too():
    unsure = replace(bare(termination="fixed"), node_resistance_ohm=Unknown())
    _, _, wired, signal, levels = answers([0.0, 1.0], [unsure, bare(termination="fixed")])
    findings = judge(SIGNAL_RULES, SignalEvidence("one", 5e-9, Solved(wired), signal, levels))
    level = [own for own in findings if own.rule == "signal-level"]
    assert [(own.verdict.value, own.reading.blocked_by) for own in level] == [
        ("unknown", (("components", "c0", "ports", "can", "node_resistance_ohm"),))
    ]


def test_an_unknown_capacitance_blocks_and_is_named():
    unsure = replace(bare(termination="fixed"), node_capacitance_f=Unknown())
    answer = answers([0.0, 1.0], [unsure, bare(termination="fixed")])[3]
    assert answer == Blocked((("components", "c0", "ports", "can", "node_capacitance_f"),))


def test_the_trace_settles_at_the_level_of_the_divider():
    vehicle, line, wired, _, _ = answers([0.0, 5.0], [bare(termination="fixed"), bare(termination="fixed")])
    answer = trace(line, vehicle.components, LOSSLESS, wired, "c0.can", "c1.can")
    assert isinstance(answer, Solved)
    at = next(v for t, v in zip(answer.value.time_s, answer.value.volts, strict=True) if t > 1.5e-6)
    assert at == pytest.approx(2.0, abs=0.01)
    assert answer.value.volts[-1] == pytest.approx(0.0, abs=0.01)


def test_work_can_be_stopped():
    vehicle, line, wired, _, _ = answers([0.0, 5.0], [bare(termination="fixed"), bare(termination="fixed")])
    assert line_signal(line, vehicle.components, LOSSLESS, wired, progress=lambda done, whole: False) == Blocked(())


def test_the_command_answers_for_every_line_of_the_tipper(tmp_path):
    start_from_example(tmp_path / "t", "tipper")
    project = open_project(tmp_path / "t")
    found = {item.name: item for item in signals(project)}
    assert set(found) == set(project.vehicle.lines)
    body = found["body"].signal.value
    assert min(body.margin_s(pair) for pair in body.pairs) == body.margin_s(body.worst)
    assert not [
        f for item in found.values() for f in item.findings if f.verdict == "broken" and f.reading.weight == "governs"
    ]
    ports = [pair.receiver for pair in body.pairs][:2]
    assert isinstance(waveform(project, "body", ports[1], ports[0]), Solved)
    with pytest.raises(NoSuchPairError, match="is not on line"):
        waveform(project, "body", "nobody.can", ports[0])
