"""Programs whose rows are found as they are broken, against trying every whole point."""

import itertools
import math

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.engines.cut_rounds import Program, Row, Watch, cheapest
from loomwright.engines.cuts import Network

STILL = Watch(clock=lambda: 0.0)


def broken_of(hidden):
    def broken(point):
        return [row for row in hidden if sum(c * point[i] for i, c in row.terms) < row.low - 1e-6]

    return broken


rows = st.lists(
    st.builds(
        lambda coefficients, low: Row(tuple(enumerate(map(float, coefficients))), float(low), math.inf),
        st.lists(st.integers(-3, 3), min_size=4, max_size=4),
        st.integers(-2, 6),
    ),
    max_size=6,
)


@given(rows, rows, st.lists(st.integers(-5, 9), min_size=4, max_size=4))
@settings(max_examples=60, deadline=None)
def test_the_point_found_is_the_cheapest_that_keeps_shown_and_hidden_rows(shown, hidden, cost):
    outcome = cheapest(Program(tuple(map(float, cost)), (2.0,) * 4, tuple(shown)), broken_of(hidden), STILL)
    keeping = [
        sum(c * x for c, x in zip(cost, point, strict=True))
        for point in itertools.product(range(3), repeat=4)
        if all(sum(c * point[i] for i, c in row.terms) >= row.low for row in (*shown, *hidden))
    ]
    if not keeping:
        assert (outcome.status, outcome.values) == ("infeasible", None)
        return
    assert outcome.status == "optimal"
    assert outcome.cost == outcome.bound == min(keeping)
    assert sum(c * x for c, x in zip(cost, outcome.values, strict=True)) == outcome.cost


ODD = Row(((0, 2.0), (1, 2.0), (2, 2.0)), 3.0, math.inf)


def test_a_start_that_breaks_a_row_is_not_believed():
    program = Program((1.0, 1.0, 1.0), (1.0,) * 3, (ODD,))
    assert cheapest(program, lambda _: (), STILL, start=(1, 0, 0)).cost == 2.0
    assert cheapest(program, lambda _: (), STILL, start=(1, 1, 1)).cost == 2.0


def test_a_mended_point_that_breaks_a_row_is_not_believed():
    hidden = [Row(((2, 1.0),), 1.0, math.inf)]
    program = Program((1.0, 1.0, 5.0), (1.0,) * 3, (ODD,))
    outcome = cheapest(program, broken_of(hidden), STILL, mend=lambda _: np.zeros(3))
    assert outcome.cost == 6.0


def test_a_cancel_or_the_end_of_time_returns_the_start_and_a_bound_below_it():
    program = Program((1.0, 1.0, 1.0), (1.0,) * 3, (ODD,))
    for status, watch in (
        ("cancelled", Watch(clock=lambda: 0.0, cancelled=lambda: True)),
        ("stopped", Watch(clock=lambda: 9.0, until=1.0)),
    ):
        outcome = cheapest(program, lambda _: (), watch, start=(1, 1, 1))
        assert (outcome.status, outcome.values, outcome.cost) == (status, (1, 1, 1), 3.0)
        assert outcome.bound == pytest.approx(1.5, abs=1e-6)


def test_every_round_tells_the_best_cost_and_a_bound_that_only_rises():
    told = []
    program = Program((1.0, 1.0, 1.0), (1.0,) * 3, (ODD,))
    cheapest(program, lambda _: (), Watch(clock=lambda: 0.0, told=lambda *pair: told.append(pair)))
    assert told[-1] == (2.0, 2.0)
    assert [bound for _, bound in told] == sorted(bound for _, bound in told)


arcs = st.lists(
    st.tuples(st.integers(0, 5), st.integers(0, 5), st.integers(1, 9)).filter(lambda arc: arc[0] != arc[1]), max_size=14
)


@given(arcs)
@settings(max_examples=80, deadline=None)
def test_the_smallest_cut_agrees_with_another_library_and_both_sides_measure_it(drawn):
    tails, heads, capacity = zip(*drawn, strict=True) if drawn else ((), (), ())
    cut = Network(6, tails, heads).smallest_cut(np.array(capacity, dtype=float), 0, 5)
    graph = nx.DiGraph()
    graph.add_nodes_from(range(6))
    for tail, head, value in drawn:
        before = graph.get_edge_data(tail, head, {"capacity": 0})["capacity"]
        graph.add_edge(tail, head, capacity=before + value)
    assert cut.value == pytest.approx(nx.minimum_cut_value(graph, 0, 5), abs=1e-5)
    for side in (cut.inner, cut.outer):
        assert 5 in side
        assert 0 not in side
        crossing = sum(value for tail, head, value in drawn if head in side and tail not in side)
        assert crossing == pytest.approx(cut.value, abs=1e-5)
    assert cut.inner <= cut.outer
