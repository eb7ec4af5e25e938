"""One bit timing for all nodes of a line, out of what each controller's clock and registers allow, or why there is none."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from loomwright.laws.bit_timing import (
    Ranges,
    Setting,
    fd_oscillator_tolerances,
    nearest_bit_rate,
    oscillator_tolerances,
    settings,
)

SPREAD = 0.01
"""Sample points of two nodes may differ by this share of the bit: common practice, about what makers round away."""
EXACT = 1e-9


@dataclass(frozen=True, slots=True)
class Controller:
    """A node whose clock and registers are known. ``tolerance`` is its oscillator's, a share either way."""

    name: str
    clock_hz: float
    nominal: Ranges
    data: Ranges | None = None
    tolerance: float = 0.0


@dataclass(frozen=True, slots=True)
class Stated:
    """A node of which a manual tells the sample point alone, as a share of the bit: enough to check, not to set."""

    name: str
    sample_point: float
    tolerance: float = 0.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the line asks of every node.

    ``round_trip_s`` is the longest propagation there and back, electronics included; sample points must lie between
    ``low`` and ``high`` and come near ``aim``. The data phase is left out where ``data_bit_rate_bit_per_s`` is ``None``.
    """

    bit_rate_bit_per_s: float
    round_trip_s: float
    low: float
    high: float
    aim: float
    spread: float = SPREAD
    data_bit_rate_bit_per_s: float | None = None
    data_low: float = 0.6
    data_high: float = 0.9
    data_aim: float = 0.75


class Obstacle(StrEnum):
    """Why a node, or two of them, cannot be set as wanted."""

    BIT_RATE = "the clock cannot be divided to the bit rate"
    SAMPLE_POINT = "no sample point in the range"
    PROPAGATION = "the bit is too short for the way there and back"
    OSCILLATOR = "the oscillators are too far apart"
    DATA_PHASE = "no setting for the data phase"
    DISAGREE = "sample points cannot be brought together"


@dataclass(frozen=True, slots=True)
class Reason:
    """An obstacle at a node (or between two): what is the best it can do, and what was needed, in SI."""

    obstacle: Obstacle
    nodes: tuple[str, ...]
    best: float
    needed: float


@dataclass(frozen=True, slots=True)
class NodeTiming:
    """One node's part: its setting (``None``: stated, leave as it is), sample point, and what is left over.

    ``tolerance`` is the deviation that every oscillator of the line may have by this node's setting, ``slack_s`` the
    propagation segment less the round trip. For a stated node both are the most that its sample point can mean.
    """

    name: str
    setting: Setting | None
    sample_point: float
    tolerance: float
    slack_s: float
    data: Setting | None = None


@dataclass(frozen=True, slots=True)
class CommonTiming:
    """The timing that suits all: the sample point of the node nearest to the aim, and every node's part, in order."""

    sample_point: float
    nodes: tuple[NodeTiming, ...]


def common_timing(nodes: Sequence[Controller | Stated], wanted: Wanted) -> CommonTiming | tuple[Reason, ...]:
    """Choose one sample point and every node's setting, or tell every reason why that cannot be.

    All exact settings of every controller are tried; those with enough propagation segment and oscillator tolerance
    remain. The sample points are brought within the spread of each other and as near to the aim as that allows; each
    node then takes the setting with the largest oscillator tolerance there. The data phase follows the nominal choice node by
    node (equal prescaler first), so for it a refusal is not a proof.
    """
    line_tolerance = max((node.tolerance for node in nodes), default=0.0)
    choices: list[list[NodeTiming]] = []
    reasons: list[Reason] = []
    for node in nodes:
        found = (
            _of_controller(node, wanted, line_tolerance)
            if isinstance(node, Controller)
            else _of_stated(node, wanted, line_tolerance)
        )
        if isinstance(found, Reason):
            reasons.append(found)
        else:
            choices.append(found)
    if reasons or not choices:
        return tuple(reasons)
    return _together(choices, wanted)


def _together(choices: list[list[NodeTiming]], wanted: Wanted) -> CommonTiming | tuple[Reason, ...]:
    """Bring the sample points into one window of the allowed spread, as near to the aim as it goes."""
    own = [sorted({timing.sample_point for timing in choice}) for choice in choices]
    best: tuple[tuple[float, float], list[float]] | None = None
    for low in sorted({point for points in own for point in points}):
        target = min(max(wanted.aim, low), low + wanted.spread)
        met = [_nearest(points, target, low, low + wanted.spread) for points in own]
        apart = max(met) - min(met)
        far = max(abs(point - wanted.aim) for point in met)
        rank = (round(max(0.0, apart - wanted.spread), 9), round(apart + far, 9))
        if best is None or rank < best[0]:
            best = rank, met
    assert best is not None
    picked = [
        max(
            (timing for timing in choice if abs(timing.sample_point - point) <= EXACT),
            key=lambda timing: timing.tolerance,
        )
        for choice, point in zip(choices, best[1], strict=True)
    ]
    nominal = _disagreement([(timing.name, timing.sample_point) for timing in picked], wanted.spread)
    data = _disagreement(
        [(timing.name, timing.data.sample_point) for timing in picked if timing.data is not None], wanted.spread
    )
    if nominal or data:
        return tuple(reason for reason in (nominal, data) if reason is not None)
    return CommonTiming(min(best[1], key=lambda point: abs(point - wanted.aim)), tuple(picked))


def _nearest(points: list[float], target: float, low: float, high: float) -> float:
    """The point nearest to the target, one between low and high if there is any."""
    within = points[bisect_left(points, low - EXACT) : bisect_right(points, high + EXACT)] or points
    place = bisect_left(within, target)
    return min(within[max(0, place - 1) : place + 1], key=lambda point: abs(point - target))


