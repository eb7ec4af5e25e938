"""Plans as they come out: ends, terminations, ways, honesty about what is missing, time and cancel."""

import itertools
import math
from dataclasses import replace

import pytest

from loomwright.model.line import Station
from loomwright.model.variant import changed
from loomwright.model.vehicle import Run
from loomwright.propose import LineLimits, Weights, arrange
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Assumed, Unknown
from tests.propose.build import FAST, SLOW, component, line, port, random_vehicle, string, vehicle


def stations(plan, name="one"):
    return next(edit.value for edit in plan.change.edits if edit.path == ("lines", name, "stations"))


def on_string(*ports, length_m=1.0, locks=None):
    parts = {f"c{n}": component(place, can=one) for n, (place, one) in enumerate(zip("abcdefgh", ports, strict=False))}
    return vehicle(string(len(ports), length_m), parts, {"one": line()}, locks)


def test_fixed_terminations_stand_at_the_ends_wherever_they_are_mounted():
    plan = arrange(on_string(port(), port(termination="fixed"), port(), port(termination="fixed"), port()))
    ends = stations(plan)
    assert {ends[0].port, ends[-1].port} == {"c1.can", "c3.can"}
    assert not any(station.terminated for station in ends)
    assert plan.broken == ()
    assert plan.lines[0].terminators == 0


def test_a_switchable_termination_is_on_at_the_ends_and_off_between():
    plan = arrange(on_string(*[port(termination="switchable")] * 4))
    assert [station.terminated for station in stations(plan)] == [True, False, False, True]
    assert plan.score_m == pytest.approx(3.0, abs=1e-9)


def test_an_end_without_a_termination_gets_a_plug_in_one_of_120_ohm():
    plan = arrange(on_string(port(), port()))
    first, *_, last = stations(plan)
    assert [(end.port, end.terminator_ohm.value) for end in (first, last)] == [("", 120.0)] * 2
    assert {first.at, last.at} == {"a", "b"}
    assert plan.score_m == pytest.approx(1.0 + 2 * 0.3, abs=1e-9)


def test_a_third_fixed_termination_is_a_broken_rule_and_everybody_is_placed():
    plan = arrange(on_string(*[port(termination="fixed")] * 3))
    assert [rule.rule for rule in plan.broken] == ["fixed termination at an end"]
    assert (plan.broken_count, plan.fewest_broken, plan.unplaced, plan.status) == (1, 1, (), "proved optimal")


def test_a_lone_port_has_a_line_with_two_terminations():
    plan = arrange(on_string(port(termination="switchable")))
    assert [station.port for station in stations(plan)].count("c0.can") == 1
    assert len(stations(plan)) == 2
    assert plan.cable_m == 0.0


def test_two_ports_of_one_component_are_never_on_one_line():
    parts = {"twin": component("a", one=port(SLOW, FAST), two=port(SLOW, FAST)), "x": component("b", can=port(SLOW))}
    plan = arrange(vehicle(string(2), parts, {"slow": line(SLOW), "fast": line(FAST)}))
    assert plan.unplaced == ()
    assert all(
        len({s.port.partition(".")[0] for s in edit.value if s.port}) == len([s for s in edit.value if s.port])
        for edit in plan.change.edits
    )
    alone = arrange(vehicle(string(2), parts, {"slow": line(SLOW)}))
    assert [left.port for left in alone.unplaced] == [alone.unplaced[0].port]
    assert alone.unplaced[0].port.startswith("twin.")


def test_every_line_reaches_a_service_plug_if_there_is_one():
    bare = port(bit_rates_bit_per_s=Unknown(), termination=Unknown())
    parts = {
        "x": component("a", can=port(SLOW)),
        "y": component("c", can=port(FAST)),
        "plug": component("b", "service plug", s=bare, t=bare),
    }
    lines = {"slow": line(SLOW, "x.can"), "fast": line(FAST, "y.can")}
    plan = arrange(vehicle(string(3), parts, lines))
    assert plan.broken == ()
    assert all(any(s.port.startswith("plug.") for s in edit.value) for edit in plan.change.edits)
    parts["plug"] = component("b", "service plug", s=bare)
    short = arrange(vehicle(string(3), parts, lines))
    assert [rule.rule for rule in short.broken] == ["a service plug on the line"]


def test_the_master_is_on_its_line_and_a_second_line_of_the_same_master_is_told():
    parts = {"m": component("a", can=port()), "x": component("b", can=port())}
    plan = arrange(vehicle(string(2), parts, {"one": line(SLOW, "m.can"), "two": line(SLOW, "m.can")}))
    assert "m.can" in {station.port for station in stations(plan)}
    assert [(rule.rule, rule.line) for rule in plan.broken] == [("controller on its line", "two")]


