"""Who says what, how full, how late: on vehicles small enough to work out by hand."""

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.judge import judge_traffic
from loomwright.judge.evidence import TrafficEvidence
from loomwright.laws.frame_lengths import frame_length
from loomwright.model.component import Forward, Need
from loomwright.model.message import MessageSet
from loomwright.model.speech import speech_of
from loomwright.model.speech import spoken as only_spoken
from loomwright.model.table import Table
from loomwright.model.vehicle import Chain
from loomwright.show.traffic_tables import responses_text
from loomwright.show.words import finding_sentence
from loomwright.solve.hearing import HEARD, UNHEARD, UNSENT
from loomwright.solve.simulated import line_play
from loomwright.solve.streams import ANNOUNCEMENT, PACKETS
from loomwright.solve.traffic_margins import line_margins
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Assumed, Known, Unknown
from tests.traffic_build import MS, answers, line, message, port, saying, spoken, with_component, with_line

BIT_FAST, BIT_SLOW = 2e-6, 8e-6
EIGHT = 135
"""Bits of a standard frame of eight bytes at its longest, intermission included: 55 + 10 x 8."""


def response(found, line_name, name):
    return next(each for each in found.responses[line_name].value.responses if each.stream.message == name)


def need(found, component):
    return next(each for each in found.hearings.needs if each.component == component)


def test_a_line_carries_what_its_ports_send_and_what_gateways_bring():
    found = answers(spoken())
    assert [(each.line, each.message, each.sender, each.source_line) for each in found.streams] == [
        ("fast", "pedal.travel", "pedal.can", ""),
        ("fast", "vcu.torque", "vcu.a", ""),
        ("slow", "pedal.travel", "vcu.b", "fast"),
    ]


def test_load_is_frames_over_periods():
    load = answers(spoken()).loads["fast"].value
    assert load.fullest.worst == pytest.approx(2 * EIGHT * BIT_FAST / (10 * MS), rel=1e-12)
    assert 111 * BIT_FAST * 2 / (10 * MS) < load.fullest.mean < load.fullest.worst
    senders = {share.name: share.worst for share in load.fullest.senders}
    assert senders == {"pedal.can": pytest.approx(0.027), "vcu.a": pytest.approx(0.027)}


def test_an_event_is_in_the_worst_load_and_not_in_the_mean():
    quiet = answers(spoken()).loads["fast"].value.fullest
    event = message(0x300, None, minimum_gap_s=Known(20 * MS))
    loud = answers(saying(spoken(), "pedal", pressed=event)).loads["fast"].value.fullest
    assert loud.mean == quiet.mean
    assert loud.worst - quiet.worst == pytest.approx(EIGHT * BIT_FAST / (20 * MS))


def test_load_goes_by_the_state_of_the_vehicle():
    vehicle = saying(replace(spoken(), states=("drive", "charge")), "pedal", only=message(0x300, states=("charge",)))
    drive, charge = answers(vehicle).loads["fast"].value.states
    assert (drive.state, charge.state) == ("drive", "charge")
    assert charge.worst == pytest.approx(1.5 * drive.worst)


def test_the_highest_waits_for_one_lower_frame_and_the_lowest_for_all_above():
    found = answers(spoken())
    assert response(found, "fast", "pedal.travel").worst_s == pytest.approx(2 * EIGHT * BIT_FAST, abs=1e-9)
    assert response(found, "fast", "vcu.torque").worst_s == pytest.approx(2 * EIGHT * BIT_FAST, abs=1e-9)


def test_what_a_gateway_passes_on_brings_its_delay_along_as_jitter():
    passed = response(answers(spoken()), "slow", "pedal.travel")
    before = 2 * EIGHT * BIT_FAST + 5 * MS
    assert passed.due_s == pytest.approx(before, abs=1e-9)
    assert passed.worst_s == pytest.approx(before + EIGHT * BIT_SLOW, abs=1e-8)
    assert passed.here_s == pytest.approx(EIGHT * BIT_SLOW, abs=1e-8)
    assert passed.slack_s == pytest.approx(10 * MS - EIGHT * BIT_SLOW, abs=1e-8)


