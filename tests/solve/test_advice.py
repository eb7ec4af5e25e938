"""Advice on a line: branch lengths found by the engine, changes that cure and break nothing."""

from dataclasses import replace

import pytest

from loomwright.app.margin import tried_rows
from loomwright.app.project import open_project
from loomwright.app.session import Session
from loomwright.app.signal import physics_of
from loomwright.app.signal_advice import advice
from loomwright.app.start import start_from_example
from loomwright.files.change import planned
from loomwright.judge.changes import as_numbered
from loomwright.model.line import Station
from loomwright.model.variant import changed
from loomwright.model.vehicle import Cable
from loomwright.propose.signal_cures import LEAD, LEAST_LEAD_M, Effect, Outcome, effects
from loomwright.show.signal_advice import CAUTION, BranchRoom, branch_told, effect_told
from loomwright.solve.bit_timing import line_timing
from loomwright.solve.levels import line_levels
from loomwright.solve.longest_branch import (
    NEAR_M,
    TRIED_M,
    LongestBranch,
    late_port,
    longest_branches,
    with_branch,
)
from loomwright.solve.signal import line_signal
from loomwright.solve.signal_parts import signal_parts
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change
from loomwright.terms.fact import Assumed, Known, Source
from loomwright.terms.finding import Finding, Reading, Verdict
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind
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
    """Two branches of 2 m ring too long for 4 Mbit/s at 75 %, not for 1 Mbit/s; the nominal phase has time enough.

    Branches of 8 m ring too long for 1 Mbit/s as well: fewer receivers are late then, and nothing is cured.
    """
    rates = {"frames": Known("both"), "data_bit_rates_bit_per_s": Known((1e6, 4e6)), "data_sample_point": Known(0.75)}
    ends, stub = (replace(bare(termination=kind), **rates) for kind in ("fixed", "none"))

    def of(branch_m):
        stations = (
            Station("c0.can"), Station("c1.can", at="p1", branch_m=branch_m),
            Station("c2.can", at="p2", branch_m=branch_m), Station("c3.can"),
        )  # fmt: skip
        vehicle = string_vehicle([0.0, 5.0, 10.0, 15.0], [ends, stub, stub, ends], stations, CABLE)
        line = replace(vehicle.lines["one"], frames="FD", data_bit_rate_bit_per_s=Known(4e6))
        return replace(vehicle, lines=vehicle.lines.put("one", line)), line

    vehicle, _ = of(8.0)
    assert not [e for e in effects(vehicle, "one", wired(vehicle), outcome_of) if e.kind == "data bit rate"]
    vehicle, line = of(2.0)
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
    assert {"line-resistance", "two-terminations"} <= set(gone.breaks)
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
    (switch,) = [e for e in effects if e.change.title == "Switch off the termination of display.can"]
    assert set(switch.cured) == {"two-terminations", "line-resistance"}
    assert switch.offered
    assert effect_told(switch).time.startswith("right by these rules; still plenty of time (")
    by_rules = [effect.by_the_rules for effect in effects if effect.offered]
    assert by_rules == sorted(by_rules, reverse=True)
    assert [effect.offered for effect in effects] == sorted((effect.offered for effect in effects), reverse=True)
    assert [effect.harms for effect in effects] == sorted(effect.harms for effect in effects)
    trunk = next(e for e in effects if "trunk-length" in e.cured and "trunk-length" in _rules_of(e.eased))
    assert "Length of the trunk (broken now, tight then)" in effect_told(trunk).cures
    rows = tried_rows(Session(tmp_path / "t").try_change(trunk.change), project.vehicle)
    assert "trunk-length" not in {row.rule for row in rows.cured}
    assert any(told.startswith("Length of the trunk: broken becomes tight") for told in rows.changed)
    assert {row.rule for row in rows.cured} == set(trunk.cured) - {"trunk-length"}


def _rules_of(findings):
    return {finding.rule for finding in findings}


