"""A limit is a value with a source, never a bare number in code."""

from dataclasses import dataclass
from enum import StrEnum

from loomwright.terms.fact import Source
from loomwright.terms.quantity import Kind


class Bound(StrEnum):
    """How the measured value has to lie to the limit."""

    AT_MOST = "at most"
    AT_LEAST = "at least"
    EXACTLY = "exactly"
    BETWEEN = "between"


class Standing(StrEnum):
    """How the project came by a figure; printed beside it."""

    SEEN = "seen in the source"
    SECONDARY = "seen in a second source that quotes it"
    MEMORY = "from memory"
    PRACTICE = "common practice"
    COMPUTED = "computed"


@dataclass(frozen=True, slots=True)
class Limit:
    """The published bound a reading is held against. ``high`` is used by ``BETWEEN`` alone (``value`` is its low end).

    ``counted`` is what a count counts: the word for one, and for several.
    """

    value: float
    bound: Bound
    kind: Kind
    source: Source
    standing: Standing
    high: float | None = None
    counted: tuple[str, str] = ("", "")
