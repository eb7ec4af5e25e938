"""``loomwright signal --fault``: a line with a fault, from outside."""

import json

import pytest
from typer.testing import CliRunner

from loomwright.cli import app

RUNNER = CliRunner()


def call(*words):
    return RUNNER.invoke(app, [str(word) for word in words])


@pytest.fixture(scope="module")
def truck(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cli") / "truck"
    assert call("new", folder, "--from", "tipper").exit_code == 0
    return folder


def test_a_broken_line_with_a_fault_ends_with_0_for_it_judges_no_vehicle(truck):
    result = call("signal", truck, "--line", "drive", "--fault", "no terminator at pedal_box")
    assert result.exit_code == 0
    assert "not the line as drawn" in " ".join(result.stdout.split())
    torn = call("signal", truck, "--line", "drive", "--fault", "open trunk between dcdc and charge_controller")
    assert torn.exit_code == 0


def test_plain_data_has_a_schema_of_its_own_and_names_the_fault(truck):
    result = call("signal", truck, "--fault", "stub 2 m at charger", "--draws", "5", "--json")
    data = json.loads(result.stdout)
    assert (result.exit_code, data["schema"], data["as_drawn"]) == (0, "loomwright.signal-fault", False)
    assert data["fault"] | {"sentence": ""} == {
        "text": "stub 2 m at charger", "kind": "stub", "station": 3, "length_m": 2.0, "sentence": "",
    }  # fmt: skip
    assert "findings" not in data
    changed = {own["port"] for own in data["receivers"] if own["after"]["verdict"] != own["before"]["verdict"]}
    assert {own["because"]["port"] for own in data["worse"] if "port" in own["because"]} == changed
    assert data["draws_with_fault"]["draws"] == 5
    assert len(data["receivers"]) == 9


def test_without_a_fault_the_output_knows_nothing_of_faults(truck):
    result = call("signal", truck, "--line", "old", "--json")
    data = json.loads(result.stdout)
    assert (data["schema"], "fault" in data) == ("loomwright.signal", False)


def test_the_faults_of_a_line_are_listed(truck):
    listed = call("signal", truck, "--line", "old", "--fault", "list")
    assert listed.exit_code == 0
    lines = listed.stdout.splitlines()
    at = next(number for number, text in enumerate(lines) if text.startswith("    open branch at lamp_module  "))
    assert lines[at].split("  ")[-1].startswith("Rear lamp module, ")
    assert "  a branch torn off where it leaves the trunk:" in lines[:at]
    data = json.loads(call("signal", truck, "--fault", "list", "--json").stdout)
    assert [line["name"] for line in data["lines"]] == ["body", "drive", "old"]
    old = dict(zip(data["lines"][2]["faults"], data["lines"][2]["titles"], strict=True))
    assert old["open trunk between instrument_cluster and brakes"].startswith(
        "between Old instrument cluster and Brake"
    )


def test_facts_that_are_missing_end_with_4(tmp_path):
    assert call("new", tmp_path / "t", "--from", "tipper-as-found").exit_code == 0
    file = tmp_path / "t" / "lines" / "drive.toml"
    file.write_text(file.read_text("utf-8").replace('bit_rate = "500 kbit/s"\n', ""), "utf-8")
    result = call("signal", tmp_path / "t", "--line", "drive", "--fault", "unplugged at charger")
    assert "look up" in result.stdout, result.output
    assert result.exit_code == 4


def test_advice_is_not_given_on_a_fault(truck):
    result = call("signal", truck, "--fault", "stub 2 m at charger", "--advice")
    assert result.exit_code == 2
    assert "--advice is for the line as drawn" in result.output


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cli") / "found"
    assert call("new", folder, "--from", "tipper-as-found").exit_code == 0
    return folder


def test_a_termination_too_many_that_goes_is_told_to_make_it_right(found):
    told = " ".join(call("signal", found, "--line", "body", "--fault", "no terminator at display").stdout.split())
    assert (
        "This makes it right: Exactly two terminations: 3 becomes 2; Ohm-meter reading between the wires: 39.9 Ω becomes 59.7 Ω."
        in told
    )
    right = call("signal", found, "--line", "body", "--fault", "no terminator at rail_left_1")
    assert "makes it right" not in right.stdout, "the third one stands inside the trunk; an end must keep its own"


def test_a_line_without_a_way_names_the_things_that_no_run_leads_to(found):
    told = " ".join(call("signal", found, "--line", "pumps").stdout.split())
    assert "the way to Radiator fan (radiator_fan.can, at " in told
    assert "6 other findings on this line are broken: A way along the runs for every piece, No ring" in told
    assert "station 2" not in told.partition("? unknown signal-settling")[0], (
        "the table below names paths, as a check does"
    )
    assert "signal checks hold" not in told
    assert "3 more wait for these facts: signal-level, there-and-back, bit-timing" in told


def test_a_line_that_cannot_be_measured_yet_is_unknown_not_fine(tmp_path):
    assert call("new", tmp_path / "p", "--from", "tipper-as-found").exit_code == 0
    assert call("signal", tmp_path / "p", "--line", "pumps").exit_code == 4


def test_a_line_torn_in_two_is_given_half_by_half(truck):
    text = "open trunk between inverter and vehicle_controller"
    data = json.loads(call("signal", truck, "--line", "drive", "--fault", text, "--draws", "5", "--json").stdout)
    assert data["with_fault"] == {"signal": None, "levels": None}
    assert [half["stations"] for half in data["halves"]] == [list(range(7)), list(range(7, 11))]
    assert [half["terminations"] for half in data["halves"]] == [1, 1]
    second = data["halves"][1]
    assert {pair["receiver"] for pair in second["signal"]["pairs"]} == {"vehicle_controller.can1", "pedal.can"}
    assert second["bit_timing"]["round_trip"]["length_m"] < 20.0
    assert second["draws"]["draws"] == 5
    told = " ".join(call("signal", truck, "--line", "drive", "--fault", text).stdout.split())
    assert "vehicle_controller and pedal hear each other; nothing passes between." in told
    assert "No bit timing suits" not in told
    whole = json.loads(call("signal", truck, "--line", "drive", "--fault", "unplugged at pedal", "--json").stdout)
    assert whole["halves"] == []


def test_how_to_find_a_fault_is_told_in_words_and_in_plain_data(truck):
    asked = ("signal", truck, "--line", "drive", "--fault", "no terminator at pedal_box")
    told = " ".join(call(*asked).stdout.split())
    assert "How to find it: Supply off, everything asleep." in told
    assert "2. Take the plug of Battery manager off; its termination goes with it." in told
    finding = json.loads(call(*asked, "--json").stdout)["finding"]
    assert (finding["seen_by_meter"], finding["not_told_apart"]) == (True, [])
    first, second = finding["steps"]
    assert (first["unplugged"], second["unplugged"]) == (None, 0)
    assert len(second["readings"]) == 11
    others = {own["fault"]: own for own in second["others"]}
    assert all(own["apart"] for own in others.values())
    assert min(own["ohm"] for own in second["readings"]) > 1e3
    assert max(own["ohm"] for own in others["no terminator at battery_manager"]["readings"]) < 130
    # What is open has no figure, and a forgotten lead no walk that tells.
    torn = json.loads(call("signal", truck, "--line", "drive", "--fault", "open branch at charger", "--json").stdout)
    assert torn["finding"]["steps"][1]["readings"][3]["ohm"] is None
    stub = json.loads(call("signal", truck, "--fault", "stub 2 m at charger", "--json").stdout)
    assert stub["finding"]["seen_by_meter"] is False
