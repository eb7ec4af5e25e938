"""Which readings tell a fault from its look-alikes: held against resistors in one's head, and against the lines themselves."""

import math
from dataclasses import replace

import pytest

from loomwright.model.fault import Fault, FaultKind, with_fault
from loomwright.model.line import Station
from loomwright.model.vehicle import Cable
from loomwright.solve.fault_finding import Faulty, fault_finding, wired_with
from loomwright.solve.faults import possible_faults
from loomwright.solve.ohms import line_ohms
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Known, Unknown
from tests.solve.build import port, string_vehicle

CABLE = Cable(conductor_resistance_ohm_per_m=Known(0.0), impedance_ohm=Known(120.0), delay_s_per_m=Known(5e-9))
NODE_OHM = 30e3


def vehicle_of(last="fixed"):
    """120 ohm in the first component and the last; one between them on a branch of 3 m, one that the trunk passes."""
    kinds = ("fixed", "none", "none", last)
    ports = [port(kind, node_ohm=NODE_OHM, lead_m=0.5 if at == 1 else 0.0) for at, kind in enumerate(kinds)]
    stations = (Station("c0.can"), Station("c1.can", at="p1", branch_m=3.0), Station("c2.can"), Station("c3.can"))
    vehicle = string_vehicle([0.0, 5.0, 10.0, 15.0], ports, stations, CABLE)
    return replace(vehicle, lines=vehicle.lines.put("one", replace(vehicle.lines["one"], stations=stations)))


def wired(vehicle):
    net = run_ways(vehicle.places, vehicle.runs)
    return line_topology("one", vehicle.lines["one"], vehicle.components, net).value


def found(kind, station, vehicle=None, length_m=2.0):
    vehicle = vehicle or vehicle_of()
    fault = Fault(kind, station, length_m if kind is FaultKind.STUB else 0.0)
    faulty = with_fault(vehicle, "one", fault)
    topology = wired(faulty)
    stations = tuple(range(len(topology.stops)))
    if kind is FaultKind.STUB:
        stations = (*range(station + 1), None, *range(station + 1, len(stations) - 1))
    given = Faulty(faulty.lines["one"], faulty.components, topology, stations)
    sound = wired(vehicle)
    return fault_finding(vehicle.lines["one"], vehicle.components, CABLE, sound, fault, given).value


def parallel(*ohm):
    return 1.0 / sum(1.0 / one for one in ohm)


def read(readings):
    return [own.ohm for own in readings]


def test_a_missing_termination_is_told_by_taking_one_plug_off():
    missing = found(FaultKind.NO_TERMINATOR, 3)
    assert read(missing.steps[0].readings) == pytest.approx([parallel(120.0, *[NODE_OHM] * 4)] * 4)
    assert read(missing.sound) == pytest.approx([parallel(60.0, *[NODE_OHM] * 4)] * 4)
    assert [step.unplugged for step in missing.steps] == [None, 0]
    # With the plug of the first off, nothing but three inputs is left; were the first the missing one, 120 ohm would be.
    assert read(missing.steps[1].readings) == pytest.approx([NODE_OHM / 3] * 4)
    other = next(look for look in missing.steps[1].others if look.fault == Fault(FaultKind.NO_TERMINATOR, 0))
    assert read(other.readings) == pytest.approx([parallel(120.0, *[NODE_OHM] * 3)] * 4)
    assert missing.left == ()
    assert missing.seen


@pytest.mark.parametrize("station", [2, 3])
def test_a_torn_trunk_changes_its_reading_where_it_is_torn(station):
    tear = found(FaultKind.OPEN_TRUNK, station)
    assert [step.unplugged for step in tear.steps] == [None, 0]
    before = NODE_OHM / (station - 1)
    beyond = parallel(120.0, *[NODE_OHM] * (4 - station))
    assert read(tear.steps[1].readings) == pytest.approx([before] * station + [beyond] * (4 - station))
    assert tear.left == ()


