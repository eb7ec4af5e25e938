import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.model.table import Table
from loomwright.show.ruler import Strip, line_ruler
from loomwright.show.ruler.scale import COLUMN, LEFT, WIDTH, columns, scale_for
from loomwright.solve.topology import LineTopology, Stop, torn
from loomwright.terms.fact import Known, Source
from loomwright.terms.finding import Finding, Reading, Verdict
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind
from tests.show.sample import SVG, ohms, parsed, shapes, vehicle, wired

VAN = vehicle()
WIRED = wired(VAN)


def ruler(name="drive", **more):
    topology = WIRED[name].value
    readings = ohms(VAN, name, topology).value
    return parsed(line_ruler(name, VAN.lines[name], topology, readings, VAN.components, **more))


def ring(root, name, index):
    group = next(shape for shape in shapes(root, f"lines.{name}.stations[{index}]") if shape.get("data-distance-m"))
    circle = group.find(f"{SVG}circle")
    return float(circle.get("cx")), group


@pytest.mark.parametrize("name", VAN.lines)
def test_stations_stand_at_their_distance(name):
    root, topology = ruler(name), WIRED[name].value
    per_m = scale_for(topology).per_m
    first, _ = ring(root, name, 0)
    for stop in topology.stops:
        x, _ = ring(root, name, stop.index)
        assert (x - first) / per_m == pytest.approx(stop.distance_m, abs=0.001)  # metres


def test_branches_hang_at_their_length_to_the_same_scale():
    root, topology = ruler("body"), WIRED["body"].value
    per_m = scale_for(topology).per_m
    hanging = [stop for stop in topology.stops if stop.branch_m > 0.0]
    assert hanging
    for stop in hanging:
        _, group = ring(root, "body", stop.index)
        ends = [
            float(part.split(",")[1]) for shape in group.iter(f"{SVG}polyline") for part in shape.get("points").split()
        ]
        ends += [float(shape.get("y2")) for shape in group.iter(f"{SVG}line")]
        top = float(group.find(f"{SVG}circle").get("cy"))
        assert (max(ends) - top) / per_m == pytest.approx(stop.branch_m, abs=0.001)  # metres


def test_the_expected_reading_stands_under_each_station():
    topology = WIRED["drive"].value
    readings = ohms(VAN, "drive", topology).value
    texts = [text.text for text in ruler("drive").iter(f"{SVG}text")]
    for stop in readings.stops:
        assert f"{stop.ohm:.1f}" in texts
    assert any(text and text.startswith("meter reads") for text in texts)


def test_a_ruler_without_readings_says_so():
    root = parsed(line_ruler("drive", VAN.lines["drive"], WIRED["drive"].value, None, VAN.components))
    assert any("facts are missing" in (text.text or "") for text in root.iter(f"{SVG}text"))


def test_strips_stand_in_the_columns_of_the_stations():
    count = len(WIRED["drive"].value.stops)
    strip = Strip("settling", "ns", (*(100.0 + index for index in range(count - 1)), None))
    texts = [text.text for text in ruler("drive", strips=(strip,)).iter(f"{SVG}text")]
    assert "settling, ns" in texts
    assert "103" in texts
    assert "?" in texts


@pytest.mark.parametrize("verdict", list(Verdict))
def test_a_verdict_has_word_and_shape(verdict):
    limit = Limit(0.3, Bound.AT_MOST, Kind.LENGTH, Source("a sheet"), Standing.PRACTICE)
    reading = Reading(("lines", "drive", "stations", 2), 0.5, limit, line="drive")
    root = ruler("drive", findings=(Finding("branch-length", verdict, 0.1, reading),))
    (mark,) = (shape for shape in shapes(root, "lines.drive.stations[2]") if shape.get("class") == "verdict")
    assert verdict.value in [text.text for text in mark.iter(f"{SVG}text")]
    drawn = {f"{e.tag.removeprefix(SVG)} {e.get('class')}" for e in mark.iter() if "mark" in (e.get("class") or "")}
    expected = {
        Verdict.HOLDS: {"circle mark holds"},
        Verdict.TIGHT: {"circle mark tight", "path mark half"},
        Verdict.BROKEN: {"polygon mark broken"},
        Verdict.UNKNOWN: {"circle mark unknown"},
    }
    assert drawn == expected[verdict]


def line_of(distances, branches=()):
    stops = tuple(
        Stop(index, f"c{index}.can", index, index, "p", "p", distance, branch, "off", Known(120.0))
        for index, (distance, branch) in enumerate(itertools.zip_longest(distances, branches, fillvalue=0.0))
    )
    return LineTopology("x", len(stops), (), stops, max(distances, default=0.0))


def test_names_of_stations_close_together_do_not_collide():
    topology = line_of([0.0, 0.01, 0.02, 0.03, 5.0, 5.01, 20.0])
    root = parsed(line_ruler("x", VAN.lines["drive"], topology, None, Table()))
    labels = [shape.find(f"{SVG}text") for shape in shapes(root) if shape.get("class") == "label"]
    xs = [float(label.get("x")) for label in labels]
    assert min(b - a for a, b in itertools.pairwise(xs)) >= 16.0  # slanted at 45 degrees: 11 px between lines of text
    for label in labels:
        assert float(label.get("x")) + float(label.get("textLength")) * 0.7072 <= WIDTH


@pytest.mark.parametrize("distances", [[], [0.0], [0.0, 0.0], [0.1 * n for n in range(90)]])
def test_any_number_of_stations_can_be_drawn(distances):
    topology = line_of(distances, [0.3] * len(distances))
    assert len(list(shapes(parsed(line_ruler("x", VAN.lines["drive"], topology, None, Table()))))) >= len(distances)


def test_the_ruler_is_the_same_every_time():
    args = ("body", VAN.lines["body"], WIRED["body"].value, None, VAN.components)
    assert line_ruler(*args) == line_ruler(*args)


@given(st.lists(st.floats(LEFT, 1162.0), min_size=1, max_size=60))
def test_columns_keep_order_and_distance_and_stay_on_the_sheet(wished):
    wished = sorted(wished)
    at = columns(wished)
    gap = min(COLUMN, (WIDTH - 58.0 - LEFT) / max(1, len(wished) - 1))
    assert all(b - a >= gap - 1e-6 for a, b in itertools.pairwise(at))
    assert at[0] >= LEFT - 1e-6
    assert at[-1] <= WIDTH - 58.0 + 1e-6


def test_columns_with_room_stand_exactly_under_their_stations():
    assert columns([200.0, 300.0, 500.0]) == pytest.approx((200.0, 300.0, 500.0))


def test_a_torn_trunk_has_a_gap_where_it_is_torn():
    topology = torn(WIRED["drive"].value, 2)
    root = parsed(line_ruler("drive", VAN.lines["drive"], topology, None, VAN.components))
    first, _ = ring(root, "drive", 0)
    per_m = scale_for(topology).per_m
    (trunk,) = [shape for shape in shapes(root, "lines.drive") if shape.get("data-kind") == "trunk"]
    level = [part for part in trunk.iter(f"{SVG}line") if part.get("y1") == part.get("y2")]
    ends = [(float(part.get("x1")), float(part.get("x2"))) for part in level if "lead" not in part.get("class")]
    (_, stop), (start, _) = sorted(ends)
    stops = topology.stops
    middle = (stops[1].distance_m + stops[2].distance_m) / 2.0
    assert ((stop + start) / 2.0 - first) / per_m == pytest.approx(middle, abs=0.001)  # metres
    assert 4.0 < start - stop < 12.0
