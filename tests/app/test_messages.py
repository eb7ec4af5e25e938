"""What the pages of messages are made of: the matrix, changes, what refuses, what a scope shows."""

from dataclasses import replace

import pytest

from loomwright.app import messages_edits
from loomwright.app.cells import cell
from loomwright.app.edits.names import EditError
from loomwright.app.margin import TRAFFIC, count, finding_named, is_traffic, key_of, shown_in
from loomwright.app.messages_matrix import EXPECTS, MISSES, NEEDS, PASSES_ON, SAYS, UNHEARD, UNSENT, matrix
from loomwright.app.messages_message import message_page
from loomwright.app.messages_page import messages_page
from loomwright.app.project import open_project
from loomwright.app.search import search
from loomwright.app.start import start_from_example
from loomwright.model.message import Message
from loomwright.model.table import Table
from loomwright.model.variant import changed, value_at
from loomwright.solve.hearing import HEARD
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Known, Unknown
from tests.traffic_build import spoken, with_component


def opened(tmp_path, name):
    start_from_example(tmp_path / name, name)
    return open_project(tmp_path / name)


@pytest.fixture
def tipper(tmp_path):
    return opened(tmp_path, "tipper-as-found")


@pytest.fixture
def bench(tmp_path):
    return opened(tmp_path, "bench")


def marks_of(shown, name):
    (row,) = (row for group in shown.groups for row in group.rows if row.name == name)
    return {column: mark.kind for (column, _), mark in zip(shown.columns, row.marks, strict=True) if mark}


def test_every_need_and_every_sender_has_its_mark(tipper):
    shown, traffic = matrix(tipper), tipper.answers.traffic(tipper.vehicle)
    assert shown.misses == sum(need.outcome != HEARD for need in traffic.hearings.needs) > 0
    for stream in traffic.streams:
        kind = marks_of(shown, stream.message)[stream.sender.partition(".")[0]]
        assert kind in (SAYS, MISSES, *((PASSES_ON,) if stream.source_line else ())), stream.name
    for need in traffic.hearings.needs:
        if need.stream is not None:
            assert marks_of(shown, need.stream.message)[need.component] in (NEEDS, SAYS, PASSES_ON)


def test_what_a_receiver_describes_stands_in_the_row_of_what_is_sent(tipper):
    names = {row.name for group in matrix(tipper).groups for row in group.rows}
    assert "inverter.torque_command" not in names
    assert marks_of(matrix(tipper), "controller_drive.torque_command") == {
        "inverter": NEEDS,
        "vehicle_controller": SAYS,
    }
    assert marks_of(matrix(tipper), "display.trip") == {"display": MISSES}


def otherwise(project, *edits):
    """The project with other values."""

    class Otherwise:
        vehicle, answers = changed(project.vehicle, Change("", edits)), project.answers

    return Otherwise()


def test_what_a_manual_expects_and_nobody_sends_shows_who_expects_it(tipper):
    asked = Message("Diag_Req", Known(0x7E0), expected_by="inverter.can")
    shown = matrix(otherwise(tipper, Edit(("messages", "inverter", "messages", "diag_req"), asked)))
    assert marks_of(shown, "inverter.diag_req") == {"inverter": EXPECTS}
    (group,) = [group for group in shown.groups if any(row.name == "inverter.diag_req" for row in group.rows)]
    assert group.title == UNSENT
    (mark,) = [mark for row in group.rows if row.name == "inverter.diag_req" for mark in row.marks if mark]
    assert mark.told == "its manual expects it, and nobody sends it"
    drive = matrix(otherwise(tipper, Edit(("messages", "inverter", "messages", "diag_req"), asked)), "drive")
    assert marks_of(drive, "inverter.diag_req") == {"inverter": EXPECTS}
    body = matrix(otherwise(tipper, Edit(("messages", "inverter", "messages", "diag_req"), asked)), "body")
    assert not any(row.name == "inverter.diag_req" for group in body.groups for row in group.rows)


