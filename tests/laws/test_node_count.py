import math

import pytest

from loomwright.laws.node_count import line_load_ohm, most_nodes, parallel_ohm
from tests.authorities import authority

PUBLISHED = authority("node_count")


@pytest.mark.parametrize("row", PUBLISHED["load"], ids=lambda row: row["source"].split(",")[0])
def test_load_of_many_nodes(row):
    assert line_load_ohm(row["nodes"], row["node_kohm"] * 1e3) == pytest.approx(row["load_ohm"], abs=0.5)


def test_mcp2551_most_nodes():
    row = PUBLISHED["most"]
    assert math.floor(most_nodes(row["load_ohm"], row["node_kohm"] * 1e3, row["terminator_ohm"])) == row["nodes"]


def test_parallel_resistances():
    assert parallel_ohm(120.0, 120.0) == pytest.approx(60.0, abs=1e-9)
