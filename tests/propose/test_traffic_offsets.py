"""Offsets: the backlog they promise, held against a sender followed millisecond by millisecond."""

import math

import pytest

from loomwright.model.component import Forward
from loomwright.model.message import Message
from loomwright.model.speech import speech_of
from loomwright.propose.traffic_offsets import offsets
from loomwright.solve.traffic import traffic
from loomwright.terms.fact import Assumed, Known, Unknown
from tests.propose.traffic_build import component, line, message, port, vehicle

FRAME_S = 135 * 8e-6
"""The longest frame of 8 bytes with its pause at 125 kbit/s: 135 bits."""


def spread(base, name="bus"):
    speech = speech_of(base)
    return offsets(speech, name, traffic(speech).on(name)).value


def speaking(*messages):
    return vehicle(
        {"box": component("b", can=port()), "ear": component("d", can=port())},
        {"bus": line("box.can", "ear.can")},
        {"own": ("box.can", {f"m{number}": one for number, one in enumerate(messages)})},
    )


def backlog(periods_ms, offsets_ms):
    """The most work that waits at any release, followed over two hyperperiods after the last start."""
    waiting = most = last = 0.0
    for now in range(max(offsets_ms) + 2 * math.lcm(*periods_ms)):
        due = sum(
            now >= first and (now - first) % period == 0 for period, first in zip(periods_ms, offsets_ms, strict=True)
        )
        if due:
            waiting = max(0.0, waiting - (now - last) * 1e-3) + due * FRAME_S
            most, last = max(most, waiting), now
    return most


@pytest.mark.parametrize("periods", [(10, 10), (10, 20, 20), (5, 10, 20, 50), (10, 15, 100, 1000)])
def test_the_backlog_is_as_told_and_smaller(periods):
    (found,) = spread(speaking(*(message(0x100 + at, period * 1e-3) for at, period in enumerate(periods))))
    begin = [round(one.offset_s * 1e3) for one in found.offsets]
    assert [one.offset_s for one in found.offsets] == pytest.approx([1e-3 * ms for ms in begin], abs=1e-9)
    assert all(first < period for first, period in zip(begin, periods, strict=True))
    assert found.before_s == pytest.approx(backlog(periods, [0] * len(periods)), abs=len(periods) * 1e-6)
    assert found.after_s == pytest.approx(backlog(periods, begin), abs=len(periods) * 1e-6)
    assert found.after_s < found.before_s
    assert found.whole


def test_events_and_what_gateways_pass_on_when_they_hear_it_have_no_offset():
    base = speaking(message(0x100, 10e-3), message(0x101, 10e-3), message(0x102, 20e-3))
    silent = base.messages["own"].messages.put("m0", Message(identifier=Known(0x100), minimum_gap_s=Known(1e-2)))
    base = vehicle(dict(base.components.items()), dict(base.lines.items()), {"own": ("box.can", dict(silent.items()))})
    (found,) = spread(base)
    assert [one.message for one in found.offsets] == ["own.m1", "own.m2"]


def test_a_forward_with_a_cycle_of_its_own_has_one():
    gateway = component(
        "c", "gateway", forwards={"f": Forward("own.m0", "b", period_s=Known(50e-3)), "g": Forward("own.m1", "b")},
        a=port(), b=port(),
    )  # fmt: skip
    base = vehicle(
        {"box": component("b", can=port()), "gate": gateway, "ear": component("d", can=port())},
        {"bus": line("box.can", "gate.a"), "far": line("gate.b", "ear.can")},
        {
            "own": ("box.can", {"m0": message(0x100, 10e-3), "m1": message(0x101, 10e-3)}),
            "gates": ("gate.b", {"m2": message(0x110, 50e-3)}),
        },
    )
    (found,) = spread(base, "far")
    assert {one.message for one in found.offsets} == {"own.m0", "gates.m2"}


def test_one_message_alone_needs_none():
    assert spread(speaking(message(0x100, 10e-3))) == ()


def test_an_unknown_period_is_waited_for_and_an_assumed_rate_told():
    speech = speech_of(speaking(message(0x100, 10e-3), Message(identifier=Known(0x101), period_s=Unknown())))
    found = offsets(speech, "bus", traffic(speech).on("bus"))
    assert found.by == (("messages", "own", "messages", "m1", "period_s"),)
    base = speaking(message(0x100, 10e-3), message(0x101, 10e-3))
    base = vehicle(
        dict(base.components.items()),
        {"bus": line("box.can", "ear.can", rate=125e3, bit_rate_bit_per_s=Assumed(125e3, "guessed"))},
        {"own": ("box.can", dict(base.messages["own"].messages.items()))},
    )
    speech = speech_of(base)
    found = offsets(speech, "bus", traffic(speech).on("bus"))
    assert found.assumed == (("lines", "bus", "bit_rate_bit_per_s"),)
