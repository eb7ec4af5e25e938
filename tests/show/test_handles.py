"""What a page can take hold of: nothing on paper, every place and component on the page."""

import dataclasses

import pytest

from loomwright.model.vehicle import Lock
from loomwright.show.plan import plan_wires, sheet_for, vehicle_plan
from loomwright.show.ruler import line_ruler
from loomwright.terms.answer import Solved
from loomwright.terms.fact import Known
from tests.show.sample import SVG, parsed, shapes, vehicle, wired

VAN = vehicle()
WIRED = wired(VAN)
LINE = next(iter(VAN.lines))


def handles(root, kind):
    return [shape for shape in root.iter(f"{SVG}g") if shape.get("data-handle") == kind]


def ruler(line=None, **more):
    topology = WIRED[LINE]
    assert isinstance(topology, Solved)
    return parsed(line_ruler(LINE, line or VAN.lines[LINE], topology.value, None, VAN.components, **more))


def test_on_paper_nothing_can_be_focused():
    root = parsed(vehicle_plan(VAN, WIRED))
    assert root.get("role") == "img"
    assert not [shape for shape in root.iter() if shape.get("tabindex")]
    assert not [shape for shape in ruler().iter() if shape.get("tabindex")]


def test_on_a_page_every_place_and_component_has_one_handle_with_words():
    root = parsed(vehicle_plan(VAN, WIRED, handles=True))
    assert root.get("role") == "group"  # a picture may hold nothing that can be focused
    for kind, table in (("place", VAN.places), ("component", VAN.components)):
        found = handles(root, kind)
        assert sorted(shape.get("data-path") for shape in found) == sorted(f"{kind}s.{name}" for name in table)
        assert all(shape.get("aria-label") and shape.get("tabindex") == "0" for shape in found)
    for shape in handles(root, "component"):
        name = shape.get("data-path").partition(".")[2]
        assert shape.get("data-place") == VAN.components[name].place


def test_an_emphasised_line_alone_keeps_its_labels_and_offers_its_stops():
    root = parsed(vehicle_plan(VAN, WIRED, handles=True, emphasis=LINE))
    on_it = {station.port.partition(".")[0] for station in VAN.lines[LINE].stations if station.port}
    assert {shape.get("data-path") for shape in handles(root, "component")} == {f"components.{n}" for n in on_it}
    assert {shape.get("data-path").split("[")[0] for shape in handles(root, "stop")} == {f"lines.{LINE}.stations"}
    faint = {shape.get("data-path").split(".")[1] for shape in shapes(root) if _is_faint(shape)}
    assert faint == set(VAN.lines) - {LINE}


def test_the_lines_alone_are_what_the_plan_shows_of_them():
    whole = vehicle_plan(VAN, WIRED, handles=True)
    assert plan_wires(VAN, WIRED, sheet_for(VAN)) in whole


def test_a_lock_is_drawn_with_its_reason():
    name = next(iter(VAN.components))
    lock = Lock(f"{name}.can", "be at an end", why="the maker wants it last")
    locked = dataclasses.replace(VAN, locks=VAN.locks.put("last", lock))
    (shape,) = [
        shape for shape in shapes(parsed(vehicle_plan(locked, WIRED))) if shape.get("data-path") == "locks.last"
    ]
    assert "the maker wants it last" in (shape.findtext(f"{SVG}title") or "")


def test_on_a_page_every_stop_of_a_ruler_can_be_taken_and_tells_where_it_stands():
    root = ruler(handles=True)
    count = len(VAN.lines[LINE].stations)
    assert [shape.get("data-index") for shape in handles(root, "station")] == [str(n) for n in range(count)]
    rings = [shape for shape in root.iter(f"{SVG}g") if shape.get("data-x")]
    assert len(rings) == count
    assert [float(ring.get("data-x")) for ring in rings] == sorted(float(ring.get("data-x")) for ring in rings)


@pytest.mark.parametrize(("kind", "number"), [("switchable", 1), ("fixed", 0)])
def test_only_a_switchable_termination_can_be_switched(kind, number):
    topology = WIRED[LINE]
    assert isinstance(topology, Solved)
    index = next(n for n, station in enumerate(VAN.lines[LINE].stations) if station.port)
    component, _, port = VAN.lines[LINE].stations[index].port.partition(".")
    whole = VAN.components[component]
    changed = dataclasses.replace(whole.ports[port], termination=Known(kind), termination_ohm=Known(120.0))
    parts = VAN.components.put(component, dataclasses.replace(whole, ports=whole.ports.put(port, changed)))
    stops = tuple(
        dataclasses.replace(stop, termination="off", termination_ohm=Known(120.0)) if stop.index == index else stop
        for stop in topology.value.stops
    )
    wired_so = dataclasses.replace(topology.value, stops=stops)
    root = parsed(line_ruler(LINE, VAN.lines[LINE], wired_so, None, parts, handles=True))
    marks = [shape for shape in handles(root, "termination") if shape.get("data-index") == str(index)]
    assert len(marks) == number


def _is_faint(shape):
    return any("faint" in (inner.get("class") or "").split() for inner in shape.iter())
