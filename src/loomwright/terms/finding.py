"""What a rule measures, and what the judge makes of it."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from loomwright.terms.change import Change, Path
from loomwright.terms.limit import Limit


class Verdict(StrEnum):
    """From best to worst: ``HOLDS``, ``TIGHT``, ``UNKNOWN``, ``BROKEN``."""

    HOLDS = "holds"
    TIGHT = "tight"
    UNKNOWN = "unknown"
    BROKEN = "broken"


class Weight(StrEnum):
    """Whether a rule counts: the chosen rule set governs, the others are shown beside it as advice."""

    GOVERNS = "governs"
    ADVICE = "advice"


@dataclass(frozen=True, slots=True)
class Reading:
    """One measurement by one rule, before anybody compares.

    ``subject`` is what was measured, ``value`` the figure in SI (``None`` when ``blocked_by`` says why there is none),
    ``because`` the figures and names the wording needs, ``change`` the edit that would cure a broken reading. ``also`` is
    what it is about as much as its subject: the other messages of one identifier.
    """

    subject: Path
    value: float | None
    limit: Limit
    because: tuple[tuple[str, Any], ...] = ()
    change: Change | None = None
    blocked_by: tuple[Path, ...] = ()
    assumed: tuple[Path, ...] = ()
    weight: Weight = Weight.GOVERNS
    line: str = ""
    rule_set: str = ""
    also: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """A reading that was compared. What holds is kept too, with its margin: that table is the proof.

    ``margin`` is in the reading's own unit, positive when there is room left; ``None`` when nothing could be compared.
    ``accepted`` names the vehicle's deviation that answers for it; the verdict stays, but it no longer counts.
    """

    rule: str
    verdict: Verdict
    margin: float | None
    reading: Reading
    accepted: str = ""