def test_limits_that_cannot_be_kept_are_broken_rules_with_figures():
    v = on_string(port(lead_m=0.5), port(), port(), length_m=2.0)
    plan = arrange(v, limits={"one": LineLimits(branch_m=0.3, branches_m=0.4, nodes=2)})
    told = {rule.rule: (rule.value, rule.limit) for rule in plan.broken}
    assert told["branch within its limit"] == (pytest.approx(0.5, abs=1e-9), 0.3)
    assert told["all branches within their limit"] == (pytest.approx(0.5, abs=1e-9), 0.4)
    assert told["components within their limit"] == (3.0, 2.0)
    assert plan.broken_count == plan.fewest_broken == 3


def test_a_trunk_that_must_be_over_its_limit_is_told_with_its_length():
    plan = arrange(on_string(port(), port(), length_m=2.0), limits={"one": LineLimits(branch_m=0.3, trunk_m=1.5)})
    (rule,) = plan.broken
    assert (rule.rule, rule.line, rule.limit) == ("trunk within its limit", "one", 1.5)
    assert rule.value == pytest.approx(2.0, abs=1e-9)


def test_a_branch_is_taken_where_the_limit_of_the_trunk_forbids_to_run_out_and_back():
    # Out and back makes line one 4 m long, and the other line would need 3 m more; a branch of 1 m keeps all limits.
    runs = [*string(3), ("b", "spur", 1.0), ("spur", "d", 3.0)]
    end = port(termination="fixed")
    parts = {
        "x": component("a", can=end),
        "y": component("c", can=end),
        "z": component("spur", can=port(SLOW, FAST)),
        "u": component("d", can=port(FAST)),
    }
    v = vehicle(runs, parts, {"one": line(SLOW, "x.can"), "two": line(FAST, "u.can")})
    plan = arrange(v, limits={"one": LineLimits(trunk_m=3.0), "two": LineLimits()})
    assert (plan.status, plan.broken) == ("proved optimal", ())
    assert [station.at for station in stations(plan) if station.port == "z.can"] == ["b"]
    assert plan.score_m == pytest.approx(2.0 + 2.0 * 1.0 + 2 * 0.3, abs=1e-9)


def test_a_port_where_no_run_leads_is_left_out_and_the_rest_is_planned():
    parts = {"x": component("a", can=port()), "y": component("b", can=port()), "far": component("island", can=port())}
    plan = arrange(vehicle(string(2), parts, {"one": line()}))
    assert [left.port for left in plan.unplaced] == ["far.can"]
    assert plan.unplaced[0].against == (("one", ("no way leads there",)),)
    assert plan.unplaced[0].blocked_by == ()
    assert plan.cable_m == pytest.approx(1.0, abs=1e-9)


def test_a_run_of_unknown_length_is_not_used_and_named_where_it_cuts_somebody_off():
    parts = {"x": component("a", can=port()), "y": component("b", can=port()), "far": component("c", can=port())}
    plan = arrange(vehicle([("a", "b", 1.0), ("b", "c", None)], parts, {"one": line()}))
    assert plan.unplaced[0].blocked_by == (("runs", "b_c", "length_m"),)
    assert ("runs", "b_c", "length_m") in plan.left_aside


def test_the_trunk_is_led_round_a_run_of_unknown_length_by_naming_places():
    runs = [("a", "b", None), ("a", "x", 2.0), ("x", "b", 2.0)]
    parts = {"one": component("a", can=port()), "two": component("b", can=port())}
    plan = arrange(vehicle(runs, parts, {"one": line()}))
    assert ("x",) in [station.via for station in stations(plan)]
    assert plan.cable_m == pytest.approx(4.0, abs=1e-9)
    assert plan.unplaced == ()


def test_an_unknown_lead_or_termination_is_left_aside_and_said():
    parts = {
        "x": component("a", can=port(pigtail_m=Unknown())),
        "y": component("b", can=port(termination=Unknown())),
    }
    plan = arrange(vehicle(string(2), parts, {"one": line()}))
    assert set(plan.left_aside) == {
        ("components", "x", "ports", "can", "pigtail_m"),
        ("components", "y", "ports", "can", "termination"),
    }
    assert plan.lines[0].terminators == 2


def test_measured_lengths_that_a_plan_drops_are_named():
    v = on_string(port(), port())
    v = replace(v, lines=v.lines.put("one", line(stations=(Station("c0.can"), Station("c1.can", section_m=1.2)))))
    assert arrange(v).dropped == (("lines", "one", "stations", 1, "section_m"),)


