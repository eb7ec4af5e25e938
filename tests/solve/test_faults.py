"""A line with a fault, held against lines that are drawn that way, and against closed forms."""

from dataclasses import replace

import numpy as np
import pytest

from loomwright.engines.node_equations import readings_without, resistance_matrix
from loomwright.model.fault import OPEN_END, Fault, FaultKind, halves, with_fault
from loomwright.model.line import Station
from loomwright.model.vehicle import Cable
from loomwright.solve.echoes import Spot, echoes, mismatches
from loomwright.solve.faults import parted_at_m, possible_faults
from loomwright.solve.ohms import line_ohms
from loomwright.solve.signal import line_signal, trace
from loomwright.solve.signal_parts import signal_parts
from loomwright.solve.topology import line_topology, torn
from loomwright.solve.ways import run_ways
from loomwright.terms.fact import Known
from tests.solve.build import port, string_vehicle

CABLE = Cable(conductor_resistance_ohm_per_m=Known(0.0), impedance_ohm=Known(120.0), delay_s_per_m=Known(5e-9))
PLUG = Known(120.0)
BRANCHED = (
    Station("c0.can"),
    Station("c1.can", at="p1", branch_m=3.0),
    Station("c2.can"),
    Station(at="p3", terminator_ohm=PLUG),
)


def bare(**facts):
    return replace(port(**facts), node_capacitance_f=Known(0.0), transceiver_delay_s=Known(0.0))


def vehicle_of(stations=BRANCHED, first="fixed"):
    """A terminated node, one on a branch of 3 m, one the trunk passes, and a plug-in terminator, 5 m apart."""
    ports = [bare(termination=first), bare(lead_m=0.5), bare()]
    vehicle = string_vehicle([0.0, 5.0, 10.0, 15.0], ports, stations, CABLE)
    return replace(vehicle, lines=vehicle.lines.put("one", replace(vehicle.lines["one"], stations=stations)))


def wired(vehicle):
    net = run_ways(vehicle.places, vehicle.runs)
    return line_topology("one", vehicle.lines["one"], vehicle.components, net).value


def asked(vehicle, topology=None):
    return vehicle.lines["one"], vehicle.components, CABLE, topology or wired(vehicle)


def typical(vehicle, topology=None):
    answer = line_signal(*asked(vehicle, topology)).value
    return {(pair.sender, pair.receiver): pair.typical_s for pair in answer.pairs}


def ohms(vehicle, topology=None):
    return [stop.ohm for stop in line_ohms(*asked(vehicle, topology)).value.stops]


def faulty(kind, station, length_m=0.0, vehicle=None):
    return with_fault(vehicle or vehicle_of(), "one", Fault(kind, station, length_m))


def test_every_fault_that_the_line_can_have_is_found():
    vehicle = vehicle_of()
    found = possible_faults(wired(vehicle), vehicle.components)
    told = {kind: [fault.station for fault in found if fault.kind is kind] for kind in FaultKind}
    assert told == {
        FaultKind.NO_TERMINATOR: [0, 3],
        FaultKind.OPEN_BRANCH: [1],
        FaultKind.UNPLUGGED: [0, 1, 2],
        FaultKind.OPEN_TRUNK: [1, 2, 3],
        FaultKind.STUB: [0, 1, 2, 3],
    }


@pytest.mark.parametrize("station", [0, 3])
def test_without_a_terminator_the_meter_reads_the_other_one_alone(station):
    vehicle = faulty(FaultKind.NO_TERMINATOR, station)
    assert ohms(vehicle_of()) == pytest.approx([60.0] * 4, abs=0.01)
    assert ohms(vehicle) == pytest.approx([120.0] * 4, abs=0.01)
    assert wired(vehicle).cable_m == wired(vehicle_of()).cable_m, "the cable to where it was hangs there still"


def test_a_missing_plug_in_terminator_leaves_the_trunk_open_where_it_stood():
    vehicle = faulty(FaultKind.NO_TERMINATOR, 3)
    ends = [spot for spot in mismatches(signal_parts(*asked(vehicle))) if spot.spot is Spot.END]
    assert [(spot.stop, spot.reflection) for spot in ends] == [(3, pytest.approx(1.0, abs=1e-6))]


