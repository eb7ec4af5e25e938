"""End-to-end protection: a check and a counter inside the payload, by profiles 1, 2 and 5 of AUTOSAR.

The check also covers an identifier that both ends know and that is not sent (all of it): a message taken for another
fails. Layouts are those of the standard variants, with the check at the start (profile 5: at ``offset``).
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from loomwright.laws.checksums import CRC_8_AUTOSAR, CRC_8_SAE_J1850, CRC_16_IBM_3740, crc_of
from loomwright.terms.fact import Source
from loomwright.terms.limit import Standing

PROFILES = Source(
    "AUTOSAR E2E protocol specification", "profiles 1, 2 and 5, as the package autosar-e2e 1.0.0 has them"
)
PROFILES_STANDING = Standing.SECONDARY

_CRC_PROFILE_1 = replace(CRC_8_SAE_J1850, start=0, final=0)
"""Profile 1 calls the library so that its start value and final inversion cancel out."""


class IdentifierMode(StrEnum):
    """Which bytes of its 16-bit data identifier profile 1 covers."""

    BOTH = "both bytes"
    ALTERNATING = "low byte at even counts, high byte at odd"
    LOW = "low byte alone"
    NIBBLE = "low byte; the low nibble of the high byte is sent"


@dataclass(frozen=True, slots=True)
class Profile1:
    """Check in byte 0, counter 0..14 in the low nibble of byte 1."""

    data_id: int
    mode: IdentifierMode = IdentifierMode.BOTH
    counts: int = 15


@dataclass(frozen=True, slots=True)
class Profile2:
    """Check in byte 0, counter 0..15 in the low nibble of byte 1; every count has an identifier byte of its own."""

    data_ids: tuple[int, ...]
    counts: int = 16

    def __post_init__(self) -> None:
        if len(self.data_ids) != 16:
            raise ValueError(f"profile 2 wants 16 identifier bytes, not {len(self.data_ids)}")


@dataclass(frozen=True, slots=True)
class Profile5:
    """Check of 16 bits from byte ``offset`` on, low byte first, then a counter of one byte."""

    data_id: int
    offset: int = 0
    counts: int = 256


Profile = Profile1 | Profile2 | Profile5


@dataclass(frozen=True, slots=True)
class Checked:
    """What a receiver can tell from one payload: does the check agree, and which count does it carry."""

    agrees: bool
    count: int


def protect(profile: Profile, data: bytes, count: int) -> bytes:
    """The payload with counter and check written in; the bits that they take are overwritten.

    Raises ``ValueError`` for a count that the profile does not have or a payload too short to hold them.
    """
    if not 0 <= count < profile.counts:
        raise ValueError(f"count {count} is not in 0..{profile.counts - 1}")
    content = bytearray(_long_enough(profile, data))
    if isinstance(profile, Profile5):
        content[profile.offset + 2] = count
    else:
        content[1] = content[1] & 0xF0 | count
        if isinstance(profile, Profile1) and profile.mode is IdentifierMode.NIBBLE:
            content[1] = (profile.data_id >> 8 & 0x0F) << 4 | count
    place, width = _place(profile)
    content[place : place + width] = _check(profile, bytes(content), count).to_bytes(width, "little")
    return bytes(content)


def check(profile: Profile, data: bytes) -> Checked:
    """Read the counter and hold the check against the payload; a count that cannot be sent does not agree either."""
    _long_enough(profile, data)
    count = data[profile.offset + 2] if isinstance(profile, Profile5) else data[1] & 0x0F
    place, width = _place(profile)
    sent = int.from_bytes(data[place : place + width], "little")
    agrees = count < profile.counts and sent == _check(profile, data, count)
    if isinstance(profile, Profile1) and profile.mode is IdentifierMode.NIBBLE:
        agrees = agrees and data[1] >> 4 == profile.data_id >> 8 & 0x0F
    return Checked(agrees, count)


def _place(profile: Profile) -> tuple[int, int]:
    """First byte of the check and its bytes."""
    return (profile.offset, 2) if isinstance(profile, Profile5) else (0, 1)


def _long_enough(profile: Profile, data: bytes) -> bytes:
    least = profile.offset + 3 if isinstance(profile, Profile5) else 2
    if len(data) < least:
        raise ValueError(f"{len(data)} bytes cannot hold check and counter, which need {least}")
    return data


def _check(profile: Profile, data: bytes, count: int) -> int:
    if isinstance(profile, Profile1):
        return crc_of(_CRC_PROFILE_1, _covered_identifier(profile, count) + data[1:])
    if isinstance(profile, Profile2):
        return crc_of(CRC_8_AUTOSAR, data[1:] + bytes([profile.data_ids[count]]))
    covered = data[: profile.offset] + data[profile.offset + 2 :] + profile.data_id.to_bytes(2, "little")
    return crc_of(CRC_16_IBM_3740, covered)


def _covered_identifier(profile: Profile1, count: int) -> bytes:
    """The bytes of the identifier that come before the payload."""
    low, high = profile.data_id.to_bytes(2, "little")
    match profile.mode:
        case IdentifierMode.BOTH:
            return bytes([low, high])
        case IdentifierMode.ALTERNATING:
            return bytes([high if count % 2 else low])
        case IdentifierMode.LOW:
            return bytes([low])
        case IdentifierMode.NIBBLE:
            return bytes([low, 0])
