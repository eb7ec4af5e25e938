"""Every kind of lock is kept, priced, and owned up to where it cannot be kept."""

import pytest

from loomwright.model.variant import changed
from loomwright.model.vehicle import Lock
from loomwright.propose import arrange
from tests.propose.build import FAST, SLOW, component, line, port, string, vehicle

ON, END, SHARE, APART, THROUGH = (
    "be on line",
    "be at an end",
    "share a line with",
    "not share a line with",
    "be joined through",
)


def two_lines(locks, **more):
    """Two lines of one rate along a string; whoever sits left belongs left, were it not for locks."""
    parts = {
        "left": component("a", can=port()),
        "right": component("f", can=port()),
        "near_left": component("b", can=port()),
        "near_right": component("e", can=port()),
        "middle": component("c", can=port(**more)),
    }
    return vehicle(string(6), parts, {"one": line(SLOW, "left.can"), "two": line(SLOW, "right.can")}, locks)


def line_of(plan, address):
    return {station.port: edit.path[1] for edit in plan.change.edits for station in edit.value}.get(address)


def ports_of(plan, name):
    return next([s.port for s in edit.value if s.port] for edit in plan.change.edits if edit.path[1] == name)


def joint_of(plan, address):
    return next(s.at for edit in plan.change.edits for s in edit.value if s.port == address)


def test_without_locks_everybody_goes_to_the_nearer_line():
    plan = arrange(two_lines({}))
    assert [line_of(plan, f"{name}.can") for name in ("near_left", "near_right")] == ["one", "two"]
    assert plan.cable_m == pytest.approx(3.0, abs=1e-9)


def test_be_on_line_is_kept_and_priced():
    plan = arrange(two_lines({"k": Lock("near_left.can", ON, line="two")}), lock_prices=True)
    assert line_of(plan, "near_left.can") == "two"
    assert plan.broken == ()
    # f to b with everybody on the way: 4 m, against 3 m without the lock.
    assert plan.cable_m == pytest.approx(4.0, abs=1e-9)
    (price,) = plan.lock_prices
    assert (price.lock, price.proved, price.rules) == ("k", True, 0)
    assert price.cable_m == pytest.approx(1.0, abs=1e-9)


def test_share_a_line_with_is_kept():
    plan = arrange(two_lines({"k": Lock("near_left.can", SHARE, other="near_right.can")}))
    assert line_of(plan, "near_left.can") == line_of(plan, "near_right.can")
    assert plan.broken == ()


def test_not_share_a_line_with_is_kept():
    plan = arrange(two_lines({"k": Lock("near_left.can", APART, other="left.can")}))
    assert line_of(plan, "near_left.can") == "two"
    assert plan.broken == ()


@pytest.mark.parametrize("termination", ["none", "switchable"])
def test_be_at_an_end_is_kept_with_a_termination_there(termination):
    locks = {"k": Lock("near_left.can", END), "other": Lock("near_left.can", ON, line="two")}
    vehicle_ = two_lines(
        {**locks, "m": Lock("middle.can", ON, line="one"), "n": Lock("near_right.can", ON, line="one")}
    )
    plan = arrange(vehicle_)
    assert plan.broken == ()
    assert "near_left.can" in (ports_of(plan, "two")[0], ports_of(plan, "two")[-1])


def test_be_at_an_end_makes_the_trunk_return_where_it_must():
    # One line along a string with the locked one in its middle: the trunk has to end there.
    parts = {name: component(name, can=port()) for name in "abc"}
    free = arrange(vehicle(string(3), parts, {"one": line()}))
    held = arrange(vehicle(string(3), parts, {"one": line()}, {"k": Lock("b.can", END)}), lock_prices=True)
    assert free.score_m == pytest.approx(2.0 + 0.6, abs=1e-9)
    assert held.score_m == pytest.approx(3.0 + 0.6, abs=1e-9)
    stations = held.change.edits[0].value
    end = stations.index(next(s for s in stations if s.port == "b.can"))
    assert end in (1, len(stations) - 2), "next to the plug-in terminator, which is the outermost station"
    assert stations[0 if end == 1 else -1].at == "b"
    assert held.lock_prices[0].score_m == pytest.approx(1.0, abs=1e-9)


def test_be_joined_through_is_kept():
    # A spur of 1 m: a branch by choice, out and back by lock; both score the same, the branch takes less cable.
    runs = [*string(3), ("b", "spur", 1.0)]
    end = port(termination="fixed")
    parts = {"x": component("a", can=end), "y": component("c", can=end), "z": component("spur", can=port())}
    free = arrange(vehicle(runs, parts, {"one": line()}))
    held = arrange(vehicle(runs, parts, {"one": line()}, {"k": Lock("z.can", THROUGH)}), lock_prices=True)
    assert (joint_of(free, "z.can"), joint_of(held, "z.can")) == ("b", "")
    assert (free.cable_m, held.cable_m) == (pytest.approx(3.0, abs=1e-9), pytest.approx(4.0, abs=1e-9))
    assert free.score_m == held.score_m
    assert held.lock_prices[0].cable_m == pytest.approx(1.0, abs=1e-9)


def test_locks_that_contradict_each_other_break_one_and_no_more():
    locks = {
        "a": Lock("near_left.can", ON, line="one"),
        "b": Lock("near_left.can", ON, line="two"),
        "c": Lock("near_right.can", SHARE, other="right.can"),
    }
    plan = arrange(two_lines(locks))
    assert [rule.lock for rule in plan.broken] in (["a"], ["b"])
    assert plan.broken_count == plan.fewest_broken == 1
    assert plan.status == "proved optimal"


@pytest.mark.parametrize(
    "lock",
    [
        Lock("near_left.can", ON, line="nowhere"),
        Lock("nobody.can", END),
        Lock("near_left.can", SHARE, other="nobody.can"),
    ],
)
def test_a_lock_that_names_nothing_known_is_broken_and_raises_nothing(lock):
    plan = arrange(two_lines({"k": lock}))
    assert [rule.lock for rule in plan.broken] == ["k"]
    assert plan.fewest_broken == 1


def test_a_lock_does_not_put_a_port_on_a_line_that_its_manual_forbids():
    parts = {
        "a": component("a", can=port(SLOW)),
        "b": component("b", can=port(SLOW)),
        "c": component("c", can=port(FAST)),
    }
    lines = {"slow": line(SLOW, "a.can"), "fast": line(FAST, "c.can")}
    plan = arrange(vehicle(string(3), parts, lines, {"k": Lock("b.can", ON, line="fast")}))
    assert line_of(plan, "b.can") == "slow"
    assert [(rule.rule, rule.lock) for rule in plan.broken] == [("lock kept", "k")]


def test_a_port_that_is_not_needed_is_placed_where_a_lock_asks_for_it():
    plan = arrange(two_lines({"k": Lock("middle.can", END)}, needed=False))
    assert line_of(plan, "middle.can") is not None
    assert plan.broken == ()
    assert line_of(arrange(two_lines({}, needed=False)), "middle.can") is None


def test_dropping_a_lock_never_costs():
    locks = {"k": Lock("near_left.can", ON, line="two"), "m": Lock("middle.can", END), "n": Lock("left.can", THROUGH)}
    vehicle_ = two_lines(locks)
    plan = arrange(vehicle_, lock_prices=True)
    for price in plan.lock_prices:
        assert price.proved
        assert price.score_m >= -1e-9
        without = arrange(changed(vehicle_, plan.change), lock_prices=False)
        assert without.score_m == pytest.approx(plan.score_m, abs=1e-9), "planning a planned vehicle changes nothing"
