"""The text that names a fault, and the line with it beside the sound one."""

from dataclasses import replace

import pytest

from loomwright.app.faults import NoSuchFaultError, fault_choices, faults_of, faulty_line, line_with
from loomwright.app.project import open_project
from loomwright.app.signal import physics_of
from loomwright.app.signal_fault import fault_look, finding_of, finding_shown, parts_shown, told_of
from loomwright.app.start import start_from_example
from loomwright.judge.changes import AtReceiver, ReceiverChange
from loomwright.model.fault import FaultKind
from loomwright.model.line import Line, Station
from loomwright.show.fault_finding import finding_words
from loomwright.show.fault_words import caller, station_names
from loomwright.show.signal_fault import fault_verdict, halves_verdict, receiver_row
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Known
from loomwright.terms.finding import Verdict, Weight


@pytest.fixture(scope="module")
def project(tmp_path_factory):
    folder = tmp_path_factory.mktemp("faults") / "t"
    start_from_example(folder, "tipper")
    return open_project(folder)


def test_every_listed_text_names_its_fault_again(project):
    for name, groups in faults_of(project):
        texts = [text for group in groups for text, _ in group.faults]
        titles = [(group.kind, title) for group in groups for _, title in group.faults]
        assert len(set(titles)) == len(titles)
        assert len(set(texts)) == len(texts)
        for text in texts:
            assert faulty_line(project, name, text).text == text


@pytest.mark.parametrize(
    ("text", "kind", "sentence"),
    [
        ("no terminator at pedal_box", FaultKind.NO_TERMINATOR, "The terminator (pedal bracket) is missing."),
        ("No  terminator at battery_manager", FaultKind.NO_TERMINATOR, "The termination inside Battery manager is broken"),
        ("open branch at vehicle_controller", FaultKind.OPEN_BRANCH, "torn off where it meets the trunk"),
        ("unplugged at vehicle_controller", FaultKind.UNPLUGGED, "of branch hang open"),
        ("unplugged at inverter", FaultKind.UNPLUGGED, "The wires of the trunk stay joined in it"),
        ("unplugged at battery_manager", FaultKind.UNPLUGGED, "off, its termination with it; the trunk ends open"),
        ("open trunk between dcdc and charge_controller", FaultKind.OPEN_TRUNK, "neither side hears the other"),
        ("stub 150 cm at charger", FaultKind.STUB, "A forgotten lead of 1.50\u202fm hangs open at On-board charger."),
    ],
)  # fmt: skip
def test_a_text_names_a_fault(project, text, kind, sentence):
    found = faulty_line(project, "drive", text)
    assert found.fault.kind is kind
    assert sentence in found.sentence


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("no terminator at charger", "possible are: no terminator at battery_manager, pedal_box; open branch at"),
        ("open trunk between charger and pedal", "charger and dcdc"),
        ("", "possible are"),
        ("stub 2 m at nowhere", "no station 'nowhere' for a stub; there are battery_manager"),
        ("stub 2 at charger", "has no unit"),
        ("stub 0 m at charger", "longer than nothing"),
        ("stub 900 m at charger", "at most 50 m"),
    ],
)
def test_a_wrong_text_is_told_what_is_possible(project, text, message):
    with pytest.raises(NoSuchFaultError, match=message):
        faulty_line(project, "drive", text)


def test_a_line_is_only_guessed_where_one_alone_can_have_the_fault(project):
    assert line_with(project, "no terminator at pedal_box") == "drive"
    with pytest.raises(NoSuchFaultError, match="lines body and drive and old can"):
        line_with(project, "unplugged at vehicle_controller")
    with pytest.raises(NoSuchFaultError, match="no line can; there are body, drive, old"):
        line_with(project, "unplugged at moon")
    with pytest.raises(NoSuchFaultError, match="there is no line 'moon'"):
        faulty_line(project, "moon", "unplugged at charger")


