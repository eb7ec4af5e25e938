"""The data phase of FD frames against published figures and another program's."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.laws.bit_timing import Setting, settings
from loomwright.laws.common_timing import CommonTiming, common_timing
from loomwright.laws.data_phase import (
    FD_DATA,
    FD_NOMINAL,
    FD_NOMINAL_APART,
    FIVE_CONDITIONS_STANDING,
    compensation,
    fd_oscillator_tolerances,
    most_data_tolerance,
)
from loomwright.laws.node_timing import Controller, Obstacle, Stated, Wanted
from loomwright.terms.limit import Standing
from tests.authorities import authority

PUBLISHED = authority("bit_timing")
WANTED = Wanted(500e3, 700e-9, 0.75, 0.90, 0.875, data_bit_rate_bit_per_s=2e6, data_aim=0.75, data_prescaler=2)


def node(name, clock_hz, tolerance=0.001):
    return Controller(name, clock_hz, FD_NOMINAL, FD_DATA, tolerance, FD_NOMINAL_APART)


def wanted(**values):
    return Wanted(**{**{name: getattr(WANTED, name) for name in WANTED.__slots__}, **values})


@pytest.mark.parametrize(
    "row", PUBLISHED["five_conditions"]["rows"], ids=lambda row: f"condition {row['decides']}, {row['percent']} %"
)
def test_the_five_oscillator_conditions_as_another_program_computes_them(row):
    prescaler, segment_1, segment_2, jump = row["data"]
    found = fd_oscillator_tolerances(Setting(*row["nominal"]), Setting(prescaler, 0, segment_1, segment_2, jump))
    assert min(found) * 100.0 == pytest.approx(row["percent"], abs=1e-6)
    assert found.index(min(found)) == row["decides"] - 1


def test_every_one_of_the_five_decides_somewhere_in_the_table():
    assert {row["decides"] for row in PUBLISHED["five_conditions"]["rows"]} == {1, 2, 3, 4, 5}
    assert FIVE_CONDITIONS_STANDING is Standing.SECONDARY


@pytest.mark.parametrize(
    ("ranges", "name"), [(FD_NOMINAL, "one_prescaler"), (FD_NOMINAL_APART, "own_prescaler"), (FD_DATA, "data")]
)
def test_the_least_ranges_are_the_ones_another_program_quotes(ranges, name):
    quoted = PUBLISHED["least_ranges"][name]
    assert [ranges.segment_1, ranges.segment_2, ranges.quanta] == [
        tuple(quoted[key]) for key in ("segment_1", "segment_2", "quanta")
    ]
    assert ranges.jump_most == quoted["jump_most"]
    assert ranges.standing is Standing.SECONDARY


def test_the_published_example_at_80_mhz_is_a_choice_of_ours_too():
    """Prescaler 2, 59/20 and 14/5: found by the solver, with the largest jumps, when both points are to be 75 %."""
    (case,) = PUBLISHED["fd"]
    found = common_timing((node("one", case["clock_MHz"] * 1e6),), wanted(aim=0.75))
    assert isinstance(found, CommonTiming)
    (part,) = found.nodes
    for setting, phase in ((part.setting, case["nominal"]), (part.data, case["data"])):
        assert setting.prescaler == case["prescaler"]
        assert setting.propagation + setting.phase_1 == phase["segment_1"]
        assert [setting.phase_2, setting.jump] == [phase["segment_2"], phase["jump"]]
        assert setting.sample_point * 100.0 == pytest.approx(phase["point"])
        assert setting.bit_rate_bit_per_s(80e6) == pytest.approx(phase["rate_kbit_per_s"] * 1e3)


def test_the_kernel_example_with_unlike_quanta_costs_the_oscillator():
    """50 ns and 12.5 ns: three quanta of the data phase may be lost at the switch, so condition 5 leaves little."""
    case = PUBLISHED["kernel"]
    nominal = Setting(4, *case["nominal"]["segments"], 10)
    data = Setting(1, *case["data"]["segments"], 4)
    assert data.sample_point * 100.0 == pytest.approx(case["data"]["point"])
    assert not FD_NOMINAL_APART.hold(Setting(1, 29, 50, 20, 20))
    assert FD_NOMINAL_APART.hold(nominal)
    assert FD_DATA.hold(data)
    unlike = fd_oscillator_tolerances(nominal, data)
    alike = fd_oscillator_tolerances(Setting(1, 56, 63, 40, 40), data)
    assert unlike[4] == pytest.approx((4 - 3) / (2 * ((80 - 10) * 4 + 4 + 80)))
    assert alike[4] == pytest.approx(4 / (2 * (320 - 40 + 4 + 80)))


def test_the_propagation_of_40_m_leaves_room_at_80_mhz_with_equal_quanta():
    """Microchip's 910 ns: 36.4 quanta at 40 MHz, so also after a prescaler of 2 at 80 MHz; the page prints the 72.8 of 80 MHz."""
    case = PUBLISHED["propagation"]
    found = common_timing((node("one", 80e6), node("two", 40e6)), wanted(round_trip_s=case["total_ns"] * 1e-9, aim=0.8))
    assert isinstance(found, CommonTiming)
    for part, clock in zip(found.nodes, (80e6, 40e6), strict=True):
        assert part.equal_quanta
        assert part.setting.quantum_s(clock) == pytest.approx(25e-9)
        assert part.setting.propagation == math.ceil(case["total_ns"] / 25.0) == 37
        coarse = case["coarse"]
        assert part.setting.propagation + part.setting.phase_1 == coarse["segment_1"] - 1
        assert [part.setting.phase_2, part.setting.jump] == [coarse["segment_2"], coarse["jump"]]


