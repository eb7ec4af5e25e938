import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.laws.bit_timing import (
    CLASSICAL,
    CLASSICAL_TOLERANCE_MOST,
    Layout,
    Ranges,
    Setting,
    nearest_bit_rate,
    nearest_setting,
    oscillator_tolerances,
    packed,
    round_trip_s,
    sample_points,
    setting_for_delay,
    settings,
    usual_sample_point,
)
from loomwright.laws.data_phase import FD_NOMINAL, fd_oscillator_tolerances
from loomwright.terms.fact import Source
from loomwright.terms.limit import Standing
from tests.authorities import authority

PUBLISHED = authority("bit_timing")
LONG = "bxCAN"


def ranges_of(table):
    return Ranges(
        table["source"], tuple(table.get("prescaler")), tuple(table["segment_1"]), tuple(table["segment_2"]),
        table["jump_most"], (4, table.get("quanta_most", 25)), Source(table["source"]), Standing.MEMORY,
    )  # fmt: skip


def chosen_rows():
    for table in PUBLISHED["chosen"]:
        for row in table["rows"]:
            name = f"{table['source'].rpartition('controller of the ')[2]}, {row['rate_kbit_per_s']} kbit/s"
            yield pytest.param(table, row, id=name)


def class_of(name):
    return next(table for table in PUBLISHED["chosen"] if name in table["source"])


@pytest.mark.parametrize("case", PUBLISHED["from_delays"], ids=lambda case: f"{case['source']} ({case['standing']})")
def test_worked_example_from_delays_to_register(case):
    one_way_s = sum(case["delays_ns"]) * 1e-9
    found = setting_for_delay(case["clock_MHz"] * 1e6, case["prescaler"], case["rate_kbit_per_s"] * 1e3, one_way_s)
    assert [found.propagation, found.phase_1, found.phase_2, found.jump] == case["segments"]
    assert packed(found, Layout.WORD) == case["register"]
    assert found.bit_rate_bit_per_s(case["clock_MHz"] * 1e6) == pytest.approx(case["rate_kbit_per_s"] * 1e3, abs=1e-3)


@pytest.mark.parametrize(
    "case", [case for case in PUBLISHED["from_delays"] if "tolerance_percent" in case], ids=lambda case: case["source"]
)
def test_oscillator_tolerance_of_the_worked_examples(case):
    found = Setting(case["prescaler"], *case["segments"])
    assert min(oscillator_tolerances(found)) * 100.0 == pytest.approx(case["tolerance_percent"], abs=0.01)


@pytest.mark.parametrize(
    "case",
    [case for case in PUBLISHED["from_delays"] if "tolerance_printed_but_not_met_percent" in case],
    ids=lambda case: case["source"],
)
def test_two_printed_tolerances_contradict_their_own_formula_and_each_other(case):
    """7, 1, 1, 1 gives 0.3876 %; the two manuals print 0.35 and 0.43. Kept so that nobody tunes the formula to them."""
    found = min(oscillator_tolerances(Setting(case["prescaler"], *case["segments"]))) * 100.0
    assert found == pytest.approx(0.3876, abs=0.0001)
    assert found != pytest.approx(case["tolerance_printed_but_not_met_percent"], abs=0.01)


def test_the_largest_tolerance_as_printed_is_that_of_one_and_three_fours():
    """Both manuals call 1.58 % the largest possible. It is for phases up to 4; with 5 the two conditions give 1.66 %."""
    printed = PUBLISHED["most_tolerance"]["percent"]
    assert pytest.approx(printed / 100.0, abs=1e-6) == CLASSICAL_TOLERANCE_MOST.value

    def best(longest):
        return max(
            min(oscillator_tolerances(Setting(1, 1, phase, phase, min(4, phase)))) for phase in range(1, longest + 1)
        )

    assert best(4) * 100.0 == pytest.approx(printed, abs=0.01)
    assert best(8) * 100.0 == pytest.approx(1.656, abs=0.001)


@pytest.mark.parametrize("row", PUBLISHED["two_bytes"]["rows"], ids=lambda row: f"{row['rate_kbit_per_s']} kbit/s")
def test_register_table_of_the_two_byte_class(row):
    table = PUBLISHED["two_bytes"]
    rate = row["rate_kbit_per_s"] * 1e3
    found = nearest_setting(table["clock_MHz"] * 1e6, rate, usual_sample_point(rate), ranges_of(table))
    assert found is not None
    assert found.sample_point * 100.0 == pytest.approx(row["point"], abs=0.01)
    with_jump = Setting(found.prescaler, found.propagation, found.phase_1, found.phase_2, table["jump"])
    assert packed(with_jump, Layout.TWO_BYTES) == row["register"]


