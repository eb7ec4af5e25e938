"""One bit timing for all nodes of a line, out of what each controller's clock and registers allow, or why there is none."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from loomwright.laws.node_timing import EXACT, Controller, NodeTiming, Obstacle, Reason, Stated, Wanted, choices

Choices = list[list[NodeTiming]]


@dataclass(frozen=True, slots=True)
class CommonTiming:
    """The timing that suits all: the sample points of the nodes nearest to the aims, and every node's part, in order.

    ``None`` for a phase of which no node tells anything, or that the line does not have.
    """

    sample_point: float | None
    nodes: tuple[NodeTiming, ...]
    data_sample_point: float | None = None


def common_timing(nodes: Sequence[Controller | Stated], wanted: Wanted) -> CommonTiming | tuple[Reason, ...]:
    """Choose one sample point for each phase and every node's setting, or tell every reason why that cannot be.

    All exact settings of every controller are tried; those with enough propagation segment and oscillator tolerance
    remain. Sample points are brought within the spread of each other, in the data phase too. Of what remains, the
    fewest nodes with too coarse a data phase come first, then the fewest with unlike quanta in their two phases, then
    the points nearest to the aims. Each node takes the setting with the largest oscillator tolerance there. A refusal
    is a proof: nothing else fits the registers.
    """
    line_tolerance = max((node.tolerance for node in nodes), default=0.0)
    found = [choices(node, wanted, line_tolerance) for node in nodes]
    reasons = tuple(one for one in found if isinstance(one, Reason))
    if reasons or not found:
        return reasons
    able = [one for one in found if not isinstance(one, Reason)]
    best: tuple[tuple[int, int, float], CommonTiming] | None = None
    for low, kept in _data_windows(able, wanted):
        common = _together(kept, wanted, low)
        if common is None:
            continue
        coarse = sum(not _fine(node, wanted) for node in common.nodes)
        rank = coarse, sum(not node.equal_quanta for node in common.nodes), round(_far(common, wanted), 9)
        if best is None or rank < best[0]:
            best = rank, common
    return _disagreements(able, wanted) if best is None else best[1]


def _data_windows(able: Choices, wanted: Wanted) -> Iterator[tuple[float | None, Choices]]:
    """Every window of the data phase that all nodes have a point in, with what is left in it.

    A window begins at one of the points. It is offered thrice: with the best quanta that each node has there, with
    fine ones, with any. Without a data phase there is one window, and everything is left.
    """
    lows = {timing.data_sample_point for choice in able for timing in choice}
    for low in sorted(point for point in lows if point is not None):
        kept = [[one for one in choice if _within(one.data_sample_point, low, wanted.spread)] for choice in able]
        if all(kept):
            fine = [[one for one in choice if _fine(one, wanted)] or choice for choice in kept]
            yield low, [[one for one in choice if one.equal_quanta] or choice for choice in fine]
            yield low, fine
            yield low, kept
    if lows == {None}:
        yield None, able


def _fine(timing: NodeTiming, wanted: Wanted) -> bool:
    return timing.data is None or timing.data.prescaler <= wanted.data_prescaler


def _within(point: float | None, low: float, spread: float) -> bool:
    return point is None or low - EXACT <= point <= low + spread + EXACT


def _together(able: Choices, wanted: Wanted, data_low: float | None) -> CommonTiming | None:
    """Bring the nominal sample points into one window, as near to the aim as it goes; ``None`` where none holds all."""
    met = _met(able, wanted)
    told = [point for point in met if point is not None]
    if told and max(told) - min(told) > wanted.spread + EXACT:
        return None
    target = None if data_low is None else min(max(wanted.data_aim, data_low), data_low + wanted.spread)
    picked = tuple(
        max(
            (one for one in choice if point is None or abs((one.sample_point or 0.0) - point) <= EXACT),
            key=lambda one: (
                _fine(one, wanted),
                one.equal_quanta,
                -_apart(one.data_sample_point, target),
                one.tolerance,
            ),
        )
        for choice, point in zip(able, met, strict=True)
    )
    return CommonTiming(
        min(told, key=lambda point: abs(point - wanted.aim), default=None),
        picked,
        min(
            (one.data_sample_point for one in picked if one.data_sample_point is not None),
            key=lambda point: abs(point - wanted.data_aim),
            default=None,
        ),
    )


def _apart(point: float | None, target: float | None) -> float:
    return 0.0 if point is None or target is None else round(abs(point - target), 9)


def _far(common: CommonTiming, wanted: Wanted) -> float:
    """How far the farthest node of each phase is from its aim, added up, as shares of a bit."""
    nominal = max((_apart(node.sample_point, wanted.aim) for node in common.nodes), default=0.0)
    return nominal + max((_apart(node.data_sample_point, wanted.data_aim) for node in common.nodes), default=0.0)


def _met(able: Choices, wanted: Wanted) -> list[float | None]:
    """Each node's nominal point in the best window: least beyond the spread, then together and near the aim."""
    own = [sorted({one.sample_point for one in choice if one.sample_point is not None}) for choice in able]
    best: tuple[tuple[float, float], list[float | None]] | None = None
    for low in sorted({point for points in own for point in points}):
        target = min(max(wanted.aim, low), low + wanted.spread)
        met = [_nearest(points, target, low, low + wanted.spread) if points else None for points in own]
        told = [point for point in met if point is not None]
        apart = max(told) - min(told)
        far = max(abs(point - wanted.aim) for point in told)
        rank = (round(max(0.0, apart - wanted.spread), 9), round(apart + far, 9))
        if best is None or rank < best[0]:
            best = rank, met
    return [None] * len(own) if best is None else best[1]


def _nearest(points: list[float], target: float, low: float, high: float) -> float:
    """The point nearest to the target, one between low and high if there is any."""
    within = points[bisect_left(points, low - EXACT) : bisect_right(points, high + EXACT)] or points
    place = bisect_left(within, target)
    return min(within[max(0, place - 1) : place + 1], key=lambda point: abs(point - target))


def _disagreements(able: Choices, wanted: Wanted) -> tuple[Reason, ...]:
    """Which nodes are farthest apart in the phase that cannot be brought together; both where it is the two at once."""
    nominal = [(choice[0].name, point) for choice, point in zip(able, _met(able, wanted), strict=True)]
    data = [
        (choice[0].name, _nearest(points, wanted.data_aim, wanted.data_low, wanted.data_high) if points else None)
        for choice in able
        for points in [sorted({one.data_sample_point for one in choice if one.data_sample_point is not None})]
    ]
    pairs = ((Obstacle.DISAGREE, nominal), (Obstacle.DATA_DISAGREE, data))
    found = tuple(reason for obstacle, points in pairs if (reason := _disagreement(obstacle, points, wanted.spread)))
    return found or (Reason(Obstacle.DATA_DISAGREE, tuple(name for name, _ in data), 0.0, wanted.spread),)


def _disagreement(obstacle: Obstacle, points: list[tuple[str, float | None]], spread: float) -> Reason | None:
    told = [(name, point) for name, point in points if point is not None]
    if not told:
        return None
    low, high = min(told, key=lambda pair: pair[1]), max(told, key=lambda pair: pair[1])
    apart = high[1] - low[1]
    return Reason(obstacle, (low[0], high[0]), apart, spread) if apart > spread + EXACT else None
