"""The bit as a controller counts it: registers, segments, sample point, oscillator tolerance, propagation.

What is peculiar to the data phase of FD frames stands in ``data_phase``.

Segment lengths are in quanta; a quantum is ``prescaler`` periods of the controller's clock. One quantum of
synchronisation opens the bit, then come the propagation segment, phase segment 1, the sample, phase segment 2.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from loomwright.terms.fact import Source
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

TWO_CONDITIONS = Source("Bosch CAN specification, as repeated in public code", "oscillator tolerance, both conditions")
_POINTS = Source("CiA sample points, as repeated in the documentation of a CANopen driver", "bit timing")

CLASSICAL_TOLERANCE_MOST = Limit(
    0.0158, Bound.AT_MOST, Kind.RATIO, Source("TI SPRUIX1B GUID-BC3AA6F9; Bosch CAN 2.0 p. B-64"), Standing.SEEN
)
"""Printed as the largest possible, usable up to 125 kbit/s on 40 m; the two conditions alone would allow 1.66 %."""
RECOMMENDED_SAMPLE_POINT = 0.875
"""The point that CiA recommends, at every bit rate."""


@dataclass(frozen=True, slots=True)
class Ranges:
    """What a controller's registers can hold, in quanta: smallest and largest, both included.

    ``segment_1`` is propagation and phase segment 1 together, as registers have it. ``quanta`` bounds the whole bit.
    """

    name: str
    prescaler: tuple[int, int]
    segment_1: tuple[int, int]
    segment_2: tuple[int, int]
    jump_most: int
    quanta: tuple[int, int]
    source: Source
    standing: Standing

    def hold(self, setting: "Setting") -> bool:
        """Whether the registers can hold a setting."""
        held = (
            (setting.prescaler, self.prescaler),
            (setting.propagation + setting.phase_1, self.segment_1),
            (setting.phase_2, self.segment_2),
            (setting.jump, (1, self.jump_most)),
            (setting.quanta, self.quanta),
        )
        return all(least <= value <= most for value, (least, most) in held)


CLASSICAL = Ranges(
    "classical", (1, 64), (2, 16), (2, 8), 4, (8, 25),
    Source("TI DCAN text: 8 to 25 quanta, jump at most 4; register widths from memory"), Standing.MEMORY,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Setting:
    """One bit timing: prescaler, and the segments and the synchronisation jump in quanta."""

    prescaler: int
    propagation: int
    phase_1: int
    phase_2: int
    jump: int

    @property
    def quanta(self) -> int:
        """Quanta of the whole bit."""
        return 1 + self.propagation + self.phase_1 + self.phase_2

    @property
    def sample_point(self) -> float:
        """Where the bit is sampled, as a share of it."""
        return (self.quanta - self.phase_2) / self.quanta

    def quantum_s(self, clock_hz: float) -> float:
        """Length of a quantum in s."""
        return self.prescaler / clock_hz

    def bit_rate_bit_per_s(self, clock_hz: float) -> float:
        """Bit rate that a clock makes of it."""
        return clock_hz / (self.prescaler * self.quanta)


class Layout(StrEnum):
    """How a family of controllers packs a setting into registers; every field holds its value less one."""

    TWO_BYTES = "two bytes: jump and prescaler, then sampling, segment 2, segment 1"
    WORD = "16 bits: segment 2, segment 1, jump, prescaler of 6 bits"
    LONG_WORD = "32 bits: jump, segment 2, segment 1, prescaler of 10 bits"


def packed(setting: Setting, layout: Layout, *, triple_sampling: bool = False) -> int:
    """The register value; for two bytes the first is the high one. Raises ``ValueError`` if a field does not fit.

    Layouts as the tables and examples of the makers have them: see ``authorities/bit_timing.toml``.
    """
    fields = (setting.prescaler, setting.jump, setting.propagation + setting.phase_1, setting.phase_2)
    widths = (10 if layout is Layout.LONG_WORD else 6, 2, 4, 3)
    if any(not 1 <= value <= 1 << width for value, width in zip(fields, widths, strict=True)):
        raise ValueError(f"{setting} does not fit the layout of {layout.value}")
    prescaler, jump, segment_1, segment_2 = (value - 1 for value in fields)
    if layout is Layout.LONG_WORD:
        return jump << 24 | segment_2 << 20 | segment_1 << 16 | prescaler
    if layout is Layout.WORD:
        return segment_2 << 12 | segment_1 << 8 | jump << 6 | prescaler
    return (jump << 6 | prescaler) << 8 | int(triple_sampling) << 7 | segment_2 << 4 | segment_1


def settings(clock_hz: float, bit_rate_bit_per_s: float, ranges: Ranges) -> Iterator[tuple[int, int, int]]:
    """Every (prescaler, segment 1, segment 2) that makes the bit rate exactly, finest quantum first."""
    for prescaler in range(ranges.prescaler[0], ranges.prescaler[1] + 1):
        exact = clock_hz / (bit_rate_bit_per_s * prescaler)
        quanta = round(exact)
        if abs(exact - quanta) > 1e-9 * exact or not ranges.quanta[0] <= quanta <= ranges.quanta[1]:
            continue
        for segment_2 in range(ranges.segment_2[0], ranges.segment_2[1] + 1):
            segment_1 = quanta - 1 - segment_2
            if ranges.segment_1[0] <= segment_1 <= ranges.segment_1[1]:
                yield prescaler, segment_1, segment_2


def nearest_setting(
    clock_hz: float, bit_rate_bit_per_s: float, sample_point: float, ranges: Ranges, *, never_later: bool = False
) -> Setting | None:
    """The exact setting whose sample point comes nearest, finest quantum first; ``None`` if no prescaler fits.

    ``never_later`` forbids points after the one asked for. Segment 1 is halved between propagation and phase.
    """
    found: tuple[float, tuple[int, int, int]] | None = None
    for prescaler, segment_1, segment_2 in settings(clock_hz, bit_rate_bit_per_s, ranges):
        point = (1 + segment_1) / (1 + segment_1 + segment_2)
        off = round(abs(point - sample_point), 12)
        if (found is None or off < found[0]) and not (never_later and point > sample_point + 1e-12):
            found = off, (prescaler, segment_1, segment_2)
    if found is None:
        return None
    prescaler, segment_1, segment_2 = found[1]
    propagation = segment_1 // 2
    phase_1 = segment_1 - propagation
    return Setting(prescaler, propagation, phase_1, segment_2, max(1, min(ranges.jump_most, phase_1, segment_2)))


def nearest_bit_rate(clock_hz: float, bit_rate_bit_per_s: float, ranges: Ranges) -> float:
    """The bit rate nearest to the one asked for that the clock can be divided to, in bit/s."""
    totals = range(ranges.quanta[0], ranges.quanta[1] + 1)
    rates = (clock_hz / (p * q) for p in range(ranges.prescaler[0], ranges.prescaler[1] + 1) for q in totals)
    return min(rates, key=lambda rate: abs(rate - bit_rate_bit_per_s))


def setting_for_delay(clock_hz: float, prescaler: int, bit_rate_bit_per_s: float, one_way_s: float) -> Setting:
    """The setting that gives propagation what it needs and shares the rest: Bosch's worked procedure.

    ``one_way_s`` is bus driver, receiver circuit and bus line together. Raises ``ValueError`` where nothing is left
    for the phase segments, or the bit is no whole number of quanta.
    """
    exact = clock_hz / (prescaler * bit_rate_bit_per_s)
    quanta = round(exact)
    if abs(exact - quanta) > 1e-9 * exact:
        raise ValueError(f"a bit of {exact:.3f} quanta is no whole number")
    propagation = max(1, math.ceil(2.0 * one_way_s * clock_hz / prescaler - 1e-9))
    rest = quanta - 1 - propagation
    if rest < 2:
        raise ValueError(f"{propagation} of {quanta} quanta go into propagation; two phase segments do not fit")
    phase_1 = rest // 2
    return Setting(prescaler, propagation, phase_1, rest - phase_1, min(4, phase_1))


def oscillator_tolerances(setting: Setting) -> tuple[float, float]:
    """Largest deviation of every oscillator, either way, by both classical conditions.

    min(PS1, PS2)/(2 (13 tbit - PS2)): ten bits of like level end in an error flag that must still be sampled right;
    SJW/(20 tbit): a jump makes up for ten bits without an edge. Source: ``TWO_CONDITIONS``, from memory and seen in
    public code.
    """
    bit = setting.quanta
    phase = min(setting.phase_1, setting.phase_2) / (2.0 * (13.0 * bit - setting.phase_2))
    return phase, setting.jump / (20.0 * bit)


def round_trip_s(there_s: float, back_s: float, electronics_s: float, other_electronics_s: float) -> float:
    """Time in s from a node's edge until it sees the answer of another, worst case.

    ``there_s`` and ``back_s`` are on the wires: line delay, or the settling time that a waveform showed. The
    electronics are each node's own transceiver delay from its input to its output. With both alike and nothing but
    line delay: 2 (255 ns + 5 ns/m L), Microchip online documents GUID-E48B4A26, eq. 14-9.
    """
    return there_s + back_s + electronics_s + other_electronics_s


def sample_points(bit_rate_bit_per_s: float) -> Limit:
    """Range of sample points that CiA gives for a bit rate: 75 to 90 % from 800 kbit/s on, else 85 to 90 %."""
    low = 0.75 if bit_rate_bit_per_s >= 800e3 else 0.85
    return Limit(low, Bound.BETWEEN, Kind.RATIO, _POINTS, Standing.SECONDARY, high=0.90)


def usual_sample_point(bit_rate_bit_per_s: float) -> float:
    """The point that drivers aim for when nobody names one: 75 % above 800 kbit/s, 80 % above 500 kbit/s, else 87.5 %.

    Common practice, as in the Linux kernel's bit-timing code.
    """
    return 0.75 if bit_rate_bit_per_s > 800e3 else 0.80 if bit_rate_bit_per_s > 500e3 else RECOMMENDED_SAMPLE_POINT