def test_a_sender_that_is_on_no_line_is_not_called_nobody(tipper):
    shown = matrix(tipper)
    apart = {group.title: {row.name for row in group.rows} for group in shown.groups}
    assert "coolant_pumps.battery_pump_life" in apart[UNHEARD]
    assert marks_of(shown, "coolant_pumps.battery_pump_life")["battery_pump"] == SAYS
    assert apart[UNSENT] == {"display.trip"}


def test_a_line_shows_its_own_components_and_messages_alone(tipper):
    shown = matrix(tipper, "pumps")
    stations = {s.port.partition(".")[0] for s in tipper.vehicle.lines["pumps"].stations if s.port}
    missing = {c for group in shown.groups for row in group.rows for (c, _), mark in zip(shown.columns, row.marks, strict=True)
               if mark and mark.kind == MISSES}  # fmt: skip
    assert {name for name, _ in shown.columns} <= stations | missing
    assert len(shown.columns) < len(matrix(tipper).columns)


def test_a_need_across_lines_waits_until_a_gateway_passes_it_on(tipper):
    assert marks_of(matrix(tipper, "old"), "tipper_pump.tipper_status")["display"] == MISSES
    (finding,) = (
        f for f in tipper.answers.traffic_findings(tipper.vehicle)
        if f.reading.subject == ("components", "display", "needs", "body_angle") and f.reading.change
    )  # fmt: skip
    assert finding.reading.change is not None


def test_a_new_signal_takes_the_first_bits_that_are_free(bench):
    vehicle = bench.vehicle
    set_name, messages = next(iter(vehicle.messages.items()))
    name, message = next(iter(messages.messages.items()))
    path, change = messages_edits.add_message(vehicle, set_name, "Left over", "0x7A1")
    assert path == ("messages", set_name, "messages", "left_over")
    vehicle = changed(vehicle, change)
    starts = []
    for title in ("First", "Second", "Third"):
        signal, change = messages_edits.add_signal(vehicle, set_name, "left_over", title, "", "12")
        vehicle = changed(vehicle, change)
        starts.append(vehicle.messages[set_name].messages["left_over"].signals[signal].start)
    assert starts == [0, 12, 24]
    with pytest.raises(EditError, match="no 33 bits in a row are free"):
        messages_edits.add_signal(vehicle, set_name, "left_over", "Too long", "", "33")
    assert message.identifier != Known(0x7A1)
    assert name != "left_over"


def test_a_message_without_an_identifier_asks_for_it(bench):
    owner = next(iter(bench.vehicle.messages))
    path, change = messages_edits.add_message(bench.vehicle, owner, "Nameless", "")
    made = changed(bench.vehicle, change).messages[owner].messages[path[3]]
    assert isinstance(made.identifier, Unknown)


@pytest.mark.parametrize(
    ("owner", "title", "identifier", "field"),
    [("nobody.can", "A", "", "owner"), ("", "A", "", "owner"), ("controller", "", "", "title"),
     ("controller", "A", "much", "identifier"), ("controller", "A", "0x20000000", "identifier"),
     ("controller", "A", "-1", "identifier")],
)  # fmt: skip
def test_a_message_that_cannot_be_is_refused_at_its_field(bench, owner, title, identifier, field):
    with pytest.raises(EditError) as refused:
        messages_edits.add_message(bench.vehicle, owner, title, identifier)
    assert refused.value.field == field


def test_taking_a_message_out_takes_what_leans_on_it_and_spares_chains(tipper):
    vehicle = tipper.vehicle
    gone = changed(vehicle, messages_edits.removal(vehicle, ("messages", "inverter", "messages", "temperatures")))
    assert "temperatures" not in gone.messages["inverter"].messages
    for component in gone.components.values():
        assert not any(need.signal.startswith("inverter.temperatures") for need in component.needs.values())
        assert not any(forward.message == "inverter.temperatures" for forward in component.forwards.values())
    with pytest.raises(EditError, match="a step of chain"):
        messages_edits.removal(vehicle, ("messages", "pedal", "messages", "travel"))


