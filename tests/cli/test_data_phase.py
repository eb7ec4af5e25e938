"""A small FD line from its files to the verdict, as a person calls it."""

import json
import math

import pytest
from typer.testing import CliRunner

from loomwright.cli import EXIT_CODES, app
from tests.fd_bench import BATTERY, CONTROLLER, LINE, with_fd

RUNNER = CliRunner(env={"COLUMNS": "160"})


def call(*words):
    return RUNNER.invoke(app, [str(word) for word in words])


def plain(*words):
    return json.loads(call(*words, "--json").stdout)


def spaced(text):
    """With plain spaces between figures and their units."""
    return text.replace("\u202f", " ").replace("\u00a0", " ")


@pytest.fixture
def bench(tmp_path):
    folder = tmp_path / "bench"
    assert call("new", folder, "--from", "bench").exit_code == 0
    return folder


def timing_of(folder):
    (line,) = plain("signal", folder)["lines"]
    return line["timing"]


def broken(folder):
    return {finding["rule"] for finding in plain("check", folder)["findings"] if finding["verdict"] == "broken"}


def test_both_phases_are_set_and_the_stated_points_decide(bench):
    with_fd(bench)
    result = call("signal", bench)
    assert result.exit_code == EXIT_CODES["holds"], result.stdout
    assert "Data phase at 2 Mbit/s: sampled at 70.0 % by all nodes that tell of it" in spaced(result.stdout)
    assert "all five conditions" in result.stdout
    timing = timing_of(bench)
    controller, battery = timing["common"]["nodes"]
    assert (controller["sample_point"], battery["sample_point"]) == pytest.approx((0.80, 0.80), abs=0.01)
    assert (controller["data_sample_point"], battery["data_sample_point"]) == pytest.approx((0.70, 0.70), abs=0.01)
    nominal, data = controller["setting"], controller["data"]
    assert nominal["prescaler"] == data["prescaler"] == 2
    assert 80e6 / 2 / (1 + data["propagation"] + data["phase_1"] + data["phase_2"]) == pytest.approx(2e6)
    assert data["jump"] == min(data["phase_1"], data["phase_2"]) == 6
    assert controller["tolerance"] >= 0.001


def test_the_senders_delay_and_offset_are_those_of_its_transceiver_and_sample_point(bench):
    with_fd(bench)
    ((name, own),) = timing_of(bench)["data"]["compensation"]
    assert name == "vehicle_controller.can1"
    assert own["delay"] == math.ceil(255e-9 * 80e6)
    assert own["delay_quanta"] == math.ceil(255e-9 * 40e6)
    assert own["offset"] == 0.7 * 40
    assert own["able"]


def test_edges_have_settled_on_a_short_line_before_the_data_phase_is_read(bench):
    """Two boxes on 1.6 m, both terminated: nothing rings, so the edge itself is what takes time."""
    with_fd(bench)
    data = timing_of(bench)["data"]
    assert data["sample_s"] == pytest.approx(0.7 * 500e-9)
    assert len(data["sure"]) == 2
    for own in data["sure"]:
        assert 0.0 < own["typical_s"] <= own["corner_s"] < 80e-9


def test_a_classical_line_has_no_data_phase(bench):
    assert timing_of(bench)["data"] is None
    assert "Data phase" not in call("signal", bench).stdout
    assert "data_bit" not in json.dumps(plain("unknowns", bench))


def test_an_unknown_data_bit_rate_blocks_the_timing_and_becomes_the_question(bench):
    with_fd(bench, line="")
    result = call("signal", bench)
    assert "Its bit timing waits for" in result.stdout
    assert result.exit_code == EXIT_CODES["unknown"]
    assert timing_of(bench) is None
    first = plain("unknowns", bench)["questions"][0]
    assert first["path"] == "lines.bench.data_bit_rate_bit_per_s"
    assert first["question"] == "At which bit rate does the data phase of FD frames run?"
    assert call("check", bench).exit_code == EXIT_CODES["unknown"]


def test_a_port_that_cannot_run_at_the_data_bit_rate_is_found_by_the_quick_check(bench):
    with_fd(bench, line='data_bit_rate = "5 Mbit/s"\n')
    assert broken(bench) == {"data-bit-rate-match"}
    sentences = [f["sentence"] for f in plain("check", bench)["findings"] if f["rule"] == "data-bit-rate-match"]
    assert any(
        "battery_manager.can runs its data phase at 2 Mbit/s, the line at 5 Mbit/s." in spaced(one) for one in sentences
    )


def test_stated_points_that_differ_leave_the_nominal_phase_and_name_both_nodes(bench):
    with_fd(
        bench,
        controller=CONTROLLER.replace('clock = "80 MHz"\n', 'sample_point = "80 %"\ndata_sample_point = "80 %"\n'),
    )
    result = call("signal", bench)
    assert result.exit_code == EXIT_CODES["broken"]
    assert "no setting suits all nodes" in result.stdout
    timing = timing_of(bench)
    assert timing["common"]["sample_point"] == pytest.approx(0.8)
    (reason,) = timing["data"]["reasons"]
    assert reason["obstacle"] == "sample points of the data phase cannot be brought together"
    assert reason["nodes"] == ["battery_manager.can", "vehicle_controller.can1"]
    assert (reason["best"], reason["needed"]) == (pytest.approx(0.1), pytest.approx(0.01))
    assert call("explain", "data-timing").exit_code == 0


def test_a_data_phase_slower_than_the_rest_is_told(bench):
    slow = '"250 kbit/s"'
    with_fd(
        bench,
        line=LINE.replace('"2 Mbit/s"', slow),
        battery=BATTERY.replace('"2 Mbit/s"', slow),
        controller=CONTROLLER.replace('"2 Mbit/s"', slow),
    )
    assert timing_of(bench)["data"]["reasons"][0]["obstacle"] == "the data phase is slower than the rest of the frame"


def test_who_tells_nothing_of_the_data_phase_is_named(bench):
    with_fd(bench, battery=BATTERY.replace('data_sample_point = "70 %"\n', ""))
    timing = timing_of(bench)
    assert timing["untold"] == []
    assert timing["data"]["untold"] == ["battery_manager.can"]
    assert timing["data"]["sample_point"] == pytest.approx(0.75)
    assert "Nothing is told of the data phase of battery_manager.can" in call("signal", bench).stdout
