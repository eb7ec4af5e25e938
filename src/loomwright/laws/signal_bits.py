"""Where the bits of a signal lie in a payload, the number they make, and the value it stands for.

Bits are numbered as definition files of the trade do: bit 0 is the lowest of the first byte, bit 8 the lowest of the
second. A little-endian signal is told by its lowest bit and goes on to higher numbers. A big-endian one is told by its
highest bit and goes on downwards to the lowest bit of the byte, then to the highest bit of the next byte.
"""

import struct

BIG_ENDIAN, LITTLE_ENDIAN = "big endian", "little endian"
_FLOATS = {16: "<e", 32: "<f", 64: "<d"}


def positions(start: int, bits: int, byte_order: str) -> tuple[int, ...]:
    """Numbers of a signal's bits in the payload, the lowest bit of its value first.

    Raises ``ValueError`` for a start below zero, fewer bits than one, or a byte order that does not exist.
    """
    if start < 0 or bits < 1:
        raise ValueError(f"there is no signal of {bits} bits from bit {start}")
    if byte_order == LITTLE_ENDIAN:
        return tuple(range(start, start + bits))
    first = _from_the_front(start, byte_order)
    return tuple(8 * (at // 8) + 7 - at % 8 for at in range(first + bits - 1, first - 1, -1))


def bytes_needed(start: int, bits: int, byte_order: str) -> int:
    """Bytes of payload that a signal needs so as to lie within it."""
    first = start if byte_order == LITTLE_ENDIAN else _from_the_front(start, byte_order)
    return (first + bits + 7) // 8


def raw_bits(payload: bytes, start: int, bits: int, byte_order: str) -> int:
    """The bits of a signal as a whole number that is not negative.

    Raises ``ValueError`` where they do not all lie within the payload.
    """
    if bytes_needed(start, bits, byte_order) > len(payload) or start < 0 or bits < 1:
        raise ValueError(f"{bits} bits from bit {start}, {byte_order}, do not lie within {len(payload)} bytes")
    if byte_order == LITTLE_ENDIAN:
        return int.from_bytes(payload, "little") >> start & (1 << bits) - 1
    behind = 8 * len(payload) - _from_the_front(start, byte_order) - bits
    return int.from_bytes(payload, "big") >> behind & (1 << bits) - 1


def number_of(raw: int, bits: int, number: str) -> int | float:
    """The number that raw bits make: ``unsigned``, ``signed`` (two's complement) or ``float`` (IEEE 754).

    Raises ``ValueError`` for a float of other than 16, 32 or 64 bits, or a kind of number that does not exist.
    """
    if number == "unsigned":
        return raw
    if number == "signed":
        return raw - (1 << bits) if raw >> bits - 1 else raw
    if number != "float" or bits not in _FLOATS:
        raise ValueError(f"there is no {number} number of {bits} bits")
    (value,) = struct.unpack(_FLOATS[bits], raw.to_bytes(bits // 8, "little"))
    return float(value)


def scaled(number: float, factor: float, offset: float) -> float:
    """The value that a number stands for, in the signal's unit."""
    return number * factor + offset


def _from_the_front(start: int, byte_order: str) -> int:
    """The same bit counted from the highest of the first byte on, as it travels."""
    if byte_order != BIG_ENDIAN:
        raise ValueError(f"there is no byte order {byte_order!r}")
    return 8 * (start // 8) + 7 - start % 8
