"""`traffic` and `chain` as a person calls them."""

import json
import re

import pytest
from typer.testing import CliRunner

from loomwright.app.start import start_from_example
from loomwright.cli import app


def run(*words):
    return CliRunner(env={"COLUMNS": "160"}).invoke(app, [str(word) for word in words])


@pytest.fixture(scope="module")
def tipper(tmp_path_factory):
    folder = tmp_path_factory.mktemp("traffic") / "tipper"
    start_from_example(folder, "tipper")
    return folder


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    folder = tmp_path_factory.mktemp("traffic") / "found"
    start_from_example(folder, "tipper-as-found")
    return folder


def test_the_tipper_holds_and_every_line_is_told(tipper):
    result = run("traffic", tipper)
    assert result.exit_code == 0
    for words in ("Line drive: how full it is", "Line body: by when", "0x181", "Left out", "○"):
        assert words in result.output
    assert "broken" not in result.output


def test_one_line_alone_with_margins_and_a_play(tipper):
    result = run("traffic", tipper, "--line", "old", "--margins", "--play", "5")
    assert result.exit_code == 0
    assert "Line drive" not in result.output
    assert "Everything would be in time down to" in result.output
    assert "played for 5" in result.output
    assert "ABOVE" not in result.output


def test_what_the_truck_as_found_says_wrong_is_told_by_name(found):
    result = run("traffic", found)
    assert result.exit_code == 5
    flat = " ".join(result.output.split())
    for words in ("0x260 is sent by charger.can, dcdc.can at once", "display needs", "Old is 67.9 % full"):
        assert words.lower() in flat.lower()


def test_json_has_every_message_with_its_bound(tipper):
    result = run("traffic", tipper, "--json", "--play", "2", "--margins")
    told = json.loads(result.output)
    assert (told["schema"], result.exit_code) == ("loomwright.traffic", 0)
    drive = next(line for line in told["lines"] if line["name"] == "drive")
    assert all(each["best_s"] < each["worst_s"] <= each["deadline_s"] for each in drive["messages"])
    assert drive["margins"]["slowest_bit_per_s"] < drive["bit_rate_bit_per_s"]
    assert drive["play"]["above_bound"] == []
    assert all(each["worst_s"] <= each["bound_s"] for each in drive["play"]["messages"])
    assert {each["name"] for each in told["chains"]} >= {"pedal_to_torque"}


def test_a_chain_is_told_hop_by_hop(tipper):
    result = run("chain", tipper, "pedal_to_torque")
    assert result.exit_code == 0
    for words in ("pedal.travel", "cycle", "vehicle_controller", "share", "old."):
        assert words in result.output
    told = json.loads(run("chain", tipper, "pedal_to_torque", "--json").output)["chains"][0]
    assert sum(hop["waits_s"] + hop["takes_s"] for hop in told["hops"]) == pytest.approx(told["reaction_s"])


def test_names_that_are_not_there_are_refused_with_those_that_are(tipper):
    for words in (("traffic", tipper, "--line", "drove"), ("chain", tipper, "pedal")):
        result = run(*words)
        assert result.exit_code != 0
        assert "there is no" in str(result.exception)
        assert "drive" in str(result.exception) or "pedal_to_torque" in str(result.exception)


def test_without_a_chain_it_says_how_to_write_one(tmp_path):
    start_from_example(tmp_path / "p", "bench")
    body = tmp_path / "p" / "vehicle.toml"
    text = body.read_text(encoding="utf-8")
    body.write_text(text[: text.index("[chains.")], encoding="utf-8")
    result = run("chain", tmp_path / "p")
    assert result.exit_code == 2
    assert "[chains.NAME]" in result.output + str(result.stderr)


def test_disturbed_frames_make_everything_later_and_are_told(tipper):
    plain, hit = (json.loads(run("traffic", tipper, "--json", *more).output) for more in ((), ("--errors", "2")))
    for before, after in zip(plain["lines"], hit["lines"], strict=True):
        later = [b["worst_s"] > a["worst_s"] for a, b in zip(before["messages"], after["messages"], strict=True)]
        assert all(later)
    result = run("traffic", tipper, "--errors", "2")
    assert "With 2 disturbed frames in a row" in result.output


def test_proposed_identifiers_are_written_only_when_asked_and_make_fewer_late(tmp_path):
    start_from_example(tmp_path / "p", "tipper-as-found")

    def late():
        told = json.loads(run("traffic", tmp_path / "p", "--line", "old", "--json").output)
        return {
            each["subject"] for each in told["findings"] if (each["rule"], each["verdict"]) == ("in-time", "broken")
        }

    before = late()
    shown = run("traffic", tmp_path / "p", "--line", "old", "--propose")
    assert "other identifiers" in shown.output
    assert "Nothing written." in shown.output
    assert late() == before
    written = run("traffic", tmp_path / "p", "--line", "old", "--propose", "--write", "--json")
    (file,) = json.loads(written.output)["written"]
    assert file == "components/vehicle_controller.toml"
    assert late() < before
    assert run("traffic", tmp_path / "p", "--write").exit_code == 2


def test_what_holds_is_shown_with_its_margin_where_it_is_asked_for(tipper):
    few, every = (run("traffic", tipper, "--line", "old", *more).output for more in ((), ("--all",)))
    assert "--all shows each with its margin" in few
    assert "--all shows" not in every
    assert "○ in-time" in every
    assert "at most" in every


def test_margins_of_a_line_that_is_late_say_from_which_rate_on_it_would_not_be(found):
    told = " ".join(run("traffic", found, "--line", "old", "--margins").output.split())
    now, then = re.search(r"Not in time at ([\d.]+) kbit/s; it would be only from ([\d.]+) kbit/s on", told).groups()
    assert float(then) > float(now)
    assert "Everything would be in time" not in told


def test_a_play_with_disturbed_frames_has_some_and_stays_below_its_bounds(tipper):
    result = run("traffic", tipper, "--line", "old", "--errors", "2", "--play", "20")
    disturbed = int(re.search(r"\((\d+) of them disturbed\)", " ".join(result.output.split())).group(1))
    assert disturbed > 100
    assert "ABOVE" not in result.output
    assert "disturbed)" not in run("traffic", tipper, "--line", "old", "--play", "5").output


def test_a_worst_time_tells_what_a_gateway_has_to_do_with_it_and_when_it_occurs(found):
    told = run("traffic", found, "--line", "body").output
    assert "Worst in state drive where no other is named" in told
    rows = re.split(r"\n(?= 0x)", told)
    row = {name: next(row for row in rows if f" {name} " in row) for name in (
        "battery_manager.pack_status", "dcdc.converter_temperatures", "charger.charger_input", "display.operator",
    )}  # fmt: skip
    assert re.search(r"pack_status +800 .*\n +10 of it in the gateway", row["battery_manager.pack_status"])
    assert re.search(r"\n +and 16.9 before", row["dcdc.converter_temperatures"])
    assert "worst in charge" in row["charger.charger_input"]
    assert "\n  " not in row["display.operator"].rstrip()
