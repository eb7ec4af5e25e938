"""Echoes of the first order, by hand: path lengths over speed, and the textbook's reflection coefficients."""

import math
from dataclasses import replace

import pytest

from loomwright.laws.reflections import junction_reflection, junction_transmission, reflection
from loomwright.model.line import Station
from loomwright.model.vehicle import Cable
from loomwright.solve.echoes import Spot, echoes, mismatches
from loomwright.solve.signal_parts import signal_parts
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.fact import Known
from tests.solve.build import port, string_vehicle

CABLE = Cable(conductor_resistance_ohm_per_m=Known(0.0), impedance_ohm=Known(120.0), delay_s_per_m=Known(5e-9))


def bare(**facts):
    return replace(port(**facts), node_capacitance_f=Known(0.0))


def parts_of(ports, stations=None, positions_m=(0.0, 10.0, 20.0)):
    vehicle = string_vehicle(list(positions_m), ports, stations, CABLE)
    line = vehicle.lines["one"]
    wired = line_topology("one", line, vehicle.components, run_ways(vehicle.places, vehicle.runs)).value
    return signal_parts(line, vehicle.components, CABLE, wired)


ENDS = bare(termination="fixed")


def test_a_matched_line_without_branches_has_no_echo():
    parts = parts_of([ENDS, bare(), ENDS])
    assert mismatches(parts) == ()
    assert echoes(parts, "c0.can", "c2.can") == ()


def test_an_open_end_sends_everything_back_after_the_way_there_and_back():
    parts = parts_of([ENDS, bare(), bare()])
    (end,) = mismatches(parts)
    assert (end.spot, end.stop) == (Spot.END, 2)
    assert end.reflection == pytest.approx(1.0, abs=1e-6)
    (echo,) = echoes(parts, "c0.can", "c1.can")
    assert echo.late_s == pytest.approx(2 * 10.0 * 5e-9, abs=1e-12)
    assert echo.at_s == pytest.approx(30.0 * 5e-9, abs=1e-12)
    assert echo.share == pytest.approx(1.0, abs=1e-6)


def test_a_branch_on_the_way_sends_its_end_after_two_branch_delays():
    """Through the foot twice and back once from the open end, against once through the foot: 2/3 of the edge."""
    stations = (Station("c0.can"), Station("c1.can", at="p1", branch_m=3.0), Station("c2.can"))
    (echo,) = echoes(parts_of([ENDS, bare(), ENDS], stations), "c0.can", "c2.can")
    assert echo.mismatch.spot is Spot.TIP
    assert echo.late_s == pytest.approx(2 * 3.0 * 5e-9, abs=1e-12)
    assert echo.share == pytest.approx(junction_transmission(3), abs=1e-6)


def test_a_branch_beyond_the_receiver_sends_back_from_its_foot_first():
    stations = (Station("c0.can"), Station("c1.can"), Station("c2.can", at="p2", branch_m=3.0), Station("c3.can"))
    parts = parts_of([ENDS, bare(), bare(), ENDS], stations, (0.0, 10.0, 20.0, 30.0))
    foot, tip = echoes(parts, "c0.can", "c1.can")
    assert foot.share == pytest.approx(junction_reflection(3), abs=1e-6)
    assert foot.late_s == pytest.approx(2 * 10.0 * 5e-9, abs=1e-12)
    assert tip.share == pytest.approx(junction_transmission(3) ** 2, abs=1e-6)
    assert tip.late_s == pytest.approx(2 * 13.0 * 5e-9, abs=1e-12)


def test_a_termination_on_the_way_takes_a_third_of_the_edge():
    middle = bare(termination="fixed")
    (found,) = mismatches(parts_of([ENDS, middle, ENDS]))
    assert (found.spot, found.stop) == (Spot.TERMINATION, 1)
    assert found.reflection == pytest.approx(-1.0 / 3.0, abs=1e-6)


def test_a_terminator_right_at_a_node_is_one_place_with_it():
    stations = (Station(terminator_ohm=Known(60.0), at="p0"), Station("c0.can"), Station("c1.can"), Station("c2.can"))
    (found,) = mismatches(parts_of([bare(), bare(), ENDS], stations))
    assert found.spot is Spot.END
    assert found.reflection == pytest.approx(reflection(60.0, 120.0), abs=1e-6)
    assert found.ohm == pytest.approx(60.0, abs=1e-3)
    assert not math.isinf(found.ohm)
