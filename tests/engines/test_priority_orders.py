"""Assignments of identifiers against every order there is."""

import itertools
import random

import pytest

from loomwright.engines.flows import Faults, flows_of, rearranged
from loomwright.engines.priority_orders import assign, order_of
from loomwright.engines.response_times import StoppedError, response_times, slack


def least_share(flows, identifiers, faults=None):
    ordered = rearranged(flows, order_of(identifiers))
    spare = slack(ordered, response_times(ordered, 1, faults or Faults()))
    return float((spare / ordered.deadline).min())


def every_choice(fixed, free):
    """All ways to give the flows without an identifier a free one."""
    holes = [flow for flow, number in enumerate(fixed) if number is None]
    for numbers in itertools.permutations(free, len(holes)):
        chosen = list(fixed)
        for flow, number in zip(holes, numbers, strict=True):
            chosen[flow] = number
        yield tuple(chosen)


def random_problem(draw, fixed_share, spare, queues=False):
    """Deadlines about as tight as can be met; ``spare``: a few more free identifiers than needed.

    Half of the problems are made from an order that just holds, so that there is one to be found.
    """
    size = draw.randint(2, 5)
    frames = [draw.randint(1, 6) for _ in range(size)]
    periods = [draw.randint(8, 60) for _ in range(size)]
    jitters = [draw.choice([0, draw.randint(0, 8)]) for _ in range(size)]
    deadlines = [draw.randint(sum(frames) // 2, 2 * sum(frames)) + jitter for jitter in jitters]
    queue = [draw.choice([-1, 0]) if queues else -1 for _ in range(size)]
    numbers = draw.sample(range(8), 8)
    chosen = [numbers.pop() for _ in range(size)]
    fixed = [number if draw.random() < fixed_share else None for number in chosen]
    free = [number for number, given in zip(chosen, fixed, strict=True) if given is None]
    free += numbers[: draw.randint(0, 2)] if spare else []
    if draw.random() < 0.5:
        order = order_of(chosen)
        worst = response_times(rearranged(flows_of(frames, periods, jitters, 1, queue), order), 1).worst.tolist()
        for flow, time in zip(order, worst, strict=True):
            deadlines[flow] = max(time, 1) + draw.randint(0, 2)
    return flows_of(frames, periods, jitters, deadlines, queue), fixed, free


def assert_right(flows, fixed, free, found, best):
    if found.status == "found":
        assert all(given in (None, number) for given, number in zip(fixed, found.identifiers, strict=True))
        assert len(set(found.identifiers)) == len(fixed)
        assert set(found.identifiers) <= set(free) | {number for number in fixed if number is not None}
        assert found.least_share == least_share(flows, found.identifiers) >= 0.0
        assert found.stuck == () or found.by == "levels"
    else:
        assert found.identifiers == ()
        assert found.stuck
    if found.status == "none":
        assert best < 0.0


@pytest.mark.parametrize(("fixed_share", "spare"), [(0.0, False), (0.4, True), (0.5, False)])
def test_an_assignment_is_found_exactly_where_one_exists(fixed_share, spare):
    draw, counts = random.Random(4), {"deadlines": 0, "levels": 0, "none": 0}
    for _ in range(300):
        flows, fixed, free = random_problem(draw, fixed_share, spare)
        best = max(least_share(flows, chosen) for chosen in every_choice(fixed, free))
        found = assign(flows, fixed, free, 1)
        assert found.status == ("found" if best >= 0.0 else "none")
        assert_right(flows, fixed, free, found, best)
        counts[found.by if found.status == "found" else "none"] += 1
        assert assign(flows, fixed, free, 1, robust=True).status == found.status
    assert min(counts.values()) >= 1, counts


def test_faults_are_allowed_for_in_every_order():
    draw, faults, statuses = random.Random(9), Faults(1, 50, 1), set()
    for _ in range(60):
        flows, fixed, free = random_problem(draw, 0.3, spare=True)
        best = max(least_share(flows, chosen, faults) for chosen in every_choice(fixed, free))
        found = assign(flows, fixed, free, 1, faults)
        assert found.status == ("found" if best >= 0.0 else "none")
        statuses.add(found.status)
    assert statuses == {"found", "none"}


def test_a_robust_assignment_leaves_the_largest_least_share_where_all_are_free():
    draw, better, found_any = random.Random(5), 0, 0
    for _ in range(150):
        flows, fixed, free = random_problem(draw, 0.0, spare=False)
        best = max(least_share(flows, chosen) for chosen in every_choice(fixed, free))
        robust, plain = assign(flows, fixed, free, 1, robust=True), assign(flows, fixed, free, 1)
        if robust.status == "found":
            assert robust.least_share == pytest.approx(best, abs=1e-12)
            found_any, better = found_any + 1, better + (robust.least_share > plain.least_share)
    assert found_any > 30
    assert better > 5


def test_with_transmit_queues_what_is_found_holds_and_nothing_is_called_proved():
    draw, statuses, missed = random.Random(6), [], 0
    for _ in range(150):
        flows, fixed, free = random_problem(draw, 0.3, spare=True, queues=True)
        best = max(least_share(flows, chosen) for chosen in every_choice(fixed, free))
        found = assign(flows, fixed, free, 1)
        assert_right(flows, fixed, free, found, best)
        assert found.status != "none" or (flows.queue < 0).all()
        statuses.append(found.status)
        missed += found.status == "undecided" and best >= 0.0
    assert statuses.count("found") > 50
    assert missed <= 3, "it may miss an order, but seldom"


def test_the_order_of_deadlines_is_not_always_right_and_the_levels_then_are():
    """A long frame blocks: the flow with the later deadline must sometimes be above."""
    draw, seen = random.Random(4), 0
    for _ in range(200):
        flows, fixed, free = random_problem(draw, 0.0, spare=False)
        found = assign(flows, fixed, free, 1)
        seen += found.status == "found" and found.by == "levels"
    assert seen >= 5


def test_with_one_identifier_below_a_fixed_flow_the_choice_is_made_again_where_it_was_wrong():
    """Both may be at 9; the first tried is the one with the later deadline, but the other comes too often to be above 5."""
    flows = flows_of([2, 2, 2], [100, 4, 100], 0, [101, 100, 7])
    found = assign(flows, [None, None, 5], [1, 9], 1)
    assert (found.status, found.by, found.identifiers) == ("found", "levels", (1, 9, 5))
    assert least_share(flows, (9, 1, 5)) < 0.0
    assert assign(flows_of([2, 2, 2], [100, 4, 100], 0, [101, 100, 5]), [None, None, 5], [1, 9], 1).status == "none"


def test_what_stands_in_the_way_is_named():
    """The fixed flow at the lowest identifier's place cannot wait for the others, whoever they are."""
    found = assign(flows_of([5, 5, 5], 100, 0, [100, 100, 7]), [None, None, 9], [1, 2], 1)
    assert (found.status, found.stuck) == ("none", (2,))


def test_a_search_that_is_cut_off_says_so():
    draw = random.Random(4)
    cut = [assign(*random_problem(draw, 0.5, spare=False), 1, most_tests=1) for _ in range(40)]
    assert "undecided" in {found.status for found in cut}
    assert "none" not in {found.status for found in cut}


def test_two_hundred_flows_among_fixed_ones_are_placed():
    draw = random.Random(1)
    frames = [draw.randint(100, 270) for _ in range(200)]
    periods = [draw.choice([20, 50, 100, 200, 500, 1000]) * 1000 for _ in frames]
    flows = flows_of(frames, periods, [period // 10 for period in periods], [period // 2 for period in periods])
    fixed = [17 * at if at % 4 == 0 else None for at in range(200)]
    fixed = [at if number is not None else None for at, number in enumerate(fixed)]
    found = assign(flows, fixed, range(2048), 2, robust=True)
    assert found.status in ("found", "none")
    plain = assign(flows, [None] * 200, range(2048), 2, robust=True)
    assert plain.status == "found"
    assert plain.least_share >= assign(flows, [None] * 200, range(2048), 2).least_share


def test_impossible_requests_are_refused():
    flows = flows_of([1, 1], [10, 10])
    with pytest.raises(ValueError, match="same identifier"):
        assign(flows, [3, 3], [], 1)
    with pytest.raises(ValueError, match="2 flows to place, 1 free"):
        assign(flows, [None, None], [5], 1)


def test_no_stops_the_search():
    with pytest.raises(StoppedError):
        assign(flows_of([5, 5], 100), [None, None], [1, 2], 1, robust=True, told=lambda _done, _whole: False)


@pytest.mark.parametrize("seed", range(40))
def test_groups_that_are_sent_apart_are_held_each_by_itself(seed):
    draw = random.Random(1000 + seed)
    flows, fixed, free = random_problem(draw, 0.3, spare=True)
    size = len(fixed)
    groups = [frozenset(flow for flow in range(size) if draw.random() < 0.7) for _ in range(2)]
    found = assign(flows, fixed, free, 1, together=groups)

    def share(identifiers):
        return min(
            (
                least_share(_only(flows, group), [identifiers[flow] for flow in sorted(group)])
                for group in groups
                if group
            ),
            default=float("inf"),
        )

    best = max(share(identifiers) for identifiers in every_choice(fixed, free))
    assert found.status == ("found" if best >= 0.0 else "none")
    if found.status == "found":
        assert found.least_share == share(found.identifiers) >= 0.0


def _only(flows, group):
    return rearranged(flows, sorted(group))
