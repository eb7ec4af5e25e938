"""The vehicle itself and what explains the drawing: outline, wheels, front, scale bar."""

import itertools
import math

from loomwright.model.vehicle import Vehicle
from loomwright.show.plan.sheet import Sheet
from loomwright.show.quantity import text as quantity
from loomwright.show.svg import Point, box, group, line, polyline, tag, words
from loomwright.terms.quantity import Kind

WHEEL_M = (0.66, 0.20)
"""Diameter and width of a wheel as drawn; a common light-vehicle tyre, it stands for none in particular."""

STEPS_M = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0)


def outline(sheet: Sheet, vehicle: Vehicle) -> str:
    """Wheels, then the body over them: rounded at the rear, drawn in at the nose."""
    x0, x1 = sheet.nose[0], sheet.nose[0] + sheet.length_m * sheet.scale
    y0, y1 = sheet.top, sheet.bottom
    w, h = x1 - x0, y1 - y0
    nose, tuck, rear = min(0.10 * w, 0.5 * h), 0.07 * h, min(0.03 * w, 0.12 * h)
    path = (
        f"M{x0 + nose:.2f} {y0:.2f} H{x1 - rear:.2f} Q{x1:.2f} {y0:.2f} {x1:.2f} {y0 + rear:.2f} V{y1 - rear:.2f} "
        f"Q{x1:.2f} {y1:.2f} {x1 - rear:.2f} {y1:.2f} H{x0 + nose:.2f} "
        f"C{x0 + nose / 3:.2f} {y1:.2f} {x0:.2f} {y1 - tuck:.2f} {x0:.2f} {y1 - 0.30 * h:.2f} "
        f"V{y0 + 0.30 * h:.2f} C{x0:.2f} {y0 + tuck:.2f} {x0 + nose / 3:.2f} {y0:.2f} {x0 + nose:.2f} {y0:.2f} Z"
    )
    wheels = "".join(_axle(sheet, vehicle, number) for number in range(len(vehicle.axles)))
    body = group(("length_m",), tag("path", d=path, class_="body"), title=f"{vehicle.name}: outline")
    return body + wheels


def outline_segments(sheet: Sheet) -> list[tuple[Point, Point]]:
    """The outline as straight pieces, its rounded nose cut by a chord: what labels should not straddle."""
    x0, x1 = sheet.nose[0], sheet.nose[0] + sheet.length_m * sheet.scale
    y0, y1 = sheet.top, sheet.bottom
    nose, tuck = x0 + min(0.10 * (x1 - x0), 0.5 * (y1 - y0)), 0.30 * (y1 - y0)
    around = [(nose, y0), (x1, y0), (x1, y1), (nose, y1), (x0, y1 - tuck), (x0, y0 + tuck), (nose, y0)]
    # The curve bulges beyond its chord; a second chord half-way out stands for it.
    out = [((nose + 2 * x0) / 3, y0 + tuck / 6), ((nose + 2 * x0) / 3, y1 - tuck / 6)]
    bulge = [(around[0], out[0]), (out[0], around[5]), (around[3], out[1]), (out[1], around[4])]
    return [*itertools.pairwise(around), *bulge]


def _axle(sheet: Sheet, vehicle: Vehicle, number: int) -> str:
    axle = vehicle.axles[number]
    half = axle.track_m / 2
    long, wide = (size * sheet.scale for size in WHEEL_M)
    centres = [sheet.spot(axle.x_m, side * half) for side in (-1, 1)]
    shapes = [line(centres[0], centres[1], "axle")]
    shapes += [box(x - long / 2, y - wide / 2, long, wide, "wheel", min(wide * 0.35, 8.0)) for x, y in centres]
    return group(
        ("axles", number), *shapes, title=f"Axle {number + 1}, {quantity(axle.x_m, Kind.LENGTH)} behind the front"
    )


def front_arrow(sheet: Sheet) -> str:
    """Which way the vehicle looks."""
    x, y = sheet.nose[0] - 22, sheet.nose[1]
    tip = x - 26
    head = polyline(((tip + 7, y - 4), (tip, y), (tip + 7, y + 4)), "rule")
    return line((x, y), (tip, y), "rule") + head + words((x - 13, y - 9), "front", "muted", anchor="middle")


def scale_bar(sheet: Sheet, right: Point) -> str:
    """A bar of a round number of metres, at most about 200 pixels long, that ends at a point."""
    step = max((size for size in STEPS_M if size * sheet.scale <= 200), default=STEPS_M[0])
    if step * sheet.scale < 40:
        step = 10.0 ** math.floor(math.log10(200 / sheet.scale))
    long, y = step * sheet.scale, right[1]
    x = right[0] - long
    marks = [line((x, y), (x + long, y), "rule")]
    marks += [
        line((x + long * part, y - 4), (x + long * part, y + (4 if part != 0.5 else 0)), "rule")
        for part in (0.0, 0.5, 1.0)
    ]
    labels = words((x, y + 16), "0", "figure small muted", size=10.0, anchor="middle")
    labels += words((x + long, y + 16), f"{step:g} m", "figure small muted", size=10.0, anchor="middle")
    return "".join(marks) + labels
