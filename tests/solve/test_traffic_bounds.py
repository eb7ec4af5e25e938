"""The worst is taken at the worse end of every range, and what nobody knows or nothing bounds stops no more than it must."""

import math
from dataclasses import replace

import pytest

from loomwright.judge.rule import judge
from loomwright.judge.rules.traffic_play import PLAY_RULES
from loomwright.laws.frame_lengths import frame_length
from loomwright.model.component import Component, Forward, Need
from loomwright.model.message import MessageSet
from loomwright.model.speech import speech_of
from loomwright.model.table import Table
from loomwright.model.vehicle import Chain
from loomwright.show.words import finding_sentence
from loomwright.solve.hearing import UNHEARD
from loomwright.solve.simulated import line_play
from loomwright.solve.streams import ANNOUNCEMENT, PACKETS
from loomwright.solve.traffic_margins import line_margins
from loomwright.terms.answer import Blocked, Solved
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.finding import Verdict, Weight
from tests.solve.test_traffic import BIT_FAST, BIT_SLOW, EIGHT, need, response
from tests.traffic_build import MS, answers, line, message, port, saying, spoken, with_component, with_line

FIFO = Known("first in first out")


def forwarding(vehicle, **fields):
    forward = replace(vehicle.components["vcu"].forwards["travel"], **fields)
    return with_component(vehicle, "vcu", forwards=Table({"travel": forward}))


def with_station(vehicle, name, *ports):
    return with_line(vehicle, name, stations=(*vehicle.lines[name].stations, *line(1, *ports).stations))


def calm(vehicle):
    """The vehicle with two more lines and a gateway between them that have nothing to do with the others."""
    bridge = Component(
        "gateway",
        "p",
        ports=Table({"c": port(), "d": port()}),
        forwards=Table({"lamp": Forward("lamps.lit", "d", delay_s=Known(5 * MS))}),
    )
    return replace(
        vehicle,
        components=vehicle.components.put("bridge", bridge).put(
            "lamp", Component("lamps", "p", ports=Table({"can": port()}))
        ),
        lines=vehicle.lines.put("third", line(500e3, "bridge.c", "lamp.can")).put("fourth", line(500e3, "bridge.d")),
        messages=vehicle.messages.put("lamps", MessageSet(sender="lamp.can", messages=Table({"lit": message(0x300)}))),
    )


def ring(vehicle):
    """Another gateway puts what the controller brought to line slow back on line fast, above all but one."""
    back = Component(
        "gateway",
        "p",
        ports=Table({"a": port(), "b": port()}),
        forwards=Table({"back": Forward("pedal.travel", "a", Known(0x050), delay_s=Known(1 * MS))}),
    )
    vehicle = replace(vehicle, components=vehicle.components.put("back", back))
    vehicle = with_station(with_station(vehicle, "fast", "back.a"), "slow", "back.b")
    vehicle = saying(vehicle, "pedal", first=message(0x010))
    top = MessageSet(sender="display.can", messages=Table({"top": message(0x020)}))
    return replace(vehicle, messages=vehicle.messages.put("display", top))


def test_a_ring_of_gateways_takes_the_bound_from_what_waits_for_it_and_from_nothing_else():
    found = answers(calm(ring(spoken())))
    assert response(found, "fast", "pedal.first").worst_s == pytest.approx(2 * EIGHT * BIT_FAST, abs=1e-9)
    assert response(found, "slow", "display.top").worst_s == pytest.approx(2 * EIGHT * BIT_SLOW, abs=1e-9)
    assert response(found, "fast", "vcu.torque").worst_s == math.inf
    assert response(found, "slow", "pedal.travel").worst_s == math.inf
    assert response(found, "slow", "pedal.travel").due_s == math.inf
    assert response(found, "fourth", "lamps.lit").worst_s == pytest.approx(2 * EIGHT * BIT_FAST + 5 * MS, abs=1e-9)


