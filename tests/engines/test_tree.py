"""Shortest trees against published optima, closed forms, every subset of edges, and two approximations."""

import itertools
import math
import random
import tomllib
from pathlib import Path

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from networkx.algorithms.approximation import steiner_tree

from loomwright.engines.tree import shortest_tree
from tests.engines.stp import read_stp

FOLDER = Path("authorities/steinlib")
STEINLIB = tomllib.loads((FOLDER / "optima.toml").read_text(encoding="utf-8"))
FILES = sorted(FOLDER.glob("*.stp"))


def as_graph(edges):
    graph = nx.Graph()
    for a, b, length in edges:
        if not graph.has_edge(a, b) or graph[a][b]["weight"] > length:
            graph.add_edge(a, b, weight=length)
    return graph


def assert_joins(tree, edges, ends):
    graph = nx.Graph([edges[edge][:2] for edge in tree.edges])
    graph.add_nodes_from(ends)
    assert nx.is_connected(graph)
    assert graph.number_of_edges() == len(tree.edges) == graph.number_of_nodes() - 1
    assert tree.length == pytest.approx(sum(edges[edge][2] for edge in tree.edges), abs=1e-9)


def test_the_number_of_published_instances_at_hand_is_told(record_property):
    known = STEINLIB["instances"]
    record_property("told", f"SteinLib set B: {len(FILES)} of {len(known)} instances at hand to be checked")
    assert {file.stem for file in FILES} <= set(known)


def test_every_published_instance_at_hand_has_its_published_optimum():
    for file in FILES:
        instance, published = read_stp(file.read_text(encoding="utf-8")), STEINLIB["instances"][file.stem]
        assert (instance.nodes, len(instance.edges), len(instance.terminals)) == (
            published["nodes"],
            published["edges"],
            published["terminals"],
        )
        assert shortest_tree(instance.nodes, instance.edges, instance.terminals).length == published["optimum"]


def test_the_list_of_optima_agrees_with_itself():
    for name, row in STEINLIB["instances"].items():
        for method in ("kou", "mehlhorn"):
            assert row["optimum"] <= row[method] <= 2 * row["optimum"], name
        assert row["optimum"] >= row["terminals"] - 1, "a tree has an edge of at least 1 for every terminal but one"


WHOLE = f"""{"33D32945"} STP File, STP Format Version 1.0
SECTION Graph
Nodes 3
Edges 2
E 1 2 4
E 2 3 5
END
SECTION Terminals
Terminals 2
T 1
T 3
END
EOF
"""


def test_a_graph_file_is_read_and_solved():
    instance = read_stp(WHOLE)
    assert shortest_tree(instance.nodes, instance.edges, instance.terminals).length == 9


@pytest.mark.parametrize(
    ("found", "put"),
    [
        ("33D32945", "33D32946"),
        ("E 2 3 5\n", ""),
        ("E 2 3 5", "E 2 3"),
        ("E 2 3 5", "E 2 9 5"),
        ("T 3\n", ""),
        ("Nodes 3\n", ""),
        ("EOF\n", ""),
        ("END\nEOF", "EOF"),
        ("T 3", "X 3"),
    ],
)
def test_a_malformed_graph_file_is_refused(found, put):
    with pytest.raises(ValueError, match=r"."):
        read_stp(WHOLE.replace(found, put))


@pytest.mark.parametrize("name", sorted(STEINLIB["by_hand"]))
def test_a_small_published_graph_has_its_published_optimum(name):
    row = STEINLIB["by_hand"][name]
    edges = [(a - 1, b - 1, 1.0) for a, b in row["edges"]]
    ends = [end - 1 for end in row["terminals"]]
    tree = shortest_tree(max(max(edge[:2]) for edge in edges) + 1, edges, ends)
    assert tree.length == row["optimum"]
    assert_joins(tree, edges, ends)


def euclidean(points):
    return [(i, k, math.dist(points[i], points[k])) for i, k in itertools.combinations(range(len(points)), 2)]


def test_the_corners_of_a_triangle_meet_in_its_middle():
    # Equilateral, side 1: sqrt(3) through the middle, 2 without it.
    height = math.sqrt(3) / 2
    points = [(0.0, 0.0), (1.0, 0.0), (0.5, height), (0.5, height / 3)]
    assert shortest_tree(4, euclidean(points), [0, 1, 2]).length == pytest.approx(math.sqrt(3), abs=1e-9)
    assert shortest_tree(3, euclidean(points[:3]), [0, 1, 2]).length == pytest.approx(2.0, abs=1e-9)


def test_the_corners_of_a_square_meet_in_two_points():
    # Unit square: 1 + sqrt(3) with its two Steiner points, 3 without.
    corner, inset = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)], 0.5 / math.sqrt(3)
    points = [*corner, (inset, 0.5), (1.0 - inset, 0.5)]
    assert shortest_tree(6, euclidean(points), range(4)).length == pytest.approx(1.0 + math.sqrt(3), abs=1e-9)
    assert shortest_tree(4, euclidean(corner), range(4)).length == pytest.approx(3.0, abs=1e-9)


small_graphs = st.integers(2, 6).flatmap(
    lambda nodes: st.tuples(
        st.just(nodes),
        st.lists(
            st.tuples(st.integers(0, nodes - 1), st.integers(0, nodes - 1), st.integers(0, 9)), min_size=1, max_size=9
        ),
        st.sets(st.integers(0, nodes - 1), min_size=1, max_size=4),
    )
)


def length_by_every_subset(nodes, edges, ends):
    best = math.inf
    for size in range(len(edges) + 1):
        for subset in itertools.combinations(edges, size):
            graph = nx.Graph([edge[:2] for edge in subset])
            graph.add_nodes_from(range(nodes))
            if set(ends) <= nx.node_connected_component(graph, min(ends)):
                best = min(best, sum(edge[2] for edge in subset))
    return best


@given(small_graphs)
@settings(max_examples=60, deadline=None)
def test_no_set_of_edges_joins_the_ends_in_less(drawn):
    nodes, edges, ends = drawn
    tree = shortest_tree(nodes, edges, ends)
    expected = length_by_every_subset(nodes, edges, ends)
    if tree is None:
        assert expected == math.inf
    else:
        assert tree.length == expected
        assert_joins(tree, edges, ends)


def random_graph(nodes, edges, ends, seed):
    """A connected graph with whole lengths from 1 to 10, as in set B."""
    dice = random.Random(seed)
    pairs = {(dice.randrange(node), node) for node in range(1, nodes)}
    while len(pairs) < edges:
        pairs.add(tuple(sorted(dice.sample(range(nodes), 2))))
    return [(a, b, dice.randint(1, 10)) for a, b in sorted(pairs)], dice.sample(range(nodes), ends)


@pytest.mark.parametrize("size", [(50, 63, 9), (50, 63, 25), (50, 100, 25), (75, 150, 38), (100, 200, 50)])
def test_approximations_are_never_shorter_and_at_most_twice_as_long(size):
    for seed in range(3):
        edges, ends = random_graph(*size, seed)
        tree = shortest_tree(size[0], edges, ends)
        assert_joins(tree, edges, ends)
        for method in ("kou", "mehlhorn"):
            approximate = steiner_tree(as_graph(edges), ends, method=method).size(weight="weight")
            assert tree.length <= approximate <= 2 * tree.length
