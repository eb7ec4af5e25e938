"""What a definition file says and the model did not take over, or took over otherwise than it stands there."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

ORDER: tuple[tuple[str, ...], ...] = (
    (
        "bit rate of the bus differs", "messages that their port sends by another set", "addresses that differ",
        "read without strictness", "statements that cannot be read", "messages that cannot be read", "signs that are in no code page",
    ),
    (
        "messages sent in a cycle and on events", "faster cycle", "cycle times below", "least gap", "messages whose identifier",
        "messages between nodes", "further senders", "further ports", "counters by name", "checksums by name", "rules of checksums",
        "that a signal is a counter", "end-to-end", "authentication", "J1939 identifiers", "identifiers above", "bit rate of the bus",
        "addresses", "messages of more than 8 bytes", "containers of", "messages longer", "periods", "jitter", "deadline",
        "that a message is sent on an event", "kind of frame", "freshness", "time-outs", "states of the vehicle", "assumptions",
        "messages of others", "expected messages",
    ),
    (
        "signals", "floats", "multiplexed", "selecting", "what a selecting", "values", "value names", "names of values", "ranges",
        "initial values", "which port it is", "who expects", "who hears", "statements about", "buses whose",
    ),
)  # fmt: skip
"""How kinds begin, by what they touch: the file as a whole, then timing and safety, then what a value means."""
_TIMING = re.compile(r"attribute \w*(?:cycle|delay|repet|time|fast|baud|fd)", re.IGNORECASE)
"""Attributes without a place in the model whose names tell of timing."""
LAST = ("names of messages", "names of signals", "names that two", "messages without a name", "signals without a name")
"""Kinds that change nothing but a name."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """One kind of thing that did not come through as it stands, with every place where it happened.

    ``taken`` tells a remark (it came through, changed or with a doubt) from a loss (it did not).
    """

    kind: str
    places: tuple[str, ...]
    taken: bool = False

    @property
    def count(self) -> int:
        """How often it happened."""
        return len(self.places)


class Ledger:
    """Takes down losses and remarks while a file is read or written."""

    def __init__(self) -> None:
        self._places: dict[tuple[str, bool], list[str]] = {}

    def lost(self, kind: str, place: str) -> None:
        """Something that is not taken over."""
        self._places.setdefault((kind, False), []).append(place)

    def remark(self, kind: str, place: str) -> None:
        """Something that is taken over otherwise than it stands, or with a doubt."""
        self._places.setdefault((kind, True), []).append(place)

    def left_out(self) -> tuple[LeftOut, ...]:
        """Everything taken down, what matters most first."""
        return by_weight(LeftOut(kind, tuple(places), taken) for (kind, taken), places in self._places.items())


def by_weight(told: Iterable[LeftOut]) -> tuple[LeftOut, ...]:
    """What touches the file as a whole, then timing and safety, then meaning, then the rest, names at the end.

    Losses stand before remarks of the same weight.
    """
    return tuple(sorted(told, key=lambda each: (_weight(each.kind), each.taken)))


def _weight(kind: str) -> int:
    if kind.startswith(LAST):
        return len(ORDER) + 1
    if _TIMING.match(kind):
        return 1
    return next((number for number, beginnings in enumerate(ORDER) if kind.startswith(beginnings)), len(ORDER))