def test_a_gateway_with_a_cycle_of_its_own_sends_in_its_own_period():
    vehicle = spoken()
    slow = Forward("pedal.travel", "b", period_s=Known(100 * MS), delay_s=Known(5 * MS))
    passed = response(answers(with_component(vehicle, "vcu", forwards=Table({"travel": slow}))), "slow", "pedal.travel")
    assert passed.stream.period_s == 100 * MS
    assert passed.due_s == 0.0


def test_gateways_in_a_row_add_up():
    vehicle = spoken()
    bridge = replace(
        vehicle.components["vcu"],
        ports=Table({"b": port(), "c": port()}),
        needs=Table(),
        forwards=Table({"travel": Forward("pedal.travel", "c", delay_s=Known(7 * MS))}),
    )
    vehicle = replace(vehicle, components=vehicle.components.put("bridge", bridge))
    vehicle = with_line(vehicle, "slow", stations=(*vehicle.lines["slow"].stations, *line(1, "bridge.b").stations))
    vehicle = replace(vehicle, lines=vehicle.lines.put("far", line(125e3, "bridge.c")))
    found = answers(vehicle)
    assert response(found, "far", "pedal.travel").due_s == pytest.approx(
        response(found, "slow", "pedal.travel").worst_s + 7 * MS, abs=1e-9
    )


def test_gateways_that_pass_a_message_round_in_a_ring_end():
    vehicle = spoken()
    back = Forward("pedal.travel", "a", delay_s=Known(1 * MS))
    vcu = vehicle.components["vcu"]
    vehicle = with_component(vehicle, "vcu", forwards=vcu.forwards.put("back", back))
    found = answers(vehicle)
    assert [each.line for each in found.streams if each.message == "pedal.travel"] == ["fast", "fast", "slow"]
    assert response(found, "slow", "pedal.travel").worst_s == math.inf


def test_an_unknown_period_blocks_its_line_and_the_line_it_is_passed_on_to_and_no_other():
    vehicle = saying(spoken(), "pedal", travel=message(0x100, period_s=Unknown()))
    found = answers(vehicle)
    path = ("messages", "pedal", "messages", "travel", "period_s")
    assert found.responses["fast"] == Blocked((path,))
    assert found.responses["slow"] == Blocked((path,))
    assert found.loads["fast"] == Blocked((path,))
    assert found.chains["torque"] == Blocked((path,))


def test_an_unknown_identifier_blocks_times_but_not_the_load():
    found = answers(saying(spoken(), "pedal", travel=replace(message(0), identifier=Unknown())))
    assert isinstance(found.responses["fast"], Blocked)
    assert not isinstance(found.loads["fast"], Blocked)


def test_an_event_nobody_gave_a_gap_is_an_open_question():
    found = answers(saying(spoken(), "pedal", pressed=message(0x300, None)))
    assert found.loads["fast"] == Blocked((("messages", "pedal", "messages", "pressed", "minimum_gap_s"),))


def test_assumed_jitter_is_told():
    found = answers(saying(spoken(), "pedal", travel=message(0x100, jitter_s=Assumed(1 * MS, "guess"))))
    assert ("messages", "pedal", "messages", "travel", "jitter_s") in found.responses["fast"].assumed


def test_disturbed_frames_cost_recovery_and_the_longest_frame_again():
    vehicle = with_line(spoken(), "fast", errors_at_once=1)
    plain, hit = (response(answers(each), "fast", "vcu.torque") for each in (spoken(), vehicle))
    assert hit.worst_s - plain.worst_s == pytest.approx((31 + EIGHT) * BIT_FAST, abs=1e-9)


def test_a_first_in_first_out_port_makes_its_urgent_message_wait_for_its_own_slow_ones():
    vehicle = saying(spoken(), "pedal", diagnosis=message(0x600, 100.0))
    plain = response(answers(vehicle), "fast", "pedal.travel")
    queued = with_component(vehicle, "pedal", ports=Table({"can": port(transmit_order=Known("first in first out"))}))
    assert response(answers(queued), "fast", "pedal.travel").worst_s > plain.worst_s