def test_the_rules_own_cures_come_first_and_what_is_broken_already_is_not_made_worse(tmp_path):
    start_from_example(tmp_path / "t", "tipper-as-found")
    found = advice(open_project(tmp_path / "t"), "old").effects
    right = [effect.change.title for effect in found if effect.offered]
    assert right[:2] == [
        "Plug in a terminator of 120 ohm instead at seat_box",
        "Lead the trunk so that tipper_pump.can is its last station",
    ], "both cure two rules; a plug is less work than a trunk"
    moved = next(e for e in found if e.change.title.startswith("Unplug the terminator at seat_box, and plug"))
    assert "terminations-at-ends" in _rules_of(moved.worse)
    assert not moved.offered
    assert effect_told(moved).cures.startswith("would cure: ")
    assert "makes worse what is broken already: Terminations at the ends of the trunk" in effect_told(moved).harms
    for effect in found:
        assert not set(effect.cured) & (set(effect.breaks) | _rules_of(effect.worse)), effect.change.title
    titles = [effect.change.title for effect in found]
    assert len(set(titles)) == len(titles)


SOME = Limit(10.0, Bound.AT_MOST, Kind.LENGTH, Source("test"), Standing.PRACTICE)


def some(value, rule="some-rule", subject=("lines", "one")):
    margin = SOME.value - value
    verdict = Verdict.BROKEN if margin < 0.0 else Verdict.TIGHT if margin < 1.0 else Verdict.HOLDS
    return Finding(rule, verdict, margin, Reading(subject, value, SOME, line="one"))


def asked(before, after):
    """A question that answers the waves of the vehicle as it is, and made-up findings."""
    kept = []

    def ask(vehicle):
        kept.append(kept[0] if kept else outcome_of(vehicle))
        return replace(kept[0], findings=tuple(before if len(kept) == 1 else after))

    return ask


def tried(before, after):
    vehicle, *_ = case([bare(0.75, termination="fixed"), bare(0.75), bare(0.75, termination="switchable")], rate=4e6)
    found = effects(vehicle, "one", wired(vehicle), asked(before, after))
    assert found
    return found


@pytest.mark.parametrize(
    ("before", "after", "cured", "harmed"),
    [
        ([some(12.0)], [some(5.0)], True, False),
        ([some(12.0)], [some(9.5)], True, False),
        ([some(12.0)], [some(12.05)], False, False),
        ([some(12.0)], [some(12.5)], False, True),
        ([some(12.0), some(12.0, "other")], [some(5.0), some(14.0, "other")], True, True),
        ([some(12.0)], [some(5.0), some(11.0, subject=("lines", "one", "stations", 2))], False, True),
    ],
    ids=["cured", "eased", "a hair", "worse", "one cured, one worse", "never on both sides"],
)
def test_what_gets_worse_is_never_offered_and_never_called_cured(before, after, cured, harmed):
    for effect in tried(before, after):
        assert ("some-rule" in effect.cured, effect.harms) == (cured, harmed)
        assert effect.offered == (cured and not harmed)


def test_who_is_right_for_itself_cures_no_line_on_which_another_is_late():
    before = [some(12.0, "signal-settling", ("a",)), some(12.0, "signal-settling", ("b",))]
    after = [some(5.0, "signal-settling", ("a",)), some(11.0, "signal-settling", ("b",))]
    assert not any(effect.cures for effect in tried(before, after))
    assert all(effect.cures for effect in tried(before, [some(5.0, "signal-settling", ("a",))]))
    tight = [some(9.5, "signal-settling", ("a",)), some(9.5, "signal-settling", ("b",))]
    assert not any(effect.cures for effect in tried(tight, [some(5.0, "signal-settling", ("a",)), tight[1]]))
    apart = [some(12.0, "branch-length", ("a",)), some(12.0, "branch-length", ("b",))]
    (some_effect, *_) = tried(apart, [some(5.0, "branch-length", ("a",)), apart[1]])
    assert effect_told(some_effect).cures == "cures: Length of each branch; of the same 1 finding stays broken"


