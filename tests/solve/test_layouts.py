"""Bits of signals, and whether sender and receiver mean the same."""

import pytest

from loomwright.model.message import Message, MessageSet, Signal
from loomwright.model.speech import speech_of
from loomwright.model.table import Table
from loomwright.solve.layouts import layout_of
from loomwright.terms.fact import Known
from tests.traffic_build import answers, message, spoken

LITTLE, BIG = "little endian", "big endian"


def laid(length=8, **signals):
    return layout_of(Message(length=length, signals=Table(signals)))


def test_neighbours_do_not_share_and_one_bit_more_does():
    assert laid(a=Signal(0, 8), b=Signal(8, 8)).shared == ()
    assert laid(a=Signal(0, 9), b=Signal(8, 8)).shared == (("a", "b"),)


def test_big_endian_runs_on_from_the_top_of_the_next_byte():
    twelve = Signal(7, 12, BIG)  # all of the first byte, the upper half of the second
    assert laid(a=twelve, b=Signal(8, 4)).shared == ()
    assert laid(a=twelve, b=Signal(12, 4)).shared == (("a", "b"),)


@pytest.mark.parametrize(
    ("signal", "fits"), [(Signal(56, 8), True), (Signal(57, 8), False), (Signal(63, 9, BIG), False)]
)
def test_a_signal_past_the_last_byte_is_beyond(signal, fits):
    assert laid(a=signal).beyond == (() if fits else ("a",))


def test_pages_of_a_selected_message_may_use_the_same_bits():
    page = Signal(0, 8, selects=True)
    one, two, both = (Signal(8, 8, selected_by="page", selected_when=when) for when in ((1,), (2,), (1, 2)))
    assert laid(page=page, a=one, b=two).shared == ()
    assert laid(page=page, a=one, b=both).shared == (("a", "b"),)
    assert laid(page=page, a=one, b=Signal(8, 8)).shared == (("a", "b"),)


CHECK = Signal(56, 8, duty="checksum", checksum="CRC-8/AUTOSAR")
COUNT = Signal(52, 4, duty="counter")


@pytest.mark.parametrize(
    ("sent", "wanted", "differences", "guards"),
    [
        ({"v": Signal(0, 16)}, {"other_name": Signal(0, 16)}, 0, 0),
        ({"v": Signal(0, 16)}, {"v": Signal(0, 16, factor=0.1)}, 1, 0),
        ({"v": Signal(0, 16)}, {"v": Signal(0, 16, number="signed", offset=-40.0)}, 1, 0),
        ({"v": Signal(0, 16)}, {"v": Signal(7, 16, BIG)}, 1, 0),
        ({"v": Signal(0, 16), "c": COUNT}, {"v": Signal(0, 16)}, 0, 0),
        ({"v": Signal(0, 16)}, {"v": Signal(0, 16), "c": COUNT}, 0, 1),
        ({"k": CHECK, "c": COUNT}, {"k": Signal(56, 8, duty="checksum", checksum="CRC-8/SAE-J1850"), "c": COUNT}, 0, 1),
        ({"k": CHECK, "c": COUNT}, {"k": CHECK, "c": Signal(48, 4, duty="counter")}, 0, 1),
    ],
)
def test_what_is_sent_is_held_against_what_is_expected(sent, wanted, differences, guards):
    vehicle = spoken(
        messages=Table(
            {
                "vcu": MessageSet(sender="vcu.a", messages=Table({"torque": message(0x200, signals=Table(sent))})),
                "inverter": MessageSet(
                    messages=Table({"torque": message(0x200, expected_by="inverter.can", signals=Table(wanted))})
                ),
            }
        ),
        chains=Table(),
    )
    (found,) = answers(vehicle).expectations
    assert (found.sent, len(found.differences), len(found.guards)) == ("vcu.torque", differences, guards)


def test_nobody_sends_what_is_expected():
    wants = MessageSet(messages=Table({"torque": message(0x201, expected_by="inverter.can")}))
    (found,) = answers(spoken(messages=spoken().messages.put("inverter", wants))).expectations
    assert found.sent == ""
    assert speech_of(spoken()).sets["vcu"].messages["torque"].identifier == Known(0x200)