def test_a_message_too_long_for_a_frame_goes_in_packets_where_the_line_knows_how():
    long = message(0x18FEEC27, 1000.0, length=39)
    vehicle = with_line(saying(spoken(), "pedal", name=long), "fast", protocol="J1939", identifiers=Known("both"))
    parts = [each for each in answers(vehicle).streams if each.message == "pedal.name"]
    assert [(each.part, each.identifier, each.frames_per_message) for each in parts] == [
        (PACKETS, 0x1CEBFF27, 6),
        (ANNOUNCEMENT, 0x1CECFF27, 1),
    ]
    assert parts[0].period_s == pytest.approx(50 * MS)
    load = {share.name: share.worst for share in answers(vehicle).loads["fast"].value.fullest.streams}
    assert load["pedal.name (data packets)"] == pytest.approx(6 * 160 * BIT_FAST / 1.0)


def test_each_need_is_heard_unheard_or_unsent():
    vehicle = spoken()
    found = answers(vehicle)
    assert [each.outcome for each in found.hearings.needs] == [HEARD, HEARD, HEARD]
    assert need(found, "display").stream.sender == "vcu.b"
    deaf = answers(with_component(vehicle, "vcu", forwards=Table()))
    assert need(deaf, "display").outcome == UNHEARD
    assert need(deaf, "display").lines == ("fast",)
    gone = answers(with_line(vehicle, "fast", stations=vehicle.lines["fast"].stations[1:]))
    assert need(gone, "vcu").outcome == UNSENT


def test_a_need_bound_to_a_port_is_not_met_on_another():
    vehicle = with_component(spoken(), "vcu", needs=Table({"travel": Need("pedal.travel", port="b")}), forwards=Table())
    assert need(answers(vehicle), "vcu").outcome == UNHEARD


def test_a_receivers_description_is_met_by_whoever_sends_its_identifier():
    wants = MessageSet(messages=Table({"torque": message(0x200, expected_by="inverter.can")}))
    vehicle = replace(spoken(), messages=spoken().messages.put("inverter", wants))
    vehicle = with_component(vehicle, "inverter", needs=Table({"torque": Need("inverter.torque.value")}))
    found = answers(vehicle)
    assert need(found, "inverter").outcome == HEARD
    assert need(found, "inverter").stream.message == "vcu.torque"
    assert [each.message for each in found.streams].count("inverter.torque") == 0


def test_what_nobody_needs_is_named():
    found = answers(saying(spoken(), "pedal", noise=message(0x300)))
    assert [each.message for each in found.hearings.unneeded] == ["pedal.noise"]


def test_a_chain_adds_up_periods_responses_and_cycles():
    chain = answers(spoken()).chains["torque"].value
    on_line = 2 * EIGHT * BIT_FAST
    assert [(hop.kind, hop.name) for hop in chain.hops] == [
        ("message", "pedal.travel"), ("cycle", "vcu"), ("message", "vcu.torque"),
    ]  # fmt: skip
    assert chain.reaction_s == pytest.approx(10 * MS + on_line + 20 * MS + 10 * MS + on_line, abs=1e-9)
    assert chain.age_s == chain.reaction_s, "nobody stated the inverter's cycle: it may use its torque at any moment"
    stated = answers(with_component(spoken(), "inverter", cycle_s=Known(5 * MS))).chains["torque"].value
    assert stated.reaction_s == pytest.approx(chain.reaction_s + 10 * MS, abs=1e-9)
    assert stated.age_s == pytest.approx(stated.reaction_s - 5 * MS, abs=1e-9)


def test_a_chain_over_a_gateway_has_the_gateway_in_it():
    chains = Table({"show": Chain(("pedal.travel",), "display", within_s=Known(50 * MS))})
    chain = answers(replace(spoken(), chains=chains)).chains["show"].value
    assert [(hop.kind, hop.name, hop.line) for hop in chain.hops] == [
        ("message", "pedal.travel", "fast"), ("gateway", "vcu", "slow"), ("message", "pedal.travel", "slow"),
    ]  # fmt: skip
    assert chain.reaction_s == pytest.approx(10 * MS + 2 * EIGHT * BIT_FAST + 5 * MS + EIGHT * BIT_SLOW, abs=1e-8)


