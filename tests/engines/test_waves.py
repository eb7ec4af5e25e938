"""Travelling waves against closed forms, textbook examples and conservation."""

import itertools

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from loomwright.engines.source_equations import driven_volts, transfer_matrix
from loomwright.engines.wave_lanes import Drivers, Pattern, Thresholds
from loomwright.engines.wave_network import Line, Network, fitting_step, on_grid
from loomwright.engines.waves import joined, settling, settling_jobs, simulate
from loomwright.laws.reflections import junction_reflection, junction_transmission, open_stub_end, open_stub_junction
from tests.authorities import authority
from tests.engines.netlists import read

PUBLISHED = authority("reflections")
STEP_S = 0.1e-9
SUDDEN_S = 1e-15
"""An edge far shorter than a step is a jump."""
MATCHED = 1.0 / 120.0


def network(nodes, lines, shunt, capacitance=None, stretch=1.0):
    none = np.zeros(nodes)
    return Network(nodes, tuple(Line(*line) for line in lines), np.array(shunt), np.array(capacitance or none), stretch)


def step_response(net, source_v, source_ohm, until_s, step_s=STEP_S):
    """Voltages (nodes, times) after the source at node 0 is switched on at once, a step after 0."""
    drivers = Drivers((0,), source_v, source_ohm, SUDDEN_S, SUDDEN_S)
    waves = simulate(net, drivers, Pattern("D", until_s), step_s)
    return waves.time_s[0], waves.volts[0, 0]


def at(time_s, volts, when_s):
    """The sample nearest to a time."""
    return volts[round(when_s / (time_s[1] - time_s[0]))]


@pytest.mark.parametrize("lines", [3, 4, 5])
def test_n_lines_meeting_reflect_and_pass_on_as_the_closed_form_says(lines):
    """The first arm comes from a matched source; the others are too long to answer in time."""
    arms = [(0, 1, 120.0, 10e-9), *((1, arm, 120.0, 50e-9) for arm in range(2, lines + 1))]
    net = network(lines + 1, arms, [0.0] * (lines + 1))
    time, volts = step_response(net, 2.0, 120.0, 45e-9)
    incident = 1.0
    assert at(time, volts[0], 5e-9) == pytest.approx(incident, abs=1e-9)
    assert at(time, volts[1], 15e-9) == pytest.approx(incident * junction_transmission(lines), abs=1e-9)
    assert at(time, volts[0], 25e-9) == pytest.approx(incident * (1.0 + junction_reflection(lines)), abs=1e-9)


def test_open_stub_in_mid_trunk_follows_the_closed_form_both_ways():
    """The trunk is too long for the driver's end to answer in time; a driver of 3 V and 30 ohm launches 2 V into it."""
    trunk_s, stub_s, bit_s = 100e-9, 15e-9, 20e-6
    lines = [(0, 1, 120.0, trunk_s), (1, 2, 120.0, trunk_s), (1, 3, 120.0, stub_s)]
    net = network(4, lines, [MATCHED, 0.0, MATCHED, 0.0])
    drivers = Drivers((0,), 3.0, 30.0, SUDDEN_S, SUDDEN_S)
    waves = simulate(net, drivers, Pattern("DR", bit_s), STEP_S, probes=(1, 3))
    time, (junction, end) = waves.time_s[0], waves.volts[0, 0]
    final, published = 2.0, PUBLISHED["open_stub"]
    for arrivals in range(1, 5):
        when = trunk_s + (2 * arrivals - 1) * stub_s
        assert at(time, junction, when) == pytest.approx(final * open_stub_junction(arrivals), abs=1e-6)
    for arrivals in range(1, 4):
        when = trunk_s + 2 * arrivals * stub_s
        assert at(time, end, when) == pytest.approx(final * open_stub_end(arrivals), abs=1e-6)
        falling = published["junction_falling_V"][arrivals - 1], published["end_falling_V"][arrivals - 1]
        assert at(time, junction, bit_s + when - stub_s) == pytest.approx(falling[0], abs=1e-4)
        assert at(time, end, bit_s + when) == pytest.approx(falling[1], abs=1e-4)


