"""Edits that a hand makes on the plan, on a ruler and in the table of locks: each loads as what it says."""

import math

import pytest

from loomwright.app import edits
from loomwright.app.edits.spots import DIRECTIONS
from loomwright.model.variant import changed
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Assumed, Known, Unknown, value_of


def vehicle_of(session):
    return session.view().vehicle


def test_the_next_place_lies_in_the_direction_asked_and_there_is_one_for_most_places(tipper):
    vehicle = vehicle_of(tipper)
    for name, here in vehicle.places.items():
        for word, (ahead_x, ahead_y) in DIRECTIONS.items():
            found = edits.next_place(vehicle, name, word)
            along = [
                (place.x_m - here.x_m) * ahead_x + (place.y_m - here.y_m) * ahead_y for place in vehicle.places.values()
            ]
            if found:
                there = vehicle.places[found]
                assert (there.x_m - here.x_m) * ahead_x + (there.y_m - here.y_m) * ahead_y > 0.0
            else:
                assert max(along) <= 1e-6


def test_a_direction_that_is_none_is_refused(tipper):
    with pytest.raises(edits.EditError, match="no direction"):
        edits.next_place(vehicle_of(tipper), "dash_left", "sideways")


def test_a_spot_beside_a_run_is_moved_onto_it_and_one_far_off_stays(begun):
    vehicle = vehicle_of(begun)
    nose, dash = vehicle.places["nose"], vehicle.places["dash"]
    middle_m = (nose.x_m + dash.x_m) / 2
    assert edits.snapped(vehicle, middle_m, 0.05) == (pytest.approx(middle_m), pytest.approx(0.0), "nose_dash")
    assert edits.snapped(vehicle, middle_m, 0.30) == (middle_m, 0.30, "")
    # A place on the move is not held by its own runs.
    assert edits.snapped(vehicle, middle_m, 0.05, "dash") == (middle_m, 0.05, "")


def test_a_place_on_a_run_divides_it_and_the_lengths_are_told_as_shares(tipper):
    vehicle = vehicle_of(tipper)
    name = next(n for n, run in vehicle.runs.items() if isinstance(run.length_m, Known))
    run = vehicle.runs[name]
    a, b = vehicle.places[run.start], vehicle.places[run.end]
    spot = (a.x_m + 0.25 * (b.x_m - a.x_m), a.y_m + 0.25 * (b.y_m - a.y_m))
    place, change = edits.new_place(vehicle, *spot)
    tipper.apply(change)
    after = vehicle_of(tipper)
    first = after.runs[name]
    second = next(r for r in after.runs.values() if r.start == place)
    assert (first.start, first.end, second.end) == (run.start, place, run.end)
    assert isinstance(first.length_m, Assumed)
    assert "lay a string" in first.length_m.why
    # 0.01 m: both parts are kept to the centimetre
    assert first.length_m.value + second.length_m.value == pytest.approx(run.length_m.value, abs=0.0101)
    assert first.length_m.value == pytest.approx(0.25 * run.length_m.value, abs=0.0101)


def test_a_run_of_unknown_length_stays_unknown_when_it_is_divided(begun):
    vehicle = vehicle_of(begun)
    vehicle = changed(vehicle, Change("", (Edit(("runs", "nose_dash", "length_m"), Unknown()),)))
    after = changed(vehicle, edits.divide_run(vehicle, "nose_dash", "here", 0.8, 0.0))
    assert all(isinstance(run.length_m, Unknown) for run in after.runs.values() if "here" in (run.start, run.end))


def test_a_place_in_the_open_gets_a_free_name_and_no_run(begun):
    name, change = edits.new_place(vehicle_of(begun), 2.0, 0.7)
    begun.apply(change)
    again, _ = edits.new_place(vehicle_of(begun), 2.5, 0.7)
    assert name == "place"
    assert again == "place_2"
    assert math.isclose(vehicle_of(begun).places["place"].y_m, 0.7)


def test_moving_a_place_up_stretches_the_runs_that_were_assumed_straight(begun):
    vehicle = vehicle_of(begun)
    dash = vehicle.places["dash"]
    before = value_of(vehicle.runs["nose_dash"].length_m)
    begun.apply(edits.move_place(vehicle, "dash", dash.x_m, dash.y_m, 1.0))
    after = vehicle_of(begun)
    assert after.places["dash"].z_m == 1.0
    assert value_of(after.runs["nose_dash"].length_m) > before


def test_a_line_is_begun_and_taken_out_with_its_locks(begun):
    name, change = edits.add_line(vehicle_of(begun), "Old line")
    begun.apply(change)
    assert name == "old_line"
    assert isinstance(vehicle_of(begun).lines[name].bit_rate_bit_per_s, Unknown)
    begun.apply(edits.add_lock(vehicle_of(begun), "service_plug.main", "be on line", line=name, why="the plug of it"))
    begun.apply(edits.remove_line(vehicle_of(begun), name))
    assert name not in vehicle_of(begun).lines
    assert not vehicle_of(begun).locks


@pytest.mark.parametrize(("first", "index"), [(True, 0), (False, -1)])
def test_a_terminator_is_plugged_in_at_an_end(begun, first, index):
    begun.apply(edits.add_terminator(vehicle_of(begun), "main", "nose", first=first))
    station = vehicle_of(begun).lines["main"].stations[index]
    assert (station.at, value_of(station.terminator_ohm)) == ("nose", 120.0)


def test_a_lock_asks_for_its_reason_and_for_what_its_kind_needs(begun):
    vehicle = vehicle_of(begun)
    with pytest.raises(edits.EditError, match="says why"):
        edits.add_lock(vehicle, "service_plug.main", "be at an end")
    with pytest.raises(edits.EditError, match="no line"):
        edits.add_lock(vehicle, "service_plug.main", "be on line", why="so")
    with pytest.raises(edits.EditError, match="no port"):
        edits.add_lock(vehicle, "service_plug.rear", "be at an end", why="so")
    with pytest.raises(edits.EditError, match="itself"):
        edits.add_lock(vehicle, "service_plug.main", "share a line with", other="service_plug.main", why="so")
    begun.apply(edits.add_lock(vehicle, "service_plug.main", "be at an end", line="main", why="easy to reach"))
    (name,) = vehicle_of(begun).locks
    assert vehicle_of(begun).locks[name].line == ""
    with pytest.raises(edits.EditError, match="already"):
        edits.add_lock(vehicle_of(begun), "service_plug.main", "be at an end", why="twice")
    begun.apply(edits.remove_lock(vehicle_of(begun), name))
    assert not vehicle_of(begun).locks