def test_a_chain_breaks_where_the_next_one_does_not_hear():
    vehicle = with_component(spoken(), "vcu", forwards=Table())
    chains = Table({"show": Chain(("pedal.travel",), "display", within_s=Known(50 * MS))})
    chain = answers(replace(vehicle, chains=chains)).chains["show"].value
    assert (chain.broken_at, chain.missing, chain.reaction_s) == ("display", "pedal.travel", math.inf)


def test_age_and_gap_of_what_is_needed():
    found = answers(spoken())
    at = [each.component for each in found.hearings.needs].index("vcu")
    age = found.ages[at].value
    worst, best = 2 * EIGHT * BIT_FAST, 111 * BIT_FAST
    assert age.age_s == pytest.approx(10 * MS + worst + 10 * MS, abs=1e-9)
    assert found.gaps[at].value == pytest.approx(10 * MS + worst - best, abs=1e-9)


@pytest.mark.parametrize("cycle_ms", [None, 5.0, 10.0, 25.0])
@pytest.mark.parametrize("listener", ["vcu", "display"])
def test_the_age_of_a_need_is_that_of_the_chain_of_its_one_message(listener, cycle_ms):
    cycle = None if cycle_ms is None else Known(cycle_ms * MS)
    chains = Table({"one": Chain(("pedal.travel",), listener, within_s=Known(1.0))})
    found = answers(replace(with_component(spoken(), listener, cycle_s=cycle), chains=chains))
    at = [each.component for each in found.hearings.needs].index(listener)
    assert found.ages[at].value.age_s == found.chains["one"].value.age_s
    assert found.ages[at].value.stages == found.chains["one"].value.hops


@pytest.mark.parametrize(("period", "cycle"), [(1000, 500), (1000, 1000), (400, 1000), (1000, 0)])
def test_an_age_is_reached_at_one_phase_and_exceeded_at_none(period, cycle):
    """Played in ticks of 10 us: every phase of the look against the message, every order of quickest and latest arrival.

    The value is taken when the message is due, the newest that arrived before a look is used, and acted on at the end of
    the cycle; without a cycle it is used at every moment.
    """
    vehicle = saying(spoken(), "pedal", travel=message(0x100, period * 0.01))
    vehicle = with_component(vehicle, "vcu", cycle_s=Known(cycle * 1e-5) if cycle else None)
    found = answers(vehicle)
    seen = response(found, "fast", "pedal.travel")
    quickest, latest = round(seen.best_s / 1e-5), round(seen.worst_s / 1e-5)
    assert latest * 1e-5 == pytest.approx(seen.worst_s, abs=1e-12)
    oldest = 0
    for delays in itertools.product((quickest, latest), repeat=4):
        sent = [(number * period + delays[number % 4], number * period) for number in range(8)]
        for look in range(4 * period, 6 * period):
            taken = max(due for arrived, due in sent if arrived < look)
            oldest = max(oldest, look + cycle - taken)
    age = found.ages[[each.component for each in found.hearings.needs].index("vcu")].value.age_s
    assert oldest * 1e-5 == pytest.approx(age, abs=1e-9)


def test_margins_are_where_things_begin_to_be_late():
    vehicle = spoken()
    speech, found = speech_of(vehicle), answers(vehicle)
    margins = line_margins(speech, "fast", found.on("fast"), found.responses["fast"]).value
    slow = with_line(vehicle, "fast", bit_rate_bit_per_s=Known(margins.slowest_bit_per_s * 1.001))
    late = with_line(vehicle, "fast", bit_rate_bit_per_s=Known(margins.slowest_bit_per_s * 0.999))
    for bent, fine in ((slow, True), (late, False)):
        spare = [each.slack_s for each in answers(bent).responses["fast"].value.responses]
        assert all(each >= 0 for each in spare) is fine
    room = {stream.message: time for stream, time in margins.room_s}
    assert room["vcu.torque"] == pytest.approx(10 * MS - 2 * EIGHT * BIT_FAST, abs=5e-6)


