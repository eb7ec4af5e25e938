"""Signal levels of ISO 11898-2: what a receiver must tell apart, what a driver gives, what grounds may differ by.

The standard itself was not at hand; every figure names the data sheet or manual that repeats it.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from loomwright.terms.fact import Source
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

_RECEIVER = Source("TI SN75LBC031 data sheet SLRS048A", "p. 6; also Infineon TLE9262BQX rev 1.00, table 17")
_INPUT = Source("Infineon TLE9262BQX data sheet rev 1.00", "P_10.3.2 to 4, values of ISO 11898-2:2016")
_OLDER = Source("TI SLOA101B", "common-mode voltage operating range")
_DRIVER = Source("TI SN65HVD230 data sheet", "driver electrical characteristics, values of ISO 11898-2:2003")
_LOADED = Source("TI TCAN1044V data sheet SLLSFG2", "bus loading, length and number of nodes, ISO 11898-2:2016")
COPPER_SOURCE = Source("IEC 60028", "temperature coefficient of annealed copper at 20 degC")

DOMINANT_THRESHOLD = Limit(0.9, Bound.AT_LEAST, Kind.VOLTAGE, _RECEIVER, Standing.SEEN)
"""Above this differential voltage every receiver reads dominant."""
RECESSIVE_THRESHOLD = Limit(0.5, Bound.AT_MOST, Kind.VOLTAGE, _RECEIVER, Standing.SEEN)
"""Below this differential voltage every receiver reads recessive."""
DOMINANT_INPUT = Limit(0.9, Bound.BETWEEN, Kind.VOLTAGE, _INPUT, Standing.SEEN, high=8.0)
RECESSIVE_INPUT = Limit(-3.0, Bound.BETWEEN, Kind.VOLTAGE, _INPUT, Standing.SEEN, high=0.5)
COMMON_MODE = Limit(-12.0, Bound.BETWEEN, Kind.VOLTAGE, _INPUT, Standing.SEEN, high=12.0)
COMMON_MODE_OLDER = Limit(-2.0, Bound.BETWEEN, Kind.VOLTAGE, _OLDER, Standing.SEEN, high=7.0)
"""The range of the standard's older editions; a node whose manual names none may have only this."""
DRIVER_LEVEL = Limit(1.5, Bound.BETWEEN, Kind.VOLTAGE, _DRIVER, Standing.SEEN, high=3.0)
"""Dominant level at the driver's pins into 60 ohm."""
DRIVER_LEVEL_LOADED = Limit(1.4, Bound.AT_LEAST, Kind.VOLTAGE, _LOADED, Standing.SEEN)
"""The same into 45 ohm; 1.5 V must be reached from 50 ohm on."""
RECESSIVE_LEVEL_V = 2.5
"""Both wires of a recessive bus against its nodes' ground, nominal (TLE9262BQX P_10.3.11)."""

COPPER_PER_K = 0.00393
"""Rise of copper's resistance per kelvin, of that at 20 degC: IEC 60028, from memory."""
COPPER_REFERENCE_K = 293.15


@dataclass(frozen=True, slots=True)
class DriverSource:
    """A dominant driver as a circuit: open-circuit voltage in V behind a resistance in ohm, and why."""

    volts: float
    ohm: float
    why: str


TYPICAL_DRIVER = DriverSource(3.0, 30.0, "common practice: 2.0 V into 60 ohm")
WEAK_DRIVER = DriverSource(2.4, 30.0, "1.5 V into 50 ohm, 1.44 V into 45 ohm: the least that ISO 11898-2:2016 permits")
STRONG_DRIVER = DriverSource(4.5, 30.0, "3.0 V into 60 ohm: the most that ISO 11898-2:2003 permits")


def source_volts(level_v: float, load_ohm: float, source_ohm: float) -> float:
    """Open-circuit voltage in V of a driver that gives ``level_v`` into ``load_ohm`` from ``source_ohm``."""
    return level_v * (1.0 + source_ohm / load_ohm)


def level_v(source_v: float, source_ohm: float, load_ohm: float) -> float:
    """Differential level in V of a source into a load: the voltage divider."""
    return source_v * load_ohm / (load_ohm + source_ohm)


def ground_offset_v(common_mode: Limit = COMMON_MODE, wire_v: float = RECESSIVE_LEVEL_V) -> tuple[float, float]:
    """How far another node's ground may lie below and above a receiver's own, in V, negative and positive.

    The receiver's common-mode range less the level of the wires against the sender's ground: -14.5 to +9.5 V for
    -12 to +12 V, -4.5 to +4.5 V for the older -2 to +7 V. First pair: TI support forum answer 1073650; second computed.
    """
    assert common_mode.high is not None
    return common_mode.value - wire_v, common_mode.high - wire_v


def ground_offset_budget_v(common_mode: Limit = COMMON_MODE, wire_v: float = RECESSIVE_LEVEL_V) -> float:
    """Largest difference of grounds in V, either way and between any two such nodes: 9.5 V, or 4.5 V of old."""
    low, high = ground_offset_v(common_mode, wire_v)
    return min(-low, high)


def copper_ohm(ohm: float, temperature_k: float, at_k: float = COPPER_REFERENCE_K) -> float:
    """Resistance of copper at another temperature, given that at ``at_k`` (20 degC), in ohm."""
    reference = 1.0 + COPPER_PER_K * (at_k - COPPER_REFERENCE_K)
    return ohm * (1.0 + COPPER_PER_K * (temperature_k - COPPER_REFERENCE_K)) / reference


def corners(*bounds: tuple[float, float, float]) -> NDArray[np.float64]:
    """Every combination of (low, typical, high), shape (1 + 2^n, n): all typical first, then each low or high.

    The level at a receiver rises or falls with each resistance and voltage by itself, so its extremes are among these.
    """
    extremes = product(*((low, high) for low, _, high in bounds))
    return np.array([[typical for _, typical, _ in bounds], *extremes])
