"""One walk along given edges, each as often as stated, from one end to the other."""

from collections.abc import Mapping


def walk_along(edges: Mapping[tuple[int, int], int], start: int, end: int) -> tuple[int, ...]:
    """Places in the order of the walk (Hierholzer). ``edges`` counts how often each pair of places is walked.

    The edges must hang together with the start, and be such that a walk from start to end exists.
    """
    left: dict[int, dict[int, int]] = {}
    for (a, b), times in edges.items():
        if times:
            left.setdefault(a, {})[b] = left.setdefault(b, {})[a] = times
    trail, walk = [start], []
    while trail:
        here = trail[-1]
        ways = left.get(here, {})
        onward = min((place for place, times in ways.items() if times), default=None)
        if onward is None:
            walk.append(trail.pop())
            continue
        ways[onward] -= 1
        left[onward][here] -= 1
        trail.append(onward)
    walk.reverse()
    assert walk[-1] == end
    return tuple(walk)
