"""Messages of a line or of a set as a definition file."""

from dataclasses import replace

import pytest
from cantools.database.can.formats import dbc

from loomwright.app.definition_giving import give
from loomwright.app.definitions import NotTakenError, keep, take
from loomwright.app.project import open_project
from loomwright.app.start import start_from_example
from loomwright.files.definition import read_definition
from loomwright.files.definition_out import Given, write_definition
from loomwright.model.message import Message, Signal
from loomwright.model.speech import speech_of
from loomwright.model.table import Table
from loomwright.show.quantity import text as quantity
from loomwright.solve.hearing import hearings
from loomwright.solve.streams import streams
from loomwright.terms.fact import Known
from loomwright.terms.quantity import Kind
from tests.app.test_definitions import DBC


@pytest.fixture
def project(tmp_path):
    start_from_example(tmp_path / "tipper", "tipper")
    return open_project(tmp_path / "tipper")


def test_a_set_taken_over_and_given_out_is_the_maker_s_file_again(project):
    keep(project, take(project, [("made.dbc", DBC.encode())], {"INV": "inverter.can"}))
    found = give(project, "made", "dbc")
    back = read_definition(found.data, "made.dbc", {"inverter": "inverter.can"}).set
    assert back == replace(project.vehicle.messages["made"], nodes=())
    assert found.messages == 3


def test_a_line_carries_what_the_ports_on_it_send_and_nothing_else(project):
    for line in project.vehicle.lines:
        stations = {station.port for station in project.vehicle.lines[line].stations}
        sent = {
            message.identifier.value
            for each in project.vehicle.messages.values()
            for message in each.messages.values()
            if not message.expected_by
            and (message.sender or each.sender) in stations
            and hasattr(message.identifier, "value")
        }
        file = give(project, f"lines.{line}", "dbc").data
        written = {each.identifier.value for each in read_definition(file, "x.dbc", {"": "a.b"}).set.messages.values()}
        assert sent <= written
        owners = {port.partition(".")[0] for port in stations}
        nodes = {node for node, count in read_definition(file, "x.dbc", {"": "a.b"}).nodes if count}
        assert {node.partition("_can")[0] if node not in owners else node for node in nodes} <= owners


def test_a_forwarded_message_is_given_out_on_the_line_it_is_brought_to(project):
    folder = project.folder
    body = folder / "components" / "vehicle_controller.toml"
    keep(project, take(project, [("made.dbc", DBC.encode())], {"INV": "inverter.can"}))
    on = {station.port: name for name, line in project.vehicle.lines.items() for station in line.stations}
    ports = [port for port in on if port.startswith("vehicle_controller.")]
    other = next(port for port in ports if on[port] != on["inverter.can"])
    body.write_text(
        body.read_text("utf-8")
        + f'\n[forwards.made_status]\nmessage = "made.status1"\nto = "{other.partition(".")[2]}"\nidentifier = 0x18FF10F4\nperiod = "200 ms"\n',
        "utf-8",
    )
    project.reload()
    assert project.loaded.problems == ()
    file = give(project, f"lines.{on[other]}", "dbc").data
    message = read_definition(file, "x.dbc", {"": "a.b"}).set.messages["status1"]
    assert (message.identifier.value, message.width, message.period_s.value) == (0x18FF10F4, "29 bit", 0.2)
    assert set(message.signals) == {"speed", "torque"}


def test_what_is_not_there_or_not_written_is_refused(project):
    with pytest.raises(NotTakenError, match="no line or set 'nothing'"):
        give(project, "nothing", "dbc")
    with pytest.raises(NotTakenError, match=r"\.arxml is not written"):
        give(project, "drive", "arxml")
    keep(project, take(project, [("drive.dbc", DBC.encode())], {"INV": "inverter.can"}))
    with pytest.raises(NotTakenError, match=r"both lines\.drive and messages\.drive"):
        give(project, "drive", "dbc")


def receivers(data):
    """The receivers of each signal by message, and the nodes, as another program reads them."""
    found = dbc.load_string(data.decode("cp1252"), strict=False)
    return (
        {message.name: {each.name: set(each.receivers) for each in message.signals} for message in found.messages},
        {node.name for node in found.nodes},
    )


