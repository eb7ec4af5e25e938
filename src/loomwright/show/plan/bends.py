"""The path of a strand: shifted beside its run, joined at each place, its bends rounded."""

import itertools
import math
from collections.abc import Mapping, Sequence

from loomwright.show.plan.strands import Leg, Strand, edge_of
from loomwright.show.svg import Point, figure

GAP = 6.0
"""Pixels between the middles of neighbouring strands."""

RADIUS = 9.0
LONGEST_MITRE = 3.0


def strand_points(
    number: int, strand: Strand, spots: Mapping[str, Point], slot: Mapping[Leg, float]
) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
    """All corners of a strand, and for each of its places the point where a stop may sit."""
    places = strand.places
    if len(places) < 2:
        at = tuple(spots[place] for place in places)
        return at, at
    legs = [_leg(places[step], places[step + 1], slot[number, step], spots) for step in range(len(places) - 1)]
    corners: list[Point] = [legs[0][0]]
    joints: list[Point] = [legs[0][0]]
    for before, after in itertools.pairwise(legs):
        joined = _join(before, after)
        corners.extend(joined)
        joints.append((sum(x for x, _ in joined) / len(joined), sum(y for _, y in joined) / len(joined)))
    corners.append(legs[-1][1])
    joints.append(legs[-1][1])
    return tuple(corners), tuple(joints)


def rounded(points: Sequence[Point], radius: float = RADIUS) -> str:
    """Path data through points, each bend rounded as far as its sides allow."""
    if not points:
        return ""
    path = [f"M{figure(points[0][0])} {figure(points[0][1])}"]
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        reach = min(radius, math.dist(before, corner) / 2, math.dist(corner, after) / 2)
        if reach < 0.1:
            path.append(f"L{figure(corner[0])} {figure(corner[1])}")
            continue
        enter, leave = _towards(corner, before, reach), _towards(corner, after, reach)
        path.append(f"L{figure(enter[0])} {figure(enter[1])}")
        path.append(f"Q{figure(corner[0])} {figure(corner[1])} {figure(leave[0])} {figure(leave[1])}")
    if len(points) > 1:
        path.append(f"L{figure(points[-1][0])} {figure(points[-1][1])}")
    return " ".join(path)


def _leg(start: str, end: str, slot: float, spots: Mapping[str, Point]) -> tuple[Point, Point]:
    """A straight piece, shifted across its run; the shift is the same whichever way the strand passes."""
    (a, b), (c, d) = (spots[place] for place in edge_of(start, end, spots))
    length = math.hypot(c - a, d - b) or 1.0
    across = (-(d - b) / length * slot * GAP, (c - a) / length * slot * GAP)
    first, last = spots[start], spots[end]
    return (first[0] + across[0], first[1] + across[1]), (last[0] + across[0], last[1] + across[1])


def _join(before: tuple[Point, Point], after: tuple[Point, Point]) -> tuple[Point, ...]:
    """One point where two shifted pieces meet; two where they run on beside each other or turn back."""
    (ax, ay), (bx, by) = before
    (cx, cy), (dx, dy) = after
    one, two = math.dist(*before) or 1.0, math.dist(*after) or 1.0
    ux, uy, vx, vy = (bx - ax) / one, (by - ay) / one, (dx - cx) / two, (dy - cy) / two
    cross = ux * vy - uy * vx
    shift = math.dist((bx, by), (cx, cy))
    if abs(cross) > 0.12:
        t = ((cx - bx) * vy - (cy - by) * vx) / cross
        meet = (bx + ux * t, by + uy * t)
        if abs(t) < min(one, 2 * RADIUS + LONGEST_MITRE * GAP):
            return (meet,)
    if shift < 0.3:
        return ((bx, by),)
    if ux * vx + uy * vy < 0.0:
        return ((bx, by), (cx, cy))
    ease = min(7.0, one / 3, two / 3)
    return ((bx - ux * ease, by - uy * ease), (cx + vx * ease, cy + vy * ease))


def _towards(start: Point, end: Point, distance: float) -> Point:
    length = math.dist(start, end) or 1.0
    part = distance / length
    return start[0] + (end[0] - start[0]) * part, start[1] + (end[1] - start[1]) * part
