"""How long from a cause to its effect, through stages that each pass on the newest they have."""

from dataclasses import dataclass

from loomwright.terms.fact import Source
from loomwright.terms.limit import Standing

REACTION = Source(
    "A. Davare et al., Period optimization for hard real-time distributed automotive systems, DAC 2007",
    "sum of period and response of every stage",
)
REACTION_STANDING = Standing.SECONDARY
"""Read in public code that compares such bounds."""
AGE = Source(
    "M. Duerr et al., End-to-end timing analysis of sporadic cause-effect chains in distributed systems (2019)",
    "data age: response of the last stage and, of each before it, period and response",
)
AGE_STANDING = Standing.SECONDARY


@dataclass(frozen=True, slots=True)
class Stage:
    """A task or a message: how long until it next looks (0 where it follows at once), and how long it takes then, in s."""

    period_s: float
    response_s: float

    @property
    def whole_s(self) -> float:
        """The most that it adds."""
        return self.period_s + self.response_s


def reaction_s(stages: tuple[Stage, ...]) -> float:
    """The longest time from a change at the input of the first stage until the last has acted on it.

    The change just misses a look of each stage in turn. Every hop here crosses between clocks that know nothing of each
    other, and there Duerr's bound is the same sum. Source: ``REACTION``.
    """
    return sum(stage.whole_s for stage in stages)


def age_s(stages: tuple[Stage, ...]) -> float:
    """The age of the oldest input on which the last stage may act, at the moment it has acted. Source: ``AGE``.

    It is the reaction less the wait for the last stage to look: what it acts on has been looked at already.
    """
    return reaction_s(stages) - (stages[-1].period_s if stages else 0.0)