def test_the_choices_say_what_each_kind_is(project):
    groups = {group.kind: group for group in fault_choices(project, "drive")}
    assert list(groups) == list(FaultKind)
    assert groups[FaultKind.NO_TERMINATOR].words == "a termination that is missing or broken"
    assert groups[FaultKind.NO_TERMINATOR].faults == (
        ("no terminator at battery_manager", "Battery manager, front face of the left battery box"),
        ("no terminator at pedal_box", "Terminator, pedal bracket"),
    )
    assert groups[FaultKind.OPEN_TRUNK].faults[-1][1] == "between Service socket and Accelerator pedal"


def test_a_missing_terminator_shows_in_the_traffic_and_on_the_meter(project):
    found = fault_look(project, "drive", "no terminator at pedal_box")
    assert {own.sound_ohm < 61.0 and own.faulty_ohm > 110.0 for own in found.ohms.value} == {True}
    broken = [own for own in found.receivers if own.after.verdict is Verdict.BROKEN]
    assert told_of(found, str) == fault_verdict(found.receivers, (), found.parts[0].nodes, str)
    assert all(own.after.left_s < 0.0 for own in broken)
    assert all(own.after.lowest_v > own.before.lowest_v for own in found.receivers), "less load, more volts"


def test_the_sound_line_is_told_as_without_any_fault(project):
    before = project.vehicle
    found = fault_look(project, "drive", "stub 2 m at charger")
    assert project.vehicle is before
    sound = physics_of(project, before, "drive")
    assert found.sound == sound
    worst = {f.verdict for f in found.sound.findings if f.reading.weight is Weight.GOVERNS}
    assert Verdict.BROKEN not in worst
    worse = {port for f in found.parts[0].worse if (port := dict(f.reading.because).get("port"))}
    assert worse == {own.port for own in found.receivers if own.after.verdict is not own.before.verdict}


def test_the_node_at_the_fault_is_cut_off_and_the_rest_goes_on(project):
    for text in ("open branch at charger", "unplugged at charger"):
        found = fault_look(project, "drive", text)
        assert [own.port for own in found.receivers if own.after is None] == ["charger.can"]
        assert told_of(found, str).startswith("1 node is cut off. ")
    reading = {own.port: own.faulty_ohm for own in fault_look(project, "drive", "open branch at charger").ohms.value}
    assert reading["charger.can"] > 5e3, "behind the tear the charger's own input is left"
    assert reading["dcdc.can"] == pytest.approx(59.1, abs=0.2)


def at(verdict):
    return AtReceiver("z.can", -1e-9 if verdict is Verdict.BROKEN else 1e-9, 1.5, verdict)


def changes(**verdicts):
    """Receivers by name, each with its verdict as drawn and with the fault; ``None``: not on the line any more."""
    return [ReceiverChange(name, at(was), now and at(now)) for name, (was, now) in verdicts.items()]


HOLDS, BROKEN = Verdict.HOLDS, Verdict.BROKEN


@pytest.mark.parametrize(
    ("found", "told"),
    [
        ({"a": (HOLDS, HOLDS), "b": (HOLDS, HOLDS)}, "Every bit still arrives in time: traffic does not show this fault."),
        ({"a": (HOLDS, BROKEN), "b": (HOLDS, HOLDS)}, "1 node is unsure of some bits, without the fault none."),
        ({"a": (HOLDS, BROKEN), "b": (HOLDS, BROKEN)}, "2 nodes are unsure of some bits, without the fault none."),
        ({"a": (HOLDS, None), "b": (HOLDS, HOLDS)}, "1 node is cut off. The others hear every bit in time."),
        ({"a": (BROKEN, BROKEN), "b": (HOLDS, HOLDS)}, "1 node is unsure of some bits, as without the fault."),
        ({"a": (BROKEN, HOLDS), "b": (HOLDS, HOLDS)}, "Every bit arrives in time with it. No longer unsure: a."),
        (
            {"a": (BROKEN, HOLDS), "b": (HOLDS, BROKEN), "c": (BROKEN, BROKEN)},
            "2 nodes are unsure of some bits, without the fault 2. No longer unsure: a. Now unsure: b. Unsure with and "
            "without it: c.",
        ),
    ],
)  # fmt: skip
def test_who_is_unsure_with_a_fault_and_was_not_without_is_named(found, told):
    assert fault_verdict(changes(**found), (), list(found), str) == told


