"""The physical layer of a wired line, held against closed forms that know nothing of the wave engine."""

from dataclasses import replace

import pytest

import loomwright.solve.signal_parts as parts_module
from loomwright.app.project import open_project
from loomwright.app.signal import NoSuchPairError, signals, waveform
from loomwright.app.start import start_from_example
from loomwright.judge.rule import judge
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.judge.rules.signal_evidence import SignalEvidence
from loomwright.laws.levels import TYPICAL_DRIVER, WEAK_DRIVER
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


def test_grounds_are_compared_where_they_are_stated():
    vehicle = string_vehicle([0.0, 1.0], [bare(termination="fixed"), bare(termination="fixed")], cable=LOSSLESS)
    components = vehicle.components
    for name, volts in (("c0", 0.0), ("c1", 10.0)):
        components = components.put(name, replace(components[name], ground_offset_v=Known(volts)))
    wired = line_topology("one", vehicle.lines["one"], components, run_ways(vehicle.places, vehicle.runs)).value
    levels = line_levels(vehicle.lines["one"], components, LOSSLESS, wired, (253.15, 333.15))
    signal = line_signal(vehicle.lines["one"], components, LOSSLESS, wired)
    findings = judge(SIGNAL_RULES, SignalEvidence("one", 5e-9, Solved(wired), signal, levels))
    grounds = [f for f in findings if f.rule == "ground-offset"]
    assert [f.verdict.value for f in grounds] == ["broken", "broken"]
    assert grounds[0].reading.limit.value == pytest.approx(9.5, abs=0.01)


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
