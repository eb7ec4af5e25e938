"""What a receiver's manual describes against what is sent: the same passes, and every way to differ is told."""

from dataclasses import replace

import pytest

from loomwright.model.component import Need
from loomwright.model.message import MessageSet, Signal
from loomwright.model.table import Table
from loomwright.show.words import finding_sentence
from loomwright.solve.hearing import OPEN
from loomwright.terms.fact import Known, Unknown
from loomwright.terms.finding import Verdict
from tests.judge.test_traffic import expecting, findings
from tests.traffic_build import MS, answers, message, saying, spoken, with_component, with_line

PAGE = Signal(0, 4, selects=True)


def paged(*when, start=8, bits=16, by="page", **other):
    return Signal(start, bits, selected_by=by, selected_when=when, **other)


def two_pages():
    return Table({"page": PAGE, "speed": paged(1, factor=1.0), "torque": paged(2, factor=2.0)})


def differences(sent, wanted, **other):
    """What is told of two descriptions of 0x200: tables of signals, or whole messages."""
    vehicle = saying(spoken(), "vcu", torque=message(0x200, signals=sent) if isinstance(sent, Table) else sent)
    vehicle = expecting(vehicle, signals=wanted, **other)
    (found,) = answers(vehicle).expectations
    (finding,) = [each for each in findings(vehicle) if each.rule == "same-definition"]
    assert (finding.verdict is Verdict.HOLDS) is not found.differences
    return found.differences


def test_the_same_pages_are_the_same_whatever_the_signals_are_called():
    assert differences(two_pages(), two_pages()) == ()
    named = Table({"mux": PAGE, "a": paged(1, factor=1.0, by="mux"), "b": paged(2, factor=2.0, by="mux")})
    assert differences(two_pages(), named) == ()


def test_a_receiver_may_leave_out_pages_that_are_sent():
    assert differences(two_pages(), Table({"page": PAGE, "torque": paged(2, factor=2.0)})) == ()


def test_a_value_on_another_page_than_it_is_expected_on_is_told():
    assert differences(Table({"page": PAGE, "value": paged(1)}), Table({"page": PAGE, "value": paged(2)})) == (
        "no signal is sent on the bits of value where page is 2",
    )


def test_each_page_is_held_against_its_own():
    turned = Table({"page": PAGE, "speed": paged(2, factor=1.0), "torque": paged(1, factor=2.0)})
    assert differences(two_pages(), turned) == (
        "speed: factor 2.0 sent, 1.0 expected",
        "torque: factor 1.0 sent, 2.0 expected",
    )


def test_pages_on_which_a_value_is_missing_are_named():
    one, two = Table({"page": PAGE, "value": paged(1)}), Table({"page": PAGE, "value": paged(1, 3)})
    assert differences(one, two) == ("value is not sent on page 3",)
    assert differences(two, one) == ()


def test_two_signals_on_two_pages_make_up_one_that_is_expected_on_both():
    sent = Table({"page": PAGE, "a": paged(1), "b": paged(3)})
    assert differences(sent, Table({"page": PAGE, "value": paged(1, 3)})) == ()


def test_what_is_expected_always_and_sent_on_some_pages_is_told_and_the_other_way_round_is_none():
    always = Table({"page": PAGE, "value": Signal(8, 16)})
    some = Table({"page": PAGE, "value": paged(1)})
    assert differences(some, always) == ("value is sent on some pages only, expected on all",)
    assert differences(always, some) == ()


def test_pages_chosen_by_other_bits_are_other_pages():
    sent = Table({"page": PAGE, "value": paged(1)})
    other = Table({"page": replace(PAGE, start=4), "value": paged(1)})
    assert "value is sent on some pages only, expected on all" in differences(sent, other)


def test_a_page_within_a_page():
    inner = {"page": PAGE, "sub": paged(1, start=8, bits=4, selects=True)}
    sent = Table({**inner, "value": paged(2, start=16, by="sub")})
    assert differences(sent, sent) == ()
    assert differences(sent, Table({**inner, "value": paged(3, start=16, by="sub")})) == (
        "no signal is sent on the bits of value where sub is 3 and page is 1",
    )