def test_a_receiver_whose_worst_sender_is_itself_says_so():
    other, own = changes(a=(HOLDS, HOLDS), z=(HOLDS, HOLDS))
    assert receiver_row(other, str)[:2] == ("a", "z.can")
    assert receiver_row(replace(own, port="z.can"), str)[:2] == ("z.can", "itself")


def test_halves_say_who_is_unsure_among_their_own():
    found = changes(a=(HOLDS, HOLDS), b=(HOLDS, HOLDS), c=(HOLDS, BROKEN), d=(HOLDS, HOLDS), e=(HOLDS, None))
    told = halves_verdict(found, [("a", "b"), ("c", "d")], str)
    assert (
        told
        == "Two halves: a and b hear each other; c and d are joined, but 1 node is unsure of some bits; nothing passes between."
    )
    assert halves_verdict(found, [("a", "b", "d"), ("e",)], str).endswith(
        "a, b and d hear each other; e is alone; nothing passes between."
    )
    assert "no node is left on one side" in halves_verdict(found, [("a", "b"), ()], str)


def test_a_torn_line_is_judged_half_by_half(project):
    found = fault_look(project, "drive", "open trunk between inverter and vehicle_controller")
    first, second = found.parts
    assert (first.part.stations, second.part.stations) == ((*range(7), None), (None, *range(7, 11)))
    assert second.nodes == ("vehicle_controller.can1", "pedal.can")
    # Nothing is asked across the tear, and what is asked is what the half alone answers.
    for own in found.parts:
        assert {port for pair in own.physics.signal.value.pairs for port in (pair.sender, pair.receiver)} == set(
            own.nodes
        )
        assert own.physics.timing.value.round_trip.length_m < own.part.topology.cable_m
        assert "bit-timing" not in {finding.rule for finding in own.worse}
    told = told_of(found, str)
    assert told.startswith("Two halves: battery_manager.can, ")
    assert told.endswith("vehicle_controller.can1 and pedal.can hear each other; nothing passes between.")
    assert "unsure" not in told.partition("; ")[2]


def test_each_half_tells_its_own_terminations_reading_timing_and_the_tear(project):
    found = fault_look(project, "drive", "open trunk between inverter and vehicle_controller")
    first, second = parts_shown(project, found, str)
    assert first.title == "Half from Battery manager to Drive inverter"
    assert first.facts[0].startswith("1 termination is on: Battery manager. The meter reads 11")
    assert second.facts[0].startswith("1 termination is on: the terminator (pedal bracket). The meter reads 11")
    for own in (first, second):
        assert own.facts[1].startswith("Bit timing: sampled at ")
        assert any(
            "ends open at the tear between Drive inverter and Vehicle controller" in text for text in own.remarks
        )
        assert not any("terminations are on" in text for text in own.remarks)


def test_the_halves_of_a_line_with_a_termination_too_many_count_their_own(tmp_path):
    start_from_example(tmp_path / "v", "tipper-as-found")
    found = open_project(tmp_path / "v")
    torn = fault_look(found, "body", "open trunk between vehicle_controller and gear_selector")
    ohms = [{round(stop.ohm) for stop in own.ohms.value.stops} for own in torn.parts]
    shown = parts_shown(found, torn, str)
    assert [own.facts[0].partition(" on: ")[0] for own in shown] == ["1 termination is", "2 terminations are"]
    assert min(ohms[0]) > 115
    assert max(ohms[1]) < 62
    assert not any("terminations are on instead" in text for own in shown for text in own.remarks)


def test_a_half_with_one_node_is_told_to_be_alone(project):
    found = fault_look(project, "old", "open trunk between instrument_cluster and brakes")
    assert told_of(found, str).endswith("; brakes.can is alone; nothing passes between.")
    assert [own.port for own in found.receivers if own.after is None] == ["brakes.can"]
    assert parts_shown(project, found, str)[1].remarks == ()


