from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.laws.bit_timing import CLASSICAL, oscillator_tolerances, round_trip_s, settings
from loomwright.laws.common_timing import CommonTiming, common_timing
from loomwright.laws.data_phase import FD_DATA, FD_NOMINAL
from loomwright.laws.node_timing import Controller, Obstacle, Stated, Wanted

WANTED = Wanted(500e3, 600e-9, 0.75, 0.90, 0.875)


def controller(name, clock_hz, tolerance=0.001, ranges=CLASSICAL):
    return Controller(name, clock_hz, ranges, tolerance=tolerance)


def only_reason(found):
    assert isinstance(found, tuple), found
    (reason,) = found
    return reason


def test_three_clocks_and_a_stated_node_meet_at_87_5_percent():
    nodes = (
        controller("eight", 8e6), controller("sixteen", 16e6), controller("forty", 40e6), Stated("told", 0.875)
    )  # fmt: skip
    found = common_timing(nodes, WANTED)
    assert isinstance(found, CommonTiming)
    assert found.sample_point == pytest.approx(0.875)
    assert [node.sample_point for node in found.nodes] == pytest.approx([0.875] * 4)
    assert found.nodes[3].setting is None
    for node, clock in zip(found.nodes, (8e6, 16e6, 40e6), strict=False):
        assert node.setting.bit_rate_bit_per_s(clock) == pytest.approx(500e3)
        assert node.slack_s >= 0.0
        assert node.tolerance == min(oscillator_tolerances(node.setting)) >= 0.001


def test_a_clock_that_cannot_make_the_rate_is_named_with_the_nearest_rate():
    reason = only_reason(
        common_timing((controller("odd", 42e6), controller("good", 8e6)), replace(WANTED, bit_rate_bit_per_s=800e3))
    )
    assert (reason.obstacle, reason.nodes) == (Obstacle.BIT_RATE, ("odd",))
    assert reason.best == pytest.approx(807.7e3, abs=100) or reason.best == pytest.approx(792.5e3, abs=100)


def test_40_m_at_1_mbit_per_s_do_not_fit_the_worst_transceivers():
    """Microchip's 910 ns against 875 ns: the stated node alone shows it."""
    needed = round_trip_s(200e-9, 200e-9, 255e-9, 255e-9)
    wanted = Wanted(1e6, needed, 0.75, 0.90, 0.875)
    reason = only_reason(common_timing((Stated("told", 0.875),), wanted))
    assert reason.obstacle is Obstacle.PROPAGATION
    assert (reason.best, reason.needed) == (pytest.approx(875e-9, abs=1e-12), pytest.approx(910e-9, abs=1e-12))
    by_registers = only_reason(common_timing((controller("eight", 8e6),), wanted))
    assert by_registers.obstacle is Obstacle.PROPAGATION
    assert by_registers.best < by_registers.needed


def test_124_m_at_500_kbit_per_s_are_the_most_for_a_stated_87_5_percent():
    def fits(length):
        needed = round_trip_s(length * 5e-9, length * 5e-9, 255e-9, 255e-9)
        return isinstance(common_timing((Stated("told", 0.875),), replace(WANTED, round_trip_s=needed)), CommonTiming)

    assert fits(124.0)
    assert not fits(124.1)


def test_a_poor_oscillator_anywhere_on_the_line_counts_against_everybody():
    nodes = (controller("fine", 16e6, 50e-6), controller("poor", 16e6, 0.02))
    found = common_timing(nodes, WANTED)
    assert isinstance(found, tuple)
    assert {reason.obstacle for reason in found} == {Obstacle.OSCILLATOR}
    assert {reason.nodes for reason in found} == {("fine",), ("poor",)}
    assert all(reason.best < reason.needed == 0.02 for reason in found)


def test_a_stated_point_out_of_the_range_is_named():
    reason = only_reason(common_timing((Stated("early", 0.60), controller("good", 8e6)), WANTED))
    assert (reason.obstacle, reason.nodes, reason.best, reason.needed) == (
        Obstacle.SAMPLE_POINT, ("early",), 0.60, 0.75,
    )  # fmt: skip