def test_two_byte_register_with_triple_sampling():
    case = PUBLISHED["triple_sampling"]
    setting = Setting(case["prescaler"], 5, case["segment_1"] - 5, case["segment_2"], case["jump"])
    assert packed(setting, Layout.TWO_BYTES, triple_sampling=True) == case["register"]
    assert setting.bit_rate_bit_per_s(case["clock_MHz"] * 1e6) == pytest.approx(case["rate_kbit_per_s"] * 1e3)
    assert setting.sample_point * 100.0 == pytest.approx(case["point"])


@pytest.mark.parametrize(("table", "row"), list(chosen_rows()))
def test_another_program_chooses_the_same_prescaler_and_segments(table, row):
    rate = row["rate_kbit_per_s"] * 1e3
    found = nearest_setting(table["clock_MHz"] * 1e6, rate, usual_sample_point(rate), ranges_of(table))
    assert found is not None
    assert [found.propagation, found.phase_1, found.phase_2] == row["segments"]
    assert found.prescaler == row["prescaler"]
    if "register" in row:
        with_jump = Setting(found.prescaler, found.propagation, found.phase_1, found.phase_2, row["jump"])
        assert packed(with_jump, Layout.LONG_WORD) == row["register"]


def test_never_later_than_75_percent_gives_71_4_at_42_mhz():
    case = PUBLISHED["not_later"]
    ranges, clock = ranges_of(class_of(LONG)), case["clock_MHz"] * 1e6
    found = nearest_setting(clock, case["rate_kbit_per_s"] * 1e3, 0.75, ranges, never_later=True)
    assert found is not None
    assert found.sample_point * 100.0 == pytest.approx(case["point"], abs=0.05)
    with_jump = Setting(found.prescaler, found.propagation, found.phase_1, found.phase_2, case["jump"])
    assert packed(with_jump, Layout.LONG_WORD) == case["register"]
    freely = nearest_setting(clock, case["rate_kbit_per_s"] * 1e3, 0.75, ranges)
    assert freely is not None
    assert abs(freely.sample_point - 0.75) < abs(found.sample_point - 0.75)


def test_800_kbit_per_s_cannot_be_had_from_42_mhz():
    case = PUBLISHED["no_exact_rate"]
    ranges, clock, rate = ranges_of(class_of(LONG)), case["clock_MHz"] * 1e6, case["rate_kbit_per_s"] * 1e3
    assert nearest_setting(clock, rate, 0.8, ranges) is None
    off = abs(nearest_bit_rate(clock, rate, ranges) / rate - 1.0) * 100.0
    assert off == pytest.approx(case["off_percent"], abs=0.1)


def test_10_kbit_per_s_from_16_mhz_samples_at_68_percent_at_best():
    case = PUBLISHED["out_of_reach"]
    found = nearest_setting(
        case["clock_MHz"] * 1e6, case["rate_kbit_per_s"] * 1e3, 0.875, ranges_of(class_of("SJA1000"))
    )
    assert found is not None
    assert found.sample_point * 100.0 == pytest.approx(case["point"], abs=0.05)


@pytest.mark.parametrize("case", PUBLISHED["fd"], ids=lambda case: case["source"])
def test_fd_example_of_two_phases_on_one_prescaler(case):
    for phase in ("nominal", "data"):
        part = case[phase]
        setting = Setting(case["prescaler"], 0, part["segment_1"], part["segment_2"], part["jump"])
        rate = setting.bit_rate_bit_per_s(case["clock_MHz"] * 1e6)
        assert rate == pytest.approx(part["rate_kbit_per_s"] * 1e3)
        assert setting.sample_point * 100.0 == pytest.approx(part["point"])


def test_fd_example_of_the_linux_documentation():
    case = PUBLISHED["kernel"]
    clock = case["clock_MHz"] * 1e6
    for phase in ("nominal", "data"):
        part = case[phase]
        setting = Setting(round(part["quantum_ns"] * 1e-9 * clock), *part["segments"], 1)
        assert setting.bit_rate_bit_per_s(clock) == pytest.approx(part["rate_kbit_per_s"] * 1e3)
        assert setting.sample_point * 100.0 == pytest.approx(part["point"])


