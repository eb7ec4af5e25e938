"""Who wins on the wire when two frames begin at once."""

from loomwright.terms.fact import Source
from loomwright.terms.limit import Standing

SOURCE = Source("ISO 11898-1", "arbitration field of base and extended frame format")
STANDING = Standing.MEMORY


def wire_order(identifier: int, *, extended: bool) -> int:
    """A number that is lower for the data frame that wins: eleven bits first, then a standard frame, then eighteen bits.

    (The bits after the eleventh are recessive in an extended frame.) Source: ``SOURCE``.
    """
    return (identifier >> 18) << 19 | 1 << 18 | identifier & 0x3FFFF if extended else identifier << 19