def test_a_gateway_that_is_fed_from_a_ring_has_no_bound_either_and_its_line_has_above_it():
    vehicle = ring(spoken())
    on = Component(
        "gateway",
        "p",
        ports=Table({"a": port(), "e": port()}),
        forwards=Table({"on": Forward("vcu.torque", "e", delay_s=Known(1 * MS))}),
    )
    vehicle = replace(
        with_station(vehicle, "fast", "on.a"),
        components=vehicle.components.put("on", on),
        lines=vehicle.lines.put("fifth", line(500e3, "on.e", "lamp.can")),
    )
    vehicle = with_station(vehicle, "fast", "on.a")
    vehicle = replace(
        vehicle,
        components=vehicle.components.put("lamp", Component("lamps", "p", ports=Table({"can": port()}))),
        messages=vehicle.messages.put("lamps", MessageSet(sender="lamp.can", messages=Table({"lit": message(0x100)}))),
    )
    found = answers(vehicle)
    assert response(found, "fifth", "vcu.torque").worst_s == math.inf
    assert response(found, "fifth", "lamps.lit").worst_s == pytest.approx(2 * EIGHT * BIT_FAST, abs=1e-9)


@pytest.mark.parametrize("between", [message(0x080), message(0x080, 20.0)])
def test_a_queue_that_reaches_below_what_has_no_bound_has_none_and_takes_it_from_all_below_its_first(between):
    vehicle = saying(spoken(), "pedal", **{f"m{n}": message(0x10 + n, 1.0) for n in range(5)})
    vehicle = with_component(vehicle, "display", ports=Table({"can": port(transmit_order=FIFO)}))
    queued = MessageSet(sender="display.can", messages=Table({"high": message(0x050), "low": message(0x700, 100.0)}))
    others = MessageSet(sender="lamp.can", messages=Table({"top": message(0x010), "between": between}))
    vehicle = replace(
        with_station(vehicle, "slow", "lamp.can"),
        components=vehicle.components.put("lamp", Component("lamps", "p", ports=Table({"can": port()}))),
        messages=vehicle.messages.put("display", queued).put("lamps", others),
    )
    found = answers(vehicle)
    assert response(found, "slow", "pedal.travel").worst_s == math.inf
    for name in ("display.high", "lamps.between", "display.low"):
        assert response(found, "slow", name).worst_s == math.inf
    assert response(found, "slow", "lamps.top").worst_s == pytest.approx(2 * EIGHT * BIT_SLOW, abs=1e-9)
    by_priority = with_component(vehicle, "display", ports=Table({"can": port()}))
    assert response(answers(by_priority), "slow", "display.high").worst_s < math.inf


def test_a_period_counts_at_its_shortest_for_load_and_crowds_and_at_its_longest_for_gaps_ages_and_chains():
    ranged = Known(10 * MS, 5 * MS, 15 * MS)
    vehicle = saying(spoken(), "pedal", travel=message(0x100, period_s=ranged))
    found, short, long = (
        answers(each)
        for each in (
            vehicle,
            saying(spoken(), "pedal", travel=message(0x100, 5.0)),
            saying(spoken(), "pedal", travel=message(0x100, 15.0)),
        )
    )
    for name in ("fast", "slow"):
        assert found.loads[name].value.fullest.worst == short.loads[name].value.fullest.worst
        times = [(each.worst_s, each.deadline_s) for each in found.responses[name].value.responses]
        assert times == [(each.worst_s, each.deadline_s) for each in short.responses[name].value.responses]
    at = [each.component for each in found.hearings.needs].index("vcu")
    # Often and seldom at once is more than seldom alone can be: the crowds of the one, the gaps of the other.
    assert found.gaps[at].value == pytest.approx(long.gaps[at].value, abs=1e-12)
    assert found.ages[at].value.age_s == pytest.approx(long.ages[at].value.age_s, abs=1e-12)
    assert found.chains["torque"].value.reaction_s == pytest.approx(long.chains["torque"].value.reaction_s, abs=1e-12)


def test_jitter_delay_and_cycle_count_at_their_longest_and_a_deadline_at_its_shortest():
    vehicle = forwarding(spoken(), delay_s=Known(5 * MS, 1 * MS, 50 * MS))
    assert response(answers(vehicle), "slow", "pedal.travel").due_s == pytest.approx(
        50 * MS + 2 * EIGHT * BIT_FAST, abs=1e-9
    )
    wide = message(0x100, jitter_s=Known(1 * MS, 0.0, 4 * MS), deadline_s=Known(8 * MS, 6 * MS, 9 * MS))
    late = response(answers(saying(spoken(), "pedal", travel=wide)), "fast", "pedal.travel")
    assert late.worst_s == pytest.approx(4 * MS + 2 * EIGHT * BIT_FAST, abs=1e-9)
    assert late.deadline_s == 6 * MS
    slow, plain = (
        answers(with_component(spoken(), "vcu", cycle_s=each)).chains["torque"].value.reaction_s
        for each in (Known(10 * MS, 5 * MS, 40 * MS), Known(40 * MS))
    )
    assert slow == plain