@pytest.mark.parametrize("errors", [0, 1, 3])
def test_a_play_stays_below_the_bounds_and_is_the_same_for_the_same_seed(errors):
    vehicle = with_line(spoken(), "fast", errors_at_once=errors)
    vehicle = saying(
        vehicle, "pedal", **{f"m{n}": message(0x300 + n, 5.0 + n, jitter_s=Known(1 * MS)) for n in range(12)}
    )
    speech, found = speech_of(vehicle), answers(vehicle)
    one, two = (line_play(speech, "fast", found.responses["fast"], "", 20.0, 7).value for _ in range(2))
    assert one == two
    assert one.frames > 10_000
    assert one.above == ()
    assert one.load == pytest.approx(found.loads["fast"].value.fullest.mean, rel=0.05 + 0.01 * errors)
    assert one.spoiled > 300 if errors else one.spoiled == 0
    assert one.spoiled % max(errors, 1) == 0


def test_only_what_is_said_matters_for_traffic():
    vehicle = spoken()
    moved = with_component(vehicle, "pedal", place="elsewhere")
    assert speech_of(moved) == speech_of(vehicle)
    assert speech_of(only_spoken(speech_of(vehicle))) == speech_of(vehicle)


def test_an_fd_frame_runs_its_data_phase_at_the_lines_data_bit_rate():
    vehicle = saying(spoken(), "pedal", wide=message(0x300, 100.0, length=64, frames="FD"))
    vehicle = with_line(vehicle, "fast", frames="FD", data_bit_rate_bit_per_s=Known(2e6))
    found = answers(vehicle)
    wide = response(found, "fast", "pedal.wide")
    bits = frame_length(extended=False, length_bytes=64, fd=True).worst_bits
    own = bits.arbitration * BIT_FAST + bits.data * 0.5e-6
    assert wide.frame.worst_s == pytest.approx(own, rel=1e-12)
    assert wide.worst_s == pytest.approx(own + 2 * EIGHT * BIT_FAST, abs=1e-9)
    assert response(found, "fast", "pedal.travel").worst_s == pytest.approx(own + EIGHT * BIT_FAST, abs=1e-9)
    blocked = answers(with_line(vehicle, "fast", data_bit_rate_bit_per_s=Unknown()))
    assert blocked.responses["fast"] == Blocked((("lines", "fast", "data_bit_rate_bit_per_s"),))


def test_frames_with_one_identifier_wait_for_each_other_and_can_be_played():
    names = {f"n{n}": message(0x18FE0027 | n << 8, 1000.0, length=20) for n in range(2)}
    vehicle = with_line(saying(spoken(), "pedal", **names), "fast", protocol="J1939", identifiers=Known("both"))
    found = answers(vehicle)
    packets = [each for each in found.responses["fast"].value.responses if each.stream.part == PACKETS]
    assert len(packets) == 2
    assert packets[0].worst_s == packets[1].worst_s
    twice = saying(vehicle, "pedal", twin=message(0x200, 20.0))
    for each in (vehicle, twice):
        speech, told = speech_of(each), answers(each)
        assert line_play(speech, "fast", told.responses["fast"], "", 20.0, 3).value.above == ()


TIMES = st.one_of(
    st.floats(1e-12, 1e9, allow_nan=False),
    st.floats(-12.0, 9.0).map(lambda power: 10.0**power),
    st.sampled_from([1e-12, 1e-15, 1e-4, 5e-3, 1e9]),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(TIMES, min_size=8, max_size=8), st.booleans())
