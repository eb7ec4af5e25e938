"""The data phase of FD frames as a controller counts it: registers of both phases, oscillators, a sender's own delay."""

import math
from dataclasses import dataclass

from loomwright.laws.bit_timing import Ranges, Setting, oscillator_tolerances
from loomwright.terms.fact import Source
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

FIVE_CONDITIONS = Source(
    "ISO 11898-1, as the source of python-can 4.6.1 repeats it", "conditions 1 to 5 on the oscillator tolerance"
)
FIVE_CONDITIONS_STANDING = Standing.SECONDARY
"""Neither the standard nor the conference paper of 2012 that first printed the five was at hand."""

_LEAST = Source(
    "ISO 11898-1, as the source of python-can 4.6.1 repeats it",
    "least range that every node has; prescalers from memory",
)
FD_NOMINAL = Ranges(
    "FD, nominal phase, one prescaler for both", (1, 32), (2, 128), (2, 32), 32, (8, 80), _LEAST, Standing.SECONDARY
)
FD_NOMINAL_APART = Ranges(
    "FD, nominal phase, a prescaler of its own", (1, 32), (2, 64), (2, 16), 16, (8, 80), _LEAST, Standing.SECONDARY
)
FD_DATA = Ranges("FD, data phase", (1, 32), (1, 16), (2, 8), 8, (5, 25), _LEAST, Standing.SECONDARY)

_ADVICE = "CiA on bit timing; Microchip online documents GUID-3593F97F"
EQUAL_QUANTA = Limit(0.0, Bound.AT_MOST, Kind.COUNT, Source(_ADVICE, "equal time quanta in both phases"), Standing.SEEN)
"""Unlike quanta cost up to a nominal quantum of phase at the switch of bit rates: condition 5."""
COMPENSATION_FROM = Limit(
    1e6, Bound.AT_LEAST, Kind.BIT_RATE, Source(_ADVICE, "transmitter delay compensation"), Standing.SEEN
)
"""From this data-phase bit rate on the transmitter's own delay has to be compensated."""
COMPENSATION_PRESCALER = Limit(
    2.0,
    Bound.AT_MOST,
    Kind.COUNT,
    Source("ISO 11898-1, as the Linux kernel's bit-timing code quotes it", "transmitter delay compensation"),
    Standing.MEMORY,
)
"""With a coarser data phase a controller need not be able to compensate."""


def fd_oscillator_tolerances(nominal: Setting, data: Setting) -> tuple[float, float, float, float, float]:
    """Largest deviation of every oscillator by the five conditions on a node with a data phase, on one clock.

    The first two are the classical pair in the nominal phase (jump, phase), the third the jump in the data phase, the
    fourth a bit sampled after an error flag in the data phase, the fifth the switch of bit rates. Source:
    ``FIVE_CONDITIONS``.
    """
    bit_n, bit_d = nominal.quanta, data.quanta
    least = min(nominal.phase_1, nominal.phase_2)
    phase, jump = oscillator_tolerances(nominal)
    ratio = data.prescaler / nominal.prescaler
    after = 2.0 * ((2.0 * bit_n - nominal.phase_2) / ratio + data.phase_2 + 4.0 * bit_d)
    return (
        jump,
        phase,
        data.jump / (20.0 * bit_d),
        least / (2.0 * ((6.0 * bit_d - data.phase_2) * ratio + 7.0 * bit_n)),
        max(0.0, data.jump - max(0.0, 1.0 / ratio - 1.0)) / after,
    )


def most_data_tolerance(bit_s: float, data_bit_s: float, sample_point: float | None, data_sample_point: float) -> float:
    """The most that conditions 3 and 5 can allow a node of which sample points alone are known, as shares of a bit.

    A jump is never longer than phase segment 2; with that, and with equal quanta, the conditions hang on the two
    points and the two bit times (in s) alone. Without a nominal sample point the third stands by itself.
    """
    tail = 1.0 - data_sample_point
    jump = tail / 20.0
    if sample_point is None:
        return jump
    between_s = (1.0 + sample_point) * bit_s + (tail + 4.0) * data_bit_s
    return min(jump, tail * data_bit_s / (2.0 * between_s))


@dataclass(frozen=True, slots=True)
class Compensation:
    """How a sender checks its own bits in the data phase: later than their start by its own delay.

    ``delay`` is that delay and ``offset`` the time from there to the second sample point, both in periods of the
    controller's clock; a controller that measures its delay is told the offset alone. ``delay_quanta`` is the delay in
    quanta of the data phase, whole ones begun. ``able``: the data phase is fine enough for it (``COMPENSATION_PRESCALER``).
    """

    delay: int
    delay_quanta: int
    offset: int
    able: bool


def compensation(data: Setting, clock_hz: float, delay_s: float) -> Compensation:
    """What to set for a transceiver's delay from input to output in s.

    The second sample point lies behind the delay as far as the sample point lies behind the start of a bit: common
    practice, as in the Linux kernel's bit-timing code, from memory.
    """
    periods = delay_s * clock_hz
    return Compensation(
        math.ceil(periods - 1e-9),
        math.ceil(periods / data.prescaler - 1e-9),
        data.prescaler * (data.quanta - data.phase_2),
        data.prescaler <= COMPENSATION_PRESCALER.value,
    )
