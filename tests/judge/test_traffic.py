"""Every rule of traffic as data: what breaks it, and that no other notices; and that cures cure."""

import re
from dataclasses import replace

import pytest

from loomwright.app.margin import shown_in
from loomwright.app.questions import Answers
from loomwright.judge import TRAFFIC_RULES
from loomwright.model.component import Forward
from loomwright.model.message import MessageSet, Signal
from loomwright.model.table import Table
from loomwright.model.variant import changed
from loomwright.show.gathered import gathered, more_text
from loomwright.show.words import finding_cure, finding_sentence, limit_text, value_text
from loomwright.terms.fact import Known, Unknown
from loomwright.terms.finding import Verdict, Weight
from loomwright.terms.quantity import Kind
from tests.traffic_build import MS, line, message, port, saying, spoken, with_component, with_line


def findings(vehicle):
    return Answers().traffic_findings(vehicle)


def verdicts(vehicle, verdict=Verdict.BROKEN, weight=Weight.GOVERNS):
    return {each.rule for each in findings(vehicle) if each.verdict is verdict and each.reading.weight is weight}


def needing(vehicle, component, **fields):
    one = vehicle.components[component]
    name, old = next(iter(one.needs.items()))
    return with_component(vehicle, component, needs=one.needs.put(name, replace(old, **fields)))


def expecting(vehicle, **fields):
    wanted = MessageSet(messages=Table({"torque": message(0x200, expected_by="inverter.can", **fields)}))
    return replace(vehicle, messages=vehicle.messages.put("inverter", wanted))


def j1939(vehicle, **addresses):
    """The vehicle with its fast line of the J1939 kind: wide identifiers that end in the senders' addresses."""
    vehicle = saying(vehicle, "pedal", travel=message(0x0CFF0027, signals=Table()))
    vehicle = saying(vehicle, "vcu", torque=message(0x0CFF0128, signals=Table()))
    for name, address in {"pedal": 0x27, "inverter": 0x29, **addresses}.items():
        vehicle = with_component(vehicle, name, ports=Table({"can": port(address=Known(address))}))
    vcu = vehicle.components["vcu"]
    vehicle = with_component(vehicle, "vcu", ports=vcu.ports.put("a", port(address=Known(0x28))))
    vehicle = with_line(vehicle, "slow", identifiers=Known("both"))
    return with_line(vehicle, "fast", protocol="J1939", identifiers=Known("29 bit"))


def forwarding(vehicle, **fields):
    vcu = vehicle.components["vcu"]
    return with_component(vehicle, "vcu", forwards=Table({"travel": replace(vcu.forwards["travel"], **fields)}))


def overfull(vehicle):
    """So many frames that the line cannot carry them; the messages that a chain and needs go by stay on top."""
    return saying(vehicle, "pedal", **{f"m{n}": message(0x300 + n, 1.0) for n in range(4)})


