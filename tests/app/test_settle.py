from loomwright.app.settle import settled, turned
from loomwright.model.line import Station
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Known
from tests.judge.build import sound, with_line


def plan_of(vehicle, stations):
    return settled(Change("plan", (Edit(("lines", "one", "stations"), stations),)), vehicle).edits


def test_a_trunk_told_from_its_other_end_is_the_same_trunk():
    vehicle = sound()
    stations = (
        Station("vcu.a", terminated=True),
        Station("heater.a", at="p3", via=("p1",), section_m=None),
        Station("inverter.a", section_m=2.0),
    )
    there = with_line(vehicle, stations=stations)
    back = with_line(vehicle, stations=turned(stations))
    net = run_ways(vehicle.places, vehicle.runs)
    one, other = (line_topology("one", v.lines["one"], vehicle.components, net).value for v in (there, back))
    assert other.trunk_m == one.trunk_m
    lengths = [[p.length_m for p in wired.pieces if p.kind == "trunk"] for wired in (one, other)]
    assert sorted(lengths[0]) == sorted(lengths[1])
    assert 2.0 in lengths[1]
    assert turned(turned(stations)) == stations


def test_a_plan_from_the_other_end_is_no_change():
    vehicle = sound()
    assert plan_of(vehicle, turned(vehicle.lines["one"].stations)) == ()


def test_a_present_terminator_is_kept_as_it_was_written():
    vehicle = with_line(
        sound(), stations=(Station(terminator_ohm=Known(121.0), at="p0"), *sound().lines["one"].stations[1:])
    )
    planned = (Station(terminator_ohm=Known(120.0), at="p0"), *vehicle.lines["one"].stations[1:])
    assert plan_of(vehicle, planned) == ()


def test_a_real_change_stays():
    vehicle = sound()
    first, second, *rest = vehicle.lines["one"].stations
    assert plan_of(vehicle, (second, first, *rest))[0].value == (second, first, *rest)
