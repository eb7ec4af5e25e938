import math
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.engines.node_equations import readings_without, resistance_matrix
from loomwright.model.line import Station
from loomwright.model.vehicle import Cable
from loomwright.solve.ohms import line_ohms
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.answer import Blocked, Solved
from loomwright.terms.fact import Known, Unknown
from tests.solve.build import port, string_vehicle

READINGS = tomllib.loads((Path(__file__).parents[2] / "authorities" / "ohm_readings.toml").read_text("utf-8"))


def ohms_of(vehicle):
    line = vehicle.lines["one"]
    wired = line_topology("one", line, vehicle.components, run_ways(vehicle.places, vehicle.runs))
    assert isinstance(wired, Solved)
    answer = line_ohms(line, vehicle.components, vehicle.cables["pair"], wired.value)
    assert isinstance(answer, Solved)
    return answer.value


@pytest.mark.parametrize("row", READINGS["reading"], ids=lambda row: f"{row['terminators']} terminators")
def test_equal_terminators_in_parallel(row):
    count = row["terminators"]
    ports = [port("fixed")] * count + [port()] * (5 - count)
    for stop in ohms_of(string_vehicle([0.0, 1.0, 2.0, 3.0, 4.0], ports)).stops:
        assert stop.ohm == pytest.approx(row["reads_ohm"], abs=0.001)


def test_ten_nodes_of_30_kohm_lower_the_reading():
    row = READINGS["ten_nodes"]
    ports = [port("fixed" if i in (0, 9) else "none", node_ohm=row["node_ohm"]) for i in range(row["nodes"])]
    for stop in ohms_of(string_vehicle([float(i) for i in range(10)], ports)).stops:
        assert stop.ohm == pytest.approx(row["reads_ohm"], abs=0.05)


def test_at_one_end_of_40_m_the_cable_adds_to_the_far_terminator():
    row = READINGS["one_end_of_40_m"]
    cable = Cable(conductor_resistance_ohm_per_m=Known(row["loop_ohm_per_m"] / 2))
    result = ohms_of(string_vehicle([0.0, row["length_m"]], [port("fixed"), port("fixed")], cable=cable))
    for stop in result.stops:
        assert stop.ohm == pytest.approx(row["reads_ohm"], abs=0.05)


def test_unplugging_an_end_leaves_the_other_terminator_alone():
    result = ohms_of(string_vehicle([0.0, 1.0, 2.0], [port("fixed"), port(), port("fixed")]))
    unplugged = dict(result.unplugged)
    assert [stop.ohm for stop in unplugged["c0.can"]] == pytest.approx([120.0] * 3, abs=0.001)
    assert [stop.ohm for stop in unplugged["c1.can"]] == pytest.approx([60.0] * 3, abs=0.001)


def test_a_plug_in_terminator_counts_and_can_be_unplugged():
    stations = (Station("c0.can"), Station("c1.can"), Station(terminator_ohm=Known(120.0), at="p1"))
    result = ohms_of(string_vehicle([0.0, 1.0], [port("fixed"), port()], stations))
    assert result.stops[1].ohm == pytest.approx(60.0, abs=0.001)
    assert dict(result.unplugged)["terminator 3"][0].ohm == pytest.approx(120.0, abs=0.001)


def test_with_nothing_between_the_wires_the_reading_is_open():
    result = ohms_of(string_vehicle([0.0, 1.0], [port(), port()], roles={0: "service plug"}))
    only = dict(result.unplugged)["c1.can"]
    assert all(stop.ohm > 1e9 for stop in only)


def test_tolerances_bound_the_reading_from_both_sides():
    loose = replace(port("fixed"), termination_ohm=Known(120.0, 110.0, 130.0))
    stop = ohms_of(string_vehicle([0.0, 1.0], [loose, loose])).stops[0]
    assert (stop.low_ohm, stop.ohm, stop.high_ohm) == pytest.approx((55.0, 60.0, 65.0), abs=0.001)


def test_an_unknown_termination_blocks_and_names_the_fact():
    unsure = replace(port(), termination=Unknown())
    vehicle = string_vehicle([0.0, 1.0], [unsure, port("fixed")])
    line = vehicle.lines["one"]
    wired = line_topology("one", line, vehicle.components, run_ways(vehicle.places, vehicle.runs))
    answer = line_ohms(line, vehicle.components, vehicle.cables["pair"], wired.value)
    assert answer == Blocked((("components", "c0", "ports", "can", "termination"),))


def test_the_meter_sits_at_the_connector_not_behind_the_components_own_lead():
    """1 ohm of loop in the lead of an unterminated node must not show; the same lead before a terminator must."""
    cable = Cable(conductor_resistance_ohm_per_m=Known(0.5))
    bare = ohms_of(string_vehicle([0.0, 0.0, 0.0], [port("fixed"), port(lead_m=1.0), port("fixed")], cable=cable))
    assert bare.stops[1].ohm == pytest.approx(60.0, abs=0.001)
    behind = ohms_of(string_vehicle([0.0, 0.0], [port("fixed"), port("fixed", lead_m=1.0)], cable=cable))
    assert behind.stops[1].ohm == pytest.approx(1 / (1 / 120 + 1 / 121), abs=0.001)


@given(
    st.lists(st.just(0.0) | st.floats(1e-3, 50.0), min_size=2, max_size=8),
    st.data(),
)
def test_the_rank_one_update_equals_solving_again(lengths, data):
    count = len(lengths) + 1
    siemens = np.array(data.draw(st.lists(st.floats(1e-5, 0.02), min_size=count, max_size=count)))
    resistors = [(i, i + 1, ohm) for i, ohm in enumerate(lengths)]
    node = data.draw(st.integers(0, count - 1))
    matrix = resistance_matrix(count, resistors, siemens)
    again = siemens.copy()
    again[node] = 0.0
    solved = np.diagonal(resistance_matrix(count, resistors, again))
    assert readings_without(matrix, node, siemens[node]) == pytest.approx(solved, rel=1e-6)


@given(st.lists(st.floats(1e-3, 50.0), min_size=1, max_size=8), st.data())
def test_currents_into_every_node_sum_to_zero(lengths, data):
    """Kirchhoff: 1 A driven into a node comes back through the shunts, whatever the network."""
    count = len(lengths) + 1
    siemens = np.array(data.draw(st.lists(st.floats(1e-5, 0.02), min_size=count, max_size=count)))
    matrix = resistance_matrix(count, [(i, i + 1, ohm) for i, ohm in enumerate(lengths)], siemens)
    for node in range(count):
        assert math.fsum(matrix[:, node] * siemens) == pytest.approx(1.0, abs=1e-6)
