"""Every edit that a page can ask for reads back from the files, and what leans on a name follows it."""

import pytest

from loomwright.app import edits
from loomwright.app.deviations import accept
from loomwright.app.edits import EditError
from loomwright.app.fields import FieldWords, UnreadableFieldError, field_form, set_field, words_at
from loomwright.app.session import Session
from loomwright.app.start import start_from_example
from loomwright.terms.change import path_of
from loomwright.terms.errors import PathError
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.finding import Verdict


@pytest.fixture
def session(tmp_path):
    start_from_example(tmp_path / "tipper", "tipper-as-found")
    return Session(tmp_path / "tipper")


def do(session, command, *values, **named):
    session.apply(command(session.view().vehicle, *values, **named))
    return session.view().vehicle


def text_of(session, name):
    return (session.folder / name).read_text("utf-8")


def test_a_new_component_is_a_checklist(session):
    vehicle = do(session, edits.add_component, "rain_sensor", "sensor", "console", "Rain sensor")
    port = vehicle.components["rain_sensor"].ports["can"]
    assert isinstance(port.bit_rates_bit_per_s, Unknown)
    assert isinstance(port.termination, Unknown)
    form = field_form(vehicle, path_of("components.rain_sensor.ports.can.termination"))
    assert "terminating resistor" in form.ask
    assert form.where


def test_a_renamed_component_keeps_stations_locks_deviations_and_comments(session):
    view = session.view()
    branch = next(f for f in view.findings if f.rule == "branch-length" and f.verdict is Verdict.BROKEN)
    session.apply(accept(view.vehicle, branch, "measured clean", "M. Berger", "2025-11-25"))
    before, text = session.view(), text_of(session, "components/telematics.toml")
    vehicle = do(session, edits.rename_component, "telematics", "radio_box")
    assert text_of(session, "components/radio_box.toml") == text
    assert not (session.folder / "components" / "telematics.toml").exists()
    ports = {station.port for line in vehicle.lines.values() for station in line.stations}
    assert "radio_box.can" in ports
    assert not any(port.startswith("telematics.") for port in ports)
    accepted = [f.rule for f in session.view().findings if f.accepted]
    assert accepted == [f.rule for f in before.findings if f.accepted] == ["branch-length"]


def test_a_removed_component_takes_its_stations_and_locks_along(session):
    vehicle = do(session, edits.remove_component, "battery_manager")
    assert "battery_manager" not in vehicle.components
    assert not any("battery_manager" in station.port for line in vehicle.lines.values() for station in line.stations)
    assert not any("battery_manager" in lock.port for lock in vehicle.locks.values())


def test_a_doubled_component_has_the_same_facts_and_comments_and_is_on_no_line(session):
    vehicle = do(session, edits.duplicate_component, "inverter", "inverter_rear")
    assert vehicle.components["inverter_rear"] == vehicle.components["inverter"]
    assert text_of(session, "components/inverter_rear.toml") == text_of(session, "components/inverter.toml")
    assert not any("inverter_rear" in station.port for line in vehicle.lines.values() for station in line.stations)


def test_a_renamed_place_is_followed_everywhere(session):
    place = session.view().vehicle.components["inverter"].place
    before = session.view().findings
    vehicle = do(session, edits.rename_place, place, "elsewhere")
    assert vehicle.components["inverter"].place == "elsewhere"
    assert place not in vehicle.places
    assert not any(place in (run.start, run.end) for run in vehicle.runs.values())
    assert len(session.view().findings) == len(before)
    assert [f.verdict for f in session.view().findings] == [f.verdict for f in before]


def test_a_place_in_use_is_not_taken_out(session):
    vehicle = session.view().vehicle
    with pytest.raises(EditError, match="component inverter"):
        edits.remove_place(vehicle, vehicle.components["inverter"].place)
    branch = next(station.at for station in vehicle.lines["body"].stations if station.at and station.port)
    with pytest.raises(EditError, match="body"):
        edits.remove_place(vehicle, branch)


def test_a_new_place_with_a_run_is_measured_straight_until_somebody_lays_a_string(session):
    do(session, edits.add_place, "shelf", 2.0, 0.0, "shelf behind the seats")
    vehicle = do(session, edits.add_run, "console_shelf", "console", "shelf")
    length = vehicle.runs["console_shelf"].length_m
    assert isinstance(length, Assumed)
    moved = do(session, edits.move_place, "shelf", 3.0, 0.0)
    assert moved.runs["console_shelf"].length_m.value > length.value + 1.0
    measured = path_of("runs.console_shelf.length_m")
    do(session, set_field, measured, FieldWords("1.23 m", "known", "string"))
    vehicle = do(session, edits.move_place, "shelf", 2.0, 0.0)
    assert vehicle.runs["console_shelf"].length_m == Known(1.23, source=vehicle.runs["console_shelf"].length_m.source)
    vehicle = do(session, edits.remove_place, "shelf")
    assert "console_shelf" not in vehicle.runs


def test_places_are_kept_to_the_centimetre(session):
    name = next(iter(session.view().vehicle.places))
    place = do(session, edits.move_place, name, 1.23456, -0.001).places[name]
    assert (place.x_m, place.y_m) == (1.23, 0.0)
    assert "-0" not in str(place.y_m)


