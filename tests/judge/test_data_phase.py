"""The data bit rate of FD lines: who can run at it, who is asked for it, and that a classical line asks nobody."""

import pytest

from loomwright.app.questions import Answers
from loomwright.judge.rules.matching import suits
from loomwright.model.variant import changed
from loomwright.solve.unknowns import unknowns
from loomwright.terms.fact import Known, Unknown
from loomwright.terms.finding import Verdict
from tests.judge.build import findings, sound, verdicts, with_line, with_port
from tests.judge.cases import flexible

LINE_RATE = ("lines", "one", "data_bit_rate_bit_per_s")
PUMP_RATES = ("components", "pump", "ports", "a", "data_bit_rates_bit_per_s")


def asked(vehicle):
    return {question.path: question for question in unknowns(vehicle, Answers().waiting(vehicle))}


def readings(vehicle):
    return [finding for finding in findings(vehicle) if finding.rule == "data-bit-rate-match"]


def test_a_classical_line_is_not_asked_for_a_data_bit_rate():
    assert readings(sound()) == []
    assert LINE_RATE not in asked(sound())
    assert PUMP_RATES not in asked(sound())


def test_an_fd_line_is_asked_for_its_data_bit_rate_first():
    vehicle = with_line(flexible(sound()), data_bit_rate_bit_per_s=Unknown())
    assert verdicts(vehicle, Verdict.UNKNOWN) == {"data-bit-rate-match", "facts-known"}
    question = asked(vehicle)[LINE_RATE]
    assert "data phase" in question.question
    assert "data-bit-rate-match on one" in question.blocks


@pytest.mark.parametrize("told", [None, Unknown()], ids=["nobody spoke of it", "open"])
def test_a_port_of_an_fd_line_is_asked_for_its_data_bit_rates(told):
    vehicle = with_port(flexible(sound()), "pump", data_bit_rates_bit_per_s=told)
    assert verdicts(vehicle) == set()
    assert verdicts(vehicle, Verdict.UNKNOWN) == {"data-bit-rate-match", "facts-known"}
    assert asked(vehicle)[PUMP_RATES].question == "Which bit rates can the data phase run at?"


def test_a_classical_port_on_an_fd_line_is_told_of_its_frames_alone():
    vehicle = with_port(flexible(sound()), "pump", frames=Known("classical"), data_bit_rates_bit_per_s=None)
    assert verdicts(vehicle) == {"frames-match"}
    assert verdicts(vehicle, Verdict.UNKNOWN) == set()


def test_a_service_plug_has_no_data_phase():
    vehicle = with_port(flexible(sound()), "plug", data_bit_rates_bit_per_s=None)
    assert verdicts(vehicle, Verdict.UNKNOWN) == set()


def test_the_cure_is_the_fastest_data_bit_rate_that_all_can_do():
    vehicle = flexible(sound(), 500e3, 1e6)
    broken = next(finding for finding in readings(vehicle) if finding.verdict is Verdict.BROKEN)
    assert broken.reading.because[0] == ("port", "pump.a")
    assert broken.reading.change.title == "Run the data phase at the bit rate all can do"
    assert broken.reading.change.edits[0].value == Known(1e6)
    assert verdicts(changed(vehicle, broken.reading.change)) == set()


@pytest.mark.parametrize(("rates", "good"), [((2e6,), True), ((1e6,), False), (None, False)])
def test_a_port_suits_an_fd_line_only_if_its_data_phase_does(rates, good):
    vehicle = flexible(sound())
    told = None if rates is None else Known(rates)
    pump = with_port(vehicle, "pump", data_bit_rates_bit_per_s=told).components["pump"]
    assert suits(vehicle.lines["one"], pump, pump.ports["a"]) is good
    assert suits(sound().lines["one"], pump, pump.ports["a"])