def far_joint(branch_m=None):
    """The second of four hangs on a branch from the first's place, 3 m and 2 m of run away."""
    ends, middle = (
        bare(0.75, termination="fixed"),
        replace(bare(0.75), pigtail_m=Known(0.25, source=Source("a manual"))),
    )
    stations = (Station("c0.can"), Station("c2.can", at="p0", branch_m=branch_m), Station("c3.can"))
    vehicle = string_vehicle([0.0, 3.0, 5.0, 20.0], [ends, bare(0.75), middle, ends], stations, CABLE)
    line = replace(vehicle.lines["one"], bit_rate_bit_per_s=Known(1e6))
    return replace(vehicle, lines=vehicle.lines.put("one", line))


def test_no_branch_is_cut_shorter_than_its_way_along_the_runs():
    vehicle = far_joint(branch_m=12.0)
    found = [e for e in effects(vehicle, "one", wired(vehicle), outcome_of) if e.kind == "branch"]
    lengths = [wired(changed(vehicle, e.change)).stops[1].branch_m for e in found]
    assert sorted(lengths) == [5.25, 6.25]
    assert not [e for e in effects(far_joint(), "one", wired(far_joint()), outcome_of) if e.kind == "branch"]


def test_the_trunk_can_be_led_nearer_instead():
    vehicle = far_joint()
    found = [e for e in effects(vehicle, "one", wired(vehicle), outcome_of) if e.kind == "joint"]
    after = {e.change.title: wired(changed(vehicle, e.change)).stops[1] for e in found}
    assert {title: (stop.joint_place, stop.branch_m) for title, stop in after.items()} == {
        "Lead the trunk to p1 and join c2.can there, nearer to it": ("p1", 2.25),
        "Lead the trunk through c2.can instead of branching": ("p2", 0.25),
    }


def test_leads_come_last_keep_a_hands_width_and_no_source_of_the_maker(tmp_path):
    """Made up: everything that leaves the charger at most 0.2 m of branch is a cure."""
    start_from_example(tmp_path / "t", "tipper")
    project = open_project(tmp_path / "t")
    vehicle = project.vehicle
    physics = physics_of(project, vehicle, "drive")

    def ask(changed_one):
        lead = changed_one.components["charger"].ports["can"].pigtail_m.value
        return Outcome(physics.signal, physics.levels, (some(12.0 if lead > 0.2 else 5.0),))

    found = effects(vehicle, "drive", project.answers.topology(vehicle, "drive").value, ask)
    leads = [effect for effect in found if effect.kind == LEAD]
    assert leads
    assert all(effect.offered and effect_told(effect).mind == CAUTION for effect in leads)
    for effect in leads:
        (edit,) = effect.change.edits
        assert edit.path == ("components", "charger", "ports", "can", "pigtail_m")
        assert isinstance(edit.value, Assumed)
        assert LEAST_LEAD_M <= edit.value.value < vehicle.components["charger"].ports["can"].pigtail_m.value
        ((_, (old, new)),) = planned(project.loaded, effect.change)[0].items()
        assert b"pigtail_source" in old
        assert b"pigtail_source" not in new
        assert b"pigtail_assumed = \"the maker's lead of 0.25 m, to be cut" in new
    other = Effect("joint", Change("x"), (0.0, 0.0), (0.0, 0.0), (1.0, 1.0), (some(12.0),), ())
    from loomwright.propose.signal_cures import _rank

    assert all(_rank(other) < _rank(effect) for effect in leads)


def told(typical, corner, cures=(), worsens=(), window=3245e-9):
    return effect_told(Effect("joint", Change("x"), typical, corner, (1.0, 1.0), cures, worsens, window)).time.replace(
        "\u2212", "-"
    )