def test_compensation_puts_the_second_sample_behind_the_own_delay():
    found = compensation(Setting(2, 9, 5, 5, 5), 80e6, 255e-9)
    assert (found.delay, found.delay_quanta, found.offset, found.able) == (21, 11, 30, True)
    assert not compensation(Setting(4, 5, 2, 2, 2), 80e6, 255e-9).able
    assert compensation(Setting(1, 5, 2, 2, 2), 20e6, 100e-9).delay == 2


def test_nodes_of_unlike_clocks_meet_in_the_data_phase():
    """20 MHz makes 2 Mbit/s of ten quanta, 70 or 80 %; the 40 MHz node alone would take 75 %."""
    found = common_timing((node("slow", 20e6), node("fast", 40e6)), WANTED)
    assert isinstance(found, CommonTiming)
    first, second = (part.data_sample_point for part in found.nodes)
    assert abs(first - 0.75) == pytest.approx(0.05)
    assert second == pytest.approx(first, abs=0.01)
    alone = common_timing((node("fast", 40e6),), WANTED)
    assert alone.data_sample_point == pytest.approx(0.75)


def test_a_stated_data_sample_point_pulls_the_others_to_it():
    found = common_timing((node("free", 80e6), Stated("told", 0.875, data_sample_point=0.8)), WANTED)
    assert isinstance(found, CommonTiming)
    assert found.data_sample_point == pytest.approx(0.8)
    assert found.nodes[0].data.sample_point == pytest.approx(0.8)
    assert found.nodes[0].data.prescaler == found.nodes[0].setting.prescaler


def test_a_node_of_which_the_data_sample_point_alone_is_told_is_held_to_it():
    found = common_timing((node("free", 80e6), Stated("told", None, data_sample_point=0.7)), WANTED)
    assert isinstance(found, CommonTiming)
    assert found.nodes[1].sample_point is None
    assert found.data_sample_point == pytest.approx(0.7)


def reasons(*nodes, **values):
    found = common_timing(nodes, wanted(**values))
    assert isinstance(found, tuple), found
    return [(reason.obstacle, reason.nodes) for reason in found]


def test_two_stated_data_points_that_differ_are_both_named():
    early, late = Stated("early", 0.875, data_sample_point=0.7), Stated("late", 0.875, data_sample_point=0.8)
    assert reasons(early, node("free", 80e6), late) == [(Obstacle.DATA_DISAGREE, ("early", "late"))]
    near = Stated("late", 0.875, data_sample_point=0.71)
    assert isinstance(common_timing((early, near), WANTED), CommonTiming)
    far = Stated("late", 0.875, data_sample_point=0.7101)
    assert reasons(early, far) == [(Obstacle.DATA_DISAGREE, ("early", "late"))]


def test_a_clock_that_cannot_make_the_data_bit_rate_is_named_with_the_nearest():
    (reason,) = common_timing((node("odd", 24e6), node("good", 80e6)), wanted(data_bit_rate_bit_per_s=5e6))
    assert (reason.obstacle, reason.nodes, reason.best) == (Obstacle.DATA_PHASE, ("odd",), pytest.approx(4.8e6))


def test_a_data_sample_point_out_of_the_band_is_named():
    assert reasons(Stated("early", 0.875, data_sample_point=0.5)) == [(Obstacle.DATA_SAMPLE_POINT, ("early",))]
    # five quanta with a second segment of two at least: 60 % is the latest there is
    assert reasons(node("coarse", 10e6), data_low=0.65) == [(Obstacle.DATA_SAMPLE_POINT, ("coarse",))]


def test_an_oscillator_good_enough_for_the_nominal_phase_may_be_too_poor_for_the_data_phase():
    told = (Stated("told", 0.8, 0.0, 0.8),)
    limit = most_data_tolerance(2e-6, 500e-9, 0.8, 0.8)
    nominal = 0.2 / (2 * 12.8)
    assert limit == pytest.approx(0.2 * 500e-9 / (2 * (1.8 * 2e-6 + 4.2 * 500e-9)))
    assert limit > nominal
    # At 1 to 8 the jump in the data phase must bridge eight times as much, and decides.
    fast = most_data_tolerance(2e-6, 250e-9, 0.8, 0.8)
    assert fast < nominal
    line = (*told, Stated("poor", 0.8, (fast + nominal) / 2))
    assert reasons(*line, data_bit_rate_bit_per_s=4e6) == [(Obstacle.DATA_OSCILLATOR, ("told",))]
    assert isinstance(common_timing(line, WANTED), CommonTiming)


