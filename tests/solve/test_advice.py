"""Advice on a line: branch lengths found by the engine, changes that cure and break nothing."""

from dataclasses import replace

import pytest

from loomwright.app.project import open_project
from loomwright.app.signal import physics_of
from loomwright.app.signal_advice import advice
from loomwright.app.start import start_from_example
from loomwright.judge.changes import as_numbered
from loomwright.model.line import Station
from loomwright.model.variant import changed
from loomwright.model.vehicle import Cable
from loomwright.propose.signal_cures import Outcome, effects
from loomwright.solve.bit_timing import line_timing
from loomwright.solve.levels import line_levels
from loomwright.solve.longest_branch import NEAR_M, TRIED_M, late_port, longest_branches, with_branch
from loomwright.solve.signal import line_signal
from loomwright.solve.signal_parts import signal_parts
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Known
from loomwright.terms.limit import Bound
from tests.solve.build import port, string_vehicle

CABLE = Cable(conductor_resistance_ohm_per_m=Known(0.0), impedance_ohm=Known(120.0), delay_s_per_m=Known(5e-9))
STUB = (Station("c0.can"), Station("c1.can", at="p1", branch_m=1.0), Station("c2.can"))


def bare(point=0.875, **facts):
    return replace(
        port(**facts), node_capacitance_f=Known(0.0), transceiver_delay_s=Known(0.0), sample_point=Known(point)
    )


def case(ports, stations=STUB, rate=1e6):
    vehicle = string_vehicle([0.0, 10.0, 20.0], ports, stations, CABLE)
    line = replace(vehicle.lines["one"], bit_rate_bit_per_s=Known(rate))
    vehicle = replace(vehicle, lines=vehicle.lines.put("one", line))
    return vehicle, line, vehicle.components, CABLE, wired(vehicle)


def wired(vehicle):
    net = run_ways(vehicle.places, vehicle.runs)
    return line_topology("one", vehicle.lines["one"], vehicle.components, net).value


def test_the_longest_branch_holds_and_a_little_more_does_not():
    """With the sample point early, a stub of a few metres is already too long."""
    ends = bare(0.2, termination="fixed")
    _, *rest = case([ends, bare(0.2), ends])
    (found,) = longest_branches(*rest).value
    parts = signal_parts(*rest)
    assert found.port == found.late == "c1.can" or found.late
    assert 1.0 < found.longest_m < TRIED_M[-1]
    assert late_port(with_branch(parts, found.stop, found.longest_m)) == ""
    assert late_port(with_branch(parts, found.stop, found.longest_m + NEAR_M)) != ""


def test_a_slow_line_bears_the_longest_branch_that_is_looked_at():
    ends = bare(termination="fixed")
    _, *rest = case([ends, bare(), ends], rate=50e3)
    (found,) = longest_branches(*rest).value
    assert (found.longest_m, found.late) == (TRIED_M[-1], "")


def test_no_branch_cures_a_line_without_terminations():
    _, *rest = case([bare(node_ohm=30e3)] * 3)
    (found,) = longest_branches(*rest).value
    assert found.longest_m is None


def test_the_search_can_be_stopped():
    ends = bare(termination="fixed")
    _, *rest = case([ends, bare(), ends])
    assert longest_branches(*rest, progress=lambda done, whole: False) == Blocked(())


def outcome_of(vehicle, extra=()):
    from loomwright.judge.rule import judge
    from loomwright.judge.rules.signal import SIGNAL_RULES
    from loomwright.judge.rules.signal_evidence import SignalEvidence
    from loomwright.terms.answer import Solved

    topology, line = wired(vehicle), vehicle.lines["one"]
    signal = line_signal(line, vehicle.components, CABLE, topology)
    levels = line_levels(line, vehicle.components, CABLE, topology, (293.15, 293.15))
    timing = line_timing(line, vehicle.components, CABLE, topology, signal)
    findings = judge(SIGNAL_RULES, SignalEvidence("one", 5e-9, Solved(topology), signal, levels, timing))
    return Outcome(signal, levels, (*findings, *extra))


def test_the_missing_termination_is_found_and_cures():
    vehicle, *_ = case([bare(0.75, termination="fixed"), bare(0.75), bare(0.75, termination="switchable")], rate=4e6)
    found = effects(vehicle, "one", wired(vehicle), outcome_of)
    best = found[0]
    assert best.offered
    assert best.change.title == "Switch the termination of c2.can on"
    assert best.typical_s[1] > best.typical_s[0]
    after = outcome_of(changed(vehicle, best.change))
    assert after.signal.value.worst.settle_s == pytest.approx(
        after.signal.value.sample_s - best.corner_s[1], abs=1e-12
    ), "what is told is what the changed vehicle answers"


def test_what_breaks_another_rule_is_told_and_not_offered():
    from loomwright.terms.fact import Source
    from loomwright.terms.finding import Finding, Reading, Verdict
    from loomwright.terms.limit import Limit, Standing
    from loomwright.terms.quantity import Kind

    vehicle, *_ = case([bare(0.75, termination="fixed"), bare(0.75), bare(0.75, termination="switchable")], rate=4e6)
    limit = Limit(1.0, Bound.AT_MOST, Kind.COUNT, Source("test"), Standing.PRACTICE)
    broken = Finding("some-rule", Verdict.BROKEN, -1.0, Reading(("lines", "one"), 2.0, limit))
    found = effects(
        vehicle, "one", wired(vehicle), lambda tried: outcome_of(tried, () if tried is vehicle else (broken,))
    )
    assert found
    assert all(effect.breaks == ("some-rule",) and not effect.offered for effect in found)


