from dataclasses import replace

import pytest

from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.model.variant import changed, value_at
from loomwright.terms.change import Change, Edit, path_of, path_text
from loomwright.terms.errors import PathError
from loomwright.terms.fact import Known
from tests.solve.build import port, string_vehicle

VEHICLE = string_vehicle([0.0, 1.0], [port(), port()])


def test_an_edit_deep_inside_changes_that_value_alone():
    path = ("components", "c1", "ports", "can", "pigtail_m")
    after = changed(VEHICLE, Change("longer lead", (Edit(path, Known(0.7)),)))
    assert value_at(after, path) == Known(0.7)
    assert after.components["c0"] is VEHICLE.components["c0"]
    assert after.places == VEHICLE.places


def test_stations_can_be_set_one_by_one_removed_and_replaced():
    here = ("lines", "one", "stations")
    assert changed(VEHICLE, Change("", (Edit((*here, 1, "terminated"), True),))).lines["one"].stations[1].terminated
    assert len(changed(VEHICLE, Change("", (Edit((*here, 0), None),))).lines["one"].stations) == 1
    new = (Station("c1.can"),)
    assert changed(VEHICLE, Change("", (Edit(here, new),))).lines["one"].stations == new


def test_entries_of_a_table_come_and_go():
    after = changed(
        VEHICLE, Change("", (Edit(("places", "extra"), VEHICLE.places["p0"]), Edit(("places", "p1"), None)))
    )
    assert set(after.places) == {"p0", "extra"}


@pytest.mark.parametrize(
    "path",
    [("nowhere",), ("lines", "two", "title"), ("lines", "one", "stations", 9, "at"), ("lines", "one", "colour")],
    ids=path_text,
)
def test_a_path_that_is_not_there_is_told(path):
    with pytest.raises(PathError, match="the vehicle has no"):
        changed(VEHICLE, Change("", (Edit(path, "x"),)))


def test_paths_are_read_back_as_printed():
    path = ("lines", "drive", "stations", 3, "terminated")
    assert path_text(path) == "lines.drive.stations[3].terminated"
    assert path_of(path_text(path)) == path
    with pytest.raises(ValueError, match="no path"):
        path_of("lines..x")


def test_tables_are_equal_whatever_order_they_were_filled_in():
    one, other = Table({"a": 1, "b": 2}), Table([("b", 2), ("a", 1)])
    assert one == other
    assert hash(one) == hash(other)
    assert one.put("c", 3) != one
    assert one.put("b", None) == Table({"a": 1})


def test_equal_content_is_equal_and_hashes_alike():
    again = string_vehicle([0.0, 1.0], [port(), port()])
    assert again == VEHICLE
    assert hash(again) == hash(VEHICLE)
    assert replace(again, name="other") != VEHICLE
