"""Cyclic redundancy checks of frames and payloads, running counters, and the folded sums of two commercial-vehicle messages."""

from collections.abc import Iterable
from dataclasses import dataclass

from loomwright.terms.fact import Source
from loomwright.terms.limit import Standing


@dataclass(frozen=True, slots=True)
class Crc:
    """One check by its parameters.

    ``reflected`` takes the bits of every byte, and gives the result, lowest first. ``final`` is combined with the
    result by exclusive or.
    """

    name: str
    width: int
    polynomial: int
    start: int
    reflected: bool
    final: int
    source: Source
    standing: Standing


_CATALOGUE = "the catalogue of parametrised CRC algorithms, as the libraries crccheck 1.3.1 and anycrc 2.1.0 carry it"


def _listed(name: str, width: int, polynomial: int, start: int, final: int, *, reflected: bool = False) -> Crc:
    return Crc(name, width, polynomial, start, reflected, final, Source(_CATALOGUE, name), Standing.SECONDARY)


CRC_15 = _listed("CRC-15/CAN", 15, 0x4599, 0, 0)
CRC_17 = _listed("CRC-17/CAN-FD", 17, 0x1685B, 0, 0)
"""As the catalogue has it, started at zero. In a frame the start is another: see ``frame_bits``."""
CRC_21 = _listed("CRC-21/CAN-FD", 21, 0x102899, 0, 0)
"""As the catalogue has it, started at zero. In a frame the start is another: see ``frame_bits``."""
CRC_8_SAE_J1850 = _listed("CRC-8/SAE-J1850", 8, 0x1D, 0xFF, 0xFF)
CRC_8_AUTOSAR = _listed("CRC-8/AUTOSAR", 8, 0x2F, 0xFF, 0xFF)
CRC_16_IBM_3740 = _listed("CRC-16/IBM-3740", 16, 0x1021, 0xFFFF, 0)
CRC_32_AUTOSAR = _listed("CRC-32/AUTOSAR", 32, 0xF4ACFB13, 0xFFFFFFFF, 0xFFFFFFFF, reflected=True)
CRC_64_XZ = _listed("CRC-64/XZ", 64, 0x42F0E1EBA9EA3693, 2**64 - 1, 2**64 - 1, reflected=True)

CHECKS = (
    CRC_15,
    CRC_17,
    CRC_21,
    CRC_8_SAE_J1850,
    CRC_8_AUTOSAR,
    CRC_16_IBM_3740,
    CRC_32_AUTOSAR,
    CRC_64_XZ,
)


def crc_of_bits(check: Crc, bits: Iterable[bool]) -> int:
    """The check over single bits in the order they are sent; ``reflected`` turns the result alone."""
    register, top, mask = check.start, 1 << (check.width - 1), (1 << check.width) - 1
    for bit in bits:
        feedback = bool(register & top) != bit
        register = register << 1 & mask
        if feedback:
            register ^= check.polynomial
    if check.reflected:
        register = int(f"{register:0{check.width}b}"[::-1], 2)
    return register ^ check.final


def crc_of(check: Crc, data: bytes) -> int:
    """The check over bytes."""
    order = range(8) if check.reflected else range(7, -1, -1)
    return crc_of_bits(check, (bool(byte >> place & 1) for byte in data for place in order))


def next_count(count: int, values: int) -> int:
    """What a running counter of so many values shows after ``count``."""
    return (count + 1) % values


def missed(before: int, now: int, values: int) -> int | None:
    """How many messages a running counter shows to be missing in between; ``None`` if it stood still.

    Only up to ``values`` less two can be told: a longer gap looks like a shorter one.
    """
    step = (now - before) % values
    return step - 1 if step else None


FOLDED_SUMS = Source("SAE J1939-71", "message checksums of the torque/speed and the external brake request")
FOLDED_SUMS_STANDING = Standing.MEMORY
"""No worked value was found for either sum."""


def folded_sum_3_bits(identifier: int, data: bytes, count: int) -> int:
    """Checksum 0..7 of a torque/speed request: seven bytes, the counter, four bytes of identifier, folded by threes.

    Source: ``FOLDED_SUMS``, from memory.
    """
    total = _sum(identifier, data, count)
    return (total >> 6 & 0x03) + (total >> 3) + total & 0x07


def folded_sum_4_bits(identifier: int, data: bytes, count: int) -> int:
    """Checksum 0..15 of an external brake request: the same sum folded by fours. Source: ``FOLDED_SUMS``, from memory."""
    total = _sum(identifier, data, count)
    return (total >> 4) + total & 0x0F


def _sum(identifier: int, data: bytes, count: int) -> int:
    return sum(data[:7]) + (count & 0x0F) + sum(identifier.to_bytes(4, "big"))
