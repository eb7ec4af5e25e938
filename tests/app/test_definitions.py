"""Definition files into a project: what is written, what is refused, and hand-made values that stay."""

import pytest

from loomwright.app.definitions import NotTakenError, keep, ports_by_node, take
from loomwright.app.edits.spoken import renamed_edits
from loomwright.app.project import UnreadableError, open_project
from loomwright.files import new_project
from loomwright.model.component import Component, Port
from loomwright.model.table import Table
from loomwright.model.vehicle import Place, Vehicle
from loomwright.terms.errors import RefusedWriteError
from loomwright.terms.fact import Assumed

DBC = """VERSION ""
NS_ :
BS_:
BU_: INV BMS
BO_ 385 Status1: 8 INV
 SG_ Speed : 0|16@1- (0.5,0) [0|0] "rpm" BMS
 SG_ Torque : 16|8@1+ (1,0) [0|0] "Nm" BMS
BO_ 386 Status2: 8 INV
BO_ 387 Limits: 4 BMS
 SG_ Current : 0|16@1+ (1,0) [0|0] "A" INV
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 385 20;
"""
PORTS = {"INV": "vehicle_controller.can1"}


def small_project(folder):
    """Three components at one place, on no line."""
    ports = Table({"can1": Port()})
    boxes = {name: Component("other", "here", ports=ports) for name in ("display", "inverter", "vehicle_controller")}
    new_project(folder, Vehicle("x", 4.0, 2.0, places=Table({"here": Place(1.0, 0.0)}), components=Table(boxes)))
    return folder


@pytest.fixture
def project(tmp_path):
    return open_project(small_project(tmp_path / "small"))


def taken(project, text=DBC, name="drive.dbc", ports=PORTS, **options):
    found = take(project, [(name, text.encode())], ports, **options)
    keep(project, found)
    return found