def test_a_lower_bit_rate_is_offered_only_if_every_port_can_run_at_it():
    slow = replace(bare(0.75, termination="fixed"), bit_rates_bit_per_s=Known((1e6, 4e6)))
    only = replace(bare(0.75), bit_rates_bit_per_s=Known((4e6,)))
    late = replace(slow, transceiver_delay_s=Known(150e-9))
    able, *_ = case([late, replace(slow, termination=Known("none")), late], rate=4e6)
    titles = [e.change.title for e in effects(able, "one", wired(able), outcome_of) if e.kind == "bit rate"]
    assert titles == ["Run the line at 1000 kbit/s"]
    unable, *_ = case([late, only, late], rate=4e6)
    assert not [e for e in effects(unable, "one", wired(unable), outcome_of) if e.kind == "bit rate"]


def test_a_lower_data_bit_rate_is_offered_where_the_short_bits_alone_come_too_late():
    """Two branches of 8 m ring too long for 4 Mbit/s at 75 %, not for 1 Mbit/s; the nominal phase has time enough."""
    rates = {"frames": Known("both"), "data_bit_rates_bit_per_s": Known((1e6, 4e6)), "data_sample_point": Known(0.75)}
    ends, stub = (replace(bare(termination=kind), **rates) for kind in ("fixed", "none"))
    stations = (
        Station("c0.can"), Station("c1.can", at="p1", branch_m=8.0), Station("c2.can", at="p2", branch_m=8.0),
        Station("c3.can"),
    )  # fmt: skip
    vehicle = string_vehicle([0.0, 5.0, 10.0, 15.0], [ends, stub, stub, ends], stations, CABLE)
    line = replace(vehicle.lines["one"], frames="FD", data_bit_rate_bit_per_s=Known(4e6))
    vehicle = replace(vehicle, lines=vehicle.lines.put("one", line))
    found = effects(vehicle, "one", wired(vehicle), outcome_of)
    (slower,) = [effect for effect in found if effect.kind == "data bit rate"]
    assert slower.change.title == "Run the data phase at 1000 kbit/s"
    assert slower.offered
    assert slower.cured == ("data-settling",)
    classical = replace(vehicle, lines=vehicle.lines.put("one", replace(line, frames="classical")))
    assert not [e for e in effects(classical, "one", wired(classical), outcome_of) if e.kind == "data bit rate"]


def broken_of(project, vehicle):
    """What counts as broken, each told by rule and by the port or place of its station, whatever its number is."""
    findings = as_numbered(project.answers.findings(vehicle), vehicle, project.vehicle)
    findings += physics_of(project, vehicle, "old").findings
    return {
        (f.rule, f.reading.line, f.reading.subject)
        for f in findings
        if f.verdict == "broken" and f.reading.weight == "governs" and not f.accepted
    }


def test_every_offer_for_the_tipper_is_judged_by_all_rules(tmp_path):
    start_from_example(tmp_path / "t", "tipper")
    project = open_project(tmp_path / "t")
    found = advice(project, "old").effects
    assert any(effect.breaks for effect in found), "unplugging a good terminator breaks a rule"
    before = broken_of(project, project.vehicle)
    for effect in found:
        new = broken_of(project, changed(project.vehicle, effect.change)) - before
        assert {rule for rule, *_ in new} == set(effect.breaks), effect.change.title


def test_a_station_that_goes_takes_no_finding_of_another_with_it(tmp_path):
    """Station 0 is unplugged, all numbers shift; ports that were wrong before are not called newly wrong."""
    start_from_example(tmp_path / "t", "tipper-as-found")
    project = open_project(tmp_path / "t")
    (gone,) = [e for e in advice(project, "drive").effects if e.change.title == "Unplug the terminator at pedal_box"]
    assert {"line-resistance", "two-terminations", "signal-settling"} == set(gone.breaks)
    stations = project.vehicle.lines["drive"].stations
    shifted = changed(project.vehicle, gone.change)
    wrong = {f.reading.subject for f in project.answers.findings(project.vehicle) if f.rule == "bit-rate-match"}
    told = as_numbered(project.answers.findings(shifted), shifted, project.vehicle)
    assert {f.reading.subject for f in told if f.rule == "bit-rate-match"} == wrong
    assert len(shifted.lines["drive"].stations) == len(stations) - 1


def test_what_a_switch_cures_of_the_rules_of_wiring_is_told_and_comes_before_what_only_gains_time(tmp_path):
    start_from_example(tmp_path / "t", "tipper-as-found")
    project = open_project(tmp_path / "t")
    effects = advice(project, "body").effects
    (switch,) = [e for e in effects if e.change.title == "Switch the termination of display.can off"]
    assert set(switch.cured) == {"two-terminations", "line-resistance"}
    assert switch.offered
    counts = [len(effect.cures) for effect in effects if not effect.breaks]
    assert counts == sorted(counts, reverse=True)
    assert [bool(effect.breaks) for effect in effects] == sorted(bool(effect.breaks) for effect in effects)
