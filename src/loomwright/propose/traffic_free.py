"""Which identifiers a message may be given on a line, and how few have to change for an order.

Kept free: 0x000 and 0x7E0 to 0x7FF, which diagnostics and the highest priority are left to (common practice); on CANopen
lines also the synchronising, emergency, time, and error control groups and the predefined identifiers of every node with an
address there (CiA 301, predefined connection set, from memory).
"""

from collections.abc import Iterable, Iterator
from itertools import pairwise

from loomwright.laws.j1939 import parts_of
from loomwright.laws.wire_order import wire_order
from loomwright.model.speech import Speech
from loomwright.solve.streams import Stream
from loomwright.terms.fact import value_of

DIAGNOSTIC = range(0x7E0, 0x800)
NODE_GROUPS = (0x080, 0x180, 0x200, 0x280, 0x300, 0x380, 0x400, 0x480, 0x500, 0x580, 0x600, 0x700)
"""Function codes of the predefined connection set; a node's number is added. CiA 301, from memory."""
MANAGEMENT, SYNCHRONISING, TIME = 0x000, 0x080, 0x100
PROPRIETARY_B = range(0xFF00, 0x10000)
"""Groups of J1939 that a maker may give a meaning of its own; SAE J1939-21, read in texts on it."""
NEIGHBOURS = 64
"""So many identifiers around each that is taken are looked at on a line of 29 bits that is not J1939."""


class FreeIdentifiers:
    """What is free on one line, each message by itself: what may change, keeps its width, its group and its sender."""

    def __init__(self, speech: Speech, line: str, here: Iterable[Stream]) -> None:
        self.here = tuple(here)
        medium = speech.media[line]
        self.is_j1939 = medium.protocol == "J1939"
        # What goes in packets has an identifier of its own too, by which its receivers know it.
        self.taken = {
            (each.extended, number) for each in self.here for number in (each.identifier, each.entire.identifier)
        }
        kept = {MANAGEMENT, *DIAGNOSTIC}
        if medium.protocol == "CANopen":
            kept |= {SYNCHRONISING, TIME}
            for address in filter(None, (_address(speech, port) for port in medium.ports)):
                kept |= {group + address for group in NODE_GROUPS}
        kept |= _awaited(speech, medium.ports)
        self.kept = kept

    def is_kept(self, stream: Stream) -> bool:
        """Whether a stream has an identifier that is kept for a purpose, so that it is not ours to change."""
        return not stream.extended and stream.identifier in self.kept

    def of(self, stream: Stream, *, given: frozenset[int] = frozenset()) -> tuple[int, ...]:
        """Every identifier that a stream may be given, its own apart, in the order of the wire; ``given`` are freed."""
        found = {
            number
            for number in self._candidates(stream)
            if number not in self.kept and ((stream.extended, number) not in self.taken or number in given)
        }
        return tuple(sorted(found, key=lambda number: wire_order(number, extended=stream.extended)))

    def _candidates(self, stream: Stream) -> Iterator[int]:
        if not stream.extended:
            yield from range(1, 0x7E0)
        elif self.is_j1939:
            yield from self._of_j1939(stream)
        else:
            near = {each.identifier for each in self.here if each.extended and each.identifier is not None}
            for number in near:
                yield from range(max(1, number - NEIGHBOURS), min(1 << 29, number + NEIGHBOURS))

    @staticmethod
    def _of_j1939(stream: Stream) -> Iterator[int]:
        """The same group at another priority; of a proprietary group all the others of its kind too."""
        assert stream.identifier is not None
        below = stream.identifier & 0x3FFFFFF
        yield from (priority << 26 | below for priority in range(8))
        parts = parts_of(stream.identifier)
        if parts.group in PROPRIETARY_B:
            for priority in range(8):
                yield from (priority << 26 | group << 8 | parts.source for group in PROPRIETARY_B)


def _address(speech: Speech, port: str) -> int | None:
    component, _, name = port.partition(".")
    fact = speech.voices[component].ports[name].address
    found: int | None = None if fact is None else value_of(fact)
    return found


def _awaited(speech: Speech, ports: Iterable[str]) -> set[int]:
    """Identifiers that receivers' manuals name on a line: nobody else may take them."""
    on = set(ports)
    return {
        number
        for messages in speech.sets.values()
        for message in messages.messages.values()
        if message.expected_by in on and (number := value_of(message.identifier)) is not None
    }


def is_awaited(speech: Speech, stream: Stream) -> bool:
    """Whether a receiver's manual says under which identifier it wants to hear this; then it is not ours to choose."""
    return stream.identifier in _awaited(speech, speech.media[stream.line].ports)


def fewest_new(order: list[Stream], fixed: set[int], free: FreeIdentifiers) -> dict[int, int] | None:
    """New identifiers by place in the order, so that the wire keeps the order and as many as possible keep theirs.

    ``fixed`` are places that keep what they have. ``None`` where there is too little room between two of them.
    """
    present = [wire_order(each.identifier or 0, extended=each.extended) for each in order]
    # A place whose rank on the wire is another's too cannot be kept in order; it is given a new identifier.
    kept = _rising(present, fixed)
    while True:
        found = _filled(order, present, kept, free)
        if found is not None or kept == fixed:
            return found
        kept = set(fixed)


def _filled(order: list[Stream], present: list[int], kept: set[int], free: FreeIdentifiers) -> dict[int, int] | None:
    given = frozenset(
        each.identifier for at, each in enumerate(order) if at not in kept and each.identifier is not None
    )
    found: dict[int, int] = {}
    marks = [-1, *sorted(kept), len(order)]
    for low_at, high_at in pairwise(marks):
        low = present[low_at] if low_at >= 0 else -1
        high = present[high_at] if high_at < len(order) else 1 << 31
        for at in range(low_at + 1, high_at):
            number = _between(order[at], low, high, high_at - at, free, given, set(found.values()))
            if number is None:
                return None
            found[at] = number
            low = wire_order(number, extended=order[at].extended)
    return found


def _between(
    stream: Stream, low: int, high: int, waiting: int, free: FreeIdentifiers, given: frozenset[int], used: set[int]
) -> int | None:
    """An identifier between two ranks that leaves room for those that still wait: its own group, else a round number."""
    choice = [
        number
        for number in free.of(stream, given=given)
        if low < wire_order(number, extended=stream.extended) < high and number not in used
    ]
    if not choice:
        return None
    part, now = choice[: max(1, len(choice) // waiting)], stream.identifier or 0
    own = [number for number in part if stream.extended and number & 0x3FFFFFF == now & 0x3FFFFFF]
    if own:
        return min(own, key=lambda number: abs(number - now))
    return max(part, key=lambda number: number & -number)


def _rising(present: list[int], fixed: set[int]) -> set[int]:
    """The most places whose ranks rise, all fixed ones among them (fixed ones rise by themselves, ties apart)."""
    best: list[tuple[int, int, int]] = []
    """By place: fixed ones kept so far, all kept so far, the place before (-1: none)."""
    for at, rank in enumerate(present):
        before = [
            (best[other][0], best[other][1], other)
            for other in range(at)
            if present[other] < rank or (present[other] == rank and {at, other} <= fixed)
        ]
        chosen = max(before, default=(0, 0, -1))
        best.append((chosen[0] + (at in fixed), chosen[1] + 1, chosen[2]))
    kept: set[int] = set()
    at = max(range(len(best)), key=lambda place: best[place][:2], default=-1)
    while at >= 0:
        kept.add(at)
        at = best[at][2]
    return kept | fixed