BROKEN = {
    "a sender on no line": (
        lambda v: needing(v, "inverter", signal="vcu.lost"), {"message-sent"},
        lambda v: saying(v, "vcu", lost=message(0x222, sender="nowhere.can")),
    ),
    "no gateway passes it on": (lambda v: with_component(v, "vcu", forwards=Table()), {"message-heard"}),
    "two senders of one identifier": (
        lambda v: saying(v, "pedal", twin=message(0x200, 100.0)), {"one-sender"},
    ),
    "a gateway brings what is taken": (
        lambda v: replace(v, messages=v.messages.put("display", MessageSet(sender="display.can", messages=Table({"own": message(0x100, 100.0)})))),
        {"forward-identifier"},
    ),
    "a gateway hears nothing of what it is to bring": (
        lambda v: replace(v, messages=v.messages.put("display", MessageSet(sender="display.can", messages=Table({"own": message(0x400)})))),
        {"forward-heard"},
        lambda v: with_component(v, "vcu", forwards=v.components["vcu"].forwards.put("own", Forward("display.own", "b"))),
    ),
    "a gateway whose states never meet the message's": (
        lambda v: forwarding(replace(v, states=("drive", "charge")), states=("charge",)), {"forward-heard", "message-heard"},
        lambda v: saying(v, "pedal", travel=message(0x100, states=("drive",))),
    ),
    "overlapping signals": (
        lambda v: saying(v, "pedal", travel=message(0x100, signals=Table({"value": Signal(0, 16), "b": Signal(8, 8)}))),
        {"signals-fit"},
    ),
    "another factor": (
        lambda v: expecting(v, signals=Table({"value": Signal(0, 16, factor=0.5)})), {"same-definition"},
    ),
    "a counter is expected": (
        lambda v: expecting(v, signals=Table({"value": Signal(0, 16), "count": Signal(60, 4, duty="counter")})),
        {"same-guards"},
    ),
    "a wide identifier on a narrow line": (
        lambda v: saying(v, "pedal", wide=message(0x18FF0001, 100.0)), {"identifier-width"},
    ),
    "nine bytes in a frame of eight": (
        lambda v: saying(v, "pedal", long=message(0x300, 100.0, length=9)), {"message-fits"},
    ),
    "an FD frame on a classical line": (
        lambda v: saying(v, "pedal", long=message(0x300, 100.0, frames="FD")), {"message-fits"},
    ),
    "an address twice": (lambda v: j1939(v, inverter=0x27), {"one-address"}),
    "another address in the identifier": (lambda v: j1939(v, pedal=0x30), {"address-in-identifier"}),
    "too full in the mean": (lambda v: with_line(v, "fast", load_limit=0.04), {"line-load"}),
    "more than fits": (overfull, {"line-load", "line-overload", "in-time"}),
    "too late": (
        lambda v: saying(v, "vcu", torque=message(0x200, deadline_s=Known(0.5 * MS))), {"in-time"},
    ),
    "packets that never get done": (
        lambda v: saying(j1939(v), "pedal", long=message(0x18FF0127, 300.0, length=100, signals=Table())),
        {"transported-in-time"},
    ),
    "given up while it lives": (lambda v: needing(v, "vcu", time_out_s=Known(10 * MS)), {"in-time-out"}),
    "stale": (lambda v: needing(v, "vcu", fresh_s=Known(19 * MS)), {"fresh"}),
    "a slow chain": (
        lambda v: replace(v, chains=Table({"torque": replace(v.chains["torque"], within_s=Known(40 * MS))})),
        {"chain-in-time"},
    ),
}  # fmt: skip


def test_the_talk_is_sound():
    assert verdicts(spoken()) == set()
    assert verdicts(spoken(), Verdict.TIGHT) == set()
    assert verdicts(spoken(), Verdict.UNKNOWN) == set()
    assert verdicts(j1939(spoken())) == set()


@pytest.mark.parametrize("case", sorted(BROKEN))
def test_each_mistake_is_found_by_its_rule_and_by_no_other(case):
    break_it, rules, *before = BROKEN[case]
    vehicle = spoken()
    for prepare in before:
        vehicle = prepare(vehicle)
    assert verdicts(break_it(vehicle)) == rules


def test_every_rule_of_traffic_has_a_case():
    told = {rule for _, rules, *_ in BROKEN.values() for rule in rules}
    assert told | {"message-needed"} == {rule.code for rule in TRAFFIC_RULES}


@pytest.mark.parametrize("case", sorted(BROKEN))
def test_every_finding_is_told_in_words_with_a_cure(case):
    break_it, _, *before = BROKEN[case]
    vehicle = spoken()
    for prepare in before:
        vehicle = prepare(vehicle)
    for finding in findings(break_it(vehicle)):
        sentence = finding_sentence(finding)
        assert sentence.endswith(".")
        assert "None" not in sentence
        assert "something" not in sentence
        if finding.verdict is Verdict.BROKEN:
            assert finding_cure(finding)


def test_what_nobody_needs_is_advice():
    vehicle = saying(spoken(), "pedal", noise=message(0x300))
    assert verdicts(vehicle) == set()
    assert verdicts(vehicle, weight=Weight.ADVICE) == {"message-needed"}


@pytest.mark.parametrize("delta", [-1, 0, 1])
def test_a_deadline_is_kept_to_the_last_nanosecond(delta):
    exact = 2 * 135 * 2e-6
    vehicle = saying(spoken(), "vcu", torque=message(0x200, deadline_s=Known(exact + delta * 1e-9)))
    assert ("in-time" in verdicts(vehicle)) is (delta < 0)


@pytest.mark.parametrize("share", [0.0489, 0.0500, 0.0501])
def test_a_limit_of_load_is_the_lines_own(share):
    load = next(f for f in findings(spoken()) if f.rule == "line-load" and f.reading.line == "fast").reading.value
    assert ("line-load" in verdicts(with_line(spoken(), "fast", load_limit=share))) is (load > share)