def test_a_signal_that_selects_others_is_not_taken_from_under_them(tipper):
    path = ("messages", "battery_manager", "messages", "cell_voltages", "signals", "group")
    with pytest.raises(EditError, match="says whether"):
        messages_edits.removal(tipper.vehicle, path)


def test_a_need_is_said_once(tipper):
    vehicle = tipper.vehicle
    change = messages_edits.add_need(vehicle, "display", "inverter", "temperatures", "")
    with pytest.raises(EditError, match="already"):
        messages_edits.add_need(changed(vehicle, change), "display", "inverter", "temperatures", "")
    with pytest.raises(EditError, match="no signal"):
        messages_edits.add_need(vehicle, "display", "inverter", "temperatures", "nothing")


def test_pages_ask_of_a_signal_what_else_it_may_say(tipper):
    shown = message_page(tipper, "battery_manager", "cell_voltages", "group")
    assert shown.open is not None
    assert [form.label for form, _ in shown.open.fields][:2] == ["title", "duty"]
    assert message_page(tipper, "battery_manager", "cell_voltages", "nothing").open is None


def test_findings_of_traffic_belong_to_messages_and_to_no_other_page(tipper):
    findings = tipper.answers.findings(tipper.vehicle)
    own = [finding for finding in findings if is_traffic(finding)]
    assert all(shown_in(finding, (TRAFFIC,)) for finding in own)
    assert not any(shown_in(finding, (TRAFFIC,)) for finding in findings if not is_traffic(finding))
    on_old = [finding for finding in own if shown_in(finding, (f"{TRAFFIC}.old",))]
    assert {finding.reading.line for finding in on_old} == {"old"}
    on_lines = {finding.rule for finding in own if shown_in(finding, ("lines",))}
    assert on_lines == {"line-load", "line-overload"}
    pages = (("places", "runs"), ("components",), ("lines",), (TRAFFIC,))
    together = sum(count(findings, owns).broken for owns in pages)
    assert together == count(findings, ("places", "runs", "components", "lines", TRAFFIC)).broken


def test_a_line_that_is_blocked_tells_its_facts_once_and_others_go_on(tipper):
    path = ("lines", "old", "bit_rate_bit_per_s")
    tipper_vehicle = changed(tipper.vehicle, messages_edits.Change("", (messages_edits.Edit(path, Unknown()),)))

    class Otherwise:
        vehicle, answers = tipper_vehicle, tipper.answers

    shown = messages_page(Otherwise(), "all")
    assert [missing.path for missing in shown.waits_for] == ["lines.old.bit_rate_bit_per_s"]
    times = {one.name: one for one in shown.times}
    assert times["old"].rows == ()
    assert times["pumps"].rows != ()
    assert {row.name: row.mean for row in shown.loads}["old"] == "?"


def test_each_part_of_a_transported_message_has_a_finding_of_its_own_name(tipper):
    findings = tipper.answers.findings(tipper.vehicle)
    assert len({key_of(finding) for finding in findings if is_traffic(finding)}) == sum(map(is_traffic, findings))
    (body,) = (one for one in messages_page(tipper, "body").times)
    keys = {row.part: row.why for row in body.rows if row.message == "controller_body/identification"}
    assert set(keys) == {"announcement", "data packets"}
    for part, key in keys.items():
        assert dict(finding_named(findings, key).reading.because)["part"] == part


def test_search_finds_messages_by_identifier_and_leaves_components_first(tipper):
    assert search(tipper.vehicle, "0x201")[0].name == "controller_drive.torque_command"
    assert search(tipper.vehicle, "18FF3127")[0].kind == "message"
    assert search(tipper.vehicle, "inverter")[0].kind == "component"
    assert search(tipper.vehicle, "motor speed")[0].path[-2:] == ("signals", "motor_speed")
    assert search(tipper.vehicle, "precharge")[0].kind == "term"


