"""The ground that plans lie on, and walks over it."""

import itertools
import random
from dataclasses import replace

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.model.vehicle import Run
from loomwright.propose.ground import contracted, ground_of
from loomwright.propose.walk import walk_along
from loomwright.terms.fact import Known
from tests.propose.build import component, port, random_vehicle, vehicle


def graph_of(ground):
    graph = nx.Graph()
    graph.add_nodes_from(ground.places)
    graph.add_weighted_edges_from(ground.edges)
    return graph


def test_a_detour_a_dead_end_and_an_unknown_run_are_left_out():
    runs = [("a", "b", 1.0), ("b", "c", 1.0), ("a", "c", 2.5), ("c", "dead", 1.0), ("c", "d", None)]
    parts = {"x": component("a", can=port()), "y": component("c", can=port()), "z": component("d", can=port())}
    ground = ground_of(vehicle(runs, parts, {}))
    assert [(ground.names[a], ground.names[b]) for a, b, _ in ground.edges] == [("a", "b"), ("b", "c")]
    assert ground.way_mm[ground.number("a"), ground.number("c")] == 2000.0
    assert ground.way_mm[ground.number("c"), ground.number("d")] == float("inf")


def test_of_two_runs_between_the_same_places_the_shorter_one_is_used():
    parts = {"x": component("a", can=port()), "y": component("b", can=port())}
    base = vehicle([("a", "b", 2.0)], parts, {})
    ground = ground_of(replace(base, runs=base.runs.put("short", Run("b", "a", Known(1.2)))))
    assert ground.edges == ((0, 1, 1200),)


@pytest.mark.parametrize("seed", range(20))
def test_contraction_keeps_every_distance_between_homes_and_nothing_else(seed):
    ground = ground_of(random_vehicle(seed, places=14, count=5))
    homes = frozenset(random.Random(seed).sample(ground.places, 3))
    small = contracted(ground, homes)
    before, after = graph_of(ground), graph_of(small)
    for a, b in itertools.combinations(sorted(homes), 2):
        assert nx.shortest_path_length(before, a, b, "weight") == nx.shortest_path_length(after, a, b, "weight")
    assert all(after.degree(place) > 2 for place in set(small.places) - homes)
    lengths = {(a, b): length for a, b, length in ground.edges}
    for (a, b, length), span in zip(small.edges, small.spans, strict=True):
        assert (span[0], span[-1]) == (a, b)
        assert length == sum(lengths[min(pair), max(pair)] for pair in itertools.pairwise(span))


@given(st.lists(st.integers(0, 6), min_size=1, max_size=15))
@settings(max_examples=80, deadline=None)
def test_a_walk_takes_every_step_as_often_as_it_is_stated(drawn):
    course = [place for number, place in enumerate(drawn) if number == 0 or place != drawn[number - 1]]
    steps = {}
    for a, b in itertools.pairwise(course):
        steps[min(a, b), max(a, b)] = steps.get((min(a, b), max(a, b)), 0) + 1
    walk = walk_along(steps, course[0], course[-1])
    taken = sorted((min(a, b), max(a, b)) for a, b in itertools.pairwise(walk))
    assert taken == sorted(pair for pair, times in steps.items() for _ in range(times))
    assert (walk[0], walk[-1]) == (course[0], course[-1])
