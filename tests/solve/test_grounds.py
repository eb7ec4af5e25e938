"""Grounds of a line's nodes, stated against the controller's, compared pair by pair; judged and told in words."""

from dataclasses import replace

import pytest

from loomwright.judge.rule import judge
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.judge.rules.signal_evidence import SignalEvidence
from loomwright.show.words import finding_sentence
from loomwright.solve.grounds import line_grounds
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Assumed, Known, Unknown
from tests.solve.build import port, string_vehicle

BLOCKED = Blocked(())


def grounds_of(stated, controller="c0.can", roles=None):
    """Three components on a line, the first its controller; ``stated`` are grounds by number."""
    vehicle = string_vehicle([0.0, 1.0, 2.0], [port()] * 3, roles=roles)
    components = vehicle.components
    for number, fact in stated.items():
        components = components.put(f"c{number}", replace(components[f"c{number}"], ground_offset_v=fact))
    return line_grounds("one", replace(vehicle.lines["one"], controller=controller), components)


def judged(stated, controller="c0.can"):
    grounds = grounds_of(stated, controller)
    evidence = SignalEvidence("one", None, BLOCKED, BLOCKED, BLOCKED, grounds=grounds)
    return [own for own in judge(SIGNAL_RULES, evidence) if own.rule == "ground-offset"]


def path(number):
    return ("components", f"c{number}", "ground_offset_v")


@pytest.mark.parametrize(
    ("stated", "offset_v", "between"),
    [
        ({1: Known(12.0)}, 12.0, ("c1", "c0")),
        ({1: Known(-12.0)}, 12.0, ("c0", "c1")),
        ({1: Known(0.0, low=-4.0, high=5.0)}, 5.0, ("c1", "c0")),
        ({1: Known(0.0, low=-6.0, high=5.0)}, 6.0, ("c0", "c1")),
        ({1: Known(3.0), 2: Known(4.0)}, 4.0, ("c2", "c0")),
        ({1: Known(-3.0, low=-4.0, high=-2.0), 2: Known(4.0, low=3.0, high=5.0)}, 9.0, ("c2", "c1")),
        ({0: Known(0.0), 1: Known(1.0)}, 1.0, ("c1", "c0")),
    ],
)
def test_a_ground_is_held_against_the_controller_s_and_against_every_other_but_itself(stated, offset_v, between):
    found = grounds_of(stated).value
    assert found.offset_v == pytest.approx(offset_v, abs=1e-9)
    assert found.between == between, "the one that lies higher comes first"


def test_as_far_below_as_above_the_controller_is_as_far_apart():
    assert grounds_of({1: Known(0.0, low=-5.0, high=5.0)}).value.offset_v == pytest.approx(5.0, abs=1e-9)


def test_a_controller_that_states_a_ground_counts_from_the_one_to_the_other():
    """It is the controller of this line and stands on another line that another masters."""
    assert grounds_of({0: Known(0.5), 1: Known(-0.3)}).value.offset_v == pytest.approx(0.8, abs=1e-9)
    assert grounds_of({0: Known(0.5), 1: Known(0.6)}).value.offset_v == pytest.approx(0.6, abs=1e-9)


@pytest.mark.parametrize("controller", ["", "elsewhere.can"])
def test_without_a_controller_only_what_is_stated_is_compared(controller):
    both = grounds_of({1: Known(3.0), 2: Known(4.0)}, controller).value
    assert (both.offset_v, both.controller, both.unstated) == (pytest.approx(1.0, abs=1e-9), "", ("c0",))
    (told, _) = judged({1: Known(3.0), 2: Known(4.0)}, controller)
    assert "names no controller" in finding_sentence(told)
    (alone,) = judged({1: Known(12.0)}, controller)
    assert (alone.verdict.value, alone.reading.blocked_by) == ("unknown", (("lines", "one", "controller"),))


def test_no_ground_at_all_is_no_question_and_a_service_plug_has_none():
    assert grounds_of({}).value.offset_v is None
    assert judged({}) == []
    found = grounds_of({1: Known(12.0)}, roles={1: "service plug"}).value
    assert (found.offset_v, found.unstated) == (None, ("c2",))


def test_an_unknown_ground_waits_and_hides_no_other_pair():
    found = judged({1: Unknown()})
    assert [(own.verdict.value, own.reading.blocked_by) for own in found] == [("unknown", (path(1),))]
    found = judged({1: Unknown(), 2: Known(12.0)})
    assert [own.verdict.value for own in found] == ["unknown", "broken", "broken"]
    found = judged({0: Unknown(), 1: Known(12.0)})
    assert [(own.verdict.value, own.reading.blocked_by) for own in found] == [("unknown", (path(0),))]


@pytest.mark.parametrize(("volts", "verdict"), [(8.0, "holds"), (9.0, "tight"), (9.5, "tight"), (9.51, "broken")])
def test_the_budget_is_the_receivers_range_less_the_level_of_the_wires(volts, verdict):
    """9.5 V: authorities/levels.toml, ground_offset."""
    governs, practice = judged({1: Known(volts)})
    assert (governs.verdict.value, practice.verdict.value) == (verdict, "broken")
    assert governs.reading.limit.value == pytest.approx(9.5, abs=1e-9)


def test_it_leans_on_assumed_grounds_alone():
    """Not on terminations or node resistances, which a ground does not depend on."""
    (governs, _) = judged({1: Assumed(1.0, "guess"), 2: Known(2.0)})
    assert governs.reading.assumed == (path(1),)
    assert finding_sentence(governs).startswith("The grounds of c2 and c0 lie up to 2")
