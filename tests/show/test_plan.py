import itertools
import math
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loomwright.model.component import Component
from loomwright.model.table import Table
from loomwright.model.vehicle import Axle, Place, Run, Vehicle
from loomwright.show.plan import vehicle_plan
from loomwright.show.plan.bends import strand_points
from loomwright.show.plan.placing import Field, Wanted, place
from loomwright.show.plan.sheet import WIDTH, sheet_for
from loomwright.show.plan.strands import edge_of, slots, strands_of
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Known, Source, Unknown
from loomwright.terms.finding import Finding, Reading, Verdict
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind
from tests.show.sample import SVG, parsed, shapes, vehicle, wired

VAN = vehicle()
WIRED = wired(VAN)


@pytest.fixture(scope="module")
def root():
    return parsed(vehicle_plan(VAN, WIRED))


def frames(root):
    """Rectangles of the cards, as (left, top, right, bottom)."""
    found = []
    for rect in root.iter(f"{SVG}rect"):
        if rect.get("class") == "card":
            x, y, w, h = (float(rect.get(key, 0)) for key in ("x", "y", "width", "height"))
            found.append((x, y, x + w, y + h))
    return found


def test_every_component_line_place_and_run_has_a_shape(root):
    paths = {shape.get("data-path") for shape in shapes(root)}
    for table in ("components", "lines", "places", "runs"):
        missing = {f"{table}.{name}" for name in getattr(VAN, table)} - paths
        assert not missing
    for name, item in VAN.lines.items():
        assert {f"lines.{name}.stations[{index}]" for index in range(len(item.stations))} <= paths


def test_awkward_names_are_escaped_and_arrive_whole(root):
    texts = {text.text for text in root.iter(f"{SVG}text")}
    assert "Test & <trial> van" in texts
    assert any("Body & <cab> line" in (text or "") for text in texts)
    assert 'Pump <drive> & "loop"' in texts


def test_no_shape_has_a_style_of_its_own(root):
    """A page forbids inline styles, and so does this drawing."""
    assert not [element for element in root.iter() if element.get("style")]
    bare = parsed(vehicle_plan(VAN, WIRED, standalone=False))
    assert not list(bare.iter(f"{SVG}style"))
    assert list(root.iter(f"{SVG}style"))


def test_places_lie_to_scale_with_the_left_side_below(root):
    sheet = sheet_for(VAN)
    for name, spot in VAN.places.items():
        (group,) = shapes(root, f"places.{name}")
        circle = group.find(f"{SVG}circle")
        x, y = float(circle.get("cx")), float(circle.get("cy"))
        assert x == pytest.approx(sheet.nose[0] + spot.x_m * sheet.scale, abs=0.01)  # pixels
        assert y == pytest.approx(spot.y_m * sheet.scale, abs=0.01)
    (plan,) = (g for g in root.iter(f"{SVG}g") if g.get("class") == "plan")
    assert float(plan.get("data-px-per-m")) == pytest.approx(sheet.scale, rel=1e-4)


