"""Copper against fast changes: the table of a round wire, its limits, and the pair."""

import numpy as np
import pytest

from loomwright.laws.copper import (
    COPPER_OHM_M,
    VACUUM_PERMEABILITY,
    nearness,
    pair_excess,
    section_of,
    wire_impedance,
)
from tests.authorities import authority

TABLE = authority("skin_effect")
SECTION_M2 = 0.5e-6


def at(x):
    """Angular frequency at which the table's x is reached, and the impedance there."""
    radius = np.sqrt(SECTION_M2 / np.pi)
    omega = (np.array(x) / radius) ** 2 * COPPER_OHM_M / VACUUM_PERMEABILITY
    return omega, wire_impedance(SECTION_M2, omega / (2.0 * np.pi))


def test_resistance_of_a_round_wire_is_that_of_the_table():
    """NBS Circular 74, table of skin effect (from memory): to the last digit, which is rounded."""
    _, found = at(TABLE["wire"]["x"])
    ratio = found.real * SECTION_M2 / COPPER_OHM_M
    assert np.abs(ratio - TABLE["wire"]["resistance"]).max() < TABLE["wire"]["digits"]


def test_internal_inductance_of_a_round_wire_is_that_of_the_table():
    """The same table; to direct current it is the permeability over 8 pi, 50 nH/m."""
    omega, found = at(TABLE["inductance"]["x"])
    share = found.imag / omega / (VACUUM_PERMEABILITY / (8.0 * np.pi))
    assert np.abs(share - TABLE["inductance"]["share"]).max() < TABLE["inductance"]["digits"]


def test_far_above_the_skin_carries_all():
    """Resistance of a skin of one depth around the wire, a textbook's limit; 0.5 mm2 at 1 GHz is 200 depths thick."""
    depth = np.sqrt(2.0 * COPPER_OHM_M / (2.0 * np.pi * 1e9 * VACUUM_PERMEABILITY))
    around = 2.0 * np.sqrt(np.pi * SECTION_M2)
    found = wire_impedance(SECTION_M2, 1e9)
    assert found.real == pytest.approx(COPPER_OHM_M / (around * depth), rel=5e-3)
    assert found.imag == pytest.approx(found.real, rel=1e-2)


def test_a_pair_of_120_ohm_has_a_tenth_more_because_its_wires_are_near():
    """d / 2a = cosh(1.5) = 2.35 at 120 ohm and 5 ns/m: 2.35 / sqrt(2.35^2 - 1) = 1.105."""
    assert nearness(120.0, 5e-9) == pytest.approx(1.105, abs=1e-3)
    assert nearness(60.0, 5e-9) > nearness(120.0, 5e-9) > nearness(300.0, 5e-9) > 1.0


def test_nothing_is_added_to_direct_current():
    excess = pair_excess(SECTION_M2, 120.0, 5e-9, np.array([10.0, 40e6]))
    assert abs(excess[0]) < 1e-4
    # 40 MHz, where a short stub with a transceiver at its end rings: some twenty times 2 x 34 milliohm a metre
    assert excess[1].real == pytest.approx(18.3 * 1.105 * 2.0 * COPPER_OHM_M / SECTION_M2, rel=0.01)


def test_section_follows_from_resistance():
    assert section_of(COPPER_OHM_M / SECTION_M2) == pytest.approx(SECTION_M2)
