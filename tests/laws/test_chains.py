"""Bounds on chains of stages, held against every phase of small chains played out in whole ticks.

The one worked example that was found (a public tool's effect chains: data age 16, reaction 63) is preemptive with offsets and
its parameters were not at hand, so it is not used here.
"""

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.laws.chains import Stage, age_s, reaction_s

STAGES = st.lists(st.tuples(st.integers(1, 5), st.integers(0, 4)), min_size=1, max_size=3)


def next_look(at, phase, period):
    """The first look strictly after a moment: a change at the very moment is just missed."""
    return at + 1 + (phase - at - 1) % period


def last_look(at, phase, period):
    return at - (at - phase) % period


def played_reaction(stages, phases, start):
    at = start
    for number, ((period, response), phase) in enumerate(zip(stages, phases, strict=True)):
        # What arrives at the tick of a look is still taken; only the cause itself can be a hair late.
        at = (next_look(at, phase, period) if number == 0 else next_look(at - 1, phase, period)) + response
    return at - start


def played_age(stages, phases, end):
    looked = last_look(end, phases[-1], stages[-1][0])
    acted = looked + stages[-1][1]
    for (period, response), phase in zip(reversed(stages[:-1]), reversed(phases[:-1]), strict=True):
        looked = last_look(looked - response, phase, period)
    return acted - looked


@settings(max_examples=60, deadline=None)
@given(STAGES)
def test_no_phase_takes_longer_and_the_first_stage_alone_reaches_its_bound(stages):
    bound = reaction_s(tuple(Stage(float(period), float(response)) for period, response in stages))
    oldest = age_s(tuple(Stage(float(period), float(response)) for period, response in stages))
    phases = [tuple(range(period)) for period, _ in stages]
    seen = max(
        played_reaction(stages, chosen, start) for chosen in product(*phases) for start in range(60, 60 + stages[0][0])
    )
    aged = max(played_age(stages, chosen, end) for chosen in product(*phases) for end in range(60, 60 + 5))
    # In whole ticks every later stage waits at most its period less one tick.
    assert bound - (len(stages) - 1) == seen
    assert aged <= oldest
    assert oldest - (len(stages) - 1) == aged


def test_figures_worked_by_hand():
    stages = (Stage(0.010, 0.002), Stage(0.020, 0.005), Stage(0.0, 0.001))
    assert reaction_s(stages) == pytest.approx(0.038)
    assert age_s(stages) == pytest.approx(0.038)
    assert age_s(stages[:2]) == pytest.approx(0.017)
    assert (reaction_s(()), age_s(())) == (0, 0)
