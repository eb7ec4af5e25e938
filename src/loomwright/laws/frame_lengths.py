"""How long a data frame is on the wire, in bits: shortest, mean and longest, the three bits of intermission included.

An FD frame has two phases. Its bit-rate switch is counted into the arbitration phase and its CRC delimiter into the
data phase. Both bits change rate at the sample point, and what one has too much the other has too little: the sum of
the two durations is right at any sample points.
"""

from bisect import bisect_left
from dataclasses import dataclass
from functools import cache

from loomwright.terms.fact import Source
from loomwright.terms.limit import Standing

WORST_CLASSICAL = Source(
    "R. I. Davis, A. Burns, R. J. Bril, J. J. Lukkien, Controller Area Network (2007)", "eq. 1 to 3"
)
WORST_CLASSICAL_STANDING = Standing.SECONDARY
"""Read where the public tool set of the Linux CAN drivers restates the equations."""
WORST_FD = Source("ISO 11898-1:2015, frame formats and stuffing", "maximum over every frame by dynamic programming")
WORST_FD_STANDING = Standing.COMPUTED
"""No printed table of these figures was found."""
MEAN_STANDING = Standing.COMPUTED

INTERMISSION_BITS = 3
STUFF_AFTER = 5
"""Equal bits after which a bit of the other level is put in, which itself counts for the next run."""
FD_LENGTHS = (0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64)
"""Bytes that each data length code stands for in an FD frame."""
CLASSICAL_BYTES_MOST = 8
SHORT_CRC_BYTES_MOST = 16
"""Up to this many bytes an FD frame carries the CRC of 17 bits, beyond it that of 21."""
_AFTER_CRC = 1 + 1 + 7 + INTERMISSION_BITS
"""Acknowledge slot and delimiter, end of frame, intermission."""
_FREE = "?"


@dataclass(frozen=True, slots=True)
class PhaseBits:
    """Bits by the rate they are sent at. Without a bit-rate switch all are in the arbitration phase."""

    arbitration: float
    data: float = 0.0

    @property
    def total(self) -> float:
        """Bits in both phases."""
        return self.arbitration + self.data


@dataclass(frozen=True, slots=True)
class FrameLength:
    """Length of one kind of frame, intermission included.

    ``best_bits`` has no stuff bit but the fixed ones: nothing is shorter, though few kinds of frame get that short.
    ``mean_bits`` is over random identifiers and payloads. ``worst_bits`` is never exceeded.
    """

    best_bits: PhaseBits
    mean_bits: PhaseBits
    worst_bits: PhaseBits


def fd_length(length_bytes: int) -> int:
    """The shortest FD length that holds a payload of so many bytes; the rest is padding. ``ValueError`` past 64."""
    if not 0 <= length_bytes <= FD_LENGTHS[-1]:
        raise ValueError(f"{length_bytes} bytes do not fit an FD frame, which holds 0 to {FD_LENGTHS[-1]}")
    return FD_LENGTHS[bisect_left(FD_LENGTHS, length_bytes)]


def duration_s(bits: PhaseBits, bit_rate_bit_per_s: float, data_bit_rate_bit_per_s: float | None = None) -> float:
    """Time on the wire in s; without a data bit rate both phases run at the same."""
    return bits.arbitration / bit_rate_bit_per_s + bits.data / (data_bit_rate_bit_per_s or bit_rate_bit_per_s)


