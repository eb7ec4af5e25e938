"""What is asked while something is dragged, what a typed cell means, what the pages of vehicle and lines are made of."""

import math

import pytest

from loomwright.app import edits
from loomwright.app.arranging import NoPlanError, apply_plan, arranging, progress_words, put_away
from loomwright.app.cells import cell, set_cell
from loomwright.app.drags import drag, drag_station
from loomwright.app.fields import UnreadableFieldError
from loomwright.app.jobs import Job
from loomwright.app.line_page import line_page
from loomwright.app.plan_drawing import plan, spot_m
from loomwright.app.vehicle_page import vehicle_page
from loomwright.terms.change import path_of
from loomwright.terms.fact import Known, Unknown


def vehicle_of(session):
    return session.view().vehicle


def ask_move(session, component, place):
    change = edits.move_component(vehicle_of(session), component, place)
    return session.ask(lambda project: drag(project, change, component=component))


def test_a_component_on_the_move_tells_its_branch_on_every_line_it_is_on(tipper):
    tried = ask_move(tipper, "vehicle_controller", "nose_left")
    whole = vehicle_of(tipper)
    on = [
        line.title for line in whole.lines.values() for s in line.stations if s.port.startswith("vehicle_controller.")
    ]
    assert [line.title for line in tried.lines] == on
    assert all(line.branch.changed or line.trunk.changed for line in tried.lines)
    assert tried.title == "move vehicle_controller to nose_left"


def test_a_try_writes_nothing_and_answers_as_the_written_change_does(tipper):
    before = vehicle_of(tipper)
    tried = ask_move(tipper, "thermal_controller", "nose_left")
    assert vehicle_of(tipper) == before
    assert tried.counts == (("broken", type(tried.counts[0][1])("0", "1")),)
    assert tried.new == (("broken", "Length of each branch"),)
    tipper.apply(edits.move_component(before, "thermal_controller", "nose_left"))
    assert tried.wires in tipper.ask(plan), "the lines that were shown are those of the plan that follows"
    back = ask_move(tipper, "thermal_controller", before.components["thermal_controller"].place)
    assert back.gone == tried.new


def test_a_place_on_the_move_tells_where_it_is_and_which_measured_runs_stay(tipper):
    whole = vehicle_of(tipper)
    spot = whole.places["dash_left"]
    change = edits.move_place(whole, "dash_left", spot.x_m + 0.1, spot.y_m)
    tried = tipper.ask(lambda project: drag(project, change, place="dash_left"))
    assert f"x {spot.x_m + 0.1:.2f}" in tried.title.replace("\u202f", " ")
    assert "lay the string again" in tried.notes[0]
    assert tried.spot is not None
    assert spot_m(whole, *tried.spot) == pytest.approx((spot.x_m + 0.1, spot.y_m))


def test_a_stop_on_the_move_brings_the_ruler_as_it_would_be(tipper):
    tried, ruler = tipper.ask(lambda project: drag_station(project, "body", 3, 7, None))
    assert [line.title for line in tried.lines] == ["Body line"]
    assert tried.lines[0].trunk.changed
    assert ruler != tipper.ask(lambda project: line_page(project, "body")).ruler
    with pytest.raises(edits.EditError, match="no stop"):
        tipper.ask(lambda project: drag_station(project, "body", 99, 1, None))


@pytest.mark.parametrize(
    ("path", "words", "unit", "there"),
    [
        ("places.console.x_m", "1.2", "m", 1.2),
        ("places.console.y_m", "-5 cm", "m", -0.05),
        ("places.console.z_m", "0.9 m", "m", 0.9),
        ("places.console.wet", "yes", "", True),
        ("places.console.title", "between the seats", "", "between the seats"),
        ("runs.bulkhead_dash_left.length_m", "0.5", "m", Known(0.5)),
        ("runs.bulkhead_dash_left.length_m", "?", "m", Unknown()),
        ("runs.bulkhead_dash_left.high_voltage_clearance_m", "", "m", None),
        ("runs.bulkhead_dash_left.end", "console", "", "console"),
        ("components.display.place", "console", "", "console"),
        ("lines.body.stations[2].at", "seat_left", "", "seat_left"),
    ],
)
def test_a_cell_means_what_a_file_would(tipper, path, words, unit, there):
    tipper.apply(set_cell(vehicle_of(tipper), path_of(path), words, unit))
    now = vehicle_of(tipper)
    for step in path_of(path):
        now = now[step] if isinstance(step, int) or hasattr(now, "keys") else getattr(now, step)
    assert now == there


