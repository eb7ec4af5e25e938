"""Commercial-vehicle identifiers, and messages too long for one frame that are broadcast in packets.

An identifier of 29 bits holds three of priority, eighteen of parameter group and eight of source address. In a group
whose format byte is below 240 the last eight bits of the group are the destination instead (the group then has zeros).
"""

from dataclasses import dataclass

from loomwright.laws.frame_lengths import duration_s, frame_length
from loomwright.terms.fact import Source
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

DATA_LINK = Source("SAE J1939-21", "protocol data unit, transport protocol; read in texts on it")
DATA_LINK_STANDING = Standing.SECONDARY

FIRST_BROADCAST_FORMAT = 240
"""Format bytes from here on (PDU2) have no destination: everybody is meant."""
EVERYBODY = 255
"""The destination address that addresses all."""
FRAME_BYTES = 8
PACKET_BYTES = 7
"""A packet's first byte numbers it."""
TRANSPORTED_BYTES_MOST = 1785
TRANSPORT_CONTROL_GROUP = 60416
TRANSPORT_DATA_GROUP = 60160
BROADCAST_ANNOUNCEMENT = 32
"""Control byte of the frame that announces a broadcast."""
PACKET_SPACING = Limit(0.050, Bound.AT_LEAST, Kind.TIME, DATA_LINK, DATA_LINK_STANDING)
"""Least time between the packets of a broadcast."""
LONGEST_PACKET_SPACING = Limit(
    0.200, Bound.AT_MOST, Kind.TIME, Source("SAE J1939-21", "50 to 200 ms between the packets of a broadcast"),
    Standing.MEMORY,
)  # fmt: skip
"""Longest time between the packets of a broadcast."""
LONGEST_ANSWER = Limit(0.200, Bound.AT_MOST, Kind.TIME, Source("SAE J1939-21", "response time Tr"), Standing.MEMORY)
"""Longest time until either side of an addressed transport goes on: the receiver clears packets, the sender sends them."""
_TRANSPORT_PRIORITY = 7


@dataclass(frozen=True, slots=True)
class Parts:
    """What an identifier says. ``destination`` is ``None`` where the group is broadcast by its kind (PDU2)."""

    priority: int
    group: int
    source: int
    destination: int | None = None


def is_addressed(group: int) -> bool:
    """Does the parameter group carry a destination (PDU1)?"""
    return group >> 8 & 0xFF < FIRST_BROADCAST_FORMAT


def parts_of(identifier: int) -> Parts:
    """Take an identifier of 29 bits apart. Source: ``DATA_LINK``."""
    if not 0 <= identifier < 1 << 29:
        raise ValueError(f"identifier {identifier:#x} does not fit 29 bits")
    group, source = identifier >> 8 & 0x3FFFF, identifier & 0xFF
    if is_addressed(group):
        return Parts(identifier >> 26, group & 0x3FF00, source, group & 0xFF)
    return Parts(identifier >> 26, group, source)


def addressee(identifier: int) -> int | None:
    """The address that an identifier of 29 bits is for; ``None`` where everybody is meant, by its kind or by address."""
    destination = parts_of(identifier).destination
    return None if destination == EVERYBODY else destination


def transport_identifiers(source: int, destination: int | None) -> tuple[int, int]:
    """Identifiers of the frames that announce a message in packets, and of its packets. ``None``: to everybody.

    What the receiver of an addressed one answers has the first of them with the two addresses changed round.
    """
    to = EVERYBODY if destination is None else destination
    control, data = (
        identifier_of(Parts(_TRANSPORT_PRIORITY, group, source, to))
        for group in (TRANSPORT_CONTROL_GROUP, TRANSPORT_DATA_GROUP)
    )
    return control, data


def packet_spacing_s(destination: int | None) -> tuple[float, float]:
    """Least and longest time from one packet to the next where nobody stated it, in s. ``None``: to everybody.

    An addressed message has no least: its packets may follow back to back. At the longest its receiver clears every
    packet by itself, and either side takes all the time it may.
    """
    if destination is None:
        return PACKET_SPACING.value, LONGEST_PACKET_SPACING.value
    return 0.0, 2.0 * LONGEST_ANSWER.value


def identifier_of(parts: Parts) -> int:
    """Put an identifier together. Raises ``ValueError`` where a part does not fit or a destination is missing or idle."""
    if not (0 <= parts.priority < 8 and 0 <= parts.group < 1 << 18 and 0 <= parts.source < 256):
        raise ValueError(f"{parts} does not fit 3, 18 and 8 bits")
    destination = parts.destination
    if not is_addressed(parts.group):
        if destination is not None:
            raise ValueError(f"group {parts.group} has no destination")
        return parts.priority << 26 | parts.group << 8 | parts.source
    if destination is None or not 0 <= destination < 256 or parts.group & 0xFF:
        raise ValueError(f"group {parts.group} wants a destination of 0 to 255 in place of its lowest eight bits")
    return parts.priority << 26 | (parts.group | destination) << 8 | parts.source


def parameter(data: bytes, first_byte: int, byte_count: int, per_bit: float, offset: float = 0.0) -> float:
    """A value of whole bytes, low byte first, in the unit of ``per_bit``; bytes are counted from 1 as the standard does."""
    place = first_byte - 1
    if place < 0 or place + byte_count > len(data):
        raise ValueError(f"bytes {first_byte} to {place + byte_count} are not in {len(data)} bytes")
    return int.from_bytes(data[place : place + byte_count], "little") * per_bit + offset


def packets(length_bytes: int) -> int:
    """Packets that carry a message of so many bytes; none where one frame does. ``ValueError`` past 1785."""
    if not 0 <= length_bytes <= TRANSPORTED_BYTES_MOST:
        raise ValueError(f"{length_bytes} bytes cannot be transported, {TRANSPORTED_BYTES_MOST} can")
    return 0 if length_bytes <= FRAME_BYTES else -(-length_bytes // PACKET_BYTES)


def broadcast_s(length_bytes: int, bit_rate_bit_per_s: float, spacing_s: float = PACKET_SPACING.value) -> float:
    """Time in s from the first bit of a broadcast message to the end of its last frame, on a bus free of others.

    One spacing from the announcement to each packet in turn, counted from start to start, and the last frame at its
    worst length. Counted from end to start instead, it would be one frame longer for every packet (1.3 % at 250 kbit/s).
    """
    last = min(length_bytes, FRAME_BYTES) if packets(length_bytes) == 0 else FRAME_BYTES
    frame_s = duration_s(frame_length(extended=True, length_bytes=last).worst_bits, bit_rate_bit_per_s)
    return packets(length_bytes) * spacing_s + frame_s