def test_a_new_message_is_told_how_often_or_that_it_is_to_be_looked_up(tmp_path):
    start_from_example(tmp_path / "p", "bench")
    vehicle = open_project(tmp_path / "p").vehicle
    owner = next(iter(vehicle.messages))
    for words, wanted in (("20 ms", Known(0.02)), ("?", Unknown()), ("", None)):
        path, change = messages_edits.add_message(vehicle, owner, "Horn", "0x123", words)
        assert value_at(changed(vehicle, change), path).period_s == wanted
    with pytest.raises(EditError, match="20"):
        messages_edits.add_message(vehicle, owner, "Horn", "0x123", "20")


def test_everything_that_is_wrong_with_a_new_message_or_signal_is_told_at_once(bench):
    with pytest.raises(EditError) as refused:
        messages_edits.add_message(bench.vehicle, "nobody.can", " ", "much", "20")
    for words in ("needs a name", "'much' is no whole number", "expected", "no port called 'nobody.can'"):
        assert words in str(refused.value)
    set_name, messages = next(iter(bench.vehicle.messages.items()))
    with pytest.raises(EditError, match=r"needs a name.*'wide' is no whole number.*'early' is no whole number"):
        messages_edits.add_signal(bench.vehicle, set_name, next(iter(messages.messages)), "", "early", "wide")


def test_a_taken_identifier_is_told_with_who_has_it_on_the_lines_of_the_port(tipper):
    def taken(owner, words):
        return messages_edits.taken_by(tipper.vehicle, tipper.answers.traffic(tipper.vehicle).streams, owner, words)

    told = taken("inverter.can", "0x201")
    assert told == "0x201 is taken by Vehicle controller: Torque command, on Drive line."
    assert taken("inverter", "513") == told  # the set of that port, and the same number in decimal
    assert taken("", "0x201") == told
    assert taken("lamps.can", "0x201") == ""
    for words in ("0x202F", "", "?", "much", "0x"):
        assert taken("inverter.can", words) == ""
    passed_on = "0x0CFF3927"
    assert taken("display.can", passed_on) != ""


def test_how_far_apart_packets_are_is_asked_of_a_message_that_may_need_some_alone(tipper):
    long, short = (message_page(tipper, "controller_body", name) for name in ("identification", "warnings"))
    assert [any("packet_spacing_s" in str(form) for form in shown.facts) for shown in (long, short)] == [True, False]


def test_a_receiver_that_answers_packets_does_not_say_the_message(tmp_path):
    """A long one that the steering pump sends to the controller alone."""
    start_from_example(tmp_path / "truck", "tipper-as-found")
    text = '[messages.record]\nidentifier = 0x18EF2713\nlength = 20\nperiod = "1 s"\n'
    file = tmp_path / "truck" / "messages" / "steering_pump.toml"
    file.write_text(f"{file.read_text('utf-8')}\n{text}", "utf-8")
    truck = open_project(tmp_path / "truck")
    streams = [each for each in truck.answers.traffic(truck.vehicle).streams if each.message == "steering_pump.record"]
    assert {each.sender for each in streams} == {"steering_pump.can", "vehicle_controller.can2"}
    assert marks_of(matrix(truck), "steering_pump.record") == {"steering_pump": SAYS}


@pytest.mark.parametrize(
    ("time_s", "shown"), [(1.0, "1000"), (0.005, "5"), (2.5e-6, "0.0025"), (0.1, "100"), (None, ""), (90.0, "90000")]
)
def test_times_of_one_column_are_told_in_its_unit(time_s, shown):
    one = spoken().components["vcu"].needs["travel"]
    need = replace(one, fresh_s=None if time_s is None else Known(time_s))
    vehicle = with_component(spoken(), "vcu", needs=Table({"travel": need}))
    assert cell(vehicle, ("components", "vcu", "needs", "travel", "fresh_s"), "fresh", "ms").value == shown