def test_a_bit_rate_counts_at_its_lowest_but_for_the_shortest_frame():
    vehicle = with_line(spoken(), "fast", bit_rate_bit_per_s=Known(500e3, 495e3, 505e3))
    found, slow = answers(vehicle), answers(with_line(spoken(), "fast", bit_rate_bit_per_s=Known(495e3)))
    assert found.loads["fast"].value.fullest.worst == slow.loads["fast"].value.fullest.worst
    one, other = response(found, "fast", "vcu.torque"), response(slow, "fast", "vcu.torque")
    assert one.worst_s == other.worst_s
    shortest = frame_length(extended=False, length_bytes=8).best_bits.total
    assert one.best_s == pytest.approx(shortest / 505e3, abs=2e-12)


def test_an_unknown_identifier_blocks_the_line_it_is_passed_on_to_unless_the_forward_writes_its_own():
    vehicle = saying(spoken(), "pedal", travel=replace(message(0x100), identifier=Unknown()))
    path = ("messages", "pedal", "messages", "travel", "identifier")
    own_cycle = answers(forwarding(vehicle, period_s=Known(20 * MS)))
    assert own_cycle.responses["slow"] == Blocked((path,))
    written = answers(forwarding(vehicle, period_s=Known(20 * MS), identifier=Known(0x123)))
    assert response(written, "slow", "pedal.travel").stream.identifier == 0x123
    assert written.responses["fast"] == Blocked((path,))


def test_a_forward_whose_states_never_meet_its_sources_brings_nothing():
    vehicle = replace(spoken(), states=("drive", "charge", "park"))
    vehicle = saying(vehicle, "pedal", travel=message(0x100, states=("drive", "park")))
    assert need(answers(forwarding(vehicle, states=("charge",))), "display").outcome == UNHEARD
    some = answers(forwarding(vehicle, states=("charge", "park")))
    assert [each.states for each in some.streams if each.line == "slow"] == [("park",)]
    assert [each.worst > 0 for each in some.loads["slow"].value.states] == [False, False, True]


def test_an_unknown_order_of_sending_blocks_where_two_messages_may_wait():
    silent = with_component(spoken(), "pedal", ports=Table({"can": port(transmit_order=Unknown())}))
    assert isinstance(answers(silent).responses["fast"], Solved)
    found = answers(saying(silent, "pedal", slowly=message(0x700, 100.0)))
    path = ("components", "pedal", "ports", "can", "transmit_order")
    assert found.responses["fast"] == Blocked((path,))
    assert found.responses["slow"] == Blocked((path,))
    assert isinstance(found.loads["fast"], Solved)
    apart = replace(saying(silent, "pedal", slowly=message(0x700, states=("b",))), states=("a", "b"))
    apart = saying(apart, "pedal", travel=message(0x100, states=("a",)))
    assert isinstance(answers(apart).responses["fast"], Solved)


@pytest.mark.parametrize(
    ("identifiers", "extended"),
    [(Known("11 bit"), False), (Known("29 bit"), True), (Known("both"), True), (Unknown(), True)],
)
def test_an_unknown_identifier_is_as_long_as_its_lines_or_else_long(identifiers, extended):
    vehicle = saying(spoken(), "pedal", travel=replace(message(0), identifier=Unknown()))
    load = answers(with_line(vehicle, "fast", identifiers=identifiers)).loads["fast"].value.fullest
    bits = frame_length(extended=extended, length_bytes=8).worst_bits.total
    shares = {each.name: each.worst for each in load.streams}
    assert shares["pedal.travel"] == pytest.approx(bits * BIT_FAST / (10 * MS), rel=1e-12)


def test_an_assumed_width_of_a_line_is_told_with_the_load():
    vehicle = saying(spoken(), "pedal", travel=replace(message(0), identifier=Unknown()))
    found = answers(with_line(vehicle, "fast", identifiers=Assumed("11 bit", "guess")))
    assert ("lines", "fast", "identifiers") in found.loads["fast"].assumed


