"""Lines planned anew carry no more than they may, and nothing late where that can be helped: held against every assignment."""

import itertools
import random
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest

from loomwright.files import load
from loomwright.model.line import Station
from loomwright.model.speech import speech_of
from loomwright.model.table import Table
from loomwright.model.variant import changed
from loomwright.propose import arrange
from loomwright.propose.arrangement import ASKED
from loomwright.propose.traffic_late import timing
from loomwright.propose.traffic_load import port_loads
from loomwright.solve.traffic import traffic
from loomwright.terms.answer import Blocked
from tests.propose.traffic_build import RATE, component, line, message, port, vehicle

EXAMPLES = Path(str(files("loomwright") / "examples"))


def talkers(periods, lines=2, *, states=(), limit=0.5, deadlines=None, places="abcdef"):
    """A talker for each period, at places in a row; every line can take every one."""
    components, messages, made = {}, {}, {}
    for at, period in enumerate(periods):
        components[f"c{at}"] = component(places[at % len(places)], can=port())
        sent = (states[at % len(states)],) if states else ()
        deadline = deadlines[at] if deadlines else None
        messages[f"s{at}"] = (f"c{at}.can", {"m": message(0x100 + at, period, deadline, states=sent)})
    for at in range(lines):
        made[f"l{at}"] = replace(line(rate=RATE, load_limit=limit), stations=())
    return vehicle(components, made, messages, states)


def with_assignment(base, choice):
    lines = {
        name: replace(own, stations=tuple(Station(f"c{at}.can") for at, chosen in enumerate(choice) if chosen == name))
        for name, own in base.lines.items()
    }
    return replace(base, lines=Table(lines))


def fewest_troubles(base):
    """The fewest lines that are too full, plus lines with something late, over every assignment of all the ports."""
    best = 99
    for choice in itertools.product(tuple(base.lines), repeat=len(base.components)):
        best = min(best, troubles(with_assignment(base, choice)))
    return best


def troubles(tried):
    found = traffic(speech_of(tried))
    count = 0
    for name, own in tried.lines.items():
        if own.stations:
            count += found.loads[name].value.fullest.mean > own.load_limit
            count += any(each.slack_s < 0.0 for each in found.responses[name].value.responses)
    return count


def told(plan):
    return sum(rule.rule in ("load within its limit", "everything in time") for rule in plan.broken)


@pytest.mark.parametrize("seed", range(12))
def test_a_plan_breaks_as_few_rules_of_load_and_time_as_the_best_of_all_assignments(seed):
    dice = random.Random(seed)
    periods = [dice.choice([3e-3, 4e-3, 6e-3, 10e-3, 20e-3]) for _ in range(5)]
    deadlines = [dice.choice([0.35, 0.6, 1.0]) * period for period in periods] if seed % 2 else None
    base = talkers(periods, deadlines=deadlines)
    plan = arrange(base, seconds=20.0)
    assert plan.status == "proved optimal"
    assert plan.timing == ASKED
    then = changed(base, plan.change)
    assert not plan.unplaced
    assert told(plan) == troubles(then) == fewest_troubles(base)
    assert plan.broken_count == plan.fewest_broken


def test_the_dice_give_lines_that_must_be_shared_out_and_lines_that_cannot():
    counts = set()
    for seed in range(12):
        dice = random.Random(seed)
        periods = [dice.choice([3e-3, 4e-3, 6e-3, 10e-3, 20e-3]) for _ in range(5)]
        counts.add(fewest_troubles(talkers(periods)))
    assert 0 in counts
    assert len(counts) > 1


def test_without_the_limit_all_would_share_one_line():
    # All at one place: a line alone takes two terminators, two lines take four.
    quiet, loud = talkers([50e-3] * 4, places="a"), talkers([6e-3] * 4, places="a")
    assert sum(bool(own.stations) for own in changed(quiet, arrange(quiet).change).lines.values()) == 1
    assert sum(bool(own.stations) for own in changed(loud, arrange(loud).change).lines.values()) == 2


