"""Where does each label go, so that none covers another and as few lines as possible are hidden?

Each label has candidates: around its spot at several distances, and in rows outside the outline, reached by a leader.
They are priced (what they would cover, how far they are, what their leader crosses), the most crowded label chooses
first, then each may choose again. Rows outside are added until everything fits, so a free spot always exists.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.show.svg import Point

Floats = NDArray[np.float64]

CLEAR = 3.0
"""Pixels that stay free around every label."""

ROW = 24.0
SHIFTS = tuple(range(-180, 181, 30))
DISTANCES = (9.0, 16.0, 27.0, 44.0, 66.0)
DIRECTIONS = 16
FORBIDDEN = 1e6
NONE = 1e-9
START = 12.0
CONSIDERED = 72
"""Candidates kept for each label: the cheapest before other labels are looked at."""

ROUNDS = 3

PER_PIXEL_COVERED = 1.4
PER_PIXEL_AWAY = 0.07
PER_CROSSING = 5.0
PER_LABEL_HIT = 80.0
OUTSIDE = 3.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """A label to place: its spot and its size."""

    spot: Point
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Field:
    """What is already drawn: strands and their weights as segments (x, y, x, y), stops, and the edges of the sheet."""

    segments: Floats
    weights: Floats
    spots: Floats
    left: float
    right: float
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Placed:
    """Upper left corner, and where the leader meets the label."""

    x: float
    y: float
    foot: Point


def place(wanted: Sequence[Wanted], field: Field) -> tuple[Placed, ...]:
    """Place every label, in the order in which they are given."""
    choices, prices = [], []
    for item in wanted:
        boxes = _candidates(item, field)
        price = _price(item, boxes, field)
        cheapest = np.argsort(price, kind="stable")[:CONSIDERED]
        choices.append(boxes[cheapest])
        prices.append(price[cheapest])
    state = _State(wanted, choices, prices)
    for index in _crowded_first(wanted):
        state.choose(index)
    for _ in range(ROUNDS):
        if sum(state.choose(index) for index in range(len(wanted))) == 0:  # each has to choose
            break
    for index in range(len(wanted)):
        state.clear(index, field)
    return tuple(
        Placed(float(box[0]), float(box[1]), _foot(item.spot, box))
        for item, box in zip(wanted, state.boxes, strict=True)
    )


class _State:
    """Which candidate each label has taken."""

    def __init__(self, wanted: Sequence[Wanted], choices: list[Floats], prices: list[Floats]) -> None:
        self.wanted, self.choices, self.prices = wanted, choices, prices
        self.boxes: Floats = np.full((len(wanted), 4), np.nan)
        self.leaders: Floats = np.full((len(wanted), 4), np.nan)

    def choose(self, index: int) -> bool:
        """Take the cheapest candidate beside what the others have taken. True when it moved."""
        prices = self.prices[index] + self._conflicts(index, self.choices[index])
        return self._take(index, self.choices[index][int(np.argmin(prices))])

    def clear(self, index: int, field: Field) -> None:
        """Where even the cheapest candidate collides, take the nearest free spot in further rows."""
        item, row = self.wanted[index], 0
        while self._hits(index, self.boxes[index][None, :])[0]:
            boxes = _rows(item, field, range(row, row + 1), tuple(range(-1200, 1201, 40)))
            free = np.flatnonzero(~self._hits(index, boxes))
            if free.size:
                middles = np.abs(boxes[free, 0] + item.width / 2 - item.spot[0])
                self._take(index, boxes[free[int(np.argmin(middles))]])
                return
            row += 1

    def _take(self, index: int, chosen: Floats) -> bool:
        moved = not np.array_equal(self.boxes[index], chosen)
        self.boxes[index] = chosen
        spot = self.wanted[index].spot
        self.leaders[index] = _leaders(spot, chosen[None, :])[0]
        return moved

    def _others(self, index: int) -> NDArray[np.intp]:
        taken = np.flatnonzero(~np.isnan(self.boxes[:, 0]))
        return np.asarray(taken[taken != index])

    def _hits(self, index: int, boxes: Floats) -> NDArray[np.bool_]:
        others = self.boxes[self._others(index)]
        if not len(others):
            return np.zeros(len(boxes), dtype=np.bool_)
        return np.asarray(_overlap(boxes, others).any(axis=1))

    def _conflicts(self, index: int, boxes: Floats) -> Floats:
        others = self._others(index)
        if not len(others):
            return np.zeros(len(boxes))
        spot = self.wanted[index].spot
        leaders = _leaders(spot, boxes)
        price = _overlap(boxes, self.boxes[others]).sum(axis=1) * FORBIDDEN
        price += (_inside(leaders, self.boxes[others]) > 0.0).sum(axis=1) * PER_LABEL_HIT
        price += (_inside(self.leaders[others], boxes) > 0.0).sum(axis=0) * PER_LABEL_HIT
        price += _crossings(_trimmed(leaders), _trimmed(self.leaders[others])) * PER_CROSSING * 3
        return np.asarray(price, dtype=np.float64)


def _candidates(item: Wanted, field: Field) -> Floats:
    """Boxes (left, top, right, bottom) around the spot and in the first rows outside."""
    w, h = item.width, item.height
    around = []
    for distance in DISTANCES:
        for step in range(DIRECTIONS):
            angle = 2 * math.pi * step / DIRECTIONS
            dx, dy = math.cos(angle), math.sin(angle)
            x = item.spot[0] + dx * (distance + w / 2) - w / 2
            y = item.spot[1] + dy * (distance + h / 2) - h / 2
            around.append((x, y, x + w, y + h))
    boxes = np.vstack([np.array(around), _rows(item, field, range(4), SHIFTS)])
    inside = (boxes[:, 0] >= field.left) & (boxes[:, 2] <= field.right)
    kept: Floats = boxes[inside]
    return kept if len(kept) else boxes


def _rows(item: Wanted, field: Field, rows: range, shifts: Sequence[float]) -> Floats:
    """Boxes in rows above and below the outline, shifted along it, pushed in at the edges of the sheet."""
    boxes: list[tuple[float, float, float, float]] = []
    for row in rows:
        for shift in shifts:
            x = item.spot[0] + shift - item.width / 2
            x = max(field.left, min(x, field.right - item.width))
            above, below = field.top - 16.0 - row * ROW - item.height, field.bottom + 16.0 + row * ROW
            boxes.extend((x, y, x + item.width, y + item.height) for y in (above, below))
    return np.array(boxes)


def _price(item: Wanted, boxes: Floats, field: Field) -> Floats:
    """What each candidate costs apart from other labels."""
    leaders = _leaders(item.spot, boxes)
    away = _length(leaders)
    price = away * PER_PIXEL_AWAY
    price += ((boxes[:, 1] > field.bottom) | (boxes[:, 3] < field.top)) * OUTSIDE
    if len(field.segments):
        price += field.weights @ _inside(field.segments, boxes) * PER_PIXEL_COVERED
        heavy = field.segments[field.weights >= 1.0]
        price += _crossings(_trimmed(leaders), heavy) * PER_CROSSING
    if len(field.spots):
        x, y = field.spots[:, 0], field.spots[:, 1]
        hit = (x > boxes[:, :1] - 5) & (x < boxes[:, 2:3] + 5) & (y > boxes[:, 1:2] - 5) & (y < boxes[:, 3:] + 5)
        price += hit.sum(axis=1) * 25.0
    return np.asarray(price, dtype=np.float64)


def _crowded_first(wanted: Sequence[Wanted]) -> list[int]:
    spots = np.array([item.spot for item in wanted]).reshape(-1, 2)
    apart = np.abs(spots[:, None, :] - spots[None, :, :])
    neighbours = ((apart[..., 0] < 150) & (apart[..., 1] < 70)).sum(axis=1)
    return [int(index) for index in np.argsort(-neighbours, kind="stable")]


def _foot(spot: Point, box: Floats) -> Point:
    """The point of a box nearest to a spot."""
    return float(min(max(spot[0], box[0]), box[2])), float(min(max(spot[1], box[1]), box[3]))


def _leaders(spot: Point, boxes: Floats) -> Floats:
    """For every box the segment from a spot to the box's nearest point."""
    x = np.clip(spot[0], boxes[:, 0], boxes[:, 2])
    y = np.clip(spot[1], boxes[:, 1], boxes[:, 3])
    return np.stack([np.full(len(boxes), spot[0]), np.full(len(boxes), spot[1]), x, y], axis=1)