def test_a_long_message_goes_in_packets_before_its_identifier_is_known():
    long = replace(message(0, 1000.0, length=100), identifier=Unknown())
    known = message(0x18FEEC27, 1000.0, length=100)
    loads = []
    for each in (long, known):
        vehicle = with_line(saying(spoken(), "pedal", name=each), "fast", protocol="J1939", identifiers=Known("both"))
        found = answers(vehicle)
        assert {one.part for one in found.streams if one.message == "pedal.name"} == {PACKETS, ANNOUNCEMENT}
        loads.append(found.loads["fast"].value.fullest.worst)
    assert loads[0] == pytest.approx(loads[1], rel=1e-12)


def test_a_long_message_without_29_bits_is_not_transported_and_can_be_played():
    vehicle = saying(spoken(), "pedal", odd=message(0x123, 1000.0, length=20))
    vehicle = with_line(vehicle, "fast", protocol="J1939", identifiers=Known("both"))
    found = answers(vehicle)
    odd = response(found, "fast", "pedal.odd")
    assert (odd.stream.part, odd.stream.extended, odd.stream.length) == ("", False, 20)
    assert line_play(speech_of(vehicle), "fast", found.responses["fast"], "", 5.0, 1).value.above == ()


@pytest.mark.parametrize("field", ["jitter_s", "deadline_s"])
def test_the_load_does_not_wait_for_what_it_does_not_need(field):
    vehicle = saying(spoken(), "pedal", travel=message(0x100, **{field: Unknown()}))
    found = answers(vehicle)
    assert isinstance(found.responses["fast"], Blocked)
    assert found.responses["slow"] == found.responses["fast"]
    plain = answers(spoken()).loads
    for name in ("fast", "slow"):
        assert found.loads[name].value.fullest.worst == plain[name].value.fullest.worst


def test_the_load_does_not_wait_for_a_gateways_delay():
    found = answers(forwarding(spoken(), delay_s=Unknown()))
    assert found.responses["slow"] == Blocked((("components", "vcu", "forwards", "travel", "delay_s"),))
    assert isinstance(found.loads["slow"], Solved)


def test_an_assumed_period_is_told_with_the_load_of_the_line_it_is_passed_on_to():
    found = answers(saying(spoken(), "pedal", travel=message(0x100, period_s=Assumed(10 * MS, "guess"))))
    assert ("messages", "pedal", "messages", "travel", "period_s") in found.loads["slow"].assumed


def test_a_bound_leans_on_what_goes_before_it_and_on_the_lines_it_came_by():
    guess = Assumed(1 * MS, "guess")
    vehicle = saying(spoken(), "pedal", travel=message(0x100, jitter_s=guess), late=message(0x300, jitter_s=guess))
    vehicle = with_line(vehicle, "fast", bit_rate_bit_per_s=Assumed(500e3, "guess"))
    vehicle = with_component(vehicle, "pedal", ports=Table({"can": port(transmit_order=Known("by priority"))}))
    found = answers(vehicle)
    rate = ("lines", "fast", "bit_rate_bit_per_s")
    travel, late = (("messages", "pedal", "messages", name, "jitter_s") for name in ("travel", "late"))
    assert set(response(found, "fast", "pedal.travel").assumed) == {rate, travel}
    assert set(response(found, "fast", "vcu.torque").assumed) == {rate, travel}
    assert set(response(found, "fast", "pedal.late").assumed) == {rate, travel, late}
    assert set(response(found, "slow", "pedal.travel").assumed) == {rate, travel}
    assert set(found.responses["slow"].assumed) == {rate, travel}
    queued = Assumed("first in first out", "guess")
    found = answers(with_component(vehicle, "pedal", ports=Table({"can": port(transmit_order=queued)})))
    order = ("components", "pedal", "ports", "can", "transmit_order")
    assert set(response(found, "fast", "pedal.travel").assumed) == {rate, travel, late, order}
    assert set(response(found, "fast", "vcu.torque").assumed) == {rate, travel, late, order}


def test_a_chain_over_ranges_is_the_sum_of_the_longest():
    chains = Table({"show": Chain(("pedal.travel",), "display", within_s=Known(50 * MS))})
    vehicle = forwarding(replace(spoken(), chains=chains), period_s=Known(20 * MS, 10 * MS, 30 * MS))
    chain = answers(vehicle).chains["show"].value
    assert [hop.period_s for hop in chain.hops] == pytest.approx([10 * MS, 30 * MS, 0.0])


