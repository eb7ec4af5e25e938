"""What becomes of a wave where the line changes: junctions, loads, stubs, bounces, lumped capacitance.

Closed forms of the textbook, on a lossless line of impedance ``z0_ohm``. They are the authority that the travelling-wave
engine is held against, and good for a first estimate by hand.
"""

import math
from itertools import pairwise


def reflection(load_ohm: float, z0_ohm: float) -> float:
    """Share of a voltage wave that comes back from a load: (R - Z0)/(R + Z0); 1 for an open end (``inf`` ohm)."""
    return 1.0 if math.isinf(load_ohm) else (load_ohm - z0_ohm) / (load_ohm + z0_ohm)


def junction_reflection(lines: int) -> float:
    """Share that comes back where ``lines`` equal lines meet: (2 - N)/N."""
    return (2.0 - lines) / lines


def junction_transmission(lines: int) -> float:
    """Share that goes on into each of the other lines where ``lines`` equal lines meet: 2/N."""
    return 2.0 / lines


def open_stub_junction(arrivals: int) -> float:
    """Voltage at the foot of an open stub in the middle of a matched trunk, as a share of the final one.

    After ``arrivals`` waves (the first is the step itself, the others follow every two stub delays): 1 + (-1/3)^n.
    """
    return 1.0 + (-1.0 / 3.0) ** arrivals


def open_stub_end(arrivals: int) -> float:
    """The same at the open end of the stub, one stub delay later: 1 - (-1/3)^n."""
    return 1.0 - (-1.0 / 3.0) ** arrivals


def bounces(
    source_v: float, source_ohm: float, z0_ohm: float, load_ohm: float, waves: int
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Bounce diagram of a step on one line: voltages at the load and at the source after each of ``waves`` passages.

    Entry 0 at the source is the launched step, entry 0 at the load what it makes there; both tend to the divider's value.
    """
    to_load, to_source = reflection(load_ohm, z0_ohm), reflection(source_ohm, z0_ohm)
    wave = source_v * z0_ohm / (z0_ohm + source_ohm)
    at_source = [wave]
    at_load: list[float] = []
    for _ in range(waves):
        at_load.append((at_load[-1] if at_load else 0.0) + wave * (1.0 + to_load))
        wave *= to_load
        at_source.append(at_source[-1] + wave * (1.0 + to_source))
        wave *= to_source
    return tuple(at_load), tuple(at_source)


def bounces_midway(source_v: float, source_ohm: float, z0_ohm: float, load_ohm: float, waves: int) -> tuple[float, ...]:
    """Voltage anywhere between the ends after each wave that passes: to the load, back, to the load again, ..."""
    to_load, to_source = reflection(load_ohm, z0_ohm), reflection(source_ohm, z0_ohm)
    wave, volts = source_v * z0_ohm / (z0_ohm + source_ohm), [0.0]
    for number in range(waves):
        volts.append(volts[-1] + wave)
        wave *= to_source if number % 2 else to_load
    return tuple(after for _, after in pairwise(volts))


def lumped_time_constant_s(capacitance_f: float, z0_ohm: float) -> float:
    """Time constant in s of a capacitance across a long line, or across its matched end: C Z0/2."""
    return capacitance_f * z0_ohm / 2.0


def whole_line_time_constant_s(
    resistance_ohm: float, nodes_f: float, cable_m: float, impedance_ohm: float, delay_s_per_m: float
) -> float:
    """Time constant in s with which a short line as one lump returns to recessive: R (C of all nodes + C' L)."""
    return resistance_ohm * (nodes_f + cable_m * delay_s_per_m / impedance_ohm)


def decay_s(time_constant_s: float, from_v: float, to_v: float) -> float:
    """Time in s in which an exponential falls from one voltage to another, towards zero."""
    return time_constant_s * math.log(from_v / to_v)


def line_inductance_h_per_m(impedance_ohm: float, delay_s_per_m: float) -> float:
    """Inductance per metre of a lossless line: Z0 times its delay."""
    return impedance_ohm * delay_s_per_m


def split_corner_hz(half_ohm: float, capacitance_f: float) -> float:
    """Corner frequency in Hz of a split termination for common mode: both halves in parallel against the middle's capacitor.

    For the differential signal the middle is at rest: a split terminator is its halves in series. Two 60 ohm halves
    and 4.7 nF give 1.1 MHz (TI TCAN1043-Q1 data sheet, layout section).
    """
    return 1.0 / (2.0 * math.pi * (half_ohm / 2.0) * capacitance_f)
