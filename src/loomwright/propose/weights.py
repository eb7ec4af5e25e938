"""What the planner weighs against what."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Weights:
    """The score of a plan in metres: trunk, plus ``branch`` times the branches, plus ``terminator_m`` a plug-in one.

    A port left without a line counts as ``unplaced`` broken rules. Broken rules go before the score. Own choice.
    """

    branch: float = 2.0
    terminator_m: float = 0.3
    unplaced: int = 1000


TWICE = 2.0
"""From this weight of branches on, running a trunk out and back costs no more than a branch."""

TIE = 2e-6
"""Weight of a metre of cable among plans of equal score, so that the one with less cable is taken.

Scores are counted in whole millimetres of run; all cable of a vehicle times this stays below one of them.
"""