def test_cards_do_not_overlap_and_stay_on_the_sheet(root):
    boxes = frames(root)
    assert len(boxes) >= len({item.place for item in VAN.components.values()})
    for a, b in itertools.combinations(boxes, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
    assert all(left >= 0 and right <= WIDTH for left, _, right, _ in boxes)
    height = float(root.get("height"))
    (plan,) = (g for g in root.iter(f"{SVG}g") if g.get("class") == "plan")
    down = float(re.search(r"translate\(0 ([-\d.]+)\)", plan.get("transform")).group(1))
    assert all(top + down >= 0 and bottom + down <= height for _, top, _, bottom in boxes)


def test_even_seventy_labels_at_one_spot_do_not_overlap():
    import numpy as np

    field = Field(np.zeros((0, 4)), np.zeros(0), np.zeros((0, 2)), 10.0, 1270.0, -200.0, 200.0)
    placed = place([Wanted((640.0, 0.0), 110.0, 17.0)] * 70, field)
    boxes = [(item.x, item.y) for item in placed]
    for (a, b), (c, d) in itertools.combinations(boxes, 2):
        assert abs(a - c) >= 110.0 or abs(b - d) >= 17.0
    assert all(10.0 <= x <= 1160.0 for x, _ in boxes)


def test_strands_that_share_a_run_lie_beside_each_other():
    sheet = sheet_for(VAN)
    spots = {name: sheet.at(spot) for name, spot in VAN.places.items()}
    strands = tuple(s for n, (name, a) in enumerate(WIRED.items()) for s in strands_of(name, n + 1, a.value, spots))
    slot = slots(strands, spots)
    lanes = {}
    for (number, step), across in slot.items():
        places = strands[number].places
        lanes.setdefault(edge_of(places[step], places[step + 1], spots), []).append(across)
    assert max(len(lane) for lane in lanes.values()) >= 3
    for lane in lanes.values():
        assert sorted(lane) == [index - (len(lane) - 1) / 2 for index in range(len(lane))]
    for number, strand in enumerate(strands):
        corners, joints = strand_points(number, strand, spots, slot)
        assert len(joints) == len(strand.places)
        for joint, name in zip(joints, strand.places, strict=True):
            assert math.dist(joint, spots[name]) < 40.0  # a strand stays with its places
        assert all(math.isfinite(part) for corner in corners for part in corner)


def test_lines_that_run_on_together_do_not_cross():
    """Three lines along a street with a turn keep their order; one that leaves to the left lies on the left."""
    spots = {"a": (0.0, 0.0), "b": (100.0, 0.0), "c": (200.0, 0.0), "up": (200.0, -80.0), "down": (200.0, 80.0)}
    from loomwright.show.plan.strands import Strand

    strands = (
        Strand("one", 1, "trunk", ("a", "b", "down")),
        Strand("two", 2, "trunk", ("a", "b", "c")),
        Strand("three", 3, "trunk", ("a", "b", "up")),
    )
    slot = slots(strands, spots)
    assert slot[2, 0] < slot[1, 0] < slot[0, 0]  # on the sheet: three above two above one


def test_a_line_whose_lengths_are_unknown_is_named_but_not_drawn():
    blocked = {**WIRED, "body": Blocked((("runs", "dash_floor", "length_m"),))}
    root = parsed(vehicle_plan(VAN, blocked))
    texts = " ".join(text.text or "" for text in root.iter(f"{SVG}text"))
    assert "not drawn: 1 length is unknown" in texts
    assert not [shape for shape in shapes(root, "lines.body") if shape.get("data-kind") == "trunk"]
    assert [shape for shape in shapes(root, "lines.drive") if shape.get("data-kind") == "trunk"]


def test_terminations_stand_at_the_ends_with_their_ohms(root):
    texts = [text.text for text in root.iter(f"{SVG}text")]
    assert texts.count("Drive line · 120\u00a0Ω") == 2
    assert sum(element.get("class", "").startswith("end ") for element in root.iter(f"{SVG}rect")) >= 6


def test_a_verdict_is_told_by_a_shape():
    limit = Limit(0.3, Bound.AT_MOST, Kind.LENGTH, Source("a sheet"), Standing.PRACTICE)
    finding = Finding("branch-length", Verdict.BROKEN, -0.2, Reading(("lines", "drive", "stations", 4), 0.5, limit))
    root = parsed(vehicle_plan(VAN, WIRED, (finding,)))
    (card,) = shapes(root, "components.inverter")
    assert [mark for mark in card.iter(f"{SVG}polygon") if mark.get("class") == "mark broken"]


def test_what_is_highlighted_is_lit():
    root = parsed(vehicle_plan(VAN, WIRED, highlight=[("components", "inverter"), ("places", "rear")]))
    lit = {
        shape.get("data-path")
        for shape in shapes(root)
        if any("lit" in (e.get("class") or "").split() for e in shape.iter())
    }
    assert lit == {"components.inverter", "places.rear"}


def test_the_drawing_is_the_same_every_time():
    assert vehicle_plan(VAN, WIRED) == vehicle_plan(vehicle(), wired(vehicle()))


NAMES = st.text(min_size=1, max_size=12)
METRES = st.floats(-30.0, 30.0)


@st.composite
def vehicles(draw):
    names = draw(st.lists(NAMES, min_size=1, max_size=8, unique=True))
    places = Table({name: Place(draw(METRES), draw(METRES), title=draw(NAMES)) for name in names})
    pairs = draw(st.lists(st.tuples(st.sampled_from(names), st.sampled_from(names)), max_size=8))
    runs = Table(
        {
            f"r{n}": Run(a, b, Known(draw(st.floats(0.0, 9.0))) if draw(st.booleans()) else Unknown())
            for n, (a, b) in enumerate(pairs)
            if a != b
        }
    )
    titles = draw(st.lists(NAMES, max_size=12, unique=True))
    components = Table({title: Component("service plug", draw(st.sampled_from(names)), title) for title in titles})
    axles = tuple(Axle(draw(METRES), draw(st.floats(0.1, 3.0))) for _ in range(draw(st.integers(0, 3))))
    size = st.floats(0.001, 30.0) | st.sampled_from([0.0, -1.0])
    return Vehicle(draw(NAMES), draw(size), draw(size), axles, places=places, runs=runs, components=components)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(vehicles())
def test_any_vehicle_can_be_drawn(any_vehicle):
    root = parsed(vehicle_plan(any_vehicle, {}))
    assert {f"components.{name}" for name in any_vehicle.components} <= {
        s.get("data-path") for s in shapes(root)
    } or any(
        ord(letter) < 32 or letter in ".[]" or not letter.isprintable()
        for name in any_vehicle.components
        for letter in name
    )


def test_a_ring_and_a_measured_section_without_runs_can_be_drawn():
    """Both are wrong designs that a finding speaks of; the drawing has to show them all the same."""
    from dataclasses import replace

    from loomwright.model.line import Line, Station
    from loomwright.show.ruler import line_ruler

    stations = (
        Station("fan.can"),
        Station("inverter.can"),
        Station("manager.can", section_m=2.0),
        Station("fan.can"),
        Station(terminator_ohm=Known(120.0), at="rear", section_m=1.0),
    )
    odd = replace(VAN, runs=VAN.runs.put("rail_3_rear", None), lines=Table({"ring": Line("Ring", stations=stations)}))
    topology = wired(odd)["ring"]
    root = parsed(vehicle_plan(odd, {"ring": topology}))
    assert [shape for shape in shapes(root, "lines.ring") if shape.get("data-kind") == "trunk"]
    ruler = parsed(line_ruler("ring", odd.lines["ring"], topology.value, None, odd.components))
    assert "Fan (again)" in {text.text for text in ruler.iter(f"{SVG}text")}
