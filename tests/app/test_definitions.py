"""Definition files into a project: what is written, what is refused, and hand-made values that stay."""

import pytest

from loomwright.app.definitions import NotTakenError, keep, ports_by_node, take
from loomwright.app.project import UnreadableError, open_project
from loomwright.files import new_project
from loomwright.model.component import Component, Port
from loomwright.model.table import Table
from loomwright.model.vehicle import Place, Vehicle
from loomwright.terms.errors import RefusedWriteError

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
