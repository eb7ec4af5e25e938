"""What one node can be set to, out of its clock and registers or its stated sample points, or why nothing will do."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from loomwright.laws.bit_timing import (
    Ranges,
    Setting,
    nearest_bit_rate,
    oscillator_tolerances,
    settings,
)
from loomwright.laws.data_phase import fd_oscillator_tolerances, most_data_tolerance

SPREAD = 0.01
"""Sample points of two nodes may differ by this share of the bit: common practice, about what makers round away."""
EXACT = 1e-9


@dataclass(frozen=True, slots=True)
class Controller:
    """A node whose clock and registers are known. ``tolerance`` is its oscillator's, a share either way.

    ``apart`` is what its nominal registers hold where the two phases have prescalers of their own; ``None``: as much.
    """

    name: str
    clock_hz: float
    nominal: Ranges
    data: Ranges | None = None
    tolerance: float = 0.0
    apart: Ranges | None = None


@dataclass(frozen=True, slots=True)
class Stated:
    """A node of which a manual tells sample points alone, as shares of the bit: enough to check, not to set.

    ``None`` where the manual does not speak of that phase.
    """

    name: str
    sample_point: float | None
    tolerance: float = 0.0
    data_sample_point: float | None = None


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the line asks of every node.

    ``round_trip_s`` is the longest propagation there and back, electronics included; sample points must lie between
    ``low`` and ``high`` and come near ``aim``. The data phase is left out where ``data_bit_rate_bit_per_s`` is ``None``;
    its prescaler is ``data_prescaler`` at most wherever that can be.
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
    data_prescaler: int = 32


class Obstacle(StrEnum):
    """Why a node, or two of them, cannot be set as wanted."""

    BIT_RATE = "the clock cannot be divided to the bit rate"
    SAMPLE_POINT = "no sample point in the range"
    PROPAGATION = "the bit is too short for the way there and back"
    OSCILLATOR = "the oscillators are too far apart"
    DISAGREE = "sample points cannot be brought together"
    DATA_PHASE = "no setting for the data phase"
    DATA_SAMPLE_POINT = "no sample point of the data phase in the range"
    DATA_OSCILLATOR = "the oscillators are too far apart for the data phase"
    DATA_DISAGREE = "sample points of the data phase cannot be brought together"
    SLOWER = "the data phase is slower than the rest of the frame"


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
    propagation segment less the round trip. For a stated node both are the most that its sample point can mean. A
    sample point is ``None`` where nobody told it.
    """

    name: str
    setting: Setting | None
    sample_point: float | None
    tolerance: float
    slack_s: float
    data: Setting | None = None
    data_sample_point: float | None = None

    @property
    def equal_quanta(self) -> bool:
        """Whether both phases count in the same quanta; a stated node is as it is."""
        return self.setting is None or self.data is None or self.setting.prescaler == self.data.prescaler


def choices(node: Controller | Stated, wanted: Wanted, line_tolerance: float) -> list[NodeTiming] | Reason:
    """Every part that will do, or the first hurdle that none of them takes. ``line_tolerance``: the worst oscillator's."""
    if isinstance(node, Controller):
        return _of_controller(node, wanted, line_tolerance)
    return _of_stated(node, wanted, line_tolerance)


def _of_controller(node: Controller, wanted: Wanted, line_tolerance: float) -> list[NodeTiming] | Reason:
    rate = wanted.bit_rate_bit_per_s
    possible = list(settings(node.clock_hz, rate, node.nominal))
    if not possible:
        best = nearest_bit_rate(node.clock_hz, rate, node.nominal)
        return Reason(Obstacle.BIT_RATE, (node.name,), best, rate)
    inside = [one for one in possible if wanted.low - EXACT <= _point(one) <= wanted.high + EXACT]
    if not inside:
        return _off(Obstacle.SAMPLE_POINT, node.name, map(_point, possible), wanted.low, wanted.high)
    fitting = [setting for one in inside if (setting := _split(node, wanted, *one)) is not None]
    if not fitting:
        most_s = max((first - 1) * prescaler / node.clock_hz for prescaler, first, _ in inside)
        return Reason(Obstacle.PROPAGATION, (node.name,), most_s, wanted.round_trip_s)
    timings = [_timing(node, wanted, setting, None) for setting in fitting]
    steady = [timing for timing in timings if timing.tolerance >= line_tolerance - 1e-12]
    if not steady:
        return Reason(Obstacle.OSCILLATOR, (node.name,), max(one.tolerance for one in timings), line_tolerance)
    if wanted.data_bit_rate_bit_per_s is None:
        return steady
    return _with_data(node, wanted, steady, wanted.data_bit_rate_bit_per_s, line_tolerance)


def _point(setting: tuple[int, int, int]) -> float:
    _, segment_1, segment_2 = setting
    return (1 + segment_1) / (1 + segment_1 + segment_2)


def _off(obstacle: Obstacle, name: str, points: Iterable[float], low: float, high: float) -> Reason:
    """None of the points lies in the band: the nearest of them, and the side that it misses."""
    nearest = min(points, key=lambda point: max(low - point, point - high))
    return Reason(obstacle, (name,), nearest, low if nearest < low else high)