def edit(project, old, new):
    file = project.folder / "messages" / "drive.toml"
    text = file.read_text("utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), "utf-8")
    project.reload()
    assert project.loaded.problems == ()


def test_the_set_and_the_very_bytes_are_written(project):
    found = taken(project)
    assert set(found.texts) == {"messages/drive.toml", "definitions/drive.dbc"}
    assert (project.folder / "definitions" / "drive.dbc").read_bytes() == DBC.encode()
    read = project.vehicle.messages["drive"]
    assert project.loaded.problems == ()
    assert (read.definition, read.sender) == ("definitions/drive.dbc", "vehicle_controller.can1")
    assert read.messages["limits"].expected_by == "vehicle_controller.can1"
    assert read == found.files[0].set


def test_what_take_finds_is_not_written_before_it_is_kept(project):
    before = sorted(path for path in project.folder.rglob("*"))
    take(project, [("drive.dbc", DBC.encode())], PORTS)
    assert sorted(path for path in project.folder.rglob("*")) == before


def test_what_is_there_is_not_overwritten_unless_asked(project):
    taken(project)
    with pytest.raises(NotTakenError, match="--again"):
        take(project, [("drive.dbc", DBC.encode())], PORTS)
    with pytest.raises(NotTakenError, match=r"another definitions/drive.dbc already"):
        take(project, [("drive.dbc", DBC.encode() + b"\n")], PORTS, name="other")
    assert set(take(project, [("drive.dbc", DBC.encode())], PORTS, name="other").texts) == {"messages/other.toml"}
    assert take(project, [("drive.dbc", DBC.encode())], PORTS, again=True).texts == {}


def test_hand_made_values_stay_where_the_file_says_what_it_said(project):
    taken(project)
    edit(project, 'title = "Status2"', 'title = "Temperatures"')
    edit(project, "[messages.status1]\n", '[messages.status1]\njitter = "3 ms"\n')
    found = taken(project, DBC.replace("BO_ 385 20;", "BO_ 385 40;").replace("(0.5,0)", "(0.25,0)"), again=True)
    status = project.vehicle.messages["drive"].messages
    assert status["status1"].period_s.value == 0.04
    assert status["status1"].signals["speed"].factor == 0.25
    assert status["status1"].jitter_s.value == 0.003
    assert status["status2"].title == "Temperatures"
    assert set(found.files[0].stays) == {"messages.status1.jitter_s", "messages.status2.title"}
    assert found.files[0].gives_way == ()


def test_a_hand_made_value_gives_way_where_the_file_changed_and_is_told(project):
    taken(project)
    edit(project, 'period = "20 ms"', 'period = "25 ms"')
    found = taken(project, DBC.replace("BO_ 385 20;", "BO_ 385 40;"), again=True)
    assert project.vehicle.messages["drive"].messages["status1"].period_s.value == 0.04
    assert found.files[0].gives_way == ("messages.status1.period_s",)


def test_messages_added_or_taken_out_by_hand_stay_so(project):
    taken(project)
    file = project.folder / "messages" / "drive.toml"
    text = file.read_text("utf-8")
    kept = text[: text.index("[messages.status2]")]
    file.write_text(kept + '[messages.own]\nidentifier = 0x7\nperiod = "1 s"\n', "utf-8")
    project.reload()
    taken(project, DBC.replace("(0.5,0)", "(0.25,0)"), again=True)
    assert set(project.vehicle.messages["drive"].messages) == {"limits", "own", "status1"}


def test_messages_that_the_new_file_has_or_lacks_come_and_go(project):
    taken(project)
    taken(project, DBC.replace("BO_ 386 Status2: 8 INV", "BO_ 390 Status3: 8 INV"), again=True)
    assert set(project.vehicle.messages["drive"].messages) == {"limits", "status1", "status3"}


def test_a_file_of_another_name_takes_the_place_of_the_old_copy(project):
    taken(project)
    edit(project, 'title = "Status2"', 'title = "Temperatures"')
    found = take(project, [("drive v2.dbc", DBC.encode())], PORTS, name="drive", again=True)
    keep(project, found)
    assert sorted(path.name for path in (project.folder / "definitions").iterdir()) == ["drive_v2.dbc"]
    read = project.vehicle.messages["drive"]
    assert read.definition == "definitions/drive_v2.dbc"
    assert read.messages["status2"].title == "Temperatures"
    assert read.messages["status2"].identifier.source.document == "drive_v2.dbc"


def test_without_the_old_copy_all_is_replaced_and_told(project):
    taken(project)
    (project.folder / "definitions" / "drive.dbc").unlink()
    edit(project, 'title = "Status2"', 'title = "Temperatures"')
    found = taken(project, again=True)
    assert (found.files[0].replaced, found.files[0].compared) == (True, False)
    assert project.vehicle.messages["drive"].messages["status2"].title == "Status2"


def test_a_message_that_is_needed_elsewhere_does_not_vanish(project):
    taken(project)
    file = project.folder / "components" / "display.toml"
    file.write_text(file.read_text("utf-8") + '\n[needs.temperature]\nsignal = "drive.status2"\n', "utf-8")
    project.reload()
    assert project.loaded.problems == ()
    with pytest.raises(RefusedWriteError, match=r"components/display.toml"):
        take(project, [("drive.dbc", DBC.replace("BO_ 386 Status2: 8 INV", "").encode())], PORTS, again=True)


def test_several_files_are_written_together_or_not_at_all(project):
    files = [("one.dbc", DBC.encode()), ("two.dbc", b"<no definition>")]
    with pytest.raises(UnreadableError) as caught:
        take(project, files, PORTS)
    assert [problem.file for problem in caught.value.problems] == ["two.dbc"]
    found = take(project, [("one.dbc", DBC.encode()), ("Two.dbc", DBC.encode())], PORTS)
    keep(project, found)
    assert set(project.vehicle.messages) >= {"one", "two"}


def test_a_copy_that_is_a_way_out_of_the_project_is_refused(project, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (project.folder / "definitions").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(RefusedWriteError, match="no file of this project"):
        taken(project)
    assert list((tmp_path / "elsewhere").iterdir()) == []
    assert not (project.folder / "messages" / "drive.toml").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], r"INV \(2 messages\), BMS \(1 messages\)"),
        (["INV=nowhere.can"], "no port 'nowhere.can'"),
        (["VCU=vehicle_controller.can1"], "no file has a node 'VCU'"),
        (["INV=a.b", "INV=c.d"], "two ports"),
        (["a.b", "INV=c.d"], "either one port"),
    ],
)
def test_senders_that_cannot_be_are_refused_with_what_there_is(project, words, said):
    with pytest.raises(NotTakenError, match=said):
        take(project, [("drive.dbc", DBC.encode())], ports_by_node(words))


