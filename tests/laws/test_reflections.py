import math

import pytest

from loomwright.laws.reflections import (
    bounces,
    bounces_midway,
    decay_s,
    junction_reflection,
    junction_transmission,
    line_inductance_h_per_m,
    lumped_time_constant_s,
    open_stub_end,
    open_stub_junction,
    reflection,
    split_corner_hz,
    whole_line_time_constant_s,
)
from tests.authorities import authority

PUBLISHED = authority("reflections")


@pytest.mark.parametrize("case", PUBLISHED["stevenson"], ids=lambda case: f"{case['load_ohm']:.0f} ohm")
def test_stevenson_example_5_6_receiving_end(case):
    at_load, _ = bounces(case["source_V"], 0.0, case["z0_ohm"], case["load_ohm"], 60)
    assert at_load[:5] == pytest.approx(case["receiving_end_V"], abs=0.001)
    assert at_load[-1] == pytest.approx(case["final_V"], abs=0.001)


def test_the_60_v_bounce_diagram_at_the_middle_of_the_line():
    case = PUBLISHED["bounce"]
    volts = bounces_midway(case["source_V"], case["source_ohm"], case["z0_ohm"], case["load_ohm"], 40)
    assert volts[:5] == pytest.approx(case["middle_V"], abs=0.001)
    assert volts[-1] == pytest.approx(case["final_V"], abs=0.001)


def test_source_and_load_of_the_bounce_diagram_meet_at_the_divider():
    case = PUBLISHED["bounce"]
    at_load, at_source = bounces(case["source_V"], case["source_ohm"], case["z0_ohm"], case["load_ohm"], 40)
    assert at_load[-1] == pytest.approx(case["final_V"], abs=0.001)
    assert at_source[-1] == pytest.approx(case["final_V"], abs=0.001)


def test_junctions_of_equal_lines():
    rows = PUBLISHED["junction"]
    for lines, back, on in zip(rows["lines"], rows["reflection"], rows["transmission"], strict=True):
        assert junction_reflection(lines) == pytest.approx(back, abs=1e-6)
        assert junction_transmission(lines) == pytest.approx(on, abs=1e-6)
        # The other lines in parallel are a load of Z0/(N - 1).
        assert junction_reflection(lines) == pytest.approx(reflection(120.0 / (lines - 1), 120.0), abs=1e-12)


def test_open_stub_in_the_middle_of_a_matched_trunk():
    case = PUBLISHED["open_stub"]
    at_junction = [open_stub_junction(n) for n in range(1, 5)]
    at_end = [open_stub_end(n) for n in range(1, 4)]
    assert at_junction == pytest.approx(case["junction_rising_share"], abs=1e-6)
    assert at_end == pytest.approx(case["end_rising_share"], abs=1e-6)
    volts = case["from_V"]
    assert [volts * (1.0 - share) for share in at_junction[:3]] == pytest.approx(case["junction_falling_V"], abs=1e-4)
    assert [volts * (1.0 - share) for share in at_end] == pytest.approx(case["end_falling_V"], abs=1e-4)


def test_a_driver_beside_a_terminator_reflects_two_thirds():
    case = PUBLISHED["re_reflection"]
    assert reflection(case["source_ohm"], case["z0_ohm"]) == pytest.approx(case["reflection"], abs=1e-6)


def test_ends_open_short_and_matched():
    assert (reflection(math.inf, 120.0), reflection(0.0, 120.0), reflection(120.0, 120.0)) == (1.0, -1.0, 0.0)


def test_split_termination_corner():
    case = PUBLISHED["split_termination"]
    found = split_corner_hz(case["half_ohm"], case["capacitance_nF"] * 1e-9)
    assert found == pytest.approx(case["corner_MHz"] * 1e6, abs=0.05e6)


def test_lumped_capacitance_and_the_line_as_one_lump():
    lumped = PUBLISHED["lumped"]
    assert lumped_time_constant_s(lumped["capacitance_pF"] * 1e-12, 120.0) == pytest.approx(
        lumped["time_constant_ns"] * 1e-9, abs=0.01e-9
    )
    case = PUBLISHED["whole_line"]
    tau = whole_line_time_constant_s(case["resistance_ohm"], case["nodes_pF"] * 1e-12, case["cable_m"], 120.0, 5e-9)
    assert tau == pytest.approx(case["time_constant_ns"] * 1e-9, abs=0.5e-9)
    assert decay_s(tau, case["from_V"], case["to_V"]) == pytest.approx(case["decay_ns"] * 1e-9, abs=0.5e-9)


def test_inductance_per_metre():
    assert line_inductance_h_per_m(120.0, 5e-9) == pytest.approx(
        PUBLISHED["per_metre"]["inductance_nH_per_m"] * 1e-9, abs=1e-12
    )