def test_what_is_left_behind_is_called_what_it_is(project):
    def remarks(text):
        return " ".join(parts_shown(project, fault_look(project, "drive", text), str)[0].remarks)

    assert "The forgotten lead at Battery manager is 3.00\u202fm long" in remarks("stub 3 m at battery_manager")
    assert "open at the loose plug of Battery manager" in remarks("unplugged at battery_manager")
    assert "open at the stump of the branch to Battery manager" in remarks("open branch at battery_manager")
    for text in ("stub 3 m at battery_manager", "unplugged at charger", "open branch at charger"):
        assert "Open end" not in remarks(text)


def test_a_ring_that_is_torn_stays_in_one_piece_and_its_tear_is_named(tmp_path):
    start_from_example(tmp_path / "v", "tipper")
    file = tmp_path / "v" / "lines" / "old.toml"
    open_line = file.read_text("utf-8")
    file.write_text(
        open_line[: open_line.rindex("# The brake unit")] + '[[stations]]\nport = "tipper_pump.can"\n', "utf-8"
    )
    asked = open_project(tmp_path / "v")
    found = fault_look(asked, "old", "open trunk between lamp_module and vehicle_controller")
    assert not found.line.is_parted
    remarks = parts_shown(asked, found, str)[0].remarks
    assert remarks[0].startswith("Both ends of the tear between Rear lamp module and Vehicle controller are open")
    assert not told_of(found, str).startswith("Two halves")


def test_a_stub_does_not_show_on_the_meter_and_leaves_every_station_in_its_place(project):
    for station in ("battery_manager", "charger", "pedal_box"):
        ohms = fault_look(project, "drive", f"stub 3 m at {station}").ohms.value
        assert [own.station for own in ohms] == list(range(11))
        assert all(own.faulty_ohm == pytest.approx(own.sound_ohm, abs=0.2) for own in ohms)


def walks(project, text, line="drive"):
    shown = finding_shown(project, fault_look(project, line, text))
    return shown, [(step.do, dict(step.rows), step.then) for step in shown.steps]


def test_one_missing_termination_of_two_is_found_by_taking_one_plug_off(project):
    shown, (first, second) = walks(project, "no terminator at pedal_box")
    assert "licensed" in shown.first[0]
    assert first[1]["The line as drawn"].startswith("59.")
    assert "termination in Battery manager missing" in first[2]
    assert "trunk torn at one of 9 places" in first[2]
    assert second[0].startswith("Take the plug of Battery manager off; its termination goes with it.")
    assert second[1]["Termination in Battery manager missing"].endswith("Ω everywhere")
    assert "kΩ" not in second[1]["Termination in Battery manager missing"]
    assert second[1]["The terminator (pedal bracket) missing"].endswith("kΩ everywhere")
    assert "beyond it" in second[1]["Trunk torn at one of 9 places"]


def test_a_torn_trunk_is_found_where_the_reading_changes(project):
    _, (_, second) = walks(project, "open trunk between inverter and vehicle_controller")
    assert second[2] == "The tear is where the reading changes: between Drive inverter and Vehicle controller."
    own = second[1]["Trunk torn between Drive inverter and Vehicle controller"]
    assert own.startswith("Battery manager to Drive inverter: ")
    assert "kΩ; Vehicle controller to the terminator (pedal bracket): 11" in own
    assert "Trunk torn at one of 8 other places" in second[1]


def test_a_torn_branch_is_told_from_a_broken_component(project):
    _, (first, second) = walks(project, "open branch at charger")
    assert first[1]["Branch to On-board charger torn"].startswith("On-board charger: 10.0")
    assert "; everywhere else 59." in first[1]["Branch to On-board charger torn"]
    assert first[2].startswith("Nothing else reads like this")
    assert second[1]["Branch to On-board charger torn"] == "open"
    assert second[1]["The line as drawn"].startswith("59.")


def test_a_branch_torn_with_its_termination_says_what_the_meter_cannot_tell(project):
    shown, _ = walks(project, "open branch at battery_manager")
    assert any(
        "trunk torn between Battery manager and High-voltage junction box. Follow" in text for text in shown.last
    )


