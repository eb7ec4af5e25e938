"""J1939 messages in packets: which frames carry them, how long they take, and who waits for whom; worked out by hand.

Packets of 7 bytes, 50 ms apart at the least: read in texts on SAE J1939-21. 200 ms apart at the most, 200 ms for each
answer, one broadcast of a sender and one transport to each receiver at a time: from memory of it.
"""

import math
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.judge.traffic_cures import free_identifier
from loomwright.laws.j1939 import addressee, packet_spacing_s, transport_identifiers
from loomwright.model.component import Forward, Need
from loomwright.model.message import MessageSet
from loomwright.model.speech import speech_of
from loomwright.model.table import Table
from loomwright.model.variant import changed
from loomwright.model.vehicle import Chain
from loomwright.propose.traffic_free import FreeIdentifiers
from loomwright.show.words import finding_sentence
from loomwright.solve.hearing import HEARD
from loomwright.solve.simulated import line_play
from loomwright.solve.streams import ANNOUNCEMENT, ANSWERS, PACKETS
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Known, Unknown
from loomwright.terms.finding import Verdict
from tests.judge.test_traffic import findings, j1939, needing
from tests.traffic_build import MS, answers, message, port, saying, spoken, with_component, with_line

FRAME = 160 * 2e-6
"""A frame of 8 bytes with 29 bits of identifier at its longest, 80 + 10 n bits, at 500 kbit/s."""


def truck(**messages):
    """The talking vehicle on a J1939 line, with long messages of the pedal's (address 0x27) that nobody else minds."""
    return saying(j1939(spoken()), "pedal", **messages)


def long(identifier, length, period_ms=1000.0, **other):
    return message(identifier, period_ms, length=length, signals=Table(), **other)


def transfer(vehicle, name="pedal.long", on="fast"):
    (found,) = [
        answer
        for path, where, answer in answers(vehicle).transfers
        if where == on and (path[0] == "components" or f"{path[1]}.{path[3]}" == name)
    ]
    return found if isinstance(found, Blocked) else found.value


def judged(vehicle, rule="transported-in-time", name="long"):
    (found,) = [each for each in findings(vehicle) if each.rule == rule and name in each.reading.subject]
    return found


def test_identifiers_of_transport_from_memory_of_the_standard():
    assert transport_identifiers(0x27, None) == (0x1CECFF27, 0x1CEBFF27)
    assert transport_identifiers(0x27, 0x29) == (0x1CEC2927, 0x1CEB2927)
    assert transport_identifiers(0x29, 0x27) == (0x1CEC2729, 0x1CEB2729)


def test_whom_a_long_message_is_for():
    assert addressee(0x18FEEC27) is None
    assert addressee(0x18EF2927) == 0x29
    assert addressee(0x18EFFF27) is None
    assert packet_spacing_s(None) == (0.050, 0.200)
    assert packet_spacing_s(0x29) == (0.0, 0.400)


def test_a_stated_deadline_is_held_against_the_last_packet():
    """20 bytes are 3 packets: 150 ms at the least, 600 ms at the most, and 4 frames that each wait for two others."""
    found = transfer(truck(long=long(0x18FF0127, 20, deadline_s=Known(20 * MS))))
    assert found.alone_s == pytest.approx(150 * MS + 131 * 2e-6, abs=2e-9)
    assert found.least_s == pytest.approx(150 * MS + 4 * 4 * FRAME, abs=FRAME * 4)
    assert found.longest_s - found.least_s == pytest.approx(450 * MS, abs=1e-9)
    late = judged(truck(long=long(0x18FF0127, 20, deadline_s=Known(20 * MS))))
    assert late.verdict is Verdict.BROKEN
    assert late.reading.value == found.least_s
    assert "even with the least time allowed" in finding_sentence(late)