def test_before_the_plug_is_off_a_torn_trunk_looks_like_a_missing_termination():
    tear = found(FaultKind.OPEN_TRUNK, 2)
    alike = {look.fault for look in tear.steps[0].others if not look.apart}
    assert alike == {
        Fault(FaultKind.NO_TERMINATOR, 0),
        Fault(FaultKind.NO_TERMINATOR, 3),
        Fault(FaultKind.OPEN_TRUNK, 1),
        Fault(FaultKind.OPEN_TRUNK, 3),
    }


def test_a_torn_branch_reads_its_own_component_and_open_with_the_plug_off():
    branch = found(FaultKind.OPEN_BRANCH, 1)
    rest = parallel(60.0, *[NODE_OHM] * 3)
    assert read(branch.steps[0].readings) == pytest.approx([rest, NODE_OHM, rest, rest])
    assert all(look.apart for look in branch.steps[0].others)
    assert branch.steps[1].unplugged == 1
    assert read(branch.steps[1].readings) == pytest.approx([rest, math.inf, rest, rest])
    assert [look.fault for look in branch.steps[1].others] == [None]
    assert branch.left == ()


@pytest.mark.parametrize(("kind", "station"), [(FaultKind.STUB, 1), (FaultKind.STUB, 2), (FaultKind.UNPLUGGED, 1)])
def test_what_no_meter_sees_is_said_to_be_unseen(kind, station):
    blind = found(kind, station)
    assert not blind.seen
    assert len(blind.steps) == 1
    assert read(blind.steps[0].readings) == pytest.approx(read(blind.sound), rel=0.01)
    assert [own.stop for own in blind.steps[0].readings] == [0, 1, 2, 3]


def test_two_tears_in_one_piece_of_cable_are_not_told_apart():
    """An end that hangs on a stub of its own: torn off at the joint or in the trunk beside it is one cut to a meter."""
    vehicle = vehicle_of()
    stations = (Station("c0.can", at="p1", branch_m=5.0), *vehicle.lines["one"].stations[2:])
    vehicle = replace(vehicle, lines=vehicle.lines.put("one", replace(vehicle.lines["one"], stations=stations)))
    assert found(FaultKind.OPEN_BRANCH, 0, vehicle).left == (Fault(FaultKind.OPEN_TRUNK, 1),)
    assert found(FaultKind.OPEN_TRUNK, 1, vehicle).left == (Fault(FaultKind.OPEN_BRANCH, 0),)


def test_a_termination_that_the_trunk_passes_is_not_pulled():
    """Three are on; with the plug of the one between, the trunk would come apart."""
    vehicle = vehicle_of()
    own = vehicle.components["c2"]
    fixed = own.ports.put("can", replace(own.ports["can"], termination=Known("fixed")))
    vehicle = replace(vehicle, components=vehicle.components.put("c2", replace(own, ports=fixed)))
    for station in (0, 2, 3):
        pulled = {step.unplugged for step in found(FaultKind.NO_TERMINATOR, station, vehicle).steps}
        assert 2 not in pulled


def test_a_termination_nobody_knows_blocks():
    vehicle = vehicle_of()
    own = vehicle.components["c0"]
    unknown = own.ports.put(
        "can", replace(own.ports["can"], termination_ohm=Known(120.0), node_resistance_ohm=Unknown())
    )
    vehicle = replace(vehicle, components=vehicle.components.put("c0", replace(own, ports=unknown)))
    sound = wired(vehicle)
    line = vehicle.lines["one"]
    given = Faulty(line, vehicle.components, sound, (0, 1, 2, 3))
    answer = fault_finding(line, vehicle.components, CABLE, sound, Fault(FaultKind.OPEN_TRUNK, 2), given)
    assert answer == Blocked((("components", "c0", "ports", "can", "node_resistance_ohm"),))


def test_readings_of_a_missing_termination_are_those_of_the_vehicle_without_it():
    vehicle = vehicle_of()
    for fault in possible_faults(wired(vehicle), vehicle.components):
        if fault.kind is not FaultKind.NO_TERMINATOR:
            continue
        line, components = vehicle.lines["one"], vehicle.components
        here = line_ohms(line, components, CABLE, wired_with(wired(vehicle), fault)).value
        there = with_fault(vehicle, "one", fault)
        told = line_ohms(there.lines["one"], there.components, CABLE, wired(there)).value
        assert read(here.stops) == pytest.approx(read(told.stops))
