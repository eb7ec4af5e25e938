"""A formula in words."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Formula:
    """How a figure is worked out, in words; ``left_out`` is what it does not take into account."""

    words: str
    left_out: tuple[str, ...] = ()