@pytest.mark.parametrize(
    ("deadline_ms", "verdict"), [(140.0, Verdict.BROKEN), (300.0, Verdict.UNKNOWN), (700.0, Verdict.HOLDS)]
)
def test_what_hangs_on_the_time_between_packets_is_unknown_until_it_is_stated(deadline_ms, verdict):
    said = long(0x18FF0127, 20, deadline_s=Known(deadline_ms * MS))
    found = judged(truck(long=said))
    assert found.verdict is verdict
    path = ("messages", "pedal", "messages", "long", "packet_spacing_s")
    assert found.reading.blocked_by == ((path,) if verdict is Verdict.UNKNOWN else ())
    stated = judged(truck(long=replace(said, packet_spacing_s=Known(50 * MS))))
    assert stated.verdict is (Verdict.BROKEN if verdict is Verdict.BROKEN else Verdict.HOLDS)
    slow = judged(truck(long=replace(said, packet_spacing_s=Known(100 * MS, 60 * MS, 200 * MS))))
    assert slow.verdict is (Verdict.HOLDS if deadline_ms == 700.0 else Verdict.BROKEN)


def test_an_unknown_time_between_packets_is_as_one_that_nobody_spoke_of():
    said = long(0x18FF0127, 20, deadline_s=Known(0.3), packet_spacing_s=Unknown())
    assert judged(truck(long=said)).verdict is Verdict.UNKNOWN


def test_packets_are_never_closer_than_the_standard_lets_them_and_what_does_not_fit_never_gets_done():
    """100 bytes are 15 packets, 750 ms, and 300 ms is all there is."""
    vehicle = truck(travel=long(0x0CFF0027, 100, 300.0))
    (packets,) = [each for each in answers(vehicle).streams if each.part == PACKETS]
    assert packets.period_s == 50 * MS
    found = judged(vehicle, name="travel")
    assert (found.verdict, found.reading.value) == (Verdict.BROKEN, math.inf)
    assert "never gets done: it takes 750\u202fms at the least" in finding_sentence(found)
    assert judged(vehicle, "fresh", "vcu").verdict is Verdict.BROKEN
    assert answers(vehicle).chains["torque"].value.reaction_s == math.inf


def test_a_chain_takes_the_longest_time_that_is_allowed_between_packets():
    vehicle = truck(travel=long(0x0CFF0027, 20))
    hop = answers(vehicle).chains["torque"].value.hops[0]
    assert hop.response_s == transfer(vehicle, "pedal.travel").longest_s
    assert 0.600 < hop.response_s < 0.610
    spaced = truck(travel=long(0x0CFF0027, 20, packet_spacing_s=Known(50 * MS)))
    assert 0.150 < answers(spaced).chains["torque"].value.hops[0].response_s < 0.160
    unknown = truck(travel=long(0x0CFF0027, 100))
    path = ("messages", "pedal", "messages", "travel", "packet_spacing_s")
    assert answers(unknown).chains["torque"] == Blocked((path,))


def test_a_sender_broadcasts_one_message_at_a_time():
    """15 packets each, 50 ms apart, both every second: 1.5 s of work for each second, on a line that is all but empty."""
    two = {"long": long(0x18FF0127, 100), "other": long(0x18FF0227, 100)}
    for name in two:
        found = judged(truck(**two), name=name)
        assert (found.verdict, found.reading.value) == (Verdict.BROKEN, math.inf)
        assert "one such message at a time" in finding_sentence(found)
    assert judged(truck(long=replace(two["long"], packet_spacing_s=Known(50 * MS)))).verdict is Verdict.HOLDS


def test_messages_of_one_sender_wait_for_each_other_and_those_of_two_senders_do_not():
    spacing = {"packet_spacing_s": Known(50 * MS)}
    alone = transfer(truck(long=long(0x18FF0127, 20, **spacing)))
    both = truck(long=long(0x18FF0127, 20, **spacing), other=long(0x18FF0227, 34, **spacing))
    assert transfer(both).others == ("pedal.other",)
    assert transfer(both).longest_s == transfer(both, "pedal.other").longest_s
    assert 250 * MS < transfer(both).longest_s - alone.longest_s < 270 * MS
    apart = saying(truck(long=long(0x18FF0127, 20, **spacing)), "vcu", far=long(0x18FF0228, 34, **spacing))
    assert transfer(apart).longest_s - alone.longest_s < 10 * FRAME
    assert transfer(apart).others == ()