def test_a_forward_is_offered_where_a_gateway_stands_on_both_lines_and_it_cures():
    vehicle = with_component(spoken(), "vcu", forwards=Table())
    (finding,) = [f for f in findings(vehicle) if f.verdict is Verdict.BROKEN and f.reading.weight is Weight.GOVERNS]
    assert finding.rule == "message-heard"
    mended = changed(vehicle, finding.reading.change)
    assert mended.components["vcu"].forwards["travel"].to == "b"
    assert verdicts(mended) == set()


def test_no_forward_is_offered_where_nobody_stands_on_both_lines():
    vehicle = with_component(spoken(), "vcu", forwards=Table())
    vehicle = with_line(vehicle, "slow", stations=line(125e3, "display.can").stations)
    (finding,) = [
        f
        for f in findings(vehicle)
        if f.rule == "message-heard" and f.verdict is Verdict.BROKEN and f.reading.weight is Weight.GOVERNS
    ]
    assert finding.reading.change is None


def test_a_forward_to_a_line_of_another_width_gets_an_identifier_of_that_width():
    vehicle = with_component(j1939(spoken()), "vcu", forwards=Table())
    vehicle = with_line(vehicle, "slow", identifiers=Known("11 bit"))
    (finding,) = [f for f in findings(vehicle) if f.verdict is Verdict.BROKEN and f.reading.weight is Weight.GOVERNS]
    forward = changed(vehicle, finding.reading.change).components["vcu"].forwards["travel"]
    assert forward.identifier.value <= 0x7FF


def test_a_programmable_twin_is_offered_a_free_identifier_and_it_cures():
    twin = message(0x200, 100.0, programmable=True)
    vehicle = saying(spoken(), "pedal", twin=twin)
    (finding,) = [f for f in findings(vehicle) if f.verdict is Verdict.BROKEN and f.reading.weight is Weight.GOVERNS]
    mended = changed(vehicle, finding.reading.change)
    assert mended.messages["pedal"].messages["twin"].identifier.value not in (0x100, 0x200)
    assert verdicts(mended) == set()


def test_a_fixed_twin_is_offered_none():
    vehicle = saying(spoken(), "pedal", twin=message(0x200, 100.0))
    (finding,) = [f for f in findings(vehicle) if f.verdict is Verdict.BROKEN and f.reading.weight is Weight.GOVERNS]
    assert finding.reading.change is None


def test_a_message_that_sender_and_receiver_both_describe_as_sent_is_told_so_and_the_cure_makes_it_expected():
    copy = message(0x200, sender="vcu.a", programmable=True)
    makers = MessageSet(sender="inverter.can", messages=Table({"status": message(0x210), "torque": copy}))
    vehicle = replace(spoken(), messages=spoken().messages.put("inverter", makers))
    vehicle = saying(vehicle, "vcu", torque=message(0x200, programmable=True))
    (finding,) = [each for each in findings(vehicle) if each.rule == "one-sender" and each.verdict is Verdict.BROKEN]
    assert finding_sentence(finding) == (
        "0x200 of vcu.a is described more than once as sent: "
        "inverter.torque in messages/inverter.toml and vcu.torque in messages/vcu.toml."
    )
    mended = changed(vehicle, finding.reading.change)
    wanted = mended.messages["inverter"].messages["torque"]
    assert (wanted.expected_by, wanted.sender) == ("inverter.can", "")
    assert mended.messages["vcu"] == vehicle.messages["vcu"]
    assert verdicts(mended) == set()


def test_the_cure_finds_the_receiver_in_a_taken_set_that_mostly_lists_the_sender_s_messages():
    status = message(0x210, sender="inverter.can")
    table = Table({"status": status, "torque": message(0x200), "more": message(0x220)})
    makers = MessageSet(definition="definitions/inverter.dbc", sender="vcu.a", messages=table)
    vehicle = replace(spoken(), messages=spoken().messages.put("inverter", makers))
    (finding,) = [each for each in findings(vehicle) if each.rule == "one-sender" and each.verdict is Verdict.BROKEN]
    assert (
        changed(vehicle, finding.reading.change).messages["inverter"].messages["torque"].expected_by == "inverter.can"
    )