@pytest.mark.parametrize("case", PUBLISHED["stevenson"], ids=lambda case: f"{case['load_ohm']:.0f} ohm")
def test_stevenson_example_5_6_at_the_receiving_end(case):
    net = network(2, [(0, 1, case["z0_ohm"], 10e-9)], [0.0, 1.0 / case["load_ohm"]])
    time, volts = step_response(net, case["source_V"], 1e-6, 400e-9)
    found = [at(time, volts[1], (20 * bounce + 20) * 1e-9) for bounce in range(len(case["receiving_end_V"]))]
    assert found == pytest.approx(case["receiving_end_V"], abs=0.01)
    assert volts[1, -1] == pytest.approx(case["final_V"], abs=0.1)


def test_the_60_v_bounce_diagram_at_the_middle():
    case = PUBLISHED["bounce"]
    half = case["delay_ns"] * 0.5e-9
    lines = [(0, 1, case["z0_ohm"], half), (1, 2, case["z0_ohm"], half)]
    net = network(3, lines, [0.0, 0.0, 1.0 / case["load_ohm"]])
    time, volts = step_response(net, case["source_V"], case["source_ohm"], 150e-9)
    found = [at(time, volts[1], when * 1e-9 + 1e-9) for when in case["middle_ns"]]
    assert found == pytest.approx(case["middle_V"], abs=0.001)
    assert volts[1, -1] == pytest.approx(case["final_V"], abs=0.001)


def test_a_capacitance_across_a_matched_line_charges_with_c_z0_half():
    case = PUBLISHED["lumped"]
    tau, farad = case["time_constant_ns"] * 1e-9, case["capacitance_pF"] * 1e-12
    net = network(2, [(0, 1, 120.0, 10e-9)], [0.0, MATCHED], [0.0, farad])
    time, volts = step_response(net, 2.0, 120.0, 40e-9, 0.02e-9)
    for after in (0.5, 1.0, 2.0, 5.0):
        # The rule takes the jump itself in the middle of its step.
        found = np.interp(10e-9 + 0.01e-9 + after * tau, time, volts[1])
        assert found == pytest.approx(1.0 - np.exp(-after), abs=0.002)


trees = st.integers(2, 7).flatmap(
    lambda nodes: st.fixed_dictionaries(
        {
            "parents": st.tuples(*(st.integers(0, node - 1) for node in range(1, nodes))),
            "delays": st.lists(st.floats(0.3e-9, 12e-9), min_size=nodes - 1, max_size=nodes - 1),
            "z0": st.lists(st.floats(60.0, 180.0), min_size=nodes - 1, max_size=nodes - 1),
            "ohm": st.lists(st.just(0.0) | st.floats(0.01, 20.0), min_size=nodes - 1, max_size=nodes - 1),
            "farad": st.lists(st.just(0.0) | st.floats(5e-12, 200e-12), min_size=nodes, max_size=nodes),
            "load": st.lists(st.sampled_from([1 / 120, 1 / 240, 1 / 1000]), min_size=nodes, max_size=nodes),
            "driver": st.integers(0, nodes - 1),
        }
    )
)


def tree_of(tree):
    nodes = len(tree["farad"])
    lines = [
        (parent, node, z0, delay, ohm)
        for node, (parent, z0, delay, ohm) in enumerate(
            zip(tree["parents"], tree["z0"], tree["delays"], tree["ohm"], strict=True), start=1
        )
    ]
    load = np.array(tree["load"])
    load[0] = 1 / 120
    return network(nodes, lines, load, tree["farad"])