def test_periods_are_never_counted_longer_than_they_are():
    """The horizon of the engine counts whole picoseconds; half of one must not make a crowd thinner."""
    vehicle = saying(spoken(), "pedal", travel=message(0x100, period_s=Known(10 * MS + 0.4e-12)))
    exact = response(answers(spoken()), "fast", "vcu.torque")
    assert response(answers(vehicle), "fast", "vcu.torque").worst_s == exact.worst_s


def test_what_a_component_says_itself_it_need_not_wait_for():
    own = Table({"own": Need("pedal.travel", fresh_s=Known(1e-6), time_out_s=Known(1e-6))})
    found = answers(with_component(spoken(), "pedal", needs=own))
    at = [each.component for each in found.hearings.needs].index("pedal")
    assert (found.ages[at], found.gaps[at]) == (None, None)


def test_the_gap_between_two_arrivals_does_not_wait_for_the_receivers_cycle():
    found = answers(with_component(spoken(), "vcu", cycle_s=Unknown()))
    at = [each.component for each in found.hearings.needs].index("vcu")
    assert found.ages[at] == Blocked((("components", "vcu", "cycle_s"),))
    assert found.gaps[at] == answers(spoken()).gaps[at]


def test_a_play_disturbs_frames_wherever_the_bounds_count_them():
    vehicle = with_line(spoken(), "fast", error_gap_s=50 * MS)
    found = answers(vehicle)
    play = line_play(speech_of(vehicle), "fast", found.responses["fast"], "", 20.0, 1).value
    assert 200 < play.spoiled <= 20.0 / (50 * MS)
    assert play.above == ()


def test_a_play_shows_what_has_no_bound_too_and_ends_whatever_floods_the_line():
    flood = {"flood": message(0x300, 1e-6), "drop": message(0x301, None, minimum_gap_s=Known(1e-9))}
    vehicle = saying(spoken(), "pedal", **flood)
    found = answers(vehicle)
    play = line_play(speech_of(vehicle), "fast", found.responses["fast"], "", 5.0, 1).value
    bounds = {each.stream.message: each.bound_s for each in play.seen}
    assert bounds["pedal.flood"] == math.inf
    assert bounds["pedal.travel"] < math.inf
    assert [each.stream.message for each in play.seen if not each.count] == ["pedal.drop"]
    assert play.above == ()
    assert play.load == pytest.approx(1.0, abs=0.01)
    assert play.backlog > 1000


def test_what_comes_once_in_thirty_years_can_be_played():
    rare = Known(1e9)
    seldom = {"seldom": message(0x300, None, minimum_gap_s=rare, jitter_s=rare), "rare": message(0x301, 1e12)}
    vehicle = saying(spoken(), "pedal", **seldom)
    found = answers(vehicle)
    play = line_play(speech_of(vehicle), "fast", found.responses["fast"], "", 5.0, 1).value
    arrived = {each.stream.message for each in play.seen if each.count}
    assert arrived == {"pedal.travel", "vcu.torque"}
    assert play.above == ()


def test_a_play_that_exceeds_a_bound_is_a_finding_that_governs():
    vehicle = spoken()
    speech, found = speech_of(vehicle), answers(vehicle).responses["fast"]
    play = line_play(speech, "fast", found, "", 5.0, 1).value
    assert {each.verdict for each in judge(PLAY_RULES, play)} == {Verdict.HOLDS}
    wrong = replace(found.value, responses=tuple(replace(each, worst_s=1e-6) for each in found.value.responses))
    broken = judge(PLAY_RULES, line_play(speech, "fast", Solved(wrong), "", 5.0, 1).value)
    assert {(each.verdict, each.reading.weight, each.reading.line) for each in broken} == {
        (Verdict.BROKEN, Weight.GOVERNS, "fast")
    }
    assert all("the program is wrong here" in finding_sentence(each) for each in broken)


def test_margins_start_from_the_lowest_bit_rate_of_a_range():
    ranged, low = (
        with_line(spoken(), "fast", bit_rate_bit_per_s=each) for each in (Known(500e3, 400e3, 510e3), Known(400e3))
    )
    slowest = []
    for vehicle in (ranged, low):
        found = answers(vehicle)
        margins = line_margins(speech_of(vehicle), "fast", found.on("fast"), found.responses["fast"])
        slowest.append(margins.value.slowest_bit_per_s)
    assert slowest[0] == slowest[1]
