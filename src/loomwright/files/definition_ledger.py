"""What a definition file says and the model did not take over, or took over otherwise than it stands there."""

from dataclasses import dataclass


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
        """Everything taken down, losses first, in the order in which the kinds came up."""
        told = [LeftOut(kind, tuple(places), taken) for (kind, taken), places in self._places.items()]
        return tuple(sorted(told, key=lambda each: each.taken))
