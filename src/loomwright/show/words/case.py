"""A reading ready to be worded."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from loomwright.show.quantity import text as quantity
from loomwright.terms.finding import Verdict
from loomwright.terms.quantity import Kind


@dataclass(frozen=True, slots=True)
class Case:
    """A reading ready to be worded: its figures as text, and what the rule added."""

    value: str
    limit: str
    good: bool
    verdict: Verdict
    number: float
    because: Mapping[str, Any]
    rule_set: str

    def of(self, name: str, otherwise: str = "something") -> str:
        """A name or list of names the rule gave."""
        found = self.because.get(name)
        if isinstance(found, (tuple, list, frozenset)):
            return ", ".join(str(item) for item in found) or otherwise
        return otherwise if found is None or found == "" else str(found)

    def amount(self, name: str, kind: Kind) -> str:
        """A figure the rule gave, with its unit."""
        found = self.because.get(name)
        return quantity(float(found), kind) if isinstance(found, (int, float)) else "?"