def test_a_torn_branch_leaves_the_line_of_the_others():
    others = vehicle_of((BRANCHED[0], BRANCHED[2], BRANCHED[3]))
    assert typical(faulty(FaultKind.OPEN_BRANCH, 1)) == pytest.approx(typical(others), abs=1e-12)


def test_an_unplugged_node_leaves_its_branch_open_and_takes_its_own_lead_along():
    """A node of a teraohm and no farad that never sends is what an open end is."""
    pulled = faulty(FaultKind.UNPLUGGED, 1)
    shorter = vehicle_of((*BRANCHED[:1], replace(BRANCHED[1], branch_m=2.5), *BRANCHED[2:]))
    alone = {pair: time for pair, time in typical(shorter).items() if "c1.can" not in pair}
    assert typical(pulled) == pytest.approx(alone, abs=1e-12)
    assert typical(pulled) != pytest.approx(typical(faulty(FaultKind.OPEN_BRANCH, 1)), abs=1e-9)


@pytest.mark.parametrize("station", [0, 1, 2])
def test_readings_of_an_unplugged_line_are_those_that_the_readings_foretell(station):
    foretold = dict(line_ohms(*asked(vehicle_of())).value.unplugged)[f"c{station}.can"]
    assert ohms(faulty(FaultKind.UNPLUGGED, station)) == pytest.approx([stop.ohm for stop in foretold], rel=1e-6)


@pytest.mark.parametrize(("station", "at"), [(0, "p0"), (1, "p1"), (3, "p3")])
def test_a_stub_is_a_branch_with_nothing_on_it(station, at):
    vehicle = faulty(FaultKind.STUB, station, 4.0)
    lead = vehicle.components[OPEN_END]
    assert (lead.place, lead.role) == (at, "service plug")
    assert wired(vehicle).trunk_m == wired(vehicle_of()).trunk_m
    assert wired(vehicle).branches_m == wired(vehicle_of()).branches_m + 4.0
    assert ohms(vehicle) == pytest.approx([60.0] * 5, abs=0.01)


def test_a_stub_in_mid_trunk_delays_the_recessive_bit_by_its_way_there_and_back(monkeypatch):
    """As ``test_signal`` has it of a drawn branch: at the second arrival 0.5 V is passed for good, 2 Ts later."""
    import loomwright.solve.signal_parts as parts_module

    monkeypatch.setattr(parts_module, "EDGE_S", 0.1e-9)
    ends = bare(termination="fixed")
    sound = string_vehicle([0.0, 10.0, 20.0], [ends, bare(), ends], None, CABLE)
    late = typical(faulty(FaultKind.STUB, 1, 3.0, sound))["c0.can", "c2.can"] - typical(sound)["c0.can", "c2.can"]
    assert late == pytest.approx(2 * 3.0 * 5e-9, abs=0.5e-9)


def test_a_stub_at_the_last_station_keeps_the_measured_section_before_it():
    measured = (*BRANCHED[:3], replace(BRANCHED[3], section_m=7.0))
    sound = vehicle_of(measured)
    after = wired(faulty(FaultKind.STUB, 3, 1.0, sound))
    assert after.trunk_m == wired(sound).trunk_m
    assert after.stops[-1].termination == "on"


def test_a_torn_trunk_is_two_lines_of_which_neither_hears_the_other():
    vehicle = vehicle_of()
    topology = torn(wired(vehicle), 2)
    assert topology.cable_m == wired(vehicle).cable_m
    assert ohms(vehicle, topology) == pytest.approx([120.0] * 4, abs=0.01)
    times = typical(vehicle, topology)
    across = {pair for pair in times if "c2.can" in pair and set(pair) != {"c2.can"}}
    assert all(times[pair] == float("inf") for pair in across)
    assert all(times[pair] < 1e-6 for pair in times.keys() - across)
    heard = trace(*asked(vehicle, topology), "c0.can", "c2.can").value
    assert max(abs(volts) for volts in heard.volts) == 0.0


