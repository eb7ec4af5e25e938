"""How copper resists currents that change fast: they keep to the skin of a wire, and to the side of the wire beside it.

A round wire's internal impedance is exact: S. Ramo, J. R. Whinnery, T. Van Duzer, "Fields and Waves in Communication
Electronics", the solid wire of circular section (from memory). Its ratio to the direct-current resistance is tabled in
NBS Circular 74 (1918). Strands that touch are taken as one solid wire of the same section. The insulation's own loss is
not here; a real cable damps a little more.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Complex = NDArray[np.complex128]

COPPER_OHM_M = 1.0 / 58e6
"""Resistivity of annealed copper at 20 C, IEC 60028: 1/58 ohm mm2/m."""
VACUUM_PERMEABILITY = 4e-7 * np.pi
"""In H/m."""
VACUUM_IMPEDANCE_OHM = 376.730
LIGHT_M_PER_S = 299_792_458.0


def section_of(ohm_per_m: float) -> float:
    """Copper cross-section in m2 of a conductor of this direct-current resistance at 20 C."""
    return COPPER_OHM_M / ohm_per_m


def wire_impedance(cross_section_m2: float, frequency_hz: ArrayLike) -> Complex:
    """Internal impedance of one round copper wire at 20 C, in ohm/m, at frequencies above 0 of any shape."""
    from scipy.special import ive

    omega = 2.0 * np.pi * np.asarray(frequency_hz, dtype=np.float64)
    radius = np.sqrt(cross_section_m2 / np.pi)
    at_surface = np.sqrt(1j * omega * VACUUM_PERMEABILITY / COPPER_OHM_M) * radius
    # The scaled Bessel functions carry the same factor, which cancels; the plain ones overflow in thick wires.
    ratio = at_surface / 2.0 * ive(0, at_surface) / ive(1, at_surface)
    return np.asarray(COPPER_OHM_M / cross_section_m2 * ratio)


def nearness(impedance_ohm: float, delay_s_per_m: float) -> float:
    """How many times the resistance at high frequency grows because the other wire of the pair is near.

    The two-wire line: Z = 377 ohm / (pi sqrt(epsilon)) arcosh(d / 2a), and the current crowds on the facing sides by
    (d / 2a) / sqrt((d / 2a)^2 - 1) (Ramo, Whinnery, Van Duzer, table of transmission lines, from memory). The spacing
    is taken from the pair's own impedance and delay.
    """
    spread = np.pi * impedance_ohm * LIGHT_M_PER_S * delay_s_per_m / VACUUM_IMPEDANCE_OHM
    return float(1.0 / np.tanh(spread))


def pair_excess(
    cross_section_m2: float, impedance_ohm: float, delay_s_per_m: float, frequency_hz: ArrayLike
) -> Complex:
    """What a pair's loop resists more than to direct current, in ohm/m: both wires, skin and nearness."""
    direct = COPPER_OHM_M / cross_section_m2
    return 2.0 * nearness(impedance_ohm, delay_s_per_m) * (wire_impedance(cross_section_m2, frequency_hz) - direct)