def test_a_name_that_is_none_is_refused(project):
    with pytest.raises(NotTakenError, match="small letters"):
        take(project, [("drive.dbc", DBC.encode())], PORTS, name="Drive 2")


BOTH = {"INV": "inverter.can1", "BMS": "vehicle_controller.can1"}
COMMAND = DBC.replace("BO_ 387", 'BO_ 388 Command: 2 BMS\n SG_ Wanted : 0|8@1+ (1,0) [0|0] "Nm" INV\nBO_ 387')


def speakers(project):
    messages = project.vehicle.messages["drive"]
    return {
        name: (each.expected_by and "expected", each.expected_by or each.sender or messages.sender)
        for name, each in messages.messages.items()
    }


def test_senders_follow_this_call_s_arguments_and_nothing_of_it_is_called_handwork(project):
    taken(project, COMMAND, ports=BOTH)
    assert speakers(project)["command"] == ("", "vehicle_controller.can1")
    found = taken(project, COMMAND, ports={"INV": "inverter.can1"}, again=True)
    assert (found.files[0].stays, found.files[0].gives_way) == ((), ())
    assert speakers(project)["command"] == ("expected", "inverter.can1")
    assert speakers(project)["status1"] == ("", "inverter.can1")
    found = taken(project, COMMAND, ports={"INV": "display.can1", "BMS": "vehicle_controller.can1"}, again=True)
    assert (found.files[0].stays, found.files[0].gives_way) == ((), ())
    assert speakers(project)["status1"] == ("", "display.can1")
    assert speakers(project)["command"] == ("", "vehicle_controller.can1")


def test_a_sender_that_a_hand_changed_stays_and_is_told(project):
    taken(project, COMMAND, ports=BOTH)
    edit(project, "[messages.command]\n", '[messages.command]\nexpected_by = "inverter.can1"\n')
    for ports in (BOTH, {"INV": "display.can1", "BMS": "vehicle_controller.can1"}):
        found = taken(project, COMMAND, ports=ports, again=True)
        assert found.files[0].stays == ("messages.command.expected_by",)
        assert speakers(project)["command"] == ("expected", "inverter.can1")
    assert speakers(project)["status1"] == ("", "display.can1")


def test_again_without_senders_keeps_those_of_the_last_time(project):
    taken(project, COMMAND, ports=BOTH)
    before = project.vehicle.messages["drive"]
    assert before.nodes == ("INV=inverter.can1", "BMS=vehicle_controller.can1")
    taken(project, COMMAND, ports={}, again=True)
    assert project.vehicle.messages["drive"] == before
    with pytest.raises(NotTakenError, match="which port sends"):
        take(project, [("other.dbc", COMMAND.encode())], {})


def test_a_set_that_does_not_tell_its_nodes_shows_them_by_its_messages(project):
    taken(project, COMMAND, ports=BOTH)
    file = project.folder / "messages" / "drive.toml"
    kept = [line for line in file.read_text("utf-8").splitlines(keepends=True) if not line.startswith("nodes")]
    file.write_text("".join(kept), "utf-8")
    project.reload()
    found = taken(project, COMMAND, ports={"INV": "inverter.can1"}, again=True)
    assert (found.files[0].stays, found.files[0].gives_way) == ((), ())
    assert speakers(project)["command"] == ("expected", "inverter.can1")


def test_the_ports_that_were_said_follow_a_component_s_new_name(project):
    taken(project, COMMAND, ports=BOTH)
    edits = tuple(
        renamed_edits(project.vehicle, "inverter", "drive_unit", lambda port: port.replace("inverter.", "drive_unit."))
    )
    nodes = next(each.value for each in edits if each.path == ("messages", "drive", "nodes"))
    assert nodes == ("INV=drive_unit.can1", "BMS=vehicle_controller.can1")


