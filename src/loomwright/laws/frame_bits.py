"""Every bit of one data frame as it stands on the wire, field by field, with the stuff bits marked.

Layout and stuffing are those of ISO 11898-1:2015, from memory; nine of ten recorded classical frames have the length
that comes out here (``authorities/recorded_frames.toml``). Bits are text, ``0`` dominant and ``1`` recessive.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from loomwright.laws.checksums import CRC_15, CRC_17, CRC_21, crc_of_bits
from loomwright.laws.frame_lengths import (
    CLASSICAL_BYTES_MOST,
    FD_LENGTHS,
    INTERMISSION_BITS,
    SHORT_CRC_BYTES_MOST,
    STUFF_AFTER,
    PhaseBits,
    fd_length,
)
from loomwright.terms.fact import Source
from loomwright.terms.limit import Standing

LAYOUT = Source("ISO 11898-1:2015", "frame formats and bit stuffing")
LAYOUT_STANDING = Standing.MEMORY
FIXED_STUFF_BITS = Source(
    "ISO 11898-1:2015, 10.4.2.6, as a Linux kernel change on frame lengths cites it", "stuff count and fixed stuff bits"
)
FIXED_STUFF_BITS_STANDING = Standing.SECONDARY
NO_STUFF_BEFORE_COUNT = Source("O. Ille, public test source for ISO 16845", "BitFrame.cpp")
"""No stuff bit directly before the stuff count: the fixed one takes its place and is not counted.

