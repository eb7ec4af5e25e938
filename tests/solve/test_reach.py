from dataclasses import replace

from loomwright.model.component import Component
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.solve.reach import reach
from loomwright.solve.unknowns import facts_of, unknowns
from loomwright.terms.fact import Unknown
from tests.solve.build import port, string_vehicle


def network(gateway_role):
    components = Table(
        {
            "vcu": Component("vehicle controller", "p", ports=Table({"a": port()})),
            "box": Component(gateway_role, "p", ports=Table({"a": port(), "b": port()})),
            "pump": Component("coolant pump", "p", ports=Table({"a": port()})),
        }
    )
    lines = Table(
        {
            "one": Line(stations=(Station("vcu.a"), Station("box.a"))),
            "two": Line(stations=(Station("box.b"), Station("pump.a"))),
        }
    )
    return components, lines


def test_a_gateway_carries_messages_on():
    assert reach(*network("gateway")).unreached == ()


def test_a_box_that_is_no_gateway_does_not():
    result = reach(*network("charger"))
    assert result.unreached == ("pump",)
    assert result.dark_lines == ("two",)


def test_every_port_is_listed_with_its_lines():
    on_lines = dict(reach(*network("gateway")).on_lines)
    assert on_lines == {"vcu.a": ("one",), "box.a": ("one",), "box.b": ("two",), "pump.a": ("two",)}


def test_open_questions_are_ranked_by_what_they_free():
    vehicle = string_vehicle([0.0, 1.0], [replace(port(), termination=Unknown()), port()])
    path = ("components", "c0", "ports", "can", "termination")
    first, *others = unknowns(vehicle, [("ohms of one", (path,)), ("levels of one", (path,))])
    assert first.path == path
    assert first.blocks == ("ohms of one", "levels of one")
    assert "terminating resistor" in first.question
    assert all(not question.blocks for question in others)


def test_every_fact_of_the_vehicle_is_met_once():
    paths = [item.path for item in facts_of(string_vehicle([0.0, 1.0], [port(), port()]))]
    assert len(paths) == len(set(paths))
    assert ("runs", "r0", "length_m") in paths
    assert ("lines", "one", "bit_rate_bit_per_s") in paths