def test_two_descriptions_in_sets_of_the_same_sender_are_told_without_a_guess_which_is_right():
    vehicle = saying(spoken(), "vcu", again=message(0x200, programmable=True))
    (finding,) = [each for each in findings(vehicle) if each.rule == "one-sender" and each.verdict is Verdict.BROKEN]
    assert "described more than once" in finding_sentence(finding)
    assert finding.reading.change is None


def test_open_facts_make_unknown_findings_that_name_them():
    vehicle = saying(spoken(), "pedal", travel=message(0x100, period_s=Unknown()))
    path = ("messages", "pedal", "messages", "travel", "period_s")
    unknown = [each for each in findings(vehicle) if each.verdict is Verdict.UNKNOWN]
    assert {"line-load", "in-time", "chain-in-time", "fresh"} <= {each.rule for each in unknown}
    assert all(path in each.reading.blocked_by for each in unknown)
    assert any("in-time" in where for where, _ in Answers().waiting(vehicle))


def test_a_vehicle_that_says_nothing_has_no_findings_about_it():
    silent = replace(spoken(), messages=Table(), chains=Table())
    silent = replace(
        silent, components=Table({n: replace(c, needs=Table(), forwards=Table()) for n, c in silent.components.items()})
    )
    assert findings(silent) == ()


def test_moving_a_component_asks_nothing_anew():
    answers = Answers()
    vehicle = spoken()
    answers.traffic_findings(vehicle)
    asked = answers.asked - answers.remembered
    answers.traffic_findings(with_component(vehicle, "pedal", place="q", title="Accelerator"))
    assert answers.asked - answers.remembered == asked


def test_what_is_late_and_not_needed_is_told_so():
    vehicle = saying(spoken(), "vcu", idle=message(0x210, deadline_s=Known(0.5 * MS)))
    (late,) = [f for f in findings(vehicle) if f.rule == "in-time" and f.verdict is Verdict.BROKEN]
    assert "it has at most 500\u202fµs. Nobody there needs it. " in finding_sentence(late)


@pytest.mark.parametrize("case", sorted(BROKEN))
def test_every_count_says_what_it_counts(case):
    break_it, _, *before = BROKEN[case]
    vehicle = spoken()
    for prepare in before:
        vehicle = prepare(vehicle)
    for finding in findings(break_it(vehicle)):
        reading = finding.reading
        if reading.limit.kind is Kind.COUNT and reading.value is not None:
            for words in (value_text(reading), limit_text(reading.limit)):
                assert re.search(r"\d [a-z]", words), (finding.rule, words)


def about(finding):
    return {finding.reading.subject, *finding.reading.also}


def test_one_identifier_of_two_messages_is_a_finding_about_both():
    vehicle = saying(spoken(), "pedal", twin=message(0x200, 100.0))
    (finding,) = [each for each in findings(vehicle) if each.rule == "one-sender" and each.verdict is Verdict.BROKEN]
    both = {("messages", "pedal", "messages", "twin"), ("messages", "vcu", "messages", "torque")}
    assert about(finding) == both
    for set_name, name in (("pedal", "twin"), ("vcu", "torque")):
        assert shown_in(finding, (f"messages.{set_name}.messages.{name}",))
    assert not shown_in(finding, ("messages.pedal.messages.travel",))


def test_an_identifier_that_a_gateway_brings_is_a_finding_about_the_guest_and_the_one_who_has_it():
    vehicle = forwarding(spoken(), identifier=Known(0x222))
    slow = MessageSet(sender="display.can", messages=Table({"lit": message(0x222, 100.0)}))
    vehicle = replace(vehicle, messages=vehicle.messages.put("display", slow))
    (finding,) = [
        each for each in findings(vehicle) if each.rule == "forward-identifier" and each.verdict is Verdict.BROKEN
    ]
    assert about(finding) == {
        ("components", "vcu", "forwards", "travel"),
        ("messages", "pedal", "messages", "travel"),
        ("messages", "display", "messages", "lit"),
    }


def test_descriptions_that_differ_and_an_address_that_two_claim_are_about_both():
    (differs,) = [each for each in findings(expecting(spoken(), length=4)) if each.rule == "same-definition"]
    assert about(differs) == {
        ("messages", "inverter", "messages", "torque"), ("messages", "vcu", "messages", "torque"),
    }  # fmt: skip
    twice = [each for each in findings(j1939(spoken(), inverter=0x27)) if each.rule == "one-address"]
    (claimed,) = [each for each in twice if each.verdict is Verdict.BROKEN]
    assert about(claimed) == {("components", name, "ports", "can", "address") for name in ("pedal", "inverter")}