def test_needs_are_written_as_receivers_and_whoever_is_on_the_line_as_a_node(project):
    vehicle = project.vehicle
    speech = speech_of(vehicle)
    needs = hearings(speech, streams(speech)).needs
    for line in vehicle.lines:
        given = give(project, f"lines.{line}", "dbc")
        written, nodes = receivers(given.data)
        components = {station.port.partition(".")[0] for station in vehicle.lines[line].stations if station.port}
        assert {node for component in components for node in nodes if node.startswith(component)} == nodes
        assert all(any(node.startswith(component) for node in nodes) for component in components)
        for need in needs:
            if need.stream is None or need.stream.line != line or need.stream.source_line:
                continue
            name = need.stream.message.partition(".")[2]
            signals = written.get(name, {})
            heard_by = signals[need.signal] if need.signal in signals else set().union(*signals.values())
            if signals:
                assert any(node.startswith(need.component) for node in heard_by), (need.component, name)


def test_a_signal_that_nobody_needs_has_no_receiver(project):
    keep(project, take(project, [("made.dbc", DBC.replace(" 385 ", " 389 ").encode())], {"INV": "inverter.can"}))
    display = project.folder / "components" / "vehicle_controller.toml"
    need = '\n[needs.made]\nsignal = "made.status1.speed"\nfresh = "80 ms"\ntime_out = "300 ms"\n'
    display.write_text(display.read_text("utf-8") + need, "utf-8")
    project.reload()
    assert project.loaded.problems == ()
    given = give(project, "messages.made", "dbc")
    written, nodes = receivers(given.data)
    assert written["Status1"] == {"Speed": {"vehicle_controller"}, "Torque": set()}
    assert written["Limits"] == {"Current": {"inverter"}}
    assert nodes == {"inverter", "vehicle_controller"}
    told = {each.kind: each.places for each in given.left_out}
    assert told["freshness that needs ask for"] == (f"vehicle_controller.made: {quantity(0.08, Kind.TIME)}",)
    assert told["time-outs of needs"] == (f"vehicle_controller.made: {quantity(0.3, Kind.TIME)}",)
    assert "made.status1, identifier: made.dbc" in told["sources: where a figure was read"]


def test_what_a_port_expects_stands_with_the_line_sent_or_not(project):
    keep(project, take(project, [("made.dbc", DBC.encode())], {"INV": "inverter.can"}))
    line = next(
        name for name, each in project.vehicle.lines.items() if "inverter.can" in {s.port for s in each.stations}
    )
    given = give(project, f"lines.{line}", "dbc")
    written, _ = receivers(given.data)
    assert written["Limits"] == {"Current": {"inverter"}}  # nobody sends 0x183
    told = {each.kind: each.places for each in given.left_out}
    kind = "expected messages as their receivers describe them: they stand as they are sent"
    expected = next(place for place in told[kind] if place.startswith("inverter.torque_command: "))
    sent = written[expected.partition(": ")[2].partition(".")[2]]
    assert any("inverter" in nodes for nodes in sent.values())


def test_titles_do_not_grow_on_the_way_out_and_in(project):
    title = "Key 1: tipper up"
    signals = Table({"tipper_up": Signal(0, 1, title=title), "other": Signal(1, 1, title="other: as it is")})
    made = Message(title="Keys: of the panel", identifier=Known(0x55), period_s=Known(0.1), signals=signals)
    data = write_definition([Given("panel", "keys_said", made, "inverter.can")], "dbc")[0]
    for _ in range(3):
        found = read_definition(data, "x.dbc", {"inverter": "inverter.can"}).set.messages["keys_said"]
        assert found.title == "Keys: of the panel"
        assert {name: each.title for name, each in found.signals.items()} == {
            "tipper_up": title,
            "other": "other: as it is",
        }
        data = write_definition([Given("panel", "keys_said", found, "inverter.can")], "dbc")[0]


def test_a_gateway_is_a_receiver_of_what_it_passes_on(project):
    speech = speech_of(project.vehicle)
    forwarded = next(each for each in streams(speech) if each.source_line)
    written, _ = receivers(give(project, f"lines.{forwarded.source_line}", "dbc").data)
    signals = written[forwarded.message.partition(".")[2]]
    gateway = forwarded.sender.partition(".")[0]
    assert signals
    assert all(any(node.startswith(gateway) for node in nodes) for nodes in signals.values())


@pytest.mark.parametrize("ending", ["dbc", "kcd"])
def test_what_a_component_hears_is_expected_by_it_when_its_line_is_taken_over_for_it_alone(project, ending):
    speech = speech_of(project.vehicle)
    needs = [each for each in hearings(speech, streams(speech)).needs if each.component == "inverter" and each.stream]
    line = needs[0].stream.line
    found = read_definition(give(project, line, ending).data, f"x.{ending}", {"inverter": "inverter.can"}).set.messages
    wanted = {each.stream.identifier for each in needs if each.stream.line == line}
    assert wanted
    assert wanted <= {each.identifier.value for each in found.values() if each.expected_by == "inverter.can"}
