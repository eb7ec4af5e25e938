"""What a question yields: an answer, or the list of facts that stand in its way."""

from dataclasses import dataclass
from typing import Generic, TypeVar

from loomwright.terms.change import Path

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Solved(Generic[T]):
    """An answer, with the paths of every assumed fact that it leans on."""

    value: T
    assumed: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True)
class Blocked:
    """No answer: these facts are unknown. Never a guess, never an exception."""

    by: tuple[Path, ...]


Answer = Solved[T] | Blocked