def test_keep_lines_leaves_ports_where_they_are():
    parts = {"x": component("a", can=port()), "y": component("b", can=port()), "z": component("f", can=port())}
    lines = {"one": line(SLOW, "x.can"), "two": line(SLOW, "z.can", (Station("z.can"), Station("y.can")))}
    free, kept = (arrange(vehicle(string(6), parts, lines), keep_lines=keep) for keep in (False, True))
    assert "y.can" in {station.port for station in stations(free, "one")}
    assert "y.can" in {station.port for station in stations(kept, "two")}


def test_present_lines_that_are_as_good_stay_and_ones_that_a_manual_forbids_do_not():
    end = port(SLOW, FAST, termination="switchable")
    parts = {"x": component("a", can=end), "y": component("b", can=end), "z": component("c", can=end)}
    parts |= {"u": component("c", can=port(FAST, termination="switchable"))}
    lines = {"slow": line(SLOW, "x.can"), "fast": line(FAST, "u.can")}
    first = arrange(vehicle(string(3), parts, lines))
    laid = changed(vehicle(string(3), parts, lines), first.change)
    turned = tuple(reversed(stations(first, "slow")))
    laid = replace(laid, lines=laid.lines.put("slow", replace(laid.lines["slow"], stations=turned)))
    assert stations(arrange(laid), "slow") == turned
    # The same ports in the same order, but one of them now speaks at the other rate alone.
    alone = component("b", can=port(FAST, termination="switchable"))
    barred = replace(laid, components=laid.components.put("y", alone))
    planned = arrange(barred)
    assert "y.can" not in {station.port for station in stations(planned, "slow")}
    assert planned.unplaced == ()


def test_a_vehicle_with_nothing_to_place_has_an_empty_change():
    plan = arrange(vehicle(string(2), {}, {"one": line()}))
    assert (plan.status, plan.change.edits, plan.score_m, plan.gap) == ("nothing to place", (), None, None)
    nothing = arrange(vehicle([], {"x": component("a", can=port())}, {}))
    assert (nothing.status, [left.port for left in nothing.unplaced]) == ("nothing to place", ["x.can"])


