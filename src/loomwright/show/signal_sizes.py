"""How much of the time there is a bit needs, in words of the workshop: a share, and how good that is."""

import math
from dataclasses import dataclass

from loomwright.show.quantity import bare, number
from loomwright.solve.signal import LineSignal
from loomwright.terms.quantity import Kind

COMFORTABLE = 2.0 / 3.0
"""Up to this share of the time there is, a bit is in time with comfort; a habit of this program, no standard's limit."""
SHARES = "Comfortable: at most two thirds of the time there is are needed. Close: more than that. Too late: all of it is not enough."


@dataclass(frozen=True, slots=True)
class Size:
    """What a bit needs of what there is. ``share`` is infinite where it never settles or there is no time at all."""

    needs_s: float
    there_s: float

    @property
    def share(self) -> float:
        """1.0 where it needs all there is."""
        return self.needs_s / self.there_s if self.there_s > 0.0 else math.inf

    @property
    def word(self) -> str:
        """Comfortable, close or too late."""
        if self.share <= COMFORTABLE:
            return "comfortable"
        return "close" if self.share <= 1.0 else "too late"

    @property
    def percent(self) -> str:
        """The share in percent; empty where it has no figure."""
        return f"{number(100.0 * self.share, 0)} %" if math.isfinite(self.share) else ""

    @property
    def text(self) -> str:
        """``needs 380 of the 3245 ns there are (12 %)``."""
        if math.isinf(self.needs_s):
            return "is never sure before the bit ends"
        needs = bare(self.needs_s, Kind.TIME, "ns")
        if self.there_s <= 0.0:
            return f"needs {needs} ns, and the transceivers leave none"
        return f"needs {needs} of the {bare(self.there_s, Kind.TIME, 'ns')} ns there are ({self.percent})"


def there_s(signal: LineSignal) -> float:
    """Time from the start of a sender's edge until a receiver must be sure: the transceivers take the rest."""
    return signal.sample_s - signal.electronics_s