@settings(max_examples=40, deadline=None)
@given(trees)
def test_all_charge_that_the_driver_gives_goes_through_the_loads(tree):
    """On any tree, once the line is at rest again, exactly: nothing is made or lost on lines and in capacitors."""
    net = tree_of(tree)
    drivers = Drivers((tree["driver"],), 3.0, 30.0, 20e-9, 20e-9)
    pattern = Pattern("D" + "R" * 60, 200e-9, 10e-9)
    waves = simulate(net, drivers, pattern, 0.25e-9)
    volts, time = waves.volts[0, 0], waves.time_s[0]
    assume(np.abs(volts[:, -400:]).max() < 1e-7)
    conductance = np.clip((time - 10e-9) / 20e-9, 0.0, 1.0) * np.clip(1.0 - (time - 210e-9) / 20e-9, 0.0, 1.0) / 30.0
    given_c = (conductance * (3.0 - volts[tree["driver"]])).sum()
    taken_c = (net.shunt_s[:, None] * volts).sum()
    assert taken_c == pytest.approx(given_c, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(trees)
def test_a_long_dominant_bit_ends_at_the_solution_at_rest(tree):
    net = tree_of(tree)
    waves = simulate(net, Drivers((tree["driver"],), 3.0, 30.0, 20e-9, 20e-9), Pattern("D", 10e-6), 0.25e-9)
    assume(np.ptp(waves.volts[0, 0, :, -400:], axis=1).max() < 1e-5)
    lines = [(line.start, line.end, line.resistance_ohm) for line in net.lines]
    expected = driven_volts(transfer_matrix(net.nodes, lines, net.shunt_s), tree["driver"], 3.0, 30.0)[0]
    assert np.abs(waves.volts[0, 0, :, -1] - expected).max() < 1e-4


def ten_nodes():
    case = read("07_10n_1M")
    return case, tuple(case.node[f"n{index}"] for index in range(1, 11))


def test_every_transmitter_at_once_is_each_by_itself():
    case, nodes = ten_nodes()
    pattern = Pattern("DR", 0.5e-6)
    together = settling(case.network, Drivers(nodes, 3.0, 30.0, 20e-9, 20e-9), pattern, 0.25e-9, nodes)
    assert together.settle_s.shape == (1, 10, 2, 10)
    for index in (0, 4, 9):
        alone = settling(case.network, Drivers((nodes[index],), 3.0, 30.0, 20e-9, 20e-9), pattern, 0.25e-9, nodes)
        assert np.abs(alone.settle_s[0, 0] - together.settle_s[0, index]).max() < 1e-15
        assert np.abs(alone.low_v[0, 0] - together.low_v[0, index]).max() < 1e-12


def drawn(count, seed=3):
    """Random tolerances of everything that may have one, on the ten-node line."""
    case, nodes = ten_nodes()
    dice = np.random.default_rng(seed)
    net = case.network
    lines = tuple(
        Line(line.start, line.end, line.impedance_ohm * dice.uniform(0.9, 1.1, count), line.delay_s,
             dice.uniform(0.0, 0.3, count))
        for line in net.lines
    )  # fmt: skip
    shunt = net.shunt_s * dice.uniform(0.9, 1.1, (count, net.nodes))
    farad = net.capacitance_f * dice.uniform(0.5, 2.0, (count, net.nodes))
    drivers = Drivers(
        nodes[:2], dice.uniform(2.4, 4.5, (count, 2)), dice.uniform(20.0, 40.0, (count, 2)),
        dice.uniform(10e-9, 40e-9, (count, 2)), dice.uniform(10e-9, 40e-9, (count, 2)),
    )  # fmt: skip
    return Network(net.nodes, lines, shunt, farad, dice.uniform(0.9, 1.1, count)), drivers, nodes


def single(net, drivers, draw):
    lines = tuple(
        Line(line.start, line.end, line.impedance_ohm[draw], line.delay_s, line.resistance_ohm[draw])
        for line in net.lines
    )
    one = Network(net.nodes, lines, net.shunt_s[draw], net.capacitance_f[draw], net.stretch[draw])
    own = (values[draw : draw + 1] for values in (drivers.volts, drivers.ohm, drivers.rise_s, drivers.fall_s))
    return one, Drivers(drivers.nodes, *own)


def test_a_batch_of_draws_is_each_draw_by_itself():
    net, drivers, nodes = drawn(45)
    pattern = Pattern("DR", 0.4e-6, 20e-9)
    batch = settling(net, drivers, pattern, 0.25e-9, nodes)
    waves = simulate(net, drivers, pattern, 0.25e-9, probes=nodes[:3], every=7)
    assert waves.volts.shape[:3] == (45, 2, 3)
    for draw in (0, 31, 32, 44):
        alone = settling(*single(net, drivers, draw), pattern, 0.25e-9, nodes)
        for name in ("settle_s", "nearest_v", "rebound_v", "low_v", "high_v"):
            mine, other = getattr(alone, name)[0], getattr(batch, name)[draw]
            assert np.array_equal(np.isfinite(mine), np.isfinite(other)), name
            finite = np.isfinite(mine)
            assert np.abs(mine[finite] - other[finite]).max() < 1e-12, name
        one = simulate(*single(net, drivers, draw), pattern, 0.25e-9, probes=nodes[:3], every=7)
        count = one.volts.shape[-1]
        assert np.abs(one.volts[0] - waves.volts[draw, ..., :count]).max() < 1e-12


def test_jobs_may_run_in_any_order_and_be_left_undone():
    net, drivers, nodes = drawn(70)
    pattern = Pattern("DR", 0.3e-6)
    jobs = settling_jobs(net, drivers, pattern, 0.25e-9, nodes)
    assert len(jobs) == 3
    backwards = [job() for job in reversed(jobs)]
    whole = settling(net, drivers, pattern, 0.25e-9, nodes)
    assert np.array_equal(joined(backwards[::-1]).settle_s, whole.settle_s)
    assert np.array_equal(jobs[1]().settle_s, whole.settle_s[32:64])


def test_without_turns_the_settling_is_the_very_same_and_the_rest_is_no_number():
    net, drivers, nodes = drawn(70)
    asked = (net, drivers, Pattern("DR", 0.3e-6), 0.25e-9, nodes)
    whole, brief = (joined([job() for job in settling_jobs(*asked, turns=turns)]) for turns in (True, False))
    assert np.array_equal(whole.settle_s, brief.settle_s)
    assert all(np.isnan(getattr(brief, name)).all() for name in ("nearest_v", "rebound_v", "low_v", "high_v"))


def test_few_draws_are_split_into_parts_for_several_threads():
    net, drivers, nodes = drawn(45)
    jobs = settling_jobs(net, drivers, Pattern("DR", 0.3e-6), 0.25e-9, nodes)
    assert len(jobs) == 3


def test_a_slower_cable_is_the_same_network_with_longer_delays():
    case, nodes = ten_nodes()
    drivers, pattern = Drivers(nodes[:1], 3.0, 30.0, 20e-9, 20e-9), Pattern("DR", 0.5e-6, 20e-9)
    stretched = Network(*[getattr(case.network, name) for name in ("nodes", "lines", "shunt_s", "capacitance_f")], 1.2)
    longer = Network(
        case.network.nodes,
        tuple(Line(line.start, line.end, line.impedance_ohm, line.delay_s * 1.2) for line in case.network.lines),
        case.network.shunt_s,
        case.network.capacitance_f,
    )
    mine = settling(stretched, drivers, pattern, 0.1e-9, nodes)
    other = settling(longer, drivers, pattern, 0.1e-9, nodes)
    assert other.rounding_s == pytest.approx(0.0, abs=1e-15)
    assert mine.settle_s == pytest.approx(other.settle_s, abs=0.05e-9)


def test_settle_times_are_those_of_the_recorded_waveform():
    """Reckoned again, slowly, from the samples: last time outside, turns, rebound, extremes."""
    case, nodes = ten_nodes()
    drivers = Drivers((nodes[4],), 3.0, 30.0, 20e-9, 20e-9)
    pattern, limits = Pattern("RDDRD", 0.5e-6, 33e-9), Thresholds(0.9, 0.5)
    seen = settling(case.network, drivers, pattern, 0.25e-9, nodes, limits)
    waves = simulate(case.network, drivers, pattern, 0.25e-9, probes=nodes)
    time = waves.time_s[0]
    ends = [*(edge.at_s for edge in seen.edges[1:]), np.inf]
    assert [edge.dominant for edge in seen.edges] == [True, False, True]
    for (index, edge), receiver in itertools.product(enumerate(seen.edges), range(10)):
        sign, limit = (1.0, limits.dominant_v) if edge.dominant else (-1.0, limits.recessive_v)
        own = (time >= edge.at_s) & (time < ends[index])
        volts, when = waves.volts[0, 0, receiver][own], time[own]
        inside = sign * (volts - limit)
        last = np.flatnonzero(inside < 0.0)[-1]
        crossed = when[last] + 0.25e-9 * inside[last] / (inside[last] - inside[last + 1]) - edge.at_s
        place = (0, 0, index, receiver)
        assert seen.settle_s[place] == pytest.approx(crossed, abs=1e-15)
        assert (seen.low_v[place], seen.high_v[place]) == pytest.approx((volts.min(), volts.max()), abs=1e-12)
        turns = np.flatnonzero(np.diff(volts[:-1]) * np.diff(volts[1:]) < 0.0) + 1
        assert seen.nearest_v[place] == pytest.approx(np.abs(inside[turns]).min(), abs=1e-6)
        first = np.flatnonzero(inside >= 0.0)[0]
        valleys = [turn for turn in turns if turn >= first and inside[turn] < inside[turn + 1]]
        assert seen.rebound_v[place] == pytest.approx(inside[valleys].min(), abs=1e-6)


def test_the_worst_pair_is_found():
    case, nodes = ten_nodes()
    seen = settling(case.network, Drivers(nodes, 3.0, 30.0, 20e-9, 20e-9), Pattern("DR", 0.5e-6), 0.25e-9, nodes)
    for dominant in (True, False):
        draw, driver, edge, receiver = seen.worst(dominant=dominant)
        assert seen.edges[edge].dominant is dominant
        assert seen.settle_s[draw, driver, edge, receiver] == seen.settle_s[:, :, edge].max()
    # The ends of the line are farthest apart.
    _, driver, _, receiver = seen.worst(dominant=True)
    assert {driver, receiver} == {0, 9}


def test_a_line_without_terminators_never_settles():
    case = read("03c_no_term")
    nodes = tuple(case.node[name] for name in "abc")
    seen = settling(case.network, case.drivers, case.pattern, 0.25e-9, nodes)
    assert np.isinf(seen.settle_s[0, 0, 1]).all()
    assert np.isfinite(seen.settle_s[0, 0, 0]).all()


def test_a_star_with_all_resistance_in_its_centre_rings_back_through_the_threshold():
    """The centre shorts what goes on between the branches: there it settles in 57 ns, at their ends it never does."""
    arms = [(0, arm, 120.0, 10e-9) for arm in range(1, 5)]
    net = network(5, arms, [1 / 60, *[1 / 30e3] * 4], [0.0, *[50e-12] * 4])
    drivers = Drivers((1,), 3.0, 30.0, 20e-9, 20e-9)
    seen = settling(net, drivers, Pattern("DR", 2e-6, 100e-9), 0.25e-9, (0, 1, 2, 3, 4))
    dominant, recessive = seen.settle_s[0, 0]
    assert dominant.max() == pytest.approx(37.6e-9, abs=0.3e-9)
    assert recessive[0] == pytest.approx(57e-9, abs=0.5e-9)
    assert np.isinf(recessive[2:]).all()
    assert (seen.rebound_v[0, 0, 1, 2:] < -0.4).all()
    assert seen.rebound_v[0, 0, 1, 0] > 0.0
    # The stored case's whole waveform peaked at 2.85 and -2.54 V, over both bits and all nodes.
    assert seen.high_v.max() == pytest.approx(2.85, abs=0.01)
    assert seen.low_v.min() == pytest.approx(-2.54, abs=0.02)


def test_a_torn_line_is_two_networks_and_a_node_left_with_nothing_stays_at_rest():
    """Nodes 0 and 1 keep the driver and one terminator, 2 and 3 the other; nothing is left at node 4."""
    net = network(5, [(0, 1, 120.0, 10e-9), (2, 3, 120.0, 10e-9)], [MATCHED, 0.0, 0.0, MATCHED, 0.0], [0.0] * 5)
    seen = settling(net, Drivers((1, 4), 3.0, 30.0, 20e-9, 20e-9), Pattern("DR", 2e-6), 0.25e-9, (0, 1, 2, 3, 4))
    assert seen.high_v[0, 0].max(axis=0)[2:].tolist() == [0.0, 0.0, 0.0]
    assert np.isinf(seen.settle_s[0, 0, 0, 2:]).all()
    assert seen.high_v[0, 0, 0, 0] == pytest.approx(2.4, abs=0.01)
    assert seen.high_v[0, 1, 0].tolist() == pytest.approx([0.0, 0.0, 0.0, 0.0, 3.0], abs=1e-6)


def test_rounding_to_steps_is_told_line_by_line():
    net = network(4, [(0, 1, 120.0, 10.1e-9), (1, 2, 120.0, 0.1e-9), (1, 3, 120.0, 3e-9)], [MATCHED] * 4)
    grid = on_grid(net, 0.25e-9)
    assert grid.rounding_s == pytest.approx([-0.1e-9, -0.1e-9, 0.0], abs=1e-15)
    assert grid.joined == (1,)
    assert grid.number[1] == grid.number[2]
    assert grid.shunt_s[0, grid.number[1]] == pytest.approx(2 * MATCHED)
    waves = simulate(net, Drivers((2,), 3.0, 30.0, 20e-9, 20e-9), Pattern("D", 1e-6), 0.25e-9)
    assert np.array_equal(waves.volts[0, 0, 1], waves.volts[0, 0, 2])
    assert np.array_equal(waves.rounding_s, grid.rounding_s)


def test_a_fitting_step_is_found_where_there_is_one():
    assert fitting_step([10e-9, 1.5e-9, 2.25e-9], 0.3e-9) == pytest.approx(0.25e-9, rel=1e-3)
    assert fitting_step([10e-9, 1.5e-9], 0.25e-9) == pytest.approx(0.25e-9)
    assert fitting_step([], 0.25e-9) == 0.25e-9
    odd = np.array([3.37e-9, 11.93e-9, 0.71e-9])
    step = fitting_step(odd, 0.25e-9)
    worst = np.abs(np.rint(odd / step) * step - odd).max()
    assert worst <= np.abs(np.rint(odd / 0.25e-9) * 0.25e-9 - odd).max()
    assert 0.125e-9 <= step <= 0.25e-9


def test_lossy_lines_are_cut_into_cells_that_keep_delay_and_resistance():
    net = network(2, [(0, 1, 120.0, 200e-9, 28.0)], [MATCHED, MATCHED])
    grid = on_grid(net, 0.25e-9)
    assert grid.steps.size == 47
    assert grid.steps.sum() == 800
    assert 2 * grid.end_ohm.sum() == pytest.approx(28.0)


@pytest.mark.parametrize("spoilt", [float("nan"), float("inf")])
def test_a_run_whose_currents_do_not_sum_to_zero_is_refused(spoilt):
    net = network(2, [(0, 1, 120.0, 10e-9)], [MATCHED, spoilt])
    with pytest.raises(AssertionError, match="currents at a node"):
        simulate(net, Drivers((0,), 3.0, 30.0, 20e-9, 20e-9), Pattern("D", 1e-6), 0.25e-9)


def test_currents_sum_to_zero_within_rounding():
    case, _ = ten_nodes()
    waves = simulate(case.network, case.drivers, case.pattern, 0.25e-9)
    assert 0.0 < waves.residual_a < 1e-14