def test_messages_of_one_sender_in_different_states_do_not_wait_for_each_other():
    spacing = {"packet_spacing_s": Known(50 * MS)}
    vehicle = truck(
        long=long(0x18FF0127, 100, states=("drive",), **spacing),
        other=long(0x18FF0227, 100, states=("charge",), **spacing),
    )
    vehicle = replace(vehicle, states=("drive", "charge"))
    assert judged(vehicle).verdict is judged(vehicle, name="other").verdict is Verdict.HOLDS


def test_one_that_comes_again_meanwhile_is_waited_for_again():
    """30 packets and 10 that come every second: busy for 2 s, in which two more come; for 3 s, and one more; for 3.5 s."""
    spacing = {"packet_spacing_s": Known(50 * MS)}
    vehicle = truck(long=long(0x18FF0127, 210, 40_000.0, **spacing), other=long(0x18FF0227, 70, **spacing))
    assert 3.5 < transfer(vehicle).longest_s < 3.7
    assert judged(vehicle).verdict is Verdict.HOLDS
    assert judged(vehicle, name="other").verdict is Verdict.BROKEN


def test_an_addressed_message_is_announced_to_its_receiver_and_answered_by_it():
    vehicle = truck(long=long(0x18EF2927, 20, 200.0))
    parts = {each.part: each for each in answers(vehicle).streams if each.message == "pedal.long"}
    assert {name: (each.identifier, each.sender, each.frames_per_message) for name, each in parts.items()} == {
        ANNOUNCEMENT: (0x1CEC2927, "pedal.can", 1),
        PACKETS: (0x1CEB2927, "pedal.can", 3),
        ANSWERS: (0x1CEC2729, "inverter.can", 4),
    }
    shares = {each.name: each.worst for each in answers(vehicle).loads["fast"].value.fullest.streams}
    assert sum(share for name, share in shares.items() if "long" in name) == pytest.approx(8 * FRAME / 0.2)


def test_packets_to_one_receiver_may_come_back_to_back():
    """All three packets at once, and three more of the message before that took its whole period: six frames above."""
    below = {"low": message(0x1CFF0127, 1000.0, signals=Table())}
    vehicle = truck(long=long(0x18EF2927, 20, 200.0), **below)
    calm = truck(**below)
    low, before = (
        next(r for r in answers(v).responses["fast"].value.responses if r.stream.message == "pedal.low").worst_s
        for v in (vehicle, calm)
    )
    assert low - before >= (6 + 4) * FRAME - 1e-9
    assert transfer(vehicle).alone_s < 10 * MS
    assert judged(vehicle).verdict is Verdict.UNKNOWN
    said = truck(long=long(0x18EF2927, 20, 200.0, packet_spacing_s=Known(10 * MS)))
    assert judged(said).verdict is Verdict.HOLDS
    assert 30 * MS < judged(said).reading.value < 50 * MS


def test_a_receiver_that_nobody_is_never_answers():
    vehicle = truck(long=long(0x18EF3927, 20, 2000.0))
    found = judged(vehicle)
    assert (found.verdict, found.reading.value) == (Verdict.BROKEN, math.inf)
    assert "address 57, which nobody there has" in finding_sentence(found)
    unsaid = with_component(vehicle, "inverter", ports=Table({"can": port()}))
    assert judged(unsaid).reading.blocked_by == (("components", "inverter", "ports", "can", "address"),)


@pytest.mark.parametrize("identifier", [0x18FF0127, 0x18EF2927])
def test_a_play_of_packets_stays_below_the_bounds(identifier):
    vehicle = truck(long=long(identifier, 60, 2000.0), other=long(identifier | 0x100, 20, 700.0))
    found = answers(vehicle)
    play = line_play(speech_of(vehicle), "fast", found.responses["fast"], "", 30.0, 5).value
    assert play.above == ()
    assert {each.stream.part for each in play.seen} >= {PACKETS, ANNOUNCEMENT}


def test_what_a_gateway_passes_on_from_packets_to_packets_takes_both_transfers():
    vehicle = truck(travel=long(0x0CFF0027, 20, 2000.0))
    vehicle = with_line(vehicle, "slow", protocol="J1939", identifiers=Known("29 bit"))
    vehicle = replace(vehicle, chains=Table({"c": Chain(("pedal.travel",), "display", within_s=Known(5.0))}))
    hops = answers(vehicle).chains["c"].value.hops
    assert [(hop.kind, hop.line) for hop in hops] == [("message", "fast"), ("gateway", "slow"), ("message", "slow")]
    assert all(600 * MS < hop.response_s < 640 * MS for hop in (hops[0], hops[2]))
    packets = next(r for r in answers(vehicle).responses["slow"].value.responses if r.stream.part == PACKETS)
    assert packets.here_s < 10 * MS