def test_no_time_is_too_short_or_too_long_for_an_answer(times, queued):
    """From a picosecond to thirty years, as period, gap, deadline, jitter, a gateway's period and delay, a cycle."""
    period, gap, deadline, jitter, repeat, delay, cycle, errors = (Known(time) for time in times)
    vehicle = saying(
        spoken(),
        "pedal",
        travel=message(0x100, period_s=period, deadline_s=deadline, jitter_s=jitter),
        pressed=message(0x101, None, minimum_gap_s=gap, jitter_s=jitter),
    )
    forwards = {
        "travel": Forward("pedal.travel", "b", delay_s=delay),
        "pressed": Forward("pedal.pressed", "b", Known(0x102), period_s=repeat, delay_s=delay),
    }
    order = Known("first in first out" if queued else "by priority")
    vehicle = with_component(vehicle, "pedal", ports=Table({"can": port(transmit_order=order)}))
    vehicle = with_component(vehicle, "vcu", forwards=Table(forwards), cycle_s=cycle)
    vehicle = with_line(vehicle, "fast", errors_at_once=1, error_gap_s=errors.value)
    speech, found = speech_of(vehicle), answers(vehicle)
    for name in ("fast", "slow"):
        for each in found.responses[name].value.responses:
            assert each.worst_s >= each.best_s > 0.0
            assert each.slack_s == pytest.approx(each.wanted_s - each.here_s, rel=1e-9, abs=1e-9) or math.isinf(
                each.slack_s
            )
        line_margins(speech, name, found.on(name), found.responses[name])
        assert responses_text(name, found.responses[name]).row_count == len(found.responses[name].value.responses)
    for finding in judge_traffic(TrafficEvidence(speech, found)):
        assert finding_sentence(finding)


def test_a_period_longer_than_any_that_is_followed_bounds_no_less():
    long, longer = (
        response(answers(saying(spoken(), "vcu", torque=message(0x90, hours * 3.6e6))), "fast", "pedal.travel")
        for hours in (1.0, 100.0)
    )
    assert long.worst_s == longer.worst_s == pytest.approx(2 * EIGHT * BIT_FAST, abs=1e-9)
    own = response(answers(saying(spoken(), "vcu", torque=message(0x90, 3.6e8))), "fast", "vcu.torque")
    assert own.deadline_s == pytest.approx(3.6e5)


def test_one_gateway_without_bound_leaves_the_others_theirs():
    vehicle = saying(spoken(), "pedal", flood=message(0x50, 0.1))
    calm = replace(spoken().components["vcu"], forwards=Table(), needs=Table())
    calm = replace(calm, ports=Table({"c": port(), "d": port()}))
    calm = replace(calm, forwards=Table({"lamp": Forward("lamps.lit", "d", delay_s=Known(5 * MS))}))
    vehicle = replace(
        vehicle,
        components=vehicle.components.put("bridge", calm).put(
            "lamp", replace(calm, ports=Table({"can": port()}), forwards=Table())
        ),
        lines=vehicle.lines.put("third", line(500e3, "bridge.c", "lamp.can")).put("fourth", line(500e3, "bridge.d")),
        messages=vehicle.messages.put("lamps", MessageSet(sender="lamp.can", messages=Table({"lit": message(0x300)}))),
    )
    found = answers(vehicle)
    assert response(found, "slow", "pedal.travel").worst_s == math.inf
    assert response(found, "fourth", "lamps.lit").worst_s == pytest.approx(2 * EIGHT * BIT_FAST + 5 * MS, abs=1e-8)


def test_what_waits_in_a_queue_with_one_without_bound_has_none_either():
    vehicle = saying(spoken(), "pedal", late=message(0x400, jitter_s=Known(1e6)))
    queued = with_component(vehicle, "pedal", ports=Table({"can": port(transmit_order=Known("first in first out"))}))
    assert response(answers(queued), "fast", "pedal.travel").worst_s == math.inf
    assert response(answers(vehicle), "fast", "pedal.travel").worst_s == pytest.approx(2 * EIGHT * BIT_FAST, abs=1e-9)
    assert response(answers(vehicle), "fast", "pedal.late").worst_s == math.inf


def test_margins_of_a_line_that_is_fed_without_bound_are_none_at_any_rate():
    vehicle = saying(spoken(), "pedal", flood=message(0x50, 0.1))
    found = answers(vehicle)
    margins = line_margins(speech_of(vehicle), "slow", found.on("slow"), found.responses["slow"]).value
    assert margins.slowest_bit_per_s == math.inf
    assert [time for _, time in margins.room_s] == [None]
