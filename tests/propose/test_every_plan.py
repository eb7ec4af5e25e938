"""The planner against every plan of small random vehicles: fewest broken rules, then lowest score, always proved."""

import functools
import random

import pytest

from loomwright.propose import LineLimits, Weights, arrange
from tests.propose.build import random_vehicle
from tests.propose.every_plan import EveryPlan


def drawn(seed):
    dice = random.Random(1000 + seed)
    vehicle = random_vehicle(
        seed, dice.choice([5, 6, 7]), dice.choice([3, 3, 4]), dice.choice([1, 2]), dice.choice([0, 1, 2])
    )
    limits = {
        name: LineLimits(
            branch_m=dice.choice([None, 0.3, 1.0, 2.0]),
            branches_m=dice.choice([None, None, 0.3, 1.5]),
            trunk_m=dice.choice([None, None, 1.5, 4.0, 8.0]),
            nodes=dice.choice([None, None, 2]),
            trunk_counts_branches=dice.choice([False, True]),
        )
        for name in vehicle.lines
    }
    return vehicle, limits, dice.choice([0.5, 1.0, 1.5, 2.0, 2.0, 3.0])


@functools.cache
def planned(seed):
    vehicle, limits, branch = drawn(seed)
    return arrange(vehicle, limits=limits, weights=Weights(branch=branch), seconds=60.0)


@pytest.mark.parametrize("block", range(5))
def test_no_plan_breaks_fewer_rules_or_scores_less(block):
    for seed in range(20 * block, 20 * block + 20):
        vehicle, limits, branch = drawn(seed)
        rules, score_m = EveryPlan(vehicle, limits, branch).best()
        plan = planned(seed)
        assert plan.status == "proved optimal", seed
        assert plan.broken_count == plan.fewest_broken == rules, seed
        assert plan.score_m == pytest.approx(score_m, abs=0.001), seed
        assert plan.gap == 0.0


def test_the_small_vehicles_meet_every_kind_of_rule():
    # A guard for the test above: rules that never break there would be rules never compared.
    met = set()
    for seed in range(100):
        plan = planned(seed)
        met |= {rule.rule for rule in plan.broken} | {"port on a line" for _ in plan.unplaced}
    assert met >= {
        "branch within its limit",
        "all branches within their limit",
        "trunk within its limit",
        "components within their limit",
        "fixed termination at an end",
        "lock kept",
        "a service plug on the line",
        "port can speak on the line it is held on",
        "port on a line",
    }