def test_two_stated_nodes_that_disagree_are_both_named():
    reason = only_reason(common_timing((Stated("early", 0.80), controller("good", 8e6), Stated("late", 0.875)), WANTED))
    assert reason.obstacle is Obstacle.DISAGREE
    assert reason.nodes == ("early", "late")
    assert reason.best == pytest.approx(0.075)


def test_87_and_87_5_percent_are_the_same_to_the_makers():
    assert isinstance(common_timing((Stated("told", 0.87), Stated("exact", 0.875)), WANTED), CommonTiming)


def test_an_early_stated_node_pulls_the_others_to_its_point():
    found = common_timing((Stated("early", 0.80), controller("good", 10e6)), WANTED)
    assert isinstance(found, CommonTiming)
    assert found.nodes[1].sample_point == pytest.approx(0.80, abs=0.01)


def test_fd_nodes_get_both_phases_on_one_prescaler():
    wanted = replace(WANTED, round_trip_s=700e-9, data_bit_rate_bit_per_s=2e6, data_aim=0.75)
    nodes = tuple(Controller(f"n{clock}", clock, FD_NOMINAL, FD_DATA, 0.001) for clock in (40e6, 80e6))
    found = common_timing(nodes, wanted)
    assert isinstance(found, CommonTiming)
    for node, clock in zip(found.nodes, (40e6, 80e6), strict=True):
        assert node.setting.prescaler == node.data.prescaler
        assert node.data.bit_rate_bit_per_s(clock) == pytest.approx(2e6)
        assert node.data.sample_point == pytest.approx(0.75)
        assert node.tolerance >= 0.001


def test_a_classical_controller_has_no_data_phase():
    wanted = replace(WANTED, data_bit_rate_bit_per_s=2e6)
    reason = only_reason(common_timing((controller("old", 16e6),), wanted))
    assert (reason.obstacle, reason.nodes) == (Obstacle.DATA_PHASE, ("old",))


def test_no_nodes_give_no_timing():
    assert common_timing((), WANTED) == ()


@given(
    st.lists(st.sampled_from([8e6, 10e6, 12e6, 16e6, 20e6, 24e6, 36e6]), min_size=1, max_size=4),
    st.floats(100e-9, 3600e-9),
    st.sampled_from([0.75, 0.8, 0.875]),
    st.just(0.0) | st.floats(0.0, 0.012),
)
def test_what_is_chosen_satisfies_everything_and_a_refusal_is_complete(clocks, round_trip, aim, tolerance):
    """Against brute force: some combination of settings meets all demands exactly when one was found."""
    nodes = [controller(f"n{index}", clock, tolerance) for index, clock in enumerate(clocks)]
    wanted = Wanted(250e3, round_trip, 0.70, 0.92, aim)
    found = common_timing(nodes, wanted)

    def good(clock):
        points = set()
        for prescaler, one, two in settings(clock, 250e3, CLASSICAL):
            point = (1 + one) / (1 + one + two)
            for propagation in range(1, one):
                phase = one - propagation
                bit = 1 + one + two
                enough = propagation * prescaler / clock >= round_trip - 1e-15
                steady = min(phase, two) / (2 * (13 * bit - two)) >= tolerance - 1e-12
                jump = min(4, phase, two) / (20 * bit) >= tolerance - 1e-12
                if enough and steady and jump and 0.70 - 1e-9 <= point <= 0.92 + 1e-9:
                    points.add(point)
        return sorted(points)

    sets = [good(clock) for clock in clocks]
    possible = any(
        all(any(low - 1e-9 <= point <= low + 0.01 + 1e-9 for point in points) for points in sets)
        for low in {point for points in sets for point in points}
    )
    assert isinstance(found, CommonTiming) is possible
    if isinstance(found, CommonTiming):
        points = [node.sample_point for node in found.nodes]
        assert max(points) - min(points) <= 0.01 + 1e-9
        for node in found.nodes:
            assert 1 <= node.setting.jump <= min(4, node.setting.phase_1, node.setting.phase_2)
            assert node.slack_s >= -1e-15
            assert node.tolerance >= tolerance - 1e-12
