"""A frozen, hashable mapping from name to value, in a settled order."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Generic, TypeVar

T = TypeVar("T")


class Table(Mapping[str, T], Generic[T]):
    """Named values, sorted by name, so that equal content is equal whatever order the files came in."""

    __slots__ = ("_hash", "_items")

    def __init__(self, items: Mapping[str, T] | Iterable[tuple[str, T]] = ()) -> None:
        pairs = items.items() if isinstance(items, Mapping) else items
        self._items: dict[str, T] = dict(sorted(pairs, key=lambda pair: pair[0]))
        self._hash: int | None = None

    def __getitem__(self, name: str) -> T:
        return self._items[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __hash__(self) -> int:
        if self._hash is None:
            self._hash = hash(tuple(self._items.items()))
        return self._hash

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Table):
            return NotImplemented
        return self is other or (hash(self) == hash(other) and self._items == other._items)

    def __repr__(self) -> str:
        return f"Table({self._items!r})"

    def put(self, name: str, value: T | None) -> "Table[T]":
        """The same table with one entry set, or taken out when the value is ``None``."""
        items = dict(self._items)
        if value is None:
            items.pop(name, None)
        else:
            items[name] = value
        return Table(items)
