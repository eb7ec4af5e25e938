"""Do a message's signals have their own bits, within the message?"""

from dataclasses import dataclass
from itertools import combinations

from loomwright.laws.signal_bits import positions
from loomwright.model.message import Message, Signal


@dataclass(frozen=True, slots=True)
class Layout:
    """Who has which bits: signals that reach beyond the message, and pairs that share bits at the same time."""

    beyond: tuple[str, ...]
    shared: tuple[tuple[str, str], ...]


def layout_of(message: Message) -> Layout:
    """See which bits each signal takes."""
    taken = {name: _bits(signal) for name, signal in message.signals.items()}
    beyond = tuple(name for name, bits in taken.items() if max(bits, default=0) >= 8 * message.length)
    shared = tuple(
        (one, two)
        for one, two in combinations(taken, 2)
        if taken[one] & taken[two] and _together(message, message.signals[one], message.signals[two])
    )
    return Layout(beyond, shared)


def _bits(signal: Signal) -> frozenset[int]:
    return frozenset(positions(signal.start, signal.bits, signal.byte_order))


def _together(message: Message, one: Signal, two: Signal) -> bool:
    """Whether two signals can be in the message at the same time."""
    mine, theirs = _conditions(message, one), _conditions(message, two)
    return all(mine[selector] & theirs[selector] for selector in mine.keys() & theirs.keys())


def _conditions(message: Message, signal: Signal) -> dict[str, frozenset[int]]:
    """What each selecting signal must say for this one to be there; a selector may be selected itself."""
    found: dict[str, frozenset[int]] = {}
    while signal.selected_by and signal.selected_by not in found and signal.selected_by in message.signals:
        found[signal.selected_by] = frozenset(signal.selected_when)
        signal = message.signals[signal.selected_by]
    return found
