"""Findings and wishes to changes, judged again before they are offered."""

from loomwright.propose.arrange import arrange
from loomwright.propose.arrangement import Arrangement
from loomwright.propose.limits import LineLimits, limits_for
from loomwright.propose.weights import Weights

__all__ = ["Arrangement", "LineLimits", "Weights", "arrange", "limits_for"]