@pytest.mark.parametrize(
    ("path", "words", "unit", "why"),
    [
        ("places.console.x_m", "far", "m", "far"),
        ("places.nowhere.x_m", "1 m", "m", "no place"),
        ("places.console", "Middle Console", "", "no name"),
        ("places.console", "dash_left", "", "already"),
        ("runs.bulkhead_dash_left.length_m", "some", "m", "some"),
        ("runs.bulkhead_dash_left.end", "nowhere", "", "no place"),
        ("runs.bulkhead_dash_left.end", "bulkhead", "", "two different"),
        ("components.display.place", "nowhere", "", "no place"),
        ("lines.body.stations[2].at", "nowhere", "", "no place"),
    ],
)
def test_a_cell_that_cannot_be_says_why(tipper, path, words, unit, why):
    with pytest.raises((edits.EditError, UnreadableFieldError), match=why):
        set_cell(vehicle_of(tipper), path_of(path), words, unit)


def test_figures_in_cells_stand_without_unit_and_to_the_centimetre(tipper):
    whole = vehicle_of(tipper)
    shown = cell(whole, path_of("places.console.x_m"), "x", "m")
    assert shown.value == "1.14"
    assert cell(whole, path_of("runs.bulkhead_dash_left.length_m"), "length", "m").value == "0.30"


def test_a_renamed_place_takes_what_leans_on_it_along(tipper):
    tipper.apply(set_cell(vehicle_of(tipper), path_of("places.console"), "middle_console"))
    whole = vehicle_of(tipper)
    assert whole.components["gear_selector"].place == "middle_console"
    assert "console" not in {end for run in whole.runs.values() for end in (run.start, run.end)}


def test_the_vehicle_page_tells_every_component_place_run_and_cable_once(tipper):
    shown, whole = tipper.ask(vehicle_page), vehicle_of(tipper)
    for rows, table in (
        (shown.components, whole.components),
        (shown.places, whole.places),
        (shown.runs, whole.runs),
        (shown.cables, whole.cables),
    ):
        assert [row.name for row in rows] == list(table)
    held = {title for row in shown.places for title in row.holds}
    assert held == {row.title for row in shown.components}
    for row in shown.runs:
        assert float(row.straight) <= float(row.length.value) + 0.01


def test_a_line_page_tells_readings_with_one_thing_unplugged(tipper):
    whole = tipper.ask(lambda project: line_page(project, "body"))
    left = tipper.ask(lambda project: line_page(project, "body", "terminator 1"))
    assert whole.without == ""
    assert left.without == "terminator 1"
    for before, after in zip(whole.stops, left.stops, strict=True):
        assert before.ohm == after.ohm, "the plugged reading stays beside it"
        # Of two terminators of 120 ohm one is left, so the reading about doubles.
        assert math.isclose(float(after.without), 2 * float(before.ohm), rel_tol=0.05)
    assert tipper.ask(lambda project: line_page(project, "body", "nothing known")).without == ""


def test_ports_that_could_join_are_offered_the_free_ones_first(tipper):
    page = tipper.ask(lambda project: line_page(project, "body"))
    offered = {port for port, _ in (*page.free_ports, *page.taken_ports)}
    whole = vehicle_of(tipper)
    every = {f"{name}.{port}" for name, component in whole.components.items() for port in component.ports}
    assert offered == every - {station.port for station in whole.lines["body"].stations}


def test_a_line_that_waits_for_facts_has_a_page_all_the_same(begun):
    page = begun.ask(lambda project: line_page(project, "main"))
    assert page.waits_for
    assert [row.termination for row in page.stops] == ["?", "none"]


def test_progress_is_told_in_metres_or_in_rules():
    job: Job[None] = Job("x", "r", lambda _report, _cancelled: None)
    assert progress_words(job) == "setting up"
    job.stage, job.best, job.bound = "shortest cable", math.inf, 3.5
    assert progress_words(job) == "shortest cable: nothing found yet, none can go below 3.50 m"
    job.stage, job.best, job.bound = "fewest broken rules", 2.0, 1.0
    assert progress_words(job) == "fewest broken rules: best so far 2, none can go below 1"


def test_without_a_plan_there_is_nothing_to_apply_or_put_away(tipper):
    assert arranging(tipper).state == ""
    for act in (apply_plan, put_away):
        with pytest.raises(NoPlanError):
            act(tipper)
