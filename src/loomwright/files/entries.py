"""Lists of tables, such as the stations of a line: which entry of the old list lives on in the new one, and where."""

from collections.abc import Callable, Collection
from itertools import pairwise
from typing import Any

from loomwright.model.line import Station


def matched(old: tuple[Any, ...], new: tuple[Any, ...], edited: Collection[int] = ()) -> list[int | None]:
    """For every new entry the old one whose text it takes over, or ``None``.

    Equal entries first, then stations of the same port (terminators: of the same place), then entries at the numbers
    in ``edited``, of which somebody set a single field.
    """
    found: list[int | None] = [None] * len(new)
    free = set(range(len(old)))

    def take(alike: Callable[[int, int], bool], candidates: Callable[[int], Collection[int]]) -> None:
        for here, partner in enumerate(found):
            if partner is None:
                there = next((each for each in sorted(candidates(here)) if each in free and alike(each, here)), None)
                if there is not None:
                    found[here] = there
                    free.discard(there)

    take(lambda there, here: old[there] == new[here], lambda here: {here})
    take(lambda there, here: old[there] == new[here], lambda _: free)
    take(lambda there, here: _same(old[there], new[here]), lambda _: free)
    take(lambda _, here: here in edited, lambda here: {here})
    return found


def staying(partners: list[int | None]) -> set[int]:
    """The old entries that can stay where they are: a longest run of partners in rising order."""
    best: list[list[int]] = []
    for partner in partners:
        if partner is None:
            continue
        before = max((chain for chain in best if chain[-1] < partner), key=len, default=[])
        best.append([*before, partner])
    longest = max(best, key=len, default=[])
    assert all(a < b for a, b in pairwise(longest))
    return set(longest)


def _same(one: Any, other: Any) -> bool:
    if not isinstance(one, Station) or not isinstance(other, Station):
        return False
    return one.port == other.port and (bool(one.port) or one.at == other.at)