def _split(node: Controller, wanted: Wanted, prescaler: int, segment_1: int, segment_2: int) -> Setting | None:
    """Give propagation what the round trip needs and phase segment 1 the rest; ``None`` if no rest is left."""
    quanta = wanted.round_trip_s * node.clock_hz / prescaler
    propagation = max(1, int(-(-(quanta - EXACT) // 1)))
    phase_1 = segment_1 - propagation
    if phase_1 < 1:
        return None
    return Setting(prescaler, propagation, phase_1, segment_2, min(node.nominal.jump_most, phase_1, segment_2))


def _timing(node: Controller, wanted: Wanted, setting: Setting, data: Setting | None) -> NodeTiming:
    slack_s = setting.propagation * setting.quantum_s(node.clock_hz) - wanted.round_trip_s
    if data is None:
        return NodeTiming(node.name, setting, setting.sample_point, min(oscillator_tolerances(setting)), slack_s)
    tolerance = min(fd_oscillator_tolerances(setting, data))
    return NodeTiming(node.name, setting, setting.sample_point, tolerance, slack_s, data, data.sample_point)


def _with_data(
    node: Controller, wanted: Wanted, nominal: list[NodeTiming], rate: float, line_tolerance: float
) -> list[NodeTiming] | Reason:
    """Every nominal part that will do together with every data phase that will."""
    possible = [] if node.data is None else [_data(node.data, *one) for one in settings(node.clock_hz, rate, node.data)]
    if not possible:
        best = nearest_bit_rate(node.clock_hz, rate, node.data or node.nominal)
        return Reason(Obstacle.DATA_PHASE, (node.name,), best, rate)
    inside = [one for one in possible if wanted.data_low - EXACT <= one.sample_point <= wanted.data_high + EXACT]
    if not inside:
        points = (one.sample_point for one in possible)
        return _off(Obstacle.DATA_SAMPLE_POINT, node.name, points, wanted.data_low, wanted.data_high)
    timings = [_timing(node, wanted, setting, data) for setting, data in _pairs(node, nominal, inside)]
    steady = [timing for timing in timings if timing.tolerance >= line_tolerance - 1e-12]
    if not steady:
        best = max((timing.tolerance for timing in timings), default=0.0)
        return Reason(Obstacle.DATA_OSCILLATOR, (node.name,), best, line_tolerance)
    return steady


def _data(ranges: Ranges, prescaler: int, segment_1: int, segment_2: int) -> Setting:
    """The largest jump there is: nobody answers within a bit of the data phase, so propagation needs nothing."""
    phase_1 = min(segment_1, segment_2)
    return Setting(prescaler, segment_1 - phase_1, phase_1, segment_2, min(ranges.jump_most, phase_1))


def _pairs(node: Controller, nominal: list[NodeTiming], data: list[Setting]) -> Iterator[tuple[Setting, Setting]]:
    for timing in nominal:
        setting = timing.setting
        assert setting is not None
        for one in data:
            if one.prescaler == setting.prescaler or node.apart is None or node.apart.hold(setting):
                yield setting, one


def _of_stated(node: Stated, wanted: Wanted, line_tolerance: float) -> list[NodeTiming] | Reason:
    """Check what sample points alone can show: necessary conditions, at the most that they can mean."""
    part = NodeTiming(node.name, None, node.sample_point, 1.0, 0.0)
    if node.sample_point is not None:
        found = _stated_nominal(node.name, node.sample_point, wanted, line_tolerance)
        if isinstance(found, Reason):
            return found
        part = found
    if wanted.data_bit_rate_bit_per_s is None or node.data_sample_point is None:
        return [part]
    point, fast = node.data_sample_point, wanted.data_bit_rate_bit_per_s
    if not wanted.data_low - EXACT <= point <= wanted.data_high + EXACT:
        return _off(Obstacle.DATA_SAMPLE_POINT, node.name, (point,), wanted.data_low, wanted.data_high)
    most = most_data_tolerance(1.0 / wanted.bit_rate_bit_per_s, 1.0 / fast, node.sample_point, point)
    if line_tolerance > most + 1e-12:
        return Reason(Obstacle.DATA_OSCILLATOR, (node.name,), most, line_tolerance)
    return [replace(part, tolerance=min(part.tolerance, most), data_sample_point=point)]


def _stated_nominal(name: str, point: float, wanted: Wanted, line_tolerance: float) -> NodeTiming | Reason:
    if not wanted.low - EXACT <= point <= wanted.high + EXACT:
        return _off(Obstacle.SAMPLE_POINT, name, (point,), wanted.low, wanted.high)
    there_s = point / wanted.bit_rate_bit_per_s
    slack_s = there_s - wanted.round_trip_s
    if slack_s < -1e-15:
        return Reason(Obstacle.PROPAGATION, (name,), there_s, wanted.round_trip_s)
    most = (1.0 - point) / (2.0 * (12.0 + point))
    if line_tolerance > most + 1e-12:
        return Reason(Obstacle.OSCILLATOR, (name,), most, line_tolerance)
    return NodeTiming(name, None, point, most, slack_s)
