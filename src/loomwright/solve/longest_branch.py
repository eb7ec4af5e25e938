"""How long may the branch at each station be before a bit comes too late?"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from loomwright.engines.threads import in_order
from loomwright.engines.wave_network import fitting_step
from loomwright.engines.waves import STEP_S, settling
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.signal import THRESHOLDS
from loomwright.solve.signal_parts import SignalParts, signal_parts, typical_circuit
from loomwright.solve.topology import LineTopology, Piece
from loomwright.terms.answer import Answer, Blocked, Solved

TRIED_M = (0.5, 1.0, 2.0, 4.0, 8.0, 16.0)
"""Lengths tried in turn; the last is the longest that is looked at."""
NEAR_M = 0.1
"""The bisection ends when it knows the length this well."""
SHORTER = (0.75, 0.5, 0.25)
"""Shares of a length that are looked at before it is called a limit."""
BEYOND = 2
"""So many of the next lengths of ``TRIED_M`` are looked at beyond a limit."""


@dataclass(frozen=True, slots=True)
class LongestBranch:
    """A station's branch in metres: now, and the longest that still holds, all else as it is.

    ``longest_m`` is ``None`` where the line holds neither as it is nor with no branch at all there, and ``TRIED_M[-1]``
    where even that holds. ``late`` is the port that is late first just beyond it. Reflections come and go with length:
    ``gap_m`` is a shorter length that was looked at and does not hold, ``again_m`` a longer one (or, without a longest,
    any) that holds again.
    """

    stop: int
    port: str
    now_m: float
    longest_m: float | None
    late: str
    gap_m: float | None = None
    again_m: float | None = None


def longest_branches(
    line: Line,
    components: Table[Component],
    cable: Cable,
    topology: LineTopology,
    *,
    progress: Callable[[int, int], bool] | None = None,
) -> Answer[tuple[LongestBranch, ...]]:
    """Lengthen each branch in turn until some receiver, at typical values, is sure only after its sample point.

    The lengths of ``TRIED_M`` are walked until one fails, then the last step is halved until it is known to
    ``NEAR_M``. Then some shorter and longer ones are looked at, to see whether it is a limit at all; between those that
    were looked at a length might fail unseen. Blocks and stops as ``line_signal`` does.
    """
    parts = signal_parts(line, components, cable, topology)
    if isinstance(parts, Blocked):
        return parts
    branches = [piece for piece in topology.pieces if piece.kind == "branch"]
    own = {stop.index: stop for stop in parts.stops}
    jobs = [partial(_branch, parts, own[piece.stop].port, piece) for piece in branches if piece.stop in own]
    found = in_order(jobs, progress)
    return Blocked(()) if found is None else Solved(tuple(found), parts.assumed)


def _branch(parts: SignalParts, port: str, piece: Piece) -> LongestBranch:
    now_m, stop = piece.length_m, piece.stop
    longest_m, late = _longest(parts, stop, now_m)

    def holds(length_m: float) -> bool:
        return not late_port(with_branch(parts, stop, length_m))

    if longest_m is None:
        again_m = next((m for m in (*(share * now_m for share in SHORTER), *TRIED_M) if holds(m)), None)
        return LongestBranch(stop, port, now_m, None, late, None, again_m)
    shorter = (share * longest_m for share in SHORTER if share * longest_m >= NEAR_M)
    beyond = [length_m for length_m in TRIED_M if length_m > longest_m + NEAR_M][:BEYOND]
    return LongestBranch(
        stop,
        port,
        now_m,
        longest_m,
        late,
        next((length_m for length_m in shorter if not holds(length_m)), None),
        next((length_m for length_m in beyond if holds(length_m)), None),
    )


def _longest(parts: SignalParts, stop: int, now_m: float) -> tuple[float | None, str]:
    good, late = (now_m, "") if not late_port(parts) else (0.0, late_port(with_branch(parts, stop, 0.0)))
    if late:
        return None, late
    bad = now_m if good < now_m else math.inf
    late = late_port(parts) if good < now_m else ""
    for length_m in TRIED_M:
        if good < length_m < bad:
            late = late_port(with_branch(parts, stop, length_m)) or late
            if late:
                bad = length_m
                break
            good = length_m
    while bad - good > NEAR_M and math.isfinite(bad):
        middle = (good + bad) / 2.0
        told = late_port(with_branch(parts, stop, middle))
        good, bad, late = (good, middle, told) if told else (middle, bad, late)
    return good, late


def with_branch(parts: SignalParts, stop: int, length_m: float) -> SignalParts:
    """The line with another length of one branch."""
    wired = parts.topology
    pieces = tuple(
        replace(piece, length_m=length_m) if piece.kind == "branch" and piece.stop == stop else piece
        for piece in wired.pieces
    )
    stops = tuple(replace(own, branch_m=length_m) if own.index == stop else own for own in wired.stops)
    delays = [piece.length_m * parts.delay_s_per_m[1] for piece in pieces if piece.length_m > 0.0]
    step_s = fitting_step(delays, STEP_S)
    pattern = replace(parts.pattern, start_s=10 * step_s)
    return replace(parts, topology=replace(wired, pieces=pieces, stops=stops), step_s=step_s, pattern=pattern)


def late_port(parts: SignalParts) -> str:
    """The receiver that is sure last at typical values, if its sample point comes first; else nothing."""
    network, drivers = typical_circuit(parts, parts.tips)
    seen = settling(network, drivers, parts.pattern, parts.step_s, parts.tips, THRESHOLDS)
    settle_s = seen.settle_s[0].max(axis=1)
    for place in range(len(parts.stops)):
        settle_s[place, place] = 0.0
    if settle_s.max() <= parts.sample_s - parts.electronics_s:
        return ""
    return parts.stops[int(settle_s.max(axis=0).argmax())].port