def test_stations_change_order_and_measured_sections_go_with_their_neighbours(session):
    line = session.view().vehicle.lines["body"]
    names = [station.port for station in line.stations]
    do(session, set_field, path_of("lines.body.stations[3].section_m"), FieldWords("1.11 m"))
    vehicle = do(session, edits.move_station, "body", 2, 4)
    stations = vehicle.lines["body"].stations
    assert [station.port for station in stations] == [*names[:2], names[3], names[4], names[2], *names[5:]]
    assert stations[2].section_m is None


def test_a_branch_point_moves_and_a_termination_switches(session):
    do(session, edits.set_station_at, "body", 3, "console")
    assert session.view().vehicle.lines["body"].stations[3].at == "console"
    do(session, edits.set_station_at, "body", 3, "")
    assert session.view().vehicle.lines["body"].stations[3].at == ""
    was = session.view().vehicle.lines["body"].stations[3].terminated
    vehicle = do(session, edits.set_terminated, "body", 3, on=not was)
    assert vehicle.lines["body"].stations[3].terminated is not was
    with pytest.raises(EditError, match="plug-in terminator"):
        edits.set_station_at(vehicle, "body", 0, "")


def test_a_port_is_put_on_a_line_and_taken_off(session):
    before = session.view().vehicle.lines["drive"].stations
    vehicle = do(session, edits.add_station, "drive", "battery_pump.can", 1)
    assert vehicle.lines["drive"].stations[1].port == "battery_pump.can"
    assert do(session, edits.remove_station, "drive", 1).lines["drive"].stations == before
    with pytest.raises(EditError, match="no port"):
        edits.add_station(vehicle, "drive", "battery_pump.nothing")
    with pytest.raises(EditError, match="no stop"):
        edits.remove_station(vehicle, "drive", 99)


@pytest.mark.parametrize("name", ["", "A", "1a", "a b", "../x", "a" * 61])
def test_names_follow_the_rule_of_names(session, name):
    with pytest.raises(EditError) as told:
        edits.add_place(session.view().vehicle, name, 0.0, 0.0)
    assert told.value.field == "name"


def test_names_are_taken_once(session):
    with pytest.raises(EditError, match="already"):
        edits.duplicate_component(session.view().vehicle, "inverter", "display")


FIELDS = [
    ("components.inverter.ports.can.bit_rates_bit_per_s", FieldWords("250 kbit/s, 1 Mbit/s", "known", "page 9")),
    ("components.inverter.ports.can.protocols", FieldWords("J1939, raw", "known")),
    ("components.inverter.ports.can.termination", FieldWords("fixed", "assumed", why="the box is heavy")),
    ("components.inverter.ports.can.termination", FieldWords("", "unknown", ask="Ask the maker on Monday")),
    ("components.inverter.ports.can.node_resistance_ohm", FieldWords("10 .. 30 .. 50 kohm", "known", "TR-90: table 4")),
    ("components.inverter.ports.can.needed", FieldWords("no")),
    ("components.inverter.title", FieldWords('The "big" one \\ äöü')),
    ("places.console.wet", FieldWords("yes")),
    ("places.console.y_m", FieldWords("-12 cm")),
    ("lines.drive.rule_set", FieldWords("SAE J1939-11")),
]


@pytest.mark.parametrize(("path", "words"), FIELDS)
def test_a_field_takes_words_and_gives_them_back(session, path, words):
    vehicle = do(session, set_field, path_of(path), words)
    again = words_at(vehicle, path_of(path))
    assert again.status == words.status
    assert (again.source, again.why, again.ask) == (words.source, words.why, words.ask)
    once_more = do(session, set_field, path_of(path), again)
    assert once_more == vehicle


BAD = [
    ("components.inverter.ports.can.pigtail_m", FieldWords("3", "known"), "unit"),
    ("components.inverter.ports.can.pigtail_m", FieldWords("0,3 m", "known"), "decimal point"),
    ("components.inverter.ports.can.pigtail_m", FieldWords("-3 m", "known"), "0 or more"),
    ("components.inverter.ports.can.pigtail_m", FieldWords("0.3 m", "assumed"), "says why"),
    ("components.inverter.ports.can.termination", FieldWords("maybe", "known"), "one of"),
    ("components.inverter.ports.can.needed", FieldWords("perhaps"), "true or false"),
    ("places.console.x_m", FieldWords(""), "needed"),
    ("places.console.x_m", FieldWords("?"), "cannot stay open"),
    ("components.inverter.role", FieldWords("juggler"), "one of"),
]


@pytest.mark.parametrize(("path", "words", "told"), BAD)
def test_words_that_a_field_cannot_hold_are_told(session, path, words, told):
    with pytest.raises(UnreadableFieldError, match=told):
        set_field(session.view().vehicle, path_of(path), words)


@pytest.mark.parametrize(
    "path", ["lines.nothing.title", "lines.drive", "lines.drive.nothing", "lines.drive.stations[99].at"]
)
def test_a_path_that_is_no_field_is_told(session, path):
    with pytest.raises(PathError):
        set_field(session.view().vehicle, path_of(path), FieldWords("x"))