def test_what_is_never_sent_in_one_state_may_share_a_line():
    base = talkers([3e-3, 3e-3], states=("drive", "charge"), places="a")
    assert sum(bool(own.stations) for own in changed(base, arrange(base).change).lines.values()) == 1
    together = talkers([3e-3, 3e-3], places="a")
    assert sum(bool(own.stations) for own in changed(together, arrange(together).change).lines.values()) == 2


def test_late_messages_part_ports_that_the_load_would_leave_together():
    base = talkers([40e-3] * 4, deadlines=[3.2e-3] * 4, places="a")
    plan = arrange(base)
    then = changed(base, plan.change)
    assert told(plan) == troubles(then) == 0
    assert sum(bool(own.stations) for own in then.lines.values()) == 2


def test_a_line_that_is_too_full_whatever_is_planned_is_told_once_and_gets_no_more():
    base = talkers([2e-3, 2e-3, 20e-3], lines=1)
    lines = base.lines.put(
        "l1", replace(base.lines["l0"], bit_rate_bit_per_s=type(base.lines["l0"].bit_rate_bit_per_s)(250e3))
    )
    parts = base.components.put("c2", component("c", can=port(RATE, 250e3)))
    base = replace(base, lines=lines, components=parts)
    plan = arrange(base)
    full = [rule for rule in plan.broken if "load" in rule.rule or "too full" in rule.rule]
    assert [(rule.rule, rule.line) for rule in full] == [("load within its limit", "l0")]
    assert full[0].value > full[0].limit == 0.5
    assert [station.port for station in changed(base, plan.change).lines["l1"].stations if station.port] == ["c2.can"]
    assert plan.broken_count == plan.fewest_broken


def test_locks_are_priced_with_messages_in_mind():
    from loomwright.model.vehicle import Lock

    base = replace(talkers([6e-3] * 3), locks=Table({"k": Lock("c0.can", "share a line with", other="c1.can")}))
    (price,) = arrange(base, lock_prices=True, seconds=20.0).lock_prices
    assert price.rules == 0
    assert price.proved


@pytest.mark.parametrize("name", ["tipper", "minibus", "bench", "tipper-as-found"])
def test_port_loads_add_up_to_the_load_of_every_line_as_it_is(name):
    base = load(EXAMPLES / name).vehicle
    found = traffic(speech_of(base))
    able = {
        station.port: (line_name,) for line_name, own in base.lines.items() for station in own.stations if station.port
    }
    # The socket of the truck as found is on two lines at once; it says nothing.
    shares = port_loads(base, able).shares
    for line_name in base.lines:
        answer = found.loads[line_name]
        if isinstance(answer, Blocked):
            continue
        own = [share for (_, on), share in shares.items() if on == line_name]
        sums = [sum(state) for state in zip(*own, strict=True)]
        assert sums == pytest.approx([state.mean for state in answer.value.states], abs=1e-12)


def test_the_truck_as_found_is_told_that_its_old_line_cannot_be_helped_by_planning():
    plan = arrange(load(EXAMPLES / "tipper-as-found").vehicle, seconds=30.0)
    assert {(rule.rule, rule.line) for rule in plan.broken} >= {
        ("load within its limit", "old"),
        ("everything in time", "old"),
    }
    assert plan.broken_count == plan.fewest_broken


def test_only_those_who_make_a_message_late_may_not_meet():
    # Three quick ones in front of the last make it late; a slow one behind it, and one in front of the first, do not count.
    base = talkers([40e-3] * 5, lines=1, deadlines=[40e-3, 40e-3, 40e-3, 3.6e-3, 40e-3])
    (found,) = timing(with_assignment(base, ["l0"] * 5)).late
    ports = {port.partition(".")[0] for port in found.ports}
    assert "c3" in ports
    assert len(ports) < 5
    names = list(base.components)
    for fewer in (ports - {one} for one in ports):
        tried = with_assignment(base, ["l0" if name in fewer else "" for name in names])
        assert not timing(tried).late
    assert timing(with_assignment(base, ["l0" if name in ports else "" for name in names])).late
