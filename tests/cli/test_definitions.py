"""Definition files from a terminal."""

import json

import pytest
from typer.testing import CliRunner

from loomwright.cli import app
from tests.app.test_definitions import DBC, small_project

RUNNER = CliRunner()
SENDER = ("--sender", "INV=vehicle_controller.can1")


def call(*words):
    return RUNNER.invoke(app, [str(word) for word in words])


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "drive.dbc").write_text(DBC, "utf-8")
    return small_project(tmp_path / "small")


def test_take_writes_and_reports(folder):
    result = call("take", folder, folder.parent / "drive.dbc", *SENDER)
    assert result.exit_code == 0
    assert "2 messages sent, 1 expected" in " ".join(result.stdout.split())
    assert "receivers of signals" in " ".join(result.stdout.split())
    assert (folder / "messages" / "drive.toml").exists()
    assert call("check", folder).exit_code != 2


def test_take_reports_the_same_as_plain_data(folder):
    body = json.loads(call("take", folder, folder.parent / "drive.dbc", *SENDER, "--dry-run", "--json").stdout)
    assert (body["schema"], body["written"]) == ("loomwright.take", False)
    (file,) = body["files"]
    assert (file["set"], file["messages"], file["expected"], file["signals"]) == ("drive", 3, 1, 3)
    assert file["nodes"] == [{"node": "INV", "messages": 2}, {"node": "BMS", "messages": 1}]
    assert all(each["count"] == len(each["places"]) for each in file["told"])
    assert not (folder / "messages" / "drive.toml").exists()


def test_again_shows_what_changes_in_the_text(folder):
    call("take", folder, folder.parent / "drive.dbc", *SENDER)
    (folder.parent / "drive.dbc").write_text(DBC.replace("BO_ 385 20;", "BO_ 385 40;"), "utf-8")
    result = call("take", folder, folder.parent / "drive.dbc", *SENDER, "--again")
    assert result.exit_code == 0
    assert '-period = "20 ms"' in result.stdout
    assert '+period = "40 ms"' in result.stdout


def test_a_file_that_cannot_be_read_ends_with_its_place_and_nothing_written(folder):
    (folder.parent / "bad.kcd").write_text("<NetworkDefinition>\n<Bus>\n", "utf-8")
    words = ("take", folder, folder.parent / "drive.dbc", folder.parent / "bad.kcd", *SENDER)
    result = call(*words)
    assert result.exit_code == 2
    assert "bad.kcd:3" in result.stderr
    assert not (folder / "messages" / "drive.toml").exists()
    (problem,) = json.loads(call(*words, "--json").stdout)["problems"]
    assert (problem["file"], problem["line"]) == ("bad.kcd", 3)


def test_a_torn_file_says_so_first_and_is_written_only_when_asked(folder):
    file = folder.parent / "drive.dbc"
    file.write_text(DBC[: DBC.index("BA_DEF_ ")] + " SG_ Torn m0", "utf-8")
    result = call("take", folder, file, *SENDER)
    assert result.exit_code == 2
    assert result.stdout.splitlines()[0] == "drive.dbc: the file ends in the middle (line 11): fetch it again"
    assert "Nothing written." in result.stdout
    assert "--incomplete" in result.stderr
    assert not (folder / "messages" / "drive.toml").exists()
    assert call("take", folder, file, *SENDER, "--dry-run").exit_code == 0
    assert (
        json.loads(call("take", folder, file, *SENDER, "--dry-run", "--json").stdout)["files"][0]["ends_in_line"] == 11
    )
    assert call("take", folder, file, *SENDER, "--incomplete").exit_code == 0
    assert (folder / "messages" / "drive.toml").exists()


def test_a_need_that_waits_for_the_file_does_not_stop_even_a_dry_run(folder):
    component = folder / "components" / "display.toml"
    component.write_text(component.read_text("utf-8") + '\n[needs.speed]\nsignal = "drive.status1.speed"\n', "utf-8")
    assert call("check", folder).exit_code == 2
    assert call("take", folder, folder.parent / "drive.dbc", *SENDER, "--dry-run").exit_code == 0
    assert call("take", folder, folder.parent / "drive.dbc", *SENDER).exit_code == 0
    assert call("check", folder).exit_code != 2


def test_a_file_that_is_not_there_ends_with_two(folder):
    assert call("take", folder, folder.parent / "gone.dbc", *SENDER).exit_code == 2


def test_give_writes_a_file_and_reports_what_it_cannot_say(folder):
    call("take", folder, folder.parent / "drive.dbc", *SENDER)
    out = folder.parent / "out.kcd"
    result = call("give", folder, "messages.drive", "--to", out)
    assert result.exit_code == 0
    assert "messages.drive as" in result.stdout
    assert out.read_bytes().startswith(b"<NetworkDefinition")
    body = json.loads(call("give", folder, "messages.drive", "--to", out, "--json").stdout)
    assert (body["schema"], body["messages"]) == ("loomwright.give", 3)


def test_give_refuses_a_format_that_is_not_written(folder):
    result = call("give", folder, "messages.drive", "--to", folder.parent / "out.arxml")
    assert result.exit_code != 0
    assert not (folder.parent / "out.arxml").exists()