def test_a_message_that_its_port_sends_by_another_set_is_told_at_once(project):
    own = project.folder / "messages" / "controller.toml"
    own.parent.mkdir(exist_ok=True)
    own.write_text(
        'sender = "vehicle_controller.can1"\n[messages.torque]\nidentifier = 0x184\nperiod = "10 ms"\n', "utf-8"
    )
    project.reload()
    assert project.loaded.problems == ()
    first = take(project, [("drive.dbc", COMMAND.encode())], BOTH).files[0].left_out[0]
    assert first.kind.startswith("messages that their port sends by another set already")
    assert "leave out --sender BMS=vehicle_controller.can1, and they are expected by inverter.can1" in first.kind
    assert first.places == ("command: 0x184 is controller.torque, sent by vehicle_controller.can1",)
    right = take(project, [("drive.dbc", COMMAND.encode())], {"INV": "inverter.can1"}).files[0]
    assert not any("another set" in each.kind for each in right.left_out)


def test_a_file_taken_a_second_time_under_another_name_is_told_to_be_there_already(project):
    taken(project)
    first = take(project, [("drive.dbc", DBC.encode())], PORTS, name="other").files[0].left_out[0]
    assert "this very file is messages/drive.toml already, so say --name drive --again" in first.kind
    assert first.count == 2
    newer = take(project, [("drive_2.dbc", DBC.encode())], PORTS).files[0].left_out[0]
    assert "where this is another edition of that file, say --name drive --again" in newer.kind


def test_a_need_of_the_very_messages_that_are_taken_does_not_keep_them_out(project):
    file = project.folder / "components" / "display.toml"
    whole = file.read_text("utf-8")
    file.write_text(whole + '\n[needs.speed]\nsignal = "drive.status1.speed"\n', "utf-8")
    project.reload()
    assert project.loaded.problems != ()
    found = taken(project)
    assert set(found.texts) == {"messages/drive.toml", "definitions/drive.dbc"}
    assert project.loaded.problems == ()
    assert project.vehicle.components["display"].needs["speed"].signal == "drive.status1.speed"


def test_another_problem_of_the_project_keeps_a_file_out_and_is_told(project):
    file = project.folder / "components" / "display.toml"
    file.write_text(file.read_text("utf-8") + '\n[needs.speed]\nsignal = "drive.status1.gone"\n', "utf-8")
    project.reload()
    with pytest.raises(UnreadableError) as caught:
        take(project, [("drive.dbc", DBC.encode())], PORTS)
    (problem,) = caught.value.problems
    assert "gone" in problem.message + problem.excerpt


def test_a_torn_file_is_not_written_unless_asked(project):
    torn = DBC[: DBC.index(" SG_ Current")] + " SG_ Curr"
    found = take(project, [("drive.dbc", torn.encode())], PORTS)
    assert found.files[0].warning == "drive.dbc: the file ends in the middle (line 10): fetch it again"
    with pytest.raises(NotTakenError, match="fetch it again"):
        keep(project, found)
    assert not (project.folder / "messages" / "drive.toml").exists()
    keep(project, found, incomplete=True)
    assert set(project.vehicle.messages["drive"].messages) == {"limits", "status1", "status2"}


def told(found):
    return {each.kind: each for each in found.files[0].left_out}


def test_only_signals_that_are_there_together_are_told_to_share_bits(project):
    lines = (
        ' SG_ Page M : 0|8@1+ (1,0) [0|0] "" BMS\n SG_ A m0 : 8|8@1+ (1,0) [0|0] "" BMS\n'
        ' SG_ B m1 : 8|8@1+ (1,0) [0|0] "" BMS\n SG_ C m1 : 15|8@1+ (1,0) [0|0] "" BMS\n'
    )
    found = take(
        project, [("drive.dbc", DBC.replace("BO_ 387", f"BO_ 400 Paged: 8 INV\n{lines}BO_ 387").encode())], PORTS
    )
    assert told(found)["signals on each other's bits, there at the same time"].places == ("paged: b and c",)
    none = DBC.replace("BO_ 387", f"BO_ 400 Paged: 8 INV\n{lines.replace('15|8', '16|8')}BO_ 387")
    assert not any("bits" in kind for kind in told(take(project, [("drive.dbc", none.encode())], PORTS)))
    open_selector = lines.replace("Page M", "Page").replace("15|8", "16|8")  # left out, so they lie on nothing
    left = take(
        project, [("drive.dbc", DBC.replace("BO_ 387", f"BO_ 400 P: 8 INV\n{open_selector}BO_ 387").encode())], PORTS
    )
    assert not any("each other" in kind or "strict" in kind for kind in told(left))