Sources disagree: one public FD encoder sends both, which makes about one frame in eight longer by a bit. A
conformance test is followed.
"""
NO_STUFF_BEFORE_COUNT_STANDING = Standing.SEEN

ARBITRATION_BITS = 11
EXTENSION_BITS = 18
PADDING = 0x00
"""What fills an FD frame up to its length here; the standard leaves it open."""


class Phase(StrEnum):
    """Which of the two bit rates of an FD frame a field is sent at."""

    ARBITRATION = "arbitration"
    DATA = "data"


@dataclass(frozen=True, slots=True)
class FrameField:
    """One field: its bits on the wire, and which places among them are stuff bits.

    A stuff bit belongs to the field after whose bit it comes; a fixed stuff bit to the field of the bit that follows.
    """

    name: str
    bits: str
    stuff: tuple[int, ...] = ()
    phase: Phase = Phase.ARBITRATION

    @property
    def own_bits(self) -> str:
        """The bits without stuff bits."""
        return "".join(bit for place, bit in enumerate(self.bits) if place not in self.stuff)


@dataclass(frozen=True, slots=True)
class FrameBits:
    """A frame as it is drawn and measured. Fields are in the order sent, the intermission is the last of them.

    The acknowledge slot is shown as receivers make it: dominant.
    """

    fields: tuple[FrameField, ...]
    fd: bool
    crc: int
    dynamic_stuff_bits: int

    @property
    def bits(self) -> str:
        """All bits on the wire, intermission included."""
        return "".join(field.bits for field in self.fields)

    @property
    def total_bits(self) -> int:
        """Bits in both phases, the intermission included."""
        return sum(len(field.bits) for field in self.fields)

    @property
    def intermission_bits(self) -> int:
        """Bits after the end of frame in which nobody may send; part of the total."""
        return INTERMISSION_BITS

    @property
    def data_bits(self) -> int:
        """Bits sent at the data bit rate: from the error state indicator to the CRC delimiter, if the frame switches."""
        return sum(len(field.bits) for field in self.fields if field.phase is Phase.DATA)

    @property
    def arbitration_bits(self) -> int:
        """All other bits, the intermission included."""
        return self.total_bits - self.data_bits

    @property
    def phase_bits(self) -> PhaseBits:
        """The same two numbers, as ``duration_s`` takes them."""
        return PhaseBits(self.arbitration_bits, self.data_bits)


def frame_bits(
    identifier: int,
    extended: bool,
    data: bytes,
    *,
    fd: bool = False,
    brs: bool = False,
    error_passive: bool = False,
    length_code: int | None = None,
) -> FrameBits:
    """The bits of a data frame.

    ``extended`` takes an identifier of 29 bits in place of 11. ``brs`` switches the bit rate, and ``error_passive``
    sets the error state indicator, of an FD frame. An FD payload between two valid lengths is padded with ``PADDING``.
    ``length_code`` is for classical frames of 8 bytes that say 9 to 15, which the standard allows. Raises
    ``ValueError`` for what no frame can hold.
    """
    if not 0 <= identifier < 1 << (ARBITRATION_BITS + (EXTENSION_BITS if extended else 0)):
        raise ValueError(f"identifier {identifier:#x} does not fit {29 if extended else 11} bits")
    if fd:
        if length_code is not None:
            raise ValueError("the length code of an FD frame follows from its payload")
        padded = data.ljust(fd_length(len(data)), bytes([PADDING]))
        return _fd(identifier, extended, padded, brs=brs, error_passive=error_passive)
    if brs or error_passive:
        raise ValueError("a classical frame has no bit-rate switch and no error state indicator")
    code = len(data) if length_code is None else length_code
    if len(data) > CLASSICAL_BYTES_MOST or min(code, CLASSICAL_BYTES_MOST) != len(data) or code > 15:
        raise ValueError(f"{len(data)} bytes with length code {code} are no classical frame")
    return _classical(identifier, extended, data, code)


def _classical(identifier: int, extended: bool, data: bytes, code: int) -> FrameBits:
    fields = [
        *_identifier(identifier, extended, "remote transmission request"),
        *([FrameField("reserved", "00")] if extended else [FrameField("reserved", "0")]),
        FrameField("data length code", f"{code:04b}"),
        *_payload(data, Phase.ARBITRATION),
    ]
    crc = crc_of_bits(CRC_15, _levels(fields))
    stuffed = _stuffed([*fields, FrameField("CRC", f"{crc:015b}")], at_end=True)
    count = sum(len(field.stuff) for field in stuffed)
    return FrameBits((*stuffed, FrameField("CRC delimiter", "1"), *_END), fd=False, crc=crc, dynamic_stuff_bits=count)


def _fd(identifier: int, extended: bool, data: bytes, *, brs: bool, error_passive: bool) -> FrameBits:
    phase = Phase.DATA if brs else Phase.ARBITRATION
    stuffed = _stuffed(
        [
            *_identifier(identifier, extended, "remote request substitution"),
            FrameField("FD format", "1"),
            FrameField("reserved", "0"),
            FrameField("bit-rate switch", f"{brs:b}"),
            FrameField("error state indicator", f"{error_passive:b}", phase=phase),
            FrameField("data length code", f"{FD_LENGTHS.index(len(data)):04b}", phase=phase),
            *_payload(data, phase),
        ],
        at_end=False,
    )
    count = sum(len(field.stuff) for field in stuffed)
    check = CRC_17 if len(data) <= SHORT_CRC_BYTES_MOST else CRC_21
    check = replace(check, start=1 << (check.width - 1))
    stuff_count = _gray_with_parity(count % 8)
    crc = crc_of_bits(check, _levels([*stuffed, FrameField("stuff count", stuff_count)]))
    checked = _with_fixed_stuff(stuffed[-1].bits[-1], stuff_count, f"{crc:0{check.width}b}", phase)
    fields = (*stuffed, *checked, FrameField("CRC delimiter", "1", phase=phase), *_END)
    return FrameBits(fields, fd=True, crc=crc, dynamic_stuff_bits=count)


def _identifier(identifier: int, extended: bool, request: str) -> list[FrameField]:
    """Start of frame, identifier, and the bits that tell the kind of frame."""
    if not extended:
        return [
            FrameField("start of frame", "0"),
            FrameField("identifier", f"{identifier:011b}"),
            FrameField(request, "0"),
            FrameField("identifier extension", "0"),
        ]
    return [
        FrameField("start of frame", "0"),
        FrameField("base identifier", f"{identifier >> EXTENSION_BITS:011b}"),
        FrameField("substitute remote request", "1"),
        FrameField("identifier extension", "1"),
        FrameField("extended identifier", f"{identifier & (1 << EXTENSION_BITS) - 1:018b}"),
        FrameField(request, "0"),
    ]


def _payload(data: bytes, phase: Phase) -> list[FrameField]:
    return [FrameField("data", "".join(f"{byte:08b}" for byte in data), phase=phase)] if data else []


_END = (
    FrameField("acknowledge slot", "0"),
    FrameField("acknowledge delimiter", "1"),
    FrameField("end of frame", "1" * 7),
    FrameField("intermission", "1" * INTERMISSION_BITS),
)


def _levels(fields: list[FrameField]) -> list[bool]:
    return [bit == "1" for field in fields for bit in field.bits]


def _opposite(bit: str) -> str:
    return "1" if bit == "0" else "0"


def _stuffed(fields: list[FrameField], *, at_end: bool) -> list[FrameField]:
    """After five equal bits put one of the other level, which itself opens the next run; ``at_end`` after the last too."""
    done: list[FrameField] = []
    last, run = "", 0
    for number, field in enumerate(fields, 1):
        bits: list[str] = []
        stuff: list[int] = []
        for place, bit in enumerate(field.bits, 1):
            bits.append(bit)
            run = run + 1 if bit == last else 1
            last = bit
            if run == STUFF_AFTER and (at_end or number < len(fields) or place < len(field.bits)):
                last, run = _opposite(bit), 1
                stuff.append(len(bits))
                bits.append(last)
        done.append(replace(field, bits="".join(bits), stuff=tuple(stuff)))
    return done


def _gray_with_parity(count: int) -> str:
    """Three bits of Gray code, and a fourth that makes the number of ones even."""
    gray = f"{count ^ count >> 1:03b}"
    return gray + str(gray.count("1") % 2)


def _with_fixed_stuff(before: str, stuff_count: str, crc: str, phase: Phase) -> list[FrameField]:
    """Put the opposite of the bit before ahead of every four bits of stuff count and CRC."""
    fields = []
    for name, own in (("stuff count", stuff_count), ("CRC", crc)):
        bits = ""
        for start in range(0, len(own), 4):
            bits += _opposite(bits[-1] if bits else before) + own[start : start + 4]
        fields.append(FrameField(name, bits, tuple(range(0, len(bits), 5)), phase))
        before = bits[-1]
    return fields