@pytest.mark.parametrize("station", [1, 2, 3])
def test_halves_of_a_torn_trunk_are_the_torn_line_without_the_other_half(station):
    vehicle = vehicle_of()
    whole = torn(wired(vehicle), station)
    half_m = parted_at_m(wired(vehicle), station)
    assert half_m == pytest.approx(2.5)
    sides = halves(vehicle, "one", Fault(FaultKind.OPEN_TRUNK, station), half_m)
    assert sum(wired(side).cable_m for side in sides) == pytest.approx(whole.cable_m)
    read = [ohms(side)[own] for side, own in zip(sides, (slice(0, -1), slice(1, None)), strict=True)]
    assert [*read[0], *read[1]] == pytest.approx(ohms(vehicle, whole), rel=1e-9)
    times = typical(vehicle, whole)
    for side in sides:
        if len([stop for stop in wired(side).stops if stop.port.startswith("c")]) > 1:
            own = typical(side)
            assert own == pytest.approx({pair: times[pair] for pair in own}, abs=1e-9)


def test_a_half_keeps_half_of_a_measured_section():
    measured = (*BRANCHED[:2], replace(BRANCHED[2], section_m=7.0), BRANCHED[3])
    vehicle = vehicle_of(measured)
    assert parted_at_m(wired(vehicle), 2) == pytest.approx(3.5)
    first, second = halves(vehicle, "one", Fault(FaultKind.OPEN_TRUNK, 2), 3.5)
    assert wired(first).trunk_m + wired(second).trunk_m == pytest.approx(wired(vehicle).trunk_m)


def test_a_ring_that_is_torn_once_is_still_one_line():
    ring = (Station("c0.can"), Station("c1.can"), Station("c2.can"), Station("c0.can"))
    assert [parted_at_m(wired(vehicle_of(ring)), station) for station in (1, 2, 3)] == [None] * 3


def test_the_torn_end_sends_edges_back_from_half_way():
    vehicle = vehicle_of((Station("c0.can"), Station("c1.can", at="p1", branch_m=0.0), *BRANCHED[2:]))
    parts = signal_parts(*asked(vehicle, torn(wired(vehicle), 2)))
    torn_ends = [spot for spot in mismatches(parts) if spot.spot is Spot.TORN]
    assert [(spot.stop, round(spot.reflection, 6)) for spot in torn_ends] == [(2, 1.0), (2, 1.0)]
    # c1 has half a metre of lead and stands 5 m behind c0, the tear 2.5 m behind c1.
    back = next(echo for echo in echoes(parts, "c0.can", "c1.can") if echo.mismatch.spot is Spot.TORN)
    assert back.late_s == pytest.approx(2 * 2.5 * 5e-9)
    assert echoes(parts, "c0.can", "c2.can") == ()


def test_a_torn_end_without_anything_on_it_reads_open():
    """Behind the last node there is cable and an open connector: nothing that a meter could read."""
    bare_end = (Station("c0.can"), Station("c1.can", at="p1", branch_m=3.0), BRANCHED[3])
    vehicle = faulty(FaultKind.NO_TERMINATOR, 2, vehicle=vehicle_of(bare_end))
    topology = torn(wired(vehicle), 2)
    assert ohms(vehicle, topology)[:2] == pytest.approx([120.0] * 2, abs=0.01)
    assert ohms(vehicle, topology)[2] == float("inf")


def test_an_island_without_a_shunt_reads_infinite_and_disturbs_nobody():
    shunts = np.array([1 / 120.0, 0.0, 0.0, 0.0])
    matrix = resistance_matrix(4, [(0, 1, 1.0), (2, 3, 1.0)], shunts)
    assert list(np.diagonal(matrix)) == pytest.approx([120.0, 121.0, np.inf, np.inf])
    assert matrix[0, 2] == 0.0
    both = resistance_matrix(4, [(0, 1, 1.0), (2, 3, 1.0)], np.array([1 / 120.0, 0.0, 0.0, 1 / 60.0]))
    assert list(readings_without(both, 0, 1 / 120.0)) == pytest.approx([np.inf, np.inf, 61.0, 60.0])


def test_a_trunk_that_comes_back_to_an_unplugged_port_finds_it_open_both_times():
    ring = (Station("c0.can"), Station("c1.can", at="p1", branch_m=1.0), Station("c2.can"), Station("c0.can"))
    vehicle = faulty(FaultKind.UNPLUGGED, 0, vehicle=vehicle_of(ring))
    stations = vehicle.lines["one"].stations
    assert stations[0].port == stations[3].port == f"{OPEN_END}.bus"
    assert wired(vehicle).stops[3].repeated