RATE = 'BA_DEF_ "Baudrate" INT 0 1000000;\nBA_DEF_DEF_ "Baudrate" 0;\nBA_ "Baudrate" 250000;\n'


@pytest.mark.parametrize(
    ("rate", "said"),
    [
        ('"250 kbit/s"', None),
        ('"500 kbit/s"', "bit rate of the bus differs from the line's"),
        (None, "bit rate of the bus: that of the line is open yet"),
    ],
)
def test_the_bit_rate_of_a_file_is_held_against_the_line_s(project, rate, said):
    line = project.folder / "lines" / "drive.toml"
    line.parent.mkdir(exist_ok=True)
    first = f"bit_rate = {rate}\n" if rate else ""
    line.write_text(
        first + '[[stations]]\nport = "vehicle_controller.can1"\n[[stations]]\nport = "display.can1"\n', "utf-8"
    )
    project.reload()
    assert project.loaded.problems == ()
    found = take(project, [("drive.dbc", (DBC + RATE).encode())], PORTS).files[0].left_out
    rates = [each for each in found if "bit rate" in each.kind]
    assert [each.kind.startswith(said or "-") for each in rates] == ([True] if said else [])
    assert not rates or "250\u202fkbit/s" in rates[0].places[0]
    if rate == '"500 kbit/s"':
        assert found[0] == rates[0]


ADDRESS = 'BA_DEF_ BU_ "NmStationAddress" INT 0 255;\nBA_DEF_DEF_ "NmStationAddress" 254;\nBA_ "NmStationAddress" BU_ INV 39;\n'
WIDE = DBC.replace("BO_ 386 ", f"BO_ {0x98FF0027} ")


def test_an_address_that_a_message_proves_is_given_to_its_port_and_taken_out_of_no_other(project):
    found = taken(project, WIDE + ADDRESS)
    fact = project.vehicle.components["vehicle_controller"].ports["can1"].address
    assert (fact.value, fact.source.document) == (39, "drive.dbc")
    assert told(found)["addresses of nodes, written to their ports"].places == ("INV: 39 to vehicle_controller.can1",)
    assert not any(
        "address" in kind for kind in told(take(project, [("drive.dbc", (WIDE + ADDRESS).encode())], PORTS, again=True))
    )
    other = (WIDE.replace(str(0x98FF0027), str(0x98FF0028)) + ADDRESS.replace("INV 39", "INV 40")).encode()
    differing = take(project, [("other.dbc", other)], PORTS)
    assert told(differing)["addresses that differ from the port's"].places == ("INV: 40, vehicle_controller.can1: 39",)
    assert differing.files[0].edits == ()


def test_an_address_that_no_message_proves_is_only_told(project):
    found = take(project, [("drive.dbc", (DBC + ADDRESS).encode())], PORTS)
    kind = "addresses of nodes that none of their messages ends in: look up whether that is the port's address"
    assert told(found)[kind].places == ("INV: 39, vehicle_controller.can1",)
    assert set(found.texts) == {"messages/drive.toml", "definitions/drive.dbc"}


def test_an_assumed_cycle_is_not_handwork_where_an_earlier_taking_wrote_it_as_known(project):
    mixed = DBC + (
        'BA_DEF_ BO_ "GenMsgSendType" ENUM "None","CyclicAndSpontaneous";\nBA_DEF_DEF_ "GenMsgSendType" "None";\n'
        'BA_ "GenMsgSendType" BO_ 385 1;\n'
    )
    taken(project, mixed)
    text = (project.folder / "messages" / "drive.toml").read_text("utf-8")
    (why,) = (line for line in text.splitlines() if line.startswith("period_") and "events" in line)
    edit(project, why, 'period_source = "drive.dbc:"')
    found = taken(project, mixed, again=True)
    assert (found.files[0].stays, found.files[0].gives_way) == ((), ())
    assert isinstance(project.vehicle.messages["drive"].messages["status1"].period_s, Assumed)
