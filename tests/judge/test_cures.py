"""A change in a finding is sure: applied and judged again, the finding is cured and nothing else is worse."""

import itertools
from collections import Counter
from dataclasses import replace

import pytest

from loomwright.judge.cures import PLUG_IN, end_terminations, joined_nearer
from loomwright.judge.evidence import line_evidence
from loomwright.judge.proof import proved
from loomwright.model.component import Component
from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.model.variant import changed
from loomwright.model.vehicle import Run
from loomwright.solve.ways import run_ways
from loomwright.terms.change import Change, Edit, path_text
from loomwright.terms.fact import Known, Source, Unknown
from loomwright.terms.finding import Finding, Reading, Verdict, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind
from tests.judge.build import (
    findings,
    more_stations,
    port,
    sound,
    verdicts,
    with_line,
    with_lock,
    with_port,
    with_station,
)
from tests.judge.cases import BROKEN, spare


def worst(vehicle):
    """How often each rule is broken or open, advice apart."""
    return Counter(
        (item.rule, item.verdict)
        for item in findings(vehicle)
        if item.verdict in (Verdict.BROKEN, Verdict.UNKNOWN) and item.reading.weight is Weight.GOVERNS
    )


def offers(vehicle):
    return [item for item in findings(vehicle) if item.reading.change is not None]


def joined_at_all(vehicle, **ports):
    """One more switchable box between pump and plug."""
    box = Component("fan", "p1", ports=Table({"a": port(termination=Known("switchable"), **ports)}))
    first, pump, *rest = vehicle.lines["one"].stations
    vehicle = replace(vehicle, components=vehicle.components.put("fan", box))
    return with_line(vehicle, stations=(first, pump, Station("fan.a"), *rest))