def the(rule, vehicle, verdict=Verdict.BROKEN):
    (finding,) = [each for each in findings(vehicle) if each.rule == rule and each.verdict is verdict]
    return finding


def test_a_load_that_waits_tells_the_least_it_is():
    vehicle = saying(spoken(), "pedal", travel=message(0x100, period_s=Unknown()))
    vehicle = with_component(vehicle, "vcu", forwards=Table())
    whole = next(f for f in findings(spoken()) if f.rule == "line-load" and f.reading.line == "fast").reading.value
    finding = the("line-load", vehicle, Verdict.UNKNOWN)
    assert dict(finding.reading.because)["least"] == pytest.approx(whole / 2)
    assert finding_sentence(finding).startswith(
        "Line fast is at least 2.29\u202f% full in the mean, 1 message not counted."
    )


def test_a_load_that_is_too_much_without_what_is_unknown_is_broken_all_the_same():
    vehicle = saying(spoken(), "pedal", travel=message(0x100, period_s=Unknown()))
    vehicle = with_line(with_component(vehicle, "vcu", forwards=Table()), "fast", load_limit=0.02)
    assert "is at least 2.29\u202f% full in the mean, 1 message not counted" in finding_sentence(
        the("line-load", vehicle)
    )


@pytest.mark.parametrize(
    ("bend", "words"),
    [
        (lambda v: v, "goes by until pedal.travel is sent again: send it more often"),
        (lambda v: with_component(v, "vcu", cycle_s=Known(90 * MS)), "for vcu's own cycle: shorten it"),
    ],
)
def test_a_stale_value_is_cured_where_most_of_its_age_is(bend, words):
    vehicle = needing(bend(saying(spoken(), "pedal", travel=message(0x100, 40.0))), "vcu", fresh_s=Known(30 * MS))
    cure = finding_cure(the("fresh", vehicle))
    assert words.removeprefix("goes by ") in cure
    assert "gateway" not in cure


def test_a_value_that_is_stale_behind_a_gateway_is_cured_at_the_gateway():
    vehicle = forwarding(spoken(), period_s=Known(800 * MS))
    vehicle = needing(vehicle, "display", fresh_s=Known(100 * MS))
    cure = finding_cure(the("fresh", vehicle))
    assert "until vcu repeats it on line slow: shorten the forward's period" in cure


def test_a_sender_on_no_line_is_to_be_put_on_one():
    vehicle = with_line(spoken(), "fast", stations=spoken().lines["fast"].stations[1:])
    cures = {finding_cure(f) for f in findings(vehicle) if f.rule == "message-sent" and f.verdict is Verdict.BROKEN}
    assert all(cure.startswith("Put pedal.can on a line") for cure in cures)
    assert cures


def test_what_comes_late_to_a_line_where_nobody_needs_it_is_no_longer_passed_on():
    vehicle = with_component(spoken(), "display", needs=Table())
    vehicle = saying(vehicle, "pedal", travel=message(0x100, 2.0))
    vehicle = with_line(vehicle, "slow", bit_rate_bit_per_s=Known(50e3))
    finding = the("in-time", vehicle)
    assert finding.reading.line == "slow"
    assert finding_cure(finding).startswith("Stop passing pedal.travel on to line slow. Or: Nobody there needs it")
    assert "in-time" not in verdicts(changed(vehicle, finding.reading.change))


def test_what_waits_for_the_same_facts_is_told_once():
    vehicle = saying(spoken(), "pedal", travel=message(0x100, period_s=Unknown()))
    every = findings(vehicle)
    waiting = [each for each in every if each.verdict is Verdict.UNKNOWN]
    told = gathered(every)
    assert len(waiting) > 5
    ((first, more),) = [(finding, more) for finding, more in told if finding.verdict is Verdict.UNKNOWN]
    assert {id(first), *map(id, more)} == {id(each) for each in waiting}
    assert more_text(more).startswith(f"{len(waiting) - 1} more wait for these facts: ")
    assert len(told) == len(every) - len(more)
    open_too = [
        f for f, _ in gathered(findings(needing(vehicle, "vcu", fresh_s=Unknown()))) if f.verdict is Verdict.UNKNOWN
    ]
    assert [each.rule for each in open_too] == [first.rule, "fresh"], "what waits for one fact more is told by itself"