def test_a_receivers_description_of_a_message_in_packets_is_met_by_its_own_identifier():
    wanted = long(0x0CFF0128, 20, expected_by="inverter.can")
    vehicle = saying(j1939(spoken()), "vcu", torque=long(0x0CFF0128, 20))
    vehicle = replace(
        vehicle, messages=vehicle.messages.put("inverter", MessageSet(messages=Table({"torque": wanted})))
    )
    vehicle = with_component(vehicle, "inverter", needs=Table({"x": Need("inverter.torque")}))
    (need,) = [each for each in answers(vehicle).hearings.needs if each.component == "inverter"]
    assert (need.outcome, need.stream.part) == (HEARD, PACKETS)
    assert judged(vehicle, "same-definition", "torque").verdict is Verdict.HOLDS
    shorter = saying(vehicle, "vcu", torque=long(0x0CFF0128, 21))
    assert judged(shorter, "same-definition", "torque").reading.value == 1.0


def test_two_senders_of_one_message_in_packets_are_told():
    vehicle = saying(truck(long=long(0x0CFF0028, 20)), "vcu", torque=long(0x0CFF0028, 20))
    (clash,) = [each for each in findings(vehicle) if each.rule == "one-sender" and each.verdict is Verdict.BROKEN]
    assert set(dict(clash.reading.because)["messages"]) == {"pedal.long", "vcu.torque"}
    assert judged(vehicle, "address-in-identifier").verdict is Verdict.BROKEN


def test_two_senders_of_the_same_packets_are_told_whatever_is_in_them():
    vehicle = saying(truck(long=long(0x0CFF0028, 20)), "vcu", torque=long(0x0CFF0128, 20))
    vehicle = with_component(vehicle, "pedal", ports=Table({"can": port()}))
    (clash,) = [each for each in findings(vehicle) if each.rule == "one-sender" and each.verdict is Verdict.BROKEN]
    assert dict(clash.reading.because)["identifier"] == 0x1CEBFF28
    assert clash.reading.change is None


def test_a_sender_of_two_messages_in_packets_is_one_sender():
    vehicle = truck(long=long(0x18FF0127, 20), other=long(0x18FF0227, 20))
    assert [f for f in findings(vehicle) if f.rule == "one-sender" and f.verdict is Verdict.BROKEN] == []


def test_a_time_out_counts_the_whole_transfer():
    vehicle = needing(truck(travel=long(0x0CFF0027, 20, packet_spacing_s=Known(50 * MS))), "vcu", time_out_s=Known(1.2))
    found = judged(vehicle, "in-time-out", "vcu")
    assert found.reading.value == pytest.approx(1.0, abs=20 * FRAME)
    vehicle = needing(truck(travel=long(0x0CFF0027, 20)), "vcu", time_out_s=Known(1.2))
    assert judged(vehicle, "in-time-out", "vcu").reading.value == pytest.approx(1.45, abs=20 * FRAME)


def test_the_width_of_a_passed_on_identifier_can_be_stated():
    vehicle = spoken()
    forward = Forward("pedal.travel", "b", Known(0x123), width="29 bit", delay_s=Known(5 * MS))
    vehicle = with_component(vehicle, "vcu", forwards=Table({"travel": forward}))
    (stream,) = answers(vehicle).on("slow")
    assert stream.extended
    assert judged(vehicle, "identifier-width", "forwards").verdict is Verdict.BROKEN
    assert (
        not answers(with_component(vehicle, "vcu", forwards=Table({"travel": replace(forward, width="")})))
        .on("slow")[0]
        .extended
    )