#: name -> (vehicle with a mistake, rule, what the change says)
CURED = {
    "third termination": (
        BROKEN["a third termination, on"][0](sound()),
        "two-terminations",
        "Switch off the termination of pump.a",
    ),
    "one termination": (
        BROKEN["one termination"][0](sound()),
        "two-terminations",
        "Switch on the termination of vcu.a",
    ),
    "the reading follows": (
        BROKEN["one termination"][0](sound()),
        "line-resistance",
        "Switch on the termination of vcu.a",
    ),
    "an end without any": (
        with_port(sound(), "inverter", termination=Known("none")),
        "two-terminations",
        "Plug in a terminator at p4",
    ),
    "a plug-in one in the middle": (
        with_line(
            sound(),
            stations=(
                *sound().lines["one"].stations[:2],
                Station(terminator_ohm=PLUG_IN, at="p1"),
                *sound().lines["one"].stations[2:],
            ),
        ),
        "two-terminations",
        "Take out the plug-in terminator at p1",
    ),
    "trunk runs on": (
        BROKEN["trunk runs on past a termination"][0](sound()),
        "terminations-at-ends",
        "Take out the plug-in terminator at p3; switch on the termination of inverter.a",
    ),
    "wrong plug-in terminator": (
        with_line(
            with_port(sound(), "inverter", termination=Known("none")),
            stations=(*sound().lines["one"].stations, Station(terminator_ohm=Known(60.0), at="p4")),
        ),
        "terminator-value",
        "Plug in a terminator of 120 ohm instead at p4",
    ),
    "fixed one not at the end": (
        with_line(
            sound(),
            stations=(
                *sound().lines["one"].stations[:2],
                Station("inverter.a"),
                *sound().lines["one"].stations[2:4],
            ),
        ),
        "fixed-terminator-mid-trunk",
        "Lead the trunk so that inverter.a is its last station",
    ),
    "fixed one behind an open end": (
        with_line(
            sound(),
            stations=(
                *sound().lines["one"].stations[:2],
                Station("inverter.a"),
                *sound().lines["one"].stations[2:4],
            ),
        ),
        "terminations-at-ends",
        "Lead the trunk so that inverter.a is its last station",
    ),
    "fixed one near the first end": (
        with_port(
            with_port(with_station(sound(), 0, terminated=False), "pump", termination=Known("fixed")),
            "vcu",
            termination=Known("none"),
        ),
        "terminations-at-ends",
        "Lead the trunk so that pump.a is its first station",
    ),
    "branch from much too far": (
        with_line(with_station(sound(), 3, at="p5"), rule_set="SAE J1939-11"),
        "branch-length",
        "Lead the trunk through heater.a instead of branching",
    ),
    "branch cut too long": (
        BROKEN["branch too long"][0](sound()),
        "branch-length",
        "Shorten the branch of heater.a to what its runs need",
    ),
    "branch that cannot reach": (
        BROKEN["branch that cannot reach"][0](sound()),
        "branch-reaches",
        "Let the branch of heater.a be as long as its runs",
    ),
    "branch from too far": (
        with_station(sound(), 3, at="p5"),
        "branch-length",
        "Lead the trunk to p4 and join heater.a there, nearer to it",
    ),
    "branch that must go": (
        with_line(sound(), rule_set="SAE J1939-11"),
        "branch-length",
        "Lead the trunk through heater.a instead of branching",
    ),
    "joints too close": (BROKEN["joints too close"][0](sound()), "station-spacing", "Leave more trunk between the two"),
    "silent rule set": (
        BROKEN["rule set is silent"][0](sound()),
        "rule-set-covers-rate",
        "Let SAE J1939-15 govern the line",
    ),
    "ring": (BROKEN["a ring"][0](sound()), "station-once", "Cut the ring open"),
    "bit rate": (
        with_line(sound(), bit_rate_bit_per_s=Known(125e3)),
        "bit-rate-match",
        "Run the line at the bit rate all can do",
    ),
    "data bit rate": (
        BROKEN["another data bit rate"][0](sound()),
        "data-bit-rate-match",
        "Run the data phase at the bit rate all can do",
    ),
    "identifiers": (
        with_line(sound(), identifiers=Known("11 bit")),
        "identifier-match",
        "Use the identifier width all ports use",
    ),
    "frames": (with_line(sound(), frames="FD"), "frames-match", "Use frames that every port bears"),
    "protocol": (with_line(sound(), protocol="CANopen"), "protocol-match", "Speak the protocol that every port knows"),
    "controller": (BROKEN["no controller named"][0](sound()), "line-has-controller", "Name vcu.a as its controller"),
    "detour without a way": (
        replace(
            with_station(sound(), 3, via=("p9",)),
            places=sound().places.put("p9", sound().places["p0"]),
        ),
        "way-exists",
        "Let the trunk take the shortest way",
    ),
    "forgotten port": (spare(sound()), "port-on-a-line", "Join fan.a to line one"),
    "forgotten plug": (BROKEN["no plug"][0](sound()), "port-on-a-line", "Join plug.a to line one"),
    "lock at an end": (
        with_lock(with_port(sound(), "pump", termination=Known("none")), port="pump.a", must="be at an end"),
        "lock-kept",
        "Lead the trunk so that pump.a is its first station; switch off the termination of vcu.a; plug in a terminator at p1",
    ),
    "lock to be through": (
        with_lock(sound(), port="heater.a", must="be joined through"),
        "lock-kept",
        "Lead the trunk through heater.a instead of branching",
    ),
}


@pytest.mark.parametrize("name", sorted(CURED))
def test_each_common_mistake_comes_with_its_cure(name):
    vehicle, rule, title = CURED[name]
    assert rule in verdicts(vehicle)
    change = next(item.reading.change for item in findings(vehicle) if item.rule == rule and item.reading.change)
    assert change.title == title
    assert verdicts(changed(vehicle, change)) == set()
    assert verdicts(changed(vehicle, change), Verdict.UNKNOWN) <= verdicts(vehicle, Verdict.UNKNOWN)