def _length(leaders: Floats) -> Floats:
    return np.asarray(np.hypot(leaders[:, 2] - leaders[:, 0], leaders[:, 3] - leaders[:, 1]))


def _trimmed(leaders: Floats) -> Floats:
    """Leaders without their first pixels: there they leave between strands and beside leaders of the same spot."""
    part = np.minimum(START / np.maximum(_length(leaders), START), 1.0)[:, None]
    return np.hstack([leaders[:, :2] * (1 - part) + leaders[:, 2:] * part, leaders[:, 2:]])


def _overlap(boxes: Floats, others: Floats) -> NDArray[np.bool_]:
    """Which boxes come closer to which others than the clearance."""
    a, b = boxes[:, None, :], others[None, :, :]
    return np.asarray(
        (a[..., 0] < b[..., 2] + CLEAR)
        & (b[..., 0] < a[..., 2] + CLEAR)
        & (a[..., 1] < b[..., 3] + CLEAR)
        & (b[..., 1] < a[..., 3] + CLEAR)
    )


def _inside(segments: Floats, boxes: Floats) -> Floats:
    """Length of every segment inside every box, after Liang and Barsky: rows are segments, columns boxes."""
    x, y = segments[:, :1], segments[:, 1:2]
    dx, dy = segments[:, 2:3] - x, segments[:, 3:] - y
    long = np.hypot(dx, dy)
    # An upright or level segment is leaned by a hair, which spares it a case of its own.
    dx, dy = np.where(np.abs(dx) < NONE, NONE, dx), np.where(np.abs(dy) < NONE, NONE, dy)
    left, right, top, bottom = (
        (boxes[:, 0] - x) / dx,
        (boxes[:, 2] - x) / dx,
        (boxes[:, 1] - y) / dy,
        (boxes[:, 3] - y) / dy,
    )
    enter = np.maximum(np.minimum(left, right), np.minimum(top, bottom))
    leave = np.minimum(np.maximum(left, right), np.maximum(top, bottom))
    part = np.minimum(leave, 1.0) - np.maximum(enter, 0.0)
    return np.asarray(np.maximum(part, 0.0) * long)


def _crossings(lines: Floats, others: Floats) -> NDArray[np.int64]:
    """How many of the other segments each segment crosses."""
    if not len(others):
        return np.zeros(len(lines), dtype=np.int64)
    p, r = lines[:, None, :2], (lines[:, 2:] - lines[:, :2])[:, None, :]
    q, s = others[None, :, :2], (others[:, 2:] - others[:, :2])[None, :, :]
    cross = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    w = q - p
    with np.errstate(all="ignore"):  # parallel segments cross nowhere
        t = (w[..., 0] * s[..., 1] - w[..., 1] * s[..., 0]) / cross
        u = (w[..., 0] * r[..., 1] - w[..., 1] * r[..., 0]) / cross
    return np.asarray(((t > 0) & (t < 1) & (u > 0) & (u < 1)).sum(axis=1))
