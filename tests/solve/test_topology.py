from dataclasses import replace

import pytest

from loomwright.model.line import Station
from loomwright.model.vehicle import Run
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways, way_through
from loomwright.terms.answer import Blocked, Solved
from loomwright.terms.fact import Assumed, Known, Unknown
from tests.solve.build import port, string_vehicle


def wired(vehicle):
    return line_topology("one", vehicle.lines["one"], vehicle.components, run_ways(vehicle.places, vehicle.runs))


def test_sections_add_up_along_the_runs():
    answer = wired(string_vehicle([0.0, 1.5, 4.0], [port("fixed"), port(), port("fixed")]))
    assert isinstance(answer, Solved)
    assert answer.value.trunk_m == pytest.approx(4.0)
    assert [stop.distance_m for stop in answer.value.stops] == pytest.approx([0.0, 1.5, 4.0])
    assert answer.value.branches_m == 0.0


def test_a_branch_leaves_the_trunk_at_its_place_and_ends_behind_the_own_lead():
    stations = (Station("c0.can"), Station("c1.can", at="p2"), Station("c2.can"))
    answer = wired(string_vehicle([0.0, 1.0, 3.0], [port("fixed"), port(lead_m=0.25), port("fixed")], stations))
    stop = answer.value.stops[1]
    assert stop.distance_m == pytest.approx(3.0)
    assert stop.branch_m == pytest.approx(2.25)
    assert answer.value.trunk_m == pytest.approx(3.0)
    assert answer.value.cable_m == pytest.approx(5.25)


def test_measured_lengths_go_before_the_runs():
    stations = (Station("c0.can"), Station("c1.can", section_m=1.8), Station("c2.can", at="p1", branch_m=0.4))
    answer = wired(string_vehicle([0.0, 1.0, 3.0], [port("fixed"), port(), port()], stations))
    assert answer.value.trunk_m == pytest.approx(1.8)
    assert answer.value.stops[2].branch_m == pytest.approx(0.4)


def test_the_lead_of_a_terminated_end_is_the_trunks_own_end():
    answer = wired(string_vehicle([0.0, 2.0], [port("fixed", lead_m=0.3), port("none", lead_m=0.3)]))
    first, last = answer.value.stops
    assert (first.branch_m, first.distance_m) == (0.0, 0.0)
    assert last.branch_m == pytest.approx(0.3)
    assert answer.value.trunk_m == pytest.approx(2.3)
    assert last.distance_m == pytest.approx(2.3)


def test_unknown_run_lengths_block_and_assumed_ones_are_told():
    vehicle = string_vehicle([0.0, 1.0, 2.0], [port(), port(), port()])
    hidden = replace(vehicle, runs=vehicle.runs.put("r1", Run("p1", "p2", Unknown())))
    assert wired(hidden) == Blocked((("runs", "r1", "length_m"),))
    guessed = replace(vehicle, runs=vehicle.runs.put("r1", Run("p1", "p2", Assumed(1.0, "from the drawing"))))
    assert wired(guessed).assumed == (("runs", "r1", "length_m"),)


def test_two_places_without_a_way_block_at_the_station():
    vehicle = string_vehicle([0.0, 1.0, 2.0], [port(), port(), port()])
    torn = replace(vehicle, runs=vehicle.runs.put("r1", None))
    assert wired(torn) == Blocked((("lines", "one", "stations", 2),))


def test_a_port_listed_twice_closes_a_ring():
    stations = (Station("c0.can"), Station("c1.can"), Station("c0.can"))
    answer = wired(string_vehicle([0.0, 1.0], [port("fixed"), port()], stations))
    assert answer.value.stops[2].repeated
    assert answer.value.stops[2].joint == answer.value.stops[0].joint
    assert answer.value.trunk_m == pytest.approx(2.0)


def test_the_shortest_way_is_found_and_can_be_overruled():
    vehicle = string_vehicle([0.0, 1.0, 2.0], [port(), port(), port()])
    runs = vehicle.runs.put("direct", Run("p0", "p2", Known(1.2)))
    net = run_ways(vehicle.places, runs)
    assert way_through(net, ("p0", "p2")).runs == ("direct",)
    around = way_through(net, ("p0", "p1", "p2"))
    assert around.runs == ("r0", "r1")
    assert around.length_m == pytest.approx(2.0)