def test_a_message_in_packets_that_is_not_heard_is_passed_on_by_its_own_identifier():
    """Not by that of its packets, which all of a sender's have; and nobody else is offered it as a free one."""
    vehicle = with_component(truck(travel=long(0x18FF0027, 20, 2000.0)), "vcu", forwards=Table())
    vehicle = with_line(vehicle, "slow", protocol="J1939", identifiers=Known("29 bit"))
    (finding,) = [each for each in findings(vehicle) if each.rule == "message-heard" and each.reading.change]
    mended = changed(vehicle, finding.reading.change)
    (forward,) = mended.components["vcu"].forwards.values()
    assert forward.identifier is None
    assert {each.identifier for each in answers(mended).on("slow")} == {0x1CEBFF27, 0x1CECFF27}
    here = answers(truck(long=long(0x18FF0027, 20))).on("fast")
    assert free_identifier(here, wide=True, address=0x27) == 0x18FF0127
    assert (True, 0x18FF0027) in FreeIdentifiers(speech_of(vehicle), "fast", here).taken


TIMES = st.floats(-9.0, 6.0).map(lambda power: 10.0**power)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(TIMES, min_size=4, max_size=4),
    st.sampled_from([9, 20, 60, 1785]),
    st.sampled_from([0x18FF0127, 0x18EF2927, 0x18EF3927]),
    st.booleans(),
)
def test_no_time_length_or_receiver_is_without_an_answer(times, length, identifier, event):
    gap, deadline, spacing, jitter = (Known(time) for time in times)
    said = {
        "deadline_s": deadline,
        "packet_spacing_s": spacing,
        "jitter_s": jitter,
        "signals": Table(),
        "length": length,
    }
    due = {"period_s": None, "minimum_gap_s": gap} if event else {"period_s": gap}
    vehicle = truck(travel=message(identifier, **said, **due), long=long(identifier | 0x200, 30))
    vehicle = with_line(vehicle, "slow", protocol="J1939", identifiers=Known("29 bit"))
    for path, line, answer in answers(vehicle).transfers:
        if not isinstance(answer, Blocked):
            assert 0.0 < answer.value.alone_s <= answer.value.least_s <= answer.value.longest_s, (path, line)
    for found in findings(vehicle):
        assert finding_sentence(found)
        assert found.reading.value is None or not math.isnan(found.reading.value)


def served(jobs, order):
    """The longest from release to end of each kind of job, one at a time, none broken off; ``jobs``: release, kind, time."""
    waiting, now, longest = sorted(jobs), 0.0, {}
    ready = []
    while waiting or ready:
        while waiting and (not ready or waiting[0][0] <= now):
            now = max(now, waiting[0][0]) if not ready else now
            ready.append(waiting.pop(0))
        job = order(ready)
        ready.remove(job)
        now = max(now, job[0]) + job[2]
        longest[job[1]] = max(longest.get(job[1], 0.0), now - job[0])
    return longest


@pytest.mark.parametrize(
    "order", [min, max, lambda ready: max(ready, key=lambda job: job[2])], ids=["first", "last", "long"]
)
def test_no_order_of_sending_is_later_than_the_row_is_busy(order):
    """Packets of three messages of one sender, played one at a time from random phases; frames' own time left out."""
    dice = random.Random(7)
    for _ in range(12):
        kinds = [(dice.randint(2, 12), dice.choice([1.0, 1.7, 3.0, 5.0])) for _ in range(3)]
        if sum(0.05 * count / period for count, period in kinds) > 0.9:
            continue
        said = {
            f"m{at}": long(0x18FF0127 | at << 8, 7 * count, 1e3 * period, packet_spacing_s=Known(50 * MS))
            for at, (count, period) in enumerate(kinds)
        }
        vehicle = truck(**said)
        bounds = [transfer(vehicle, f"pedal.{name}").longest_s for name in said]
        worst = [0.0] * 3
        for phases in [(0.0, 0.0, 0.0), *(tuple(dice.uniform(0, 5) for _ in kinds) for _ in range(30))]:
            jobs = [
                (phase + n * period, at, 0.05 * count)
                for at, ((count, period), phase) in enumerate(zip(kinds, phases, strict=True))
                for n in range(int(30 / period))
            ]
            longest = served(jobs, order)
            worst = [max(one, longest[at]) for at, one in enumerate(worst)]
        assert all(one <= bound for one, bound in zip(worst, bounds, strict=True)), kinds
        assert max(worst) > 0.5 * max(bounds)