def test_a_forgotten_lead_is_told_to_be_invisible_to_the_meter(project):
    shown, steps = walks(project, "stub 2 m at charger")
    assert steps == []
    assert shown.last[0].startswith(
        "The meter cannot see it: with it and without it reads the same at every place, 59."
    )
    assert "Eyes can" in shown.last[1]
    assert "oscilloscope" in shown.last[1]
    late_s = 2 * 2.0 * project.vehicle.cables[project.vehicle.lines["drive"].cable].delay_s_per_m.value
    assert f"{1e9 * late_s:.1f}\u202fns late" in shown.last[1]


def test_a_loose_plug_is_found_by_eye_before_any_other_is_taken_off(project):
    shown, steps = walks(project, "unplugged at battery_manager")
    assert len(steps) == 1
    assert shown.last[0].startswith("Eyes can: the plug of Battery manager is off")
    assert "59.0" in shown.last[1]


def test_a_line_with_a_resistance_nobody_knows_says_what_it_waits_for(tmp_path):
    start_from_example(tmp_path / "v", "tipper")
    file = tmp_path / "v" / "components" / "battery_manager.toml"
    text = file.read_text("utf-8")
    kept = [own for own in text.splitlines() if not own.startswith("node_resistance")]
    kept.insert(kept.index("[ports.can]") + 1, 'node_resistance = "?"')
    file.write_text("\n".join(kept) + "\n", "utf-8")
    shown, steps = walks(open_project(tmp_path / "v"), "open branch at charger")
    assert steps == []
    assert shown.last[0].startswith("What a meter reads waits for")


@pytest.mark.parametrize("example", ["bench", "minibus", "tipper", "tipper-as-found"])
def test_every_fault_of_every_example_is_told_how_to_find(tmp_path, example):
    """None is left with nothing said: a walk, or that the meter is blind and what is not, or the facts it waits for."""
    start_from_example(tmp_path / "v", example)
    vehicle = open_project(tmp_path / "v")
    for name, groups in faults_of(vehicle):
        line = vehicle.vehicle.lines[name]
        for text, _ in (one for group in groups for one in group.faults):
            faulty = faulty_line(vehicle, name, text)
            found = finding_of(vehicle, faulty)
            shown = finding_words(found, faulty.fault, 5e-9, caller(vehicle.vehicle, line))
            assert shown.steps or shown.last
            if isinstance(found, Blocked):
                continue
            assert found.value.fault == faulty.fault
            blind = faulty.fault.kind in (FaultKind.STUB, FaultKind.UNPLUGGED)
            assert found.value.seen or blind, f"{name}: {text}"
            assert not any(fault.kind is FaultKind.STUB for fault in found.value.left)


@pytest.mark.parametrize("example", ["bench", "minibus", "tipper-as-found"])
def test_texts_name_their_faults_whatever_places_and_components_are_called(tmp_path, example):
    """In the minibus terminators are plugged in at places that are called like the components beside them."""
    start_from_example(tmp_path / "v", example)
    vehicle = open_project(tmp_path / "v")
    told = [
        (name, text, group.kind, title)
        for name, groups in faults_of(vehicle)
        for group in groups
        for text, title in group.faults
    ]
    assert len({(name, text) for name, text, _, _ in told}) == len(told)
    assert len({(name, kind, title) for name, _, kind, title in told}) == len(told)
    assert all(faulty_line(vehicle, name, text).text == text for name, text, _, _ in told)
    if example == "minibus":
        assert any(text.endswith("(plug)") for _, text, _, _ in told)


def test_a_component_with_two_ports_on_a_line_is_told_by_its_ports():
    stations = (Station("a.one"), Station("b.can"), Station("a.two"), Station(at="b", terminator_ohm=Known(120.0)))
    twice = (*stations, Station(at="b", terminator_ohm=Known(120.0)))
    assert station_names(Line(stations=twice)) == ("a.one", "b", "a.two", "b (plug)", "station 5")