@cache
def frame_length(extended: bool, length_bytes: int, *, fd: bool = False, brs: bool | None = None) -> FrameLength:
    """Shortest, mean and longest length of a data frame with a payload of so many bytes.

    Classical frames: the longest is ``WORST_CLASSICAL``, a bound that takes all stuffable bits as free; the mean takes
    the CRC as random. FD frames: a payload is padded up to the next valid length. The longest is the exact maximum
    over every identifier, payload and error state (``WORST_FD``). The bit-rate switch is recessive after a dominant
    bit, so no run of equal bits reaches from one phase into the other, and both phases take their maxima in the same
    frame: the duration is the longest at any ratio of bit rates. ``brs=None`` is no fewer bits than any frame has,
    whether it switches or not (one bit more for some short ones, in the data phase). In time it bounds frames that
    switch: one that does not sends its data phase at the arbitration rate, and takes longer. Its mean is that of
    frames that switch.
    The mean of FD frames is exact for senders that are error active, as the CRC has fixed stuff bits alone.
    """
    if fd:
        return _fd(extended, fd_length(length_bytes), brs)
    if not 0 <= length_bytes <= CLASSICAL_BYTES_MOST:
        raise ValueError(f"{length_bytes} bytes do not fit a classical frame, which holds 0 to {CLASSICAL_BYTES_MOST}")
    stuffable = (54 if extended else 34) + 8 * length_bytes
    best = stuffable + 1 + _AFTER_CRC
    reserved = "00" if extended else "0"
    pattern = f"{_arbitration(extended)}{reserved}{length_bytes:04b}" + _FREE * (8 * length_bytes + 15)
    mean, _ = _stuff_bits(pattern, stuffed_at_end=True)
    return FrameLength(PhaseBits(best), PhaseBits(best + mean), PhaseBits(best + (stuffable - 1) // 4))


def _fd(extended: bool, length_bytes: int, brs: bool | None) -> FrameLength:
    if brs is False:
        return _fd_one_rate(extended, length_bytes)
    before, after = _fd_patterns(extended, length_bytes, switch="1")
    check = _fd_check_bits(length_bytes)
    mean_before, worst_before = _stuff_bits(before)
    mean_after, _ = _stuff_bits("0" + after, "1", 1)
    _, worst_after = _stuff_bits(_FREE + after, "1", 1)
    best = PhaseBits(len(before) + _AFTER_CRC, 1 + len(after) + check)
    worst = PhaseBits(best.arbitration + worst_before, best.data + worst_after)
    if brs is None:
        one_rate = _fd_one_rate(extended, length_bytes).worst_bits.total
        worst = PhaseBits(worst.arbitration, max(worst.data, one_rate - worst.arbitration))
    return FrameLength(best, PhaseBits(best.arbitration + mean_before, best.data + mean_after), worst)


def _fd_one_rate(extended: bool, length_bytes: int) -> FrameLength:
    """Of a frame without bit-rate switch: runs of equal bits reach over the whole of it."""
    before, after = _fd_patterns(extended, length_bytes, switch="0")
    mean, _ = _stuff_bits(before + "0" + after)
    _, worst = _stuff_bits(before + _FREE + after)
    best = len(before) + 1 + len(after) + _fd_check_bits(length_bytes) + _AFTER_CRC
    return FrameLength(PhaseBits(best), PhaseBits(best + mean), PhaseBits(best + worst))


def _fd_check_bits(length_bytes: int) -> int:
    """Stuff count, CRC, a fixed stuff bit before the first and after every fourth of them, and the CRC delimiter."""
    checked = 4 + (17 if length_bytes <= SHORT_CRC_BYTES_MOST else 21)
    return checked + 1 + checked // 4 + 1


def _arbitration(extended: bool) -> str:
    """From the start of frame to the bit before the first reserved (FD: the format) bit."""
    return "0" + _FREE * 11 + ("11" + _FREE * 18 + "0" if extended else "00")


def _fd_patterns(extended: bool, length_bytes: int, switch: str) -> tuple[str, str]:
    """What comes up to the bit-rate switch, and what follows the error state indicator up to the last byte."""
    code = FD_LENGTHS.index(length_bytes)
    return _arbitration(extended) + "10" + switch, f"{code:04b}" + _FREE * (8 * length_bytes)


def _stuff_bits(pattern: str, level: str = "", run: int = 0, *, stuffed_at_end: bool = False) -> tuple[float, int]:
    """Mean and most stuff bits of a pattern of ``0``, ``1`` and free bits, after ``run`` bits of a level.

    One pass over (level, run of equal bits) with the chance of being there, the stuff bits expected there, and the
    most. Directly before the check field of an FD frame no bit is stuffed: the fixed one takes its place.
    """
    states: dict[tuple[str, int], tuple[float, float, int]] = {(level, run): (1.0, 0.0, 0)}
    for place, symbol in enumerate(pattern):
        may_stuff = stuffed_at_end or place < len(pattern) - 1
        following: dict[tuple[str, int], tuple[float, float, int]] = {}
        for (last, equal), (chance, expected, most) in states.items():
            for bit in "01" if symbol == _FREE else symbol:
                share = 0.5 if symbol == _FREE else 1.0
                state = (bit, equal + 1 if bit == last else 1)
                stuffed = int(may_stuff and state[1] == STUFF_AFTER)
                if stuffed:
                    state = ("1" if bit == "0" else "0", 1)
                old = following.get(state, (0.0, 0.0, 0))
                following[state] = (
                    old[0] + share * chance,
                    old[1] + share * (expected + stuffed * chance),
                    max(old[2], most + stuffed),
                )
        states = following
    return sum(state[1] for state in states.values()), max(state[2] for state in states.values())