def test_a_port_that_two_lines_claim_is_taken_off_the_one_it_does_not_suit():
    vehicle = sound()
    two = replace(
        vehicle.lines["one"],
        bit_rate_bit_per_s=Known(500e3),
        rule_set="CiA 303-1",
        controller="b.a",
        stations=(
            Station("b.a", terminated=True),
            Station("pump.a"),
            Station("c.a", terminated=True),
        ),
    )
    boxes = {
        name: Component("gateway", "p1", ports=Table({"a": port(termination=Known("switchable"))})) for name in "bc"
    }
    vehicle = with_port(vehicle, "pump", bit_rates_bit_per_s=Known((250e3,)))
    vehicle = replace(vehicle, components=Table({**vehicle.components, **boxes}), lines=vehicle.lines.put("two", two))
    finding = next(f for f in findings(vehicle) if f.rule == "port-on-one-line" and f.verdict is Verdict.BROKEN)
    assert finding.reading.change.title == "Take pump.a off line two"
    after = changed(vehicle, finding.reading.change)
    assert "port-on-one-line" not in verdicts(after)
    assert worst(after) < worst(vehicle)


PAIRS = list(itertools.combinations(sorted(BROKEN), 2))


@pytest.mark.parametrize("first", sorted(BROKEN))
def test_with_any_two_mistakes_every_offer_is_still_sure(first):
    offered = 0
    for _, second in (pair for pair in PAIRS if pair[0] == first):
        vehicle = BROKEN[second][0](BROKEN[first][0](sound()))
        before = worst(vehicle)
        for finding in offers(vehicle):
            after = worst(changed(vehicle, finding.reading.change))
            own = (finding.rule, finding.verdict)
            where = f"{first} + {second}: {finding.rule} {path_text(finding.reading.subject)}"
            assert after[own] < before[own], where
            assert all(count <= before[key] for key, count in after.items()), where
            offered += 1
    assert offered or first == max(BROKEN)


def test_only_broken_findings_that_govern_carry_a_change():
    for break_it, _ in BROKEN.values():
        for finding in offers(break_it(sound())):
            assert finding.verdict is Verdict.BROKEN
            assert finding.reading.weight is Weight.GOVERNS


LIMIT = Limit(1.0, Bound.AT_LEAST, Kind.COUNT, Source("a document"), Standing.SEEN)
TRY = Change("try", (Edit(("name",), "x"),))


def found(rule, verdict, change=None):
    return Finding(rule, verdict, None, Reading(("x",), 0.0, LIMIT, change=change))


@pytest.mark.parametrize(
    ("after", "sure"),
    [
        ((found("a", Verdict.HOLDS), found("b", Verdict.HOLDS)), True),
        ((found("a", Verdict.BROKEN), found("b", Verdict.HOLDS)), False),
        ((found("a", Verdict.HOLDS), found("b", Verdict.BROKEN)), False),
        ((found("a", Verdict.HOLDS), found("b", Verdict.UNKNOWN)), False),
        ((found("a", Verdict.UNKNOWN), found("b", Verdict.HOLDS)), False),
    ],
    ids=["cures", "does not cure", "breaks another", "opens another", "only hides it"],
)
def test_a_change_is_withheld_unless_it_cures_and_harms_nothing(after, sure):
    before = (found("a", Verdict.BROKEN, TRY), found("b", Verdict.HOLDS))
    kept = proved(before, lambda _: after)
    assert (kept[0].reading.change is not None) is sure
    assert kept[0].verdict is Verdict.BROKEN


def test_a_change_is_tried_once_however_many_findings_carry_it():
    tried = []
    proved(
        (found("a", Verdict.BROKEN, TRY), found("a", Verdict.BROKEN, TRY)), lambda change: tried.append(change) or ()
    )
    assert tried == [TRY]


def evidence(vehicle):
    return line_evidence(vehicle, "one", run_ways(vehicle.places, vehicle.runs))


