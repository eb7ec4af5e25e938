"""Which facts does an answer lean on: which of them are unknown, which only assumed?"""

from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Fact, Unknown, bounds_of

Three = tuple[float, float, float]


class Facts:
    """Reads numeric facts, remembering which were unknown (``blocked``) and which assumed."""

    def __init__(self) -> None:
        self.blocked: list[Path] = []
        self.assumed: list[Path] = []

    def bounds(self, fact: Fact[float], path: Path) -> Three:
        """Low, typical and high; a stand-in of ones for an unknown fact, whose answer is blocked then."""
        if isinstance(fact, Unknown):
            self.blocked.append(path)
            return (1.0, 1.0, 1.0)
        if isinstance(fact, Assumed):
            self.assumed.append(path)
        return bounds_of(fact)