@pytest.mark.parametrize("seed", range(12))
def test_a_plan_laid_as_told_has_the_lengths_it_was_told_with(seed):
    v = random_vehicle(seed, places=8, count=7, lines=2, locks=1)
    plan = arrange(v, limits={name: LineLimits(branch_m=1.0) for name in v.lines})
    laid = changed(v, plan.change)
    net = run_ways(laid.places, laid.runs)
    score = 0.0
    for told in plan.lines:
        answer = line_topology(told.line, laid.lines[told.line], laid.components, net)
        assert not isinstance(answer, Blocked)
        wired = answer.value
        assert told.trunk_m == pytest.approx(wired.trunk_m, abs=1e-9)
        assert told.branches_m == pytest.approx(wired.branches_m, abs=1e-9)
        assert told.cable_m == pytest.approx(wired.cable_m, abs=1e-9)
        on = [stop for stop in wired.stops if stop.termination == "on"]
        broken = {rule.port for rule in plan.broken if rule.rule == "fixed termination at an end"}
        assert len([stop for stop in on if stop.port not in broken]) == (2 if wired.stops else 0)
        plugs = sum(not stop.port for stop in wired.stops)
        score += wired.trunk_m + plan.weights.branch * wired.branches_m + plan.weights.terminator_m * plugs
    assert score == pytest.approx(plan.score_m, abs=1e-9)
    assert plan.cable_m == pytest.approx(sum(told.cable_m for told in plan.lines), abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_no_trunk_runs_out_to_one_component_and_back_where_a_branch_is_allowed(seed):
    v = random_vehicle(seed, places=9, count=7, lines=1)
    plan = arrange(v, limits={"l0": LineLimits()})
    (told,) = plan.change.edits
    laid = changed(v, plan.change)
    wired = line_topology("l0", laid.lines["l0"], laid.components, run_ways(laid.places, laid.runs)).value
    trunk = [place for piece in wired.pieces if piece.kind == "trunk" for place in piece.places[1:]]
    course = [wired.stops[0].joint_place, *trunk]
    joints = [stop.joint_place for stop in wired.stops if stop.port]
    for before, turn, after in zip(course, course[1:], course[2:], strict=False):
        assert before != after or joints.count(turn) > 1 or course.count(turn) > 1, (told, course)


def test_a_lighter_branch_weight_never_raises_the_score_and_the_weights_are_told():
    v = random_vehicle(5, places=8, count=6, lines=1)
    scores = [arrange(v, weights=Weights(branch=weight)).score_m for weight in (0.5, 1.0, 2.0, 4.0)]
    assert scores == sorted(scores)
    assert arrange(v, weights=Weights(branch=4.0)).weights == Weights(branch=4.0, terminator_m=0.3)


def test_the_second_best_plan_is_another_one_and_says_where():
    # A ring of 1 m runs with one long side: the best trunk leaves the long side out, the second a short one.
    runs = [("a", "b", 1.0), ("b", "c", 1.0), ("c", "d", 1.0), ("a", "d", 1.4)]
    parts = {place: component(place, can=port()) for place in "abcd"}
    plan = arrange(vehicle(runs, parts, {"one": line()}), second_best=True)
    second = plan.second_best
    assert plan.score_m == pytest.approx(3.0 + 0.6, abs=1e-9)
    assert second.status == "proved optimal"
    assert second.score_m == second.bound_m == pytest.approx(3.4 + 0.6, abs=1e-9)
    assert [(difference.what, difference.name) for difference in second.differs] == [("trunk", "one")]
    assert second.change != plan.change


def test_there_may_be_no_second_plan():
    plan = arrange(on_string(port(termination="fixed"), port(termination="fixed")), second_best=True)
    other = plan.second_best
    assert other.status in ("there is none", "proved optimal")
    if other.change is not None:
        assert other.score_m > plan.score_m


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_same_vehicle_gets_the_same_plan(seed):
    v = random_vehicle(seed, places=9, count=8, lines=2, locks=2)
    first, second = (
        replace(arrange(v, lock_prices=True, second_best=True, extra_seconds=60.0), seconds=0.0) for _ in range(2)
    )
    assert first == second


def test_progress_tells_bounds_that_never_pass_the_best():
    told = []
    plan = arrange(random_vehicle(4, places=10, count=8, lines=2), progress=lambda *entry: told.append(entry))
    assert told
    assert all(bound <= best + 1e-6 for _, best, bound in told)
    last = told[-1]
    assert last[1] == pytest.approx(plan.score_m, abs=0.01)
    assert last[0] == "shortest cable"


def test_a_cancel_at_once_gives_no_plan_and_says_so():
    plan = arrange(random_vehicle(4, places=10, count=8, lines=2), cancel=lambda: True)
    assert (plan.cancelled, plan.status, plan.change.edits) == (True, "no plan found in the time given", ())


def test_a_cancel_later_gives_the_plan_found_so_far():
    # Rules must be broken here, so they are counted first; whoever cancels after that has a plan.
    v = random_vehicle(4, places=14, count=14, lines=1)
    limits = {"l0": LineLimits(branch_m=0.3)}
    counted = []

    def progress(stage, best, _):
        if stage == "fewest broken rules" and math.isfinite(best):
            counted.append(best)

    plan = arrange(v, limits=limits, progress=progress, cancel=lambda: bool(counted))
    assert (plan.cancelled, plan.status) == (True, "gap")
    assert plan.change.edits
    true = arrange(v, limits=limits, seconds=60.0)
    assert (true.cancelled, true.status) == (False, "proved optimal")
    assert plan.fewest_broken <= true.broken_count <= plan.broken_count
    assert plan.bound_m <= plan.score_m


def test_when_time_runs_out_the_bound_stays_below_the_true_optimum():
    v = random_vehicle(8, places=12, count=10, lines=2)
    true = arrange(v, seconds=120.0)
    assert true.status == "proved optimal"
    for limit in (1.0, 3.0, 6.0, 12.0, 30.0):
        ticks = itertools.count()
        plan = arrange(v, seconds=limit, clock=lambda ticks=ticks: float(next(ticks)))
        assert plan.status in ("proved optimal", "gap", "no plan found in the time given")
        if plan.score_m is not None and plan.broken_count == true.broken_count:
            assert plan.bound_m <= true.score_m + 1e-6
            assert plan.score_m >= true.score_m - 1e-6
            assert plan.gap == pytest.approx(1.0 - plan.bound_m / plan.score_m, abs=1e-9)


def test_planning_leaves_ports_of_known_misfit_masters_on_their_line_and_tells():
    parts = {"m": component("a", can=port(FAST)), "x": component("b", can=port(SLOW))}
    plan = arrange(vehicle(string(2), parts, {"one": line(SLOW, "m.can")}))
    assert [(rule.rule, rule.port) for rule in plan.broken] == [("port can speak on the line it is held on", "m.can")]
    assert "m.can" in {station.port for station in stations(plan)}


def test_assumed_run_lengths_are_named():
    v = on_string(port(), port())
    v = replace(v, runs=v.runs.put("a_b", Run("a", "b", Assumed(1.0, "guessed"))))
    assert ("runs", "a_b", "length_m") in arrange(v).assumed
