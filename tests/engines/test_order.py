"""Exact orders against TSPLIB optima and against trying every order."""

import itertools
import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.engines.order import MOST_POINTS, good_path, shortest_cycle, shortest_path

TSPLIB = tomllib.loads(Path("authorities/tsplib/optima.toml").read_text(encoding="utf-8"))


def geo_km(coordinates):
    """TSPLIB's GEO metric: degrees and minutes on a sphere of 6378.388 km, PI = 3.141592, truncated plus one."""
    pi, radius_km = 3.141592, 6378.388

    def radians(value):
        degrees = math.trunc(value)
        return pi * (degrees + 5.0 * (value - degrees) / 3.0) / 180.0

    points = [(radians(x), radians(y)) for x, y in coordinates]

    def distance(a, b):
        q1 = math.cos(a[1] - b[1])
        q2 = math.cos(a[0] - b[0])
        q3 = math.cos(a[0] + b[0])
        return math.trunc(radius_km * math.acos(0.5 * ((1.0 + q1) * q2 - (1.0 - q1) * q3)) + 1.0)

    return [[0 if i == k else distance(a, b) for k, b in enumerate(points)] for i, a in enumerate(points)]


@pytest.mark.parametrize("name", ["burma14", "ulysses16"])
def test_the_shortest_round_trip_of_a_published_instance_has_the_published_length(name):
    instance = TSPLIB[name]
    found = shortest_cycle(geo_km(instance["coordinates"]))
    assert found.length == instance["optimum"]
    assert sorted(found.points) == list(range(len(instance["coordinates"])))


def step_sum(distance, points):
    return sum(distance[a][b] for a, b in itertools.pairwise(points))


matrices = st.integers(1, 6).flatmap(
    lambda size: st.lists(st.lists(st.integers(0, 99), min_size=size, max_size=size), min_size=size, max_size=size)
)


@given(matrices, st.data())
@settings(max_examples=60, deadline=None)
def test_no_order_is_shorter_than_the_one_found(distance, data):
    size = len(distance)
    ends = st.none() | st.integers(0, size - 1)
    start, end = data.draw(ends), data.draw(ends)
    if size > 1 and start is not None and start == end:
        end = None
    orders = [
        order for order in itertools.permutations(range(size)) if start in (None, order[0]) and end in (None, order[-1])
    ]
    path = shortest_path(distance, start, end)
    assert path.points in orders
    assert path.length == step_sum(distance, path.points) == min(step_sum(distance, order) for order in orders)
    cycle = shortest_cycle(distance)
    trips = [(*order, order[0]) for order in itertools.permutations(range(size)) if order[0] == 0]
    expected = min(step_sum(distance, trip) for trip in trips) if size > 1 else 0
    assert cycle.length == expected
    assert cycle.points[0] == 0


def test_no_points_have_an_empty_order():
    assert shortest_path([]).points == shortest_cycle([]).points == ()


def test_too_many_points_and_one_point_as_both_ends_are_refused():
    many = [[0.0] * (MOST_POINTS + 1)] * (MOST_POINTS + 1)
    with pytest.raises(ValueError, match="too many"):
        shortest_cycle(many)
    with pytest.raises(ValueError, match="start and end at the same point"):
        shortest_path([[0.0, 1.0], [1.0, 0.0]], start=1, end=1)


@given(matrices, st.data())
@settings(max_examples=60, deadline=None)
def test_a_good_path_visits_all_keeps_its_ends_and_is_never_shorter_than_the_shortest(distance, data):
    size = len(distance)
    same = [[distance[min(i, k)][max(i, k)] if i != k else 0 for k in range(size)] for i in range(size)]
    ends = st.none() | st.integers(0, size - 1)
    start, end = data.draw(ends), data.draw(ends)
    if size > 1 and start is not None and start == end:
        end = None
    good = good_path(same, start, end)
    assert sorted(good.points) == list(range(size))
    assert start in (None, good.points[0])
    assert end in (None, good.points[-1])
    assert good.length == step_sum(same, good.points) >= shortest_path(same, start, end).length


def test_a_good_path_along_a_string_is_the_string():
    positions = [3, 0, 4, 1, 2]
    distance = [[abs(a - b) for b in positions] for a in positions]
    assert good_path(distance).length == 4
    assert good_path([]).points == ()
