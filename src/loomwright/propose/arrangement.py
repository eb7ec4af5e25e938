"""A plan of all lines, and how good it is known to be."""

from dataclasses import dataclass

from loomwright.propose.limits import LineLimits
from loomwright.propose.task import Unplaced
from loomwright.propose.weights import Weights
from loomwright.terms.change import Change, Path

PROVED = "proved optimal"
GAP = "gap"
NO_PLAN = "no plan found in the time given"
NOTHING = "nothing to place"
ASKED, UNFINISHED = "asked", "unfinished"


@dataclass(frozen=True, slots=True)
class BrokenRule:
    """A rule that the plan breaks: which one, on which line, by which port or lock; value and limit in SI where given."""

    rule: str
    line: str = ""
    port: str = ""
    lock: str = ""
    value: float | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class LineLengths:
    """Lengths of one planned line in metres, the limits it was planned under, and its plug-in terminators."""

    line: str
    cable_m: float
    trunk_m: float
    branches_m: float
    longest_branch_m: float
    terminators: int
    limits: LineLimits


@dataclass(frozen=True, slots=True)
class LockPrice:
    """What dropping a lock would save: cable and score in metres, broken rules in number.

    ``None`` where no plan without it was found in time. ``proved`` when both plans are proved optimal; else the
    figures compare the best plans found.
    """

    lock: str
    cable_m: float | None
    score_m: float | None
    rules: int | None
    proved: bool


@dataclass(frozen=True, slots=True)
class Difference:
    """What another plan does otherwise, ``here`` and ``there``.

    ``what`` is "line" or "joint" of a port, or "trunk" of a line: the places that its trunk passes.
    """

    what: str
    name: str
    here: tuple[str, ...]
    there: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SecondBest:
    """The best plan that differs in a line, a joint or the course of a trunk, breaking no more rules.

    ``status`` is "proved optimal", "gap", "there is none", or that none was found in time (``change`` is ``None``
    then). ``bound_m``: no such plan scores less.
    """

    status: str
    change: Change | None = None
    cable_m: float | None = None
    score_m: float | None = None
    bound_m: float | None = None
    differs: tuple[Difference, ...] = ()


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A plan of all lines. Lengths in metres. ``change`` is empty where there is no plan.

    ``score_m`` is the figure that was minimised with ``weights``, ``bound_m`` what no plan with as few broken rules
    can go below (runs count in whole millimetres), ``gap`` the share of the score between them. ``fewest_broken`` is what no plan
    can go below in broken rules, counted as ``broken_count`` is: a port left without a line counts
    ``weights.unplaced``. ``left_aside`` are open facts that the plan does without: runs of unknown length are not used,
    unknown leads count nothing, unknown terminations count as none. ``dropped`` are measured lengths of the present
    stations that the planned ones do not carry over. ``timing`` says what was asked of response times: "" (the vehicle says
    nothing), ``ASKED``, or ``UNFINISHED`` (the time or the rounds were over before a plan came out in which all that is late
    was counted); ``times_wait_for`` are facts without which some lines were not asked.
    """

    status: str
    change: Change
    lines: tuple[LineLengths, ...]
    cable_m: float | None
    score_m: float | None
    bound_m: float | None
    gap: float | None
    broken: tuple[BrokenRule, ...]
    broken_count: int
    fewest_broken: int
    unplaced: tuple[Unplaced, ...]
    weights: Weights
    seconds: float
    cancelled: bool = False
    left_aside: tuple[Path, ...] = ()
    assumed: tuple[Path, ...] = ()
    dropped: tuple[Path, ...] = ()
    lock_prices: tuple[LockPrice, ...] = ()
    second_best: SecondBest | None = None
    timing: str = ""
    times_wait_for: tuple[Path, ...] = ()