@pytest.mark.parametrize(
    ("sent", "wanted", "told"),
    [
        (("0 off", "1 on"), ("0 on", "1 off"), ("0 is off sent, on expected", "1 is on sent, off expected")),
        (("1 Closed",), ("1 open",), ("1 is Closed sent, open expected",)),
        (("0 park", "1 drive"), ("1 park", "2 drive"), ("1 is drive sent, park expected",)),
        (("0 off", "1 on"), ("0 inactive", "1 running"), ()),
        (("0 Not-available",), ("0 not available",), ()),
        (("0 off", "1 on"), ("0 off", "1 on", "3 not available"), ()),
    ],
)
def test_names_that_mean_the_contrary_are_told_and_other_words_for_the_same_are_not(sent, wanted, told):
    one, two = (Table({"value": Signal(0, 2, values=names)}) for names in (sent, wanted))
    assert differences(one, two) == ((f"value: {', '.join(told)}",) if told else ())


def test_byte_order_and_kind_of_number_count():
    assert differences(Table({"value": Signal(0, 16)}), Table({"value": Signal(7, 16, byte_order="big endian")}))
    assert differences(Table({"value": Signal(0, 16)}), Table({"value": Signal(0, 16, number="signed")})) == (
        "value: number unsigned sent, signed expected",
    )


def test_an_fd_frame_is_not_a_classical_one():
    vehicle = saying(spoken(), "vcu", torque=message(0x200, frames="FD"))
    vehicle = expecting(with_line(vehicle, "fast", frames="FD", data_bit_rate_bit_per_s=Known(2e6)))
    (found,) = answers(vehicle).expectations
    assert found.differences == ("FD frames are sent, classical expected",)


@pytest.mark.parametrize(("sent_ms", "late"), [(9.0, False), (10.0, False), (10.001, True), (100.0, True)])
def test_what_is_sent_less_often_than_expected_is_told(sent_ms, late):
    vehicle = expecting(saying(spoken(), "vcu", torque=message(0x200, sent_ms)))
    (found,) = answers(vehicle).expectations
    assert bool(found.differences) is late
    if sent_ms == 100.0:
        assert found.periods_s == pytest.approx((100 * MS, 10 * MS))
        (finding,) = [each for each in findings(vehicle) if each.rule == "same-definition"]
        assert "every 100\u202fms, not 10\u202fms" in finding_sentence(finding)


def test_the_worse_end_of_a_sent_period_counts_and_the_better_of_an_expected_one():
    assert differences(message(0x200, period_s=Known(10 * MS, 8 * MS, 12 * MS)), Table({"value": Signal(0, 16)})) == (
        "it is sent less often than expected",
    )
    wide = {"period_s": Known(10 * MS, 8 * MS, 15 * MS)}
    assert differences(message(0x200, 14.0), Table({"value": Signal(0, 16)}), **wide) == ()


def test_an_event_is_not_a_period():
    sent = message(0x200, None, minimum_gap_s=Known(5 * MS))
    assert differences(sent, Table({"value": Signal(0, 16)})) == ("it is sent on an event, expected in a period",)


def test_an_identifier_of_another_width_is_another_one():
    vehicle = with_line(expecting(spoken(), width="29 bit"), "fast", identifiers=Known("both"))
    (finding,) = [each for each in findings(vehicle) if each.rule == "same-definition"]
    assert "nobody sends this identifier there" in finding_sentence(finding)
    both = saying(vehicle, "vcu", torque=message(0x200, width="29 bit"))
    (finding,) = [each for each in findings(both) if each.rule == "same-definition"]
    assert finding.verdict is Verdict.HOLDS


def test_a_need_of_a_description_without_identifier_is_an_open_question():
    wanted = replace(message(0, expected_by="inverter.can"), identifier=Unknown())
    vehicle = replace(spoken(), messages=spoken().messages.put("inverter", MessageSet(messages=Table({"q": wanted}))))
    vehicle = with_component(vehicle, "inverter", needs=Table({"x": Need("inverter.q")}))
    (need,) = [each for each in answers(vehicle).hearings.needs if each.component == "inverter"]
    assert need.outcome == OPEN
    told = [each for each in findings(vehicle) if each.reading.subject == need.path]
    assert [(each.rule, each.verdict) for each in told] == [("message-sent", Verdict.UNKNOWN)]
    assert told[0].reading.blocked_by == (("messages", "inverter", "messages", "q", "identifier"),)


def test_a_need_of_a_sent_message_is_not_met_by_another_with_its_identifier():
    vehicle = saying(spoken(), "vcu", twin=message(0x100, 20.0))
    (need,) = [each for each in answers(vehicle).hearings.needs if each.component == "vcu"]
    assert need.stream.message == "pedal.travel"
