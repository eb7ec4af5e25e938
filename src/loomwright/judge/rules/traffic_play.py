"""Whether a line, played frame by frame, keeps below the bounds that were computed for it."""

import math
from collections.abc import Iterator

from loomwright.judge.rule import Rule
from loomwright.solve.simulated import LinePlay
from loomwright.terms.fact import Source
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

COMPUTED = Source("arithmetic", "what is computed as the worst is never exceeded")


def play_in_bounds(play: LinePlay) -> Iterator[Reading]:
    """The latest arrival of each message in a play against its bound, clocks and whole ticks allowed for."""
    for seen in play.seen:
        if math.isinf(seen.bound_s):
            continue
        because = (
            ("message", seen.stream.name),
            ("line", play.line),
            ("state", play.state),
            ("count", seen.count),
            ("seconds", play.seconds),
        )
        limit = Limit(seen.most_s, Bound.AT_MOST, Kind.TIME, COMPUTED, Standing.COMPUTED)
        yield Reading(seen.stream.path, seen.worst_s, limit, because, line=play.line)


PLAY_RULES = (Rule("play-in-bounds", "What is played stays below the bounds", play_in_bounds, tight_share=0.0),)