def test_40_m_need_910_ns_or_72_8_quanta_at_80_mhz():
    case = PUBLISHED["propagation"]
    way, transceiver = case["length_m"] * case["delay_ns_per_m"] * 1e-9, case["transceiver_ns"] * 1e-9
    found = round_trip_s(way, way, transceiver, transceiver)
    assert found == pytest.approx(case["total_ns"] * 1e-9, abs=0.01e-9)
    assert found * case["clock_MHz"] * 1e6 == pytest.approx(case["quanta"], abs=0.01)
    longer = case["segment_of_95_quanta_allows_m"] * case["delay_ns_per_m"] * 1e-9
    needed = math.ceil(round_trip_s(longer, longer, transceiver, transceiver) * case["clock_MHz"] * 1e6)
    assert needed <= 95
    coarse = case["coarse"]
    setting = Setting(1, 37, coarse["segment_1"] - 37 - 1, coarse["segment_2"], coarse["jump"])
    assert setting.quanta == 80
    assert Setting(1, 37, 26, 16, 16).sample_point * 100.0 == pytest.approx(coarse["point"])


def test_sample_points_by_bit_rate():
    for row in PUBLISHED["sample_points"]:
        for rate in row["rates_kbit_per_s"]:
            limit = sample_points(rate * 1e3)
            assert (limit.value * 100.0, limit.high * 100.0) == pytest.approx((row["low"], row["high"]))


def test_fields_that_do_not_fit_a_layout_are_refused():
    with pytest.raises(ValueError, match="does not fit"):
        packed(Setting(65, 6, 7, 2, 1), Layout.TWO_BYTES)
    assert packed(Setting(65, 6, 7, 2, 1), Layout.LONG_WORD) & 0x3FF == 64
    with pytest.raises(ValueError, match="does not fit"):
        packed(Setting(1, 6, 11, 2, 1), Layout.WORD)


def test_a_delay_that_leaves_no_phase_segments_is_refused():
    with pytest.raises(ValueError, match="do not fit"):
        setting_for_delay(10e6, 1, 1e6, 400e-9)
    with pytest.raises(ValueError, match="no whole number"):
        setting_for_delay(10e6, 1, 0.9e6, 100e-9)


@given(st.sampled_from([8e6, 16e6, 20e6, 24e6, 36e6, 40e6, 80e6]), st.sampled_from([1e6, 500e3, 250e3, 125e3, 50e3]))
def test_every_setting_found_makes_the_bit_rate_and_stays_in_the_registers(clock, rate):
    for ranges in (CLASSICAL, FD_NOMINAL):
        for prescaler, segment_1, segment_2 in settings(clock, rate, ranges):
            assert prescaler * (1 + segment_1 + segment_2) * rate == pytest.approx(clock, abs=1e-3)
            assert ranges.prescaler[0] <= prescaler <= ranges.prescaler[1]
            assert ranges.segment_1[0] <= segment_1 <= ranges.segment_1[1]
            assert ranges.segment_2[0] <= segment_2 <= ranges.segment_2[1]


@given(st.sampled_from([8e6, 16e6, 40e6]), st.sampled_from([1e6, 500e3, 250e3]), st.floats(0.5, 0.9))
def test_no_setting_lies_nearer_than_the_nearest(clock, rate, point):
    found = nearest_setting(clock, rate, point, CLASSICAL)
    points = [(1 + one) / (1 + one + two) for _, one, two in settings(clock, rate, CLASSICAL)]
    assert found is not None
    assert abs(found.sample_point - point) == pytest.approx(min(abs(other - point) for other in points), abs=1e-9)


def test_with_equal_phases_the_five_fd_conditions_reduce_to_classical_arithmetic():
    """From memory only, so held to what can be worked out: same bit in both phases, same prescaler."""
    setting = Setting(1, 4, 5, 6, 3)
    jump, phase, data_jump, change, after = fd_oscillator_tolerances(setting, setting)
    classical = oscillator_tolerances(setting)
    assert (phase, jump) == pytest.approx(classical)
    assert data_jump == pytest.approx(jump)
    # 6 + 7 bits less one phase segment 2 is the classical phase condition, 2 + 4 bits are the jump's over six bits.
    assert change == pytest.approx(classical[0])
    assert after == pytest.approx(3 / (2 * 6 * 16))


def test_a_coarser_nominal_quantum_costs_jump_in_the_data_phase():
    nominal, data = Setting(4, 10, 5, 4, 4), Setting(1, 9, 5, 5, 3)
    assert fd_oscillator_tolerances(nominal, data)[4] == 0.0
    same = fd_oscillator_tolerances(Setting(1, 59, 10, 10, 10), data)
    assert all(tolerance > 0.0 for tolerance in same)
