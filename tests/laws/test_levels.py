import numpy as np
import pytest

from loomwright.engines.source_equations import driven_volts, transfer_matrix
from loomwright.laws.bus_length import (
    DRIVER_LOW_V,
    NODE_LOW_OHM,
    SAFETY_SHARE,
    TABLE_CROSS_SECTIONS,
    TERMINATOR_LOW_OHM,
    THRESHOLD_HIGH_V,
    longest_by_voltage,
)
from loomwright.laws.levels import (
    COMMON_MODE_OLDER,
    DOMINANT_INPUT,
    DOMINANT_THRESHOLD,
    DRIVER_LEVEL,
    STRONG_DRIVER,
    TYPICAL_DRIVER,
    WEAK_DRIVER,
    copper_ohm,
    corners,
    ground_offset_budget_v,
    ground_offset_v,
    level_v,
    source_volts,
)
from tests.authorities import authority

PUBLISHED = authority("levels")
TABLE = authority("bus_length")["cross_section_table"]
RHO = {round(area * 1e6, 2): ohm for area, ohm in TABLE_CROSS_SECTIONS}


def test_ground_offset_of_today_and_of_old():
    case, older = PUBLISHED["ground_offset"], PUBLISHED["ground_offset_older"]
    assert ground_offset_v() == pytest.approx((case["low_V"], case["high_V"]), abs=1e-9)
    assert ground_offset_budget_v() == pytest.approx(case["budget_V"], abs=1e-9)
    assert ground_offset_v(COMMON_MODE_OLDER) == pytest.approx((older["low_V"], older["high_V"]), abs=1e-9)
    assert ground_offset_budget_v(COMMON_MODE_OLDER) == pytest.approx(older["budget_V"], abs=1e-9)


def test_the_weak_driver_keeps_both_published_least_levels():
    case = PUBLISHED["driver"]
    for load, least in zip(case["load_ohm"], case["level_V"], strict=True):
        assert level_v(WEAK_DRIVER.volts, WEAK_DRIVER.ohm, load) >= least - 1e-9
    assert level_v(WEAK_DRIVER.volts, WEAK_DRIVER.ohm, 50.0) == pytest.approx(1.5, abs=1e-9)


def test_the_strong_driver_reaches_the_published_most():
    assert level_v(STRONG_DRIVER.volts, STRONG_DRIVER.ohm, 60.0) == pytest.approx(DRIVER_LEVEL.high, abs=1e-9)
    assert source_volts(3.0, 60.0, 30.0) == pytest.approx(STRONG_DRIVER.volts, abs=1e-9)


def test_not_even_without_a_load_does_the_strong_driver_reach_what_a_receiver_may_not_see():
    """That is why no rule asks for the highest level of a line."""
    assert level_v(STRONG_DRIVER.volts, STRONG_DRIVER.ohm, 1e9) < DOMINANT_INPUT.high - 3.0


@pytest.mark.parametrize("case", PUBLISHED["dominant"], ids=lambda case: case["source"])
def test_dominant_level_of_the_typical_driver(case):
    nodes = case["nodes"]
    shunt = np.full(nodes, 1.0 / case["node_ohm"])
    for index, ohm in enumerate(case["terminators_ohm"]):
        shunt[index % nodes] += 1.0 / ohm
    matrix = transfer_matrix(nodes, [(i, i + 1, 0.0) for i in range(nodes - 1)], shunt)
    volts = driven_volts(matrix, 0, TYPICAL_DRIVER.volts, TYPICAL_DRIVER.ohm)
    assert volts[0] == pytest.approx([case["level_V"]] * nodes, abs=1e-4)


@pytest.mark.parametrize("area", sorted(RHO))
@pytest.mark.parametrize("nodes", TABLE["nodes"])
def test_solved_level_at_the_length_of_the_cia_303_1_formula_is_its_threshold(area, nodes):
    """All other nodes at the far end, terminators at both ends, an ideal source at the near one: the formula's case."""
    length = longest_by_voltage(RHO[area], nodes)
    shunt = np.array([1.0 / TERMINATOR_LOW_OHM, 1.0 / TERMINATOR_LOW_OHM + (nodes - 1) / NODE_LOW_OHM])

    def far_v(metres):
        matrix = transfer_matrix(2, [(0, 1, 2.0 * RHO[area] * metres)], shunt)
        return driven_volts(matrix, 0, DRIVER_LOW_V, 0.0)[0, 1]

    needed = THRESHOLD_HIGH_V + SAFETY_SHARE * (DRIVER_LOW_V - THRESHOLD_HIGH_V)
    assert far_v(length) == pytest.approx(needed, abs=1e-4)
    row = next(row for row in TABLE["row"] if row["cross_section_mm2"] == area)
    printed = row["length_m"][TABLE["nodes"].index(nodes)]
    # Printed in steps of 10 m: half a step shorter there is margin, half a step longer there is none.
    assert far_v(printed - 5.0) > needed > far_v(printed + 5.0)
    assert far_v(printed) > DOMINANT_THRESHOLD.value


def test_corners_hold_the_typical_case_and_every_extreme():
    found = corners((1.0, 2.0, 3.0), (10.0, 20.0, 30.0))
    assert found.tolist() == [[2.0, 20.0], [1.0, 10.0], [1.0, 30.0], [3.0, 10.0], [3.0, 30.0]]


def test_all_corners_at_once_bound_what_is_drawn_between_them():
    """Driver, terminators, cable and node resistance each between its bounds: no draw leaves the corners' range."""
    bounds = ((2.4, 3.0, 4.5), (110.0, 120.0, 130.0), (1.0, 3.0, 6.0), (10e3, 30e3, 100e3))

    def levels(cases):
        volts, terminator, cable, node = cases.T
        shunt = np.stack([1 / terminator + 1 / node, 1 / node, 1 / terminator + 1 / node], axis=1)
        matrix = transfer_matrix(3, [(0, 1, cable), (1, 2, 2 * cable)], shunt)
        return driven_volts(matrix, 0, volts, 30.0)

    extreme = levels(corners(*bounds))
    draws = np.random.default_rng(7).uniform([low for low, _, _ in bounds], [high for _, _, high in bounds], (500, 4))
    inside = levels(draws)
    assert (inside >= extreme.min(axis=0) - 1e-9).all()
    assert (inside <= extreme.max(axis=0) + 1e-9).all()
    assert extreme.min() < inside.min()


def test_copper_gains_about_a_quarter_from_20_to_85_degrees():
    assert copper_ohm(1.0, 293.15 + 65.0) == pytest.approx(1.255, abs=0.001)
    assert copper_ohm(copper_ohm(1.0, 358.15), 293.15, at_k=358.15) == pytest.approx(1.0, abs=1e-12)