def _disagreement(points: list[tuple[str, float]], spread: float) -> Reason | None:
    if not points:
        return None
    low, high = min(points, key=lambda pair: pair[1]), max(points, key=lambda pair: pair[1])
    apart = high[1] - low[1]
    return Reason(Obstacle.DISAGREE, (low[0], high[0]), apart, spread) if apart > spread + EXACT else None


def _of_controller(node: Controller, wanted: Wanted, line_tolerance: float) -> list[NodeTiming] | Reason:
    """Every setting that will do, or the first hurdle that none of them takes."""
    rate = wanted.bit_rate_bit_per_s
    possible = list(settings(node.clock_hz, rate, node.nominal))
    if not possible:
        best = nearest_bit_rate(node.clock_hz, rate, node.nominal)
        return Reason(Obstacle.BIT_RATE, (node.name,), best, rate)
    points = [((1 + first) / (1 + first + second), prescaler, first, second) for prescaler, first, second in possible]
    inside = [point for point in points if wanted.low - EXACT <= point[0] <= wanted.high + EXACT]
    if not inside:
        nearest = min((point[0] for point in points), key=lambda point: max(wanted.low - point, point - wanted.high))
        return Reason(Obstacle.SAMPLE_POINT, (node.name,), nearest, wanted.low if nearest < wanted.low else wanted.high)
    most_s = max((first - 1) * prescaler / node.clock_hz for _, prescaler, first, _ in inside)
    fitting = [
        setting
        for _, prescaler, first, second in inside
        if (setting := _split(node, wanted, prescaler, first, second)) is not None
    ]
    if not fitting:
        return Reason(Obstacle.PROPAGATION, (node.name,), most_s, wanted.round_trip_s)
    timings = [timing for setting in fitting if (timing := _timing(node, wanted, setting)) is not None]
    if not timings:
        assert wanted.data_bit_rate_bit_per_s is not None
        ranges = node.data or node.nominal
        best = nearest_bit_rate(node.clock_hz, wanted.data_bit_rate_bit_per_s, ranges)
        return Reason(Obstacle.DATA_PHASE, (node.name,), best, wanted.data_bit_rate_bit_per_s)
    steady = [timing for timing in timings if timing.tolerance >= line_tolerance - 1e-12]
    if not steady:
        best = max(timing.tolerance for timing in timings)
        return Reason(Obstacle.OSCILLATOR, (node.name,), best, line_tolerance)
    return steady


def _split(node: Controller, wanted: Wanted, prescaler: int, segment_1: int, segment_2: int) -> Setting | None:
    """Give propagation what the round trip needs and phase segment 1 the rest; ``None`` if no rest is left."""
    quanta = wanted.round_trip_s * node.clock_hz / prescaler
    propagation = max(1, int(-(-(quanta - EXACT) // 1)))
    phase_1 = segment_1 - propagation
    if phase_1 < 1:
        return None
    return Setting(prescaler, propagation, phase_1, segment_2, min(node.nominal.jump_most, phase_1, segment_2))


def _timing(node: Controller, wanted: Wanted, setting: Setting) -> NodeTiming | None:
    """The node's part with this setting; ``None`` where the data phase wanted cannot go with it."""
    slack_s = setting.propagation * setting.quantum_s(node.clock_hz) - wanted.round_trip_s
    if wanted.data_bit_rate_bit_per_s is None:
        tolerance = min(oscillator_tolerances(setting))
        return NodeTiming(node.name, setting, setting.sample_point, tolerance, slack_s)
    data = _data_setting(node, wanted, setting.prescaler)
    if data is None:
        return None
    tolerance = min(fd_oscillator_tolerances(setting, data))
    return NodeTiming(node.name, setting, setting.sample_point, tolerance, slack_s, data)


def _data_setting(node: Controller, wanted: Wanted, nominal_prescaler: int) -> Setting | None:
    """The data-phase setting nearest to its aim, with the nominal phase's prescaler if that can be."""
    if node.data is None or wanted.data_bit_rate_bit_per_s is None:
        return None
    made = []
    for prescaler, segment_1, segment_2 in settings(node.clock_hz, wanted.data_bit_rate_bit_per_s, node.data):
        phase_1 = min(segment_1, segment_2)
        jump = min(node.data.jump_most, phase_1, segment_2)
        setting = Setting(prescaler, segment_1 - phase_1, phase_1, segment_2, jump)
        if wanted.data_low - EXACT <= setting.sample_point <= wanted.data_high + EXACT:
            made.append(setting)
    return min(
        made,
        key=lambda one: (one.prescaler != nominal_prescaler, abs(one.sample_point - wanted.data_aim), one.prescaler),
        default=None,
    )


def _of_stated(node: Stated, wanted: Wanted, line_tolerance: float) -> list[NodeTiming] | Reason:
    """Check what a sample point alone can show: necessary conditions, at the most that it can mean."""
    point = node.sample_point
    if not wanted.low - EXACT <= point <= wanted.high + EXACT:
        return Reason(Obstacle.SAMPLE_POINT, (node.name,), point, wanted.low if point < wanted.low else wanted.high)
    slack_s = point / wanted.bit_rate_bit_per_s - wanted.round_trip_s
    if slack_s < -1e-15:
        return Reason(Obstacle.PROPAGATION, (node.name,), point / wanted.bit_rate_bit_per_s, wanted.round_trip_s)
    most = (1.0 - point) / (2.0 * (12.0 + point))
    if line_tolerance > most + 1e-12:
        return Reason(Obstacle.OSCILLATOR, (node.name,), most, line_tolerance)
    return [NodeTiming(node.name, None, point, most, slack_s)]