@pytest.mark.parametrize(
    "vehicle",
    [
        with_port(sound(), "pump", termination=Unknown()),
        with_port(sound(), "pump", termination=Known("fixed")),
        with_line(sound(), stations=(Station("vcu.a"),)),
        with_line(sound(), stations=()),
        BROKEN["a ring"][0](sound()),
        sound(),
    ],
    ids=["unknown", "fixed between", "one station", "none", "ring", "nothing to do"],
)
def test_no_ends_are_terminated_where_that_cannot_be_or_need_not_be(vehicle):
    assert end_terminations(evidence(vehicle)) is None


def test_two_stations_are_a_line_whose_ends_can_be_terminated():
    vehicle = with_line(sound(), stations=(Station("vcu.a"), Station("pump.a")))
    after = changed(vehicle, end_terminations(evidence(vehicle))).lines["one"].stations
    assert after == (Station("vcu.a", terminated=True), Station("pump.a"), Station(terminator_ohm=PLUG_IN, at="p1"))


def test_the_branch_point_moves_no_farther_than_the_limit_asks():
    """From p5 the branch has 3.8 m, from p4 2.6 m, from p3 1.4 m, lead included."""
    vehicle = with_station(sound(), 3, at="p5")
    stop = evidence(vehicle).topology.value.stops[3]
    for limit_m, at in ((2.6, "p4"), (2.59, "p3"), (1.4, "p3"), (1.39, ""), (0.2, "")):
        change = joined_nearer(evidence(vehicle), stop, limit_m)
        assert changed(vehicle, change).lines["one"].stations[3].at == at, limit_m
    assert joined_nearer(evidence(vehicle), stop, 0.19) is None


def test_a_joint_that_moves_leaves_no_measured_section_behind():
    vehicle = with_station(
        with_station(with_station(sound(), 3, at="p5", section_m=3.7), 4, section_m=1.3), 1, section_m=1.1
    )
    stop = evidence(vehicle).topology.value.stops[3]
    after = changed(vehicle, joined_nearer(evidence(vehicle), stop, 2.6)).lines["one"].stations
    assert [station.section_m for station in after] == [None, 1.1, None, None, None]


def test_a_branch_that_is_only_cut_leaves_the_trunk_as_measured():
    vehicle = with_station(with_station(sound(), 3, branch_m=2.9, section_m=1.3), 4, section_m=1.4)
    stop = evidence(vehicle).topology.value.stops[3]
    after = changed(vehicle, joined_nearer(evidence(vehicle), stop, 3.0)).lines["one"].stations
    assert [station.section_m for station in after] == [None, None, None, 1.3, 1.4]
    assert after[3].branch_m is None


def test_a_branch_measured_where_no_runs_lead_can_only_go():
    vehicle = with_station(sound(), 3, at="p5", branch_m=3.5, section_m=2.4)
    vehicle = with_station(vehicle, 4, section_m=1.2)
    vehicle = replace(vehicle, runs=vehicle.runs.put("r4", None))
    stop = evidence(vehicle).topology.value.stops[3]
    assert changed(vehicle, joined_nearer(evidence(vehicle), stop, 3.0)).lines["one"].stations[3].at == ""


def test_terminating_the_ends_keeps_a_plug_in_terminator_that_stands_at_one():
    stations = (Station(terminator_ohm=Known(121.0), at="p0"), *sound().lines["one"].stations[1:])
    vehicle = with_line(with_port(sound(), "inverter", termination=Known("none")), stations=stations)
    change = end_terminations(evidence(vehicle))
    after = changed(vehicle, change).lines["one"].stations
    assert after[0] == stations[0]
    assert after[-1] == Station(terminator_ohm=PLUG_IN, at="p4")


def test_a_terminator_taken_out_leaves_the_trunk_as_long_and_on_its_way():
    middle = Station(terminator_ohm=PLUG_IN, at="p3", section_m=2.0)
    stations = sound().lines["one"].stations
    vehicle = with_line(sound(), stations=(*stations[:2], middle, replace(stations[2], section_m=1.5), *stations[3:]))
    after = changed(vehicle, end_terminations(evidence(vehicle)))
    assert after.lines["one"].stations[2].section_m == pytest.approx(3.5, abs=1e-9)
    assert after.lines["one"].stations[2].via == ("p3",)
    assert evidence(after).topology.value.trunk_m == pytest.approx(evidence(vehicle).topology.value.trunk_m, abs=1e-9)


