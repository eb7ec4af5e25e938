"""Messages of a line or of a set as a definition file."""

from dataclasses import replace

import pytest

from loomwright.app.definition_giving import give
from loomwright.app.definitions import NotTakenError, keep, take
from loomwright.app.project import open_project
from loomwright.app.start import start_from_example
from loomwright.files.definition import read_definition
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