def test_no_setting_allows_more_than_its_sample_points_can_mean():
    """Of every pair of settings at several clocks: conditions 3 and 5 stay below the bound that the points alone give."""
    for clock in (20e6, 40e6, 80e6):
        for nominal in settings(clock, 500e3, FD_NOMINAL):
            for data in settings(clock, 2e6, FD_DATA):
                first = Setting(nominal[0], 1, nominal[1] - 1, nominal[2], min(nominal[1] - 1, nominal[2]))
                phase = min(data[1], data[2])
                second = Setting(data[0], data[1] - phase, phase, data[2], min(8, phase))
                found = fd_oscillator_tolerances(first, second)
                most = most_data_tolerance(2e-6, 500e-9, first.sample_point, second.sample_point)
                assert min(found[2], found[4]) <= most + 1e-15


def test_where_equal_quanta_would_be_too_coarse_to_compensate_the_fine_ones_win():
    """125 kbit/s at 80 MHz needs a prescaler of 8 at least; 2 Mbit/s at 8 is five quanta, and no sender could compensate."""
    slow = wanted(bit_rate_bit_per_s=125e3)
    found = common_timing((node("one", 80e6),), slow)
    assert isinstance(found, CommonTiming)
    assert found.nodes[0].data.prescaler <= 2 < found.nodes[0].setting.prescaler
    assert FD_NOMINAL_APART.hold(found.nodes[0].setting)
    free = common_timing((node("one", 80e6),), wanted(bit_rate_bit_per_s=125e3, data_prescaler=32))
    assert free.nodes[0].equal_quanta


@given(
    st.lists(st.sampled_from([16e6, 20e6, 24e6, 40e6, 80e6]), min_size=1, max_size=3),
    st.sampled_from([0.0, 0.001, 0.004, 0.008]),
    st.sampled_from([1e6, 2e6, 4e6]),
    st.none() | st.sampled_from([0.65, 0.7, 0.75, 0.8]),
)
def test_what_is_chosen_for_both_phases_satisfies_everything_and_a_refusal_is_complete(clocks, tolerance, rate, told):
    """Against brute force over every pair of settings of every node."""
    nodes = [node(f"n{index}", clock, tolerance) for index, clock in enumerate(clocks)]
    if told is not None:
        nodes.append(Stated("told", None, 0.0, told))
    asked = wanted(round_trip_s=500e-9, data_bit_rate_bit_per_s=rate)
    found = common_timing(nodes, asked)

    def points(clock):
        pairs = set()
        for prescaler, one, two in settings(clock, 500e3, FD_NOMINAL):
            propagation = max(1, math.ceil(500e-9 * clock / prescaler - 1e-9))
            phase = one - propagation
            if phase < 1 or not 0.75 - 1e-9 <= (1 + one) / (1 + one + two) <= 0.9 + 1e-9:
                continue
            nominal = Setting(prescaler, propagation, phase, two, min(32, phase, two))
            for own, first, second in settings(clock, rate, FD_DATA):
                least = min(first, second)
                data = Setting(own, first - least, least, second, min(8, least))
                fits = own == prescaler or FD_NOMINAL_APART.hold(nominal)
                steady = min(fd_oscillator_tolerances(nominal, data)) >= tolerance - 1e-12
                if fits and steady and 0.6 - 1e-9 <= data.sample_point <= 0.9 + 1e-9:
                    pairs.add((nominal.sample_point, data.sample_point))
        return pairs

    sets = [points(clock) for clock in clocks]
    lows = [{pair[phase] for pairs in sets for pair in pairs} for phase in (0, 1)]
    if told is not None:
        lows[1].add(told)
    steady = told is None or tolerance <= most_data_tolerance(2e-6, 1.0 / rate, None, told) + 1e-12
    possible = steady and any(
        all(any(first <= pair[0] + 1e-9 and pair[0] <= first + 0.01 + 1e-9 and second - 1e-9 <= pair[1] <= second + 0.01 + 1e-9 for pair in pairs) for pairs in sets)
        for first in lows[0]
        for second in lows[1]
        if told is None or second - 1e-9 <= told <= second + 0.01 + 1e-9
    )  # fmt: skip
    assert isinstance(found, CommonTiming) is possible
    if isinstance(found, CommonTiming):
        for name in ("sample_point", "data_sample_point"):
            all_points = [getattr(part, name) for part in found.nodes if getattr(part, name) is not None]
            assert max(all_points) - min(all_points) <= 0.01 + 1e-9
        for part, clock in zip(found.nodes, clocks, strict=False):
            assert part.data.bit_rate_bit_per_s(clock) == pytest.approx(rate)
            assert part.tolerance == min(fd_oscillator_tolerances(part.setting, part.data)) >= tolerance - 1e-12
            assert FD_DATA.hold(part.data)
            assert (FD_NOMINAL if part.equal_quanta else FD_NOMINAL_APART).hold(part.setting)
    else:
        assert found
