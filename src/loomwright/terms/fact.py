"""A datum from a manual or a tape measure, with how it is known.

A fact is one of three things. ``Known`` was read or measured, ``Assumed`` stands in with a reason, ``Unknown`` is a
question still open. Nothing computes with an unknown: the analysis that meets one answers ``Blocked``.
"""

from dataclasses import dataclass
from typing import Any, Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure was read: the document and the page, table or equation in it."""

    document: str
    place: str = ""

    def __str__(self) -> str:
        return f"{self.document}, {self.place}" if self.place else self.document


@dataclass(frozen=True, slots=True)
class Known(Generic[T]):
    """Read in a manual or measured. ``low`` and ``high`` bound it where the source gives a range or a tolerance."""

    value: T
    low: T | None = None
    high: T | None = None
    source: Source | None = None


@dataclass(frozen=True, slots=True)
class Assumed(Generic[T]):
    """Stands in until somebody looks it up; every answer that uses it says so."""

    value: T
    why: str
    low: T | None = None
    high: T | None = None


@dataclass(frozen=True, slots=True)
class Unknown:
    """Still open: the question to ask, and where the answer is usually found."""

    question: str = ""
    where: str = ""


Fact = Known[T] | Assumed[T] | Unknown


def value_of(fact: Any) -> Any:
    """The typical value of a known or assumed fact, ``None`` for an unknown one."""
    return None if isinstance(fact, Unknown) else fact.value


def bounds_of(fact: Known[float] | Assumed[float]) -> tuple[float, float, float]:
    """Low, typical and high of a numeric fact; without a stated range all three are the same."""
    low = fact.value if fact.low is None else fact.low
    high = fact.value if fact.high is None else fact.high
    return low, fact.value, high