def test_nothing_is_offered_where_a_fixed_termination_stands_between_two_others():
    vehicle = with_port(with_port(sound(), "pump", termination=Known("fixed")), "vcu", termination=Known("fixed"))
    assert "two-terminations" in verdicts(vehicle)
    assert [item.rule for item in offers(vehicle)] == []


@pytest.mark.parametrize(
    ("place", "rule_set", "at", "behind"),
    [
        ("p5", "SAE J1939-15", "p4", "heater.a"),
        ("p5", "SAE J1939-11", "", "heater.a"),
        ("p1", "SAE J1939-15", "", "vcu.a"),
    ],
    ids=["by a branch", "through, where a branch would be too long", "through, where the trunk comes by"],
)
def test_a_forgotten_port_joins_where_the_trunk_comes_nearest(place, rule_set, at, behind):
    vehicle = with_line(with_station(spare(sound()), 3, at=""), rule_set=rule_set)
    vehicle = replace(
        vehicle, components=vehicle.components.put("fan", replace(vehicle.components["fan"], place=place))
    )
    offer = next(f for f in offers(vehicle) if f.rule == "port-on-a-line")
    stations = changed(vehicle, offer.reading.change).lines["one"].stations
    index = [station.port for station in stations].index("fan.a")
    assert (stations[index].at, stations[index - 1].port) == (at, behind)


def test_no_port_is_joined_where_two_lines_would_suit_it():
    vehicle = spare(sound())
    gateway = Component("gateway", "p0", ports=Table({"a": port(), "b": port(termination=Known("switchable"))}))
    second = replace(
        vehicle.lines["one"], controller="gate.b", stations=(Station("gate.b", terminated=True), Station("pump.b"))
    )
    pump = vehicle.components["pump"]
    pump = replace(pump, ports=pump.ports.put("b", port(termination=Known("fixed"))))
    vehicle = replace(
        vehicle,
        components=vehicle.components.put("gate", gateway).put("pump", pump),
        lines=vehicle.lines.put("two", second),
    )
    vehicle = with_line(
        vehicle, stations=(Station("vcu.a", terminated=True), Station("gate.a"), *vehicle.lines["one"].stations[1:])
    )
    lonely = next(f for f in findings(vehicle) if f.rule == "port-on-a-line" and f.verdict is Verdict.BROKEN)
    assert lonely.reading.change is None


def test_a_port_with_no_way_to_the_trunk_is_not_joined():
    vehicle = spare(sound())
    vehicle = replace(vehicle, runs=vehicle.runs.put("r4", None))
    assert not [f for f in offers(vehicle) if f.rule == "port-on-a-line"]


def test_a_section_that_is_split_shares_its_detour_out():
    """The new station sits on the way of a section that was led by way of two places."""
    vehicle = spare(sound())
    box = replace(vehicle.components["fan"], place="p3")
    vehicle = replace(vehicle, components=vehicle.components.put("fan", box))
    vehicle = replace(vehicle, runs=vehicle.runs.put("extra", Run("p5", "p4", Known(1.5))))
    vehicle = with_station(vehicle, 1, via=("p3", "p2"))
    offer = next(f for f in offers(vehicle) if f.rule == "port-on-a-line")
    stations = changed(vehicle, offer.reading.change).lines["one"].stations
    index = [station.port for station in stations].index("fan.a")
    assert (stations[index].via, stations[index + 1].via) == ((), ("p2",))


def test_more_than_a_few_ports_left_out_are_the_planners_business():
    vehicle = more_stations(sound())
    for number in range(4):
        box = Component("fan", "p5", ports=Table({"a": port()}))
        vehicle = replace(vehicle, components=vehicle.components.put(f"fan{number}", box))
    assert "port-on-a-line" in verdicts(vehicle)
    assert not [f for f in offers(vehicle) if f.rule == "port-on-a-line"]