def test_what_a_change_means_for_the_bits_is_said_in_words():
    rule = (some(12.0, "two-terminations"),)
    assert told((-334e-9, -129e-9), (-1e-6, -1e-6)) == "better, still 129 ns late"
    assert told((-334e-9, -427e-9), (-1e-6, -1e-6)) == "worse: 427 ns late"
    assert told((-334e-9, -330e-9), (-1e-6, -1e-6)) == "no better: 330 ns late"
    assert told((-334e-9, -float("inf")), (-1e-6, -1e-6)) == "worse: never sure before the bit ends"
    assert told((-334e-9, 240e-9), (-1e-6, -747e-9)) == "in time, but late at the worst of ten extremes of tolerance"
    assert told((2865e-9, 2840e-9), (2605e-9, 794e-9), rule) == (
        "right by these rules; still plenty of time (794 of 3245 ns at the worst corner)"
    )
    assert told((2865e-9, 2840e-9), (2605e-9, -94e-9), rule) == (
        "right by these rules; time enough at typical values (2840 of 3245 ns), late at the worst of ten extremes of tolerance"
    )
    assert told((2865e-9, 190e-9), (2605e-9, -94e-9), rule) == (
        "right by these rules; but little time is left (190 of 3245 ns)"
    )
    assert told((2865e-9, 2900e-9), (2605e-9, 2700e-9), rule) == ""
    assert told((100e-9, 300e-9), (0.0, 0.0)) == "gains time only"


def test_the_smaller_one_of_waves_and_rule_is_shown_and_named():
    def row(longest_m, late="x.can", gap_m=None, again_m=None, **rule):
        shown = branch_told(BranchRoom(LongestBranch(1, "a.can", 0.2, longest_m, late, gap_m, again_m), **rule))
        return shown.most, shown.by

    rule = {"rule_m": 3.0, "rule": "SAE J1939-15"}
    assert row(16.0, "", **rule) == ("3.00", "SAE J1939-15; waves bear over 16 m")
    assert row(0.69, **rule) == ("0.69", "waves; SAE J1939-15 allows 3.00 m")
    assert row(8.0, **rule) == ("3.00", "SAE J1939-15; waves bear 8.00 m")
    assert row(16.0, "") == ("over 16", "nothing that was looked at; no rule that governs speaks of it")
    assert row(0.69) == ("0.69", "waves; no rule that governs speaks of it")
    assert row(None, **rule) == ("–", "no length of this one alone cures it; SAE J1939-15 allows 3.00 m")
    assert row(None, again_m=0.5, **rule)[1].startswith("late now and with none; in time at 0.50 m, as reflections")
    assert row(0.69, gap_m=0.35, **rule)[0] == "no one figure"
    assert row(0.69, again_m=4.0, **rule) == ("0.69", "waves (in time again at 4.00 m); SAE J1939-15 allows 3.00 m")
    assert row(16.0, "", beside="SAE J1939-15, trunk with its branches", **rule)[1].endswith(
        "SAE J1939-15, trunk with its branches: too long with no branch here at all"
    )


def test_lengths_that_are_told_as_gaps_and_returns_are_so():
    """Looked at anew, whatever the ringing of the day is."""
    ends = bare(0.2, termination="fixed")
    stations = (Station("c0.can"), *(Station(f"c{i}.can", at=f"p{i}", branch_m=0.8) for i in (1, 2)), Station("c3.can"))
    vehicle = string_vehicle([0.0, 3.0, 6.0, 9.0], [ends, bare(0.2), bare(0.2), ends], stations, CABLE)
    line = replace(vehicle.lines["one"], bit_rate_bit_per_s=Known(1e6))
    rest = (line, vehicle.components, CABLE, wired(vehicle))
    parts = signal_parts(*rest)
    for one in longest_branches(*rest).value:
        if one.gap_m is not None:
            assert one.gap_m < one.longest_m
            assert late_port(with_branch(parts, one.stop, one.gap_m))
        if one.again_m is not None:
            assert one.longest_m is None or one.again_m > one.longest_m
            assert not late_port(with_branch(parts, one.stop, one.again_m))
        if one.longest_m is None:
            assert late_port(parts)
            assert late_port(with_branch(parts, one.stop, 0.0))


def test_a_branch_is_held_against_every_rule_that_governs_its_length(tmp_path):
    start_from_example(tmp_path / "t", "tipper")
    project = open_project(tmp_path / "t")
    (room,) = [room for room in advice(project, "body").rooms if room.waves.port == "telematics.can"]
    wired_ = project.answers.topology(project.vehicle, "body").value
    assert (room.rule_m, room.rule) == (3.0, "SAE J1939-15")
    assert 40.0 - wired_.trunk_m - wired_.branches_m + room.waves.now_m > 3.0, "the sum leaves more"
