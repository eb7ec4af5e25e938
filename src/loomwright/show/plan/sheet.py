"""Where a spot of the vehicle lies on the sheet: front to the left, the vehicle's left side below."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from loomwright.model.vehicle import Place, Vehicle
from loomwright.show.svg import Point

WIDTH = 1280.0
LEFT, RIGHT = 86.0, 46.0
TALLEST = 520.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """The scale in pixels for a metre, where the foremost point of the centre line lies, how wide the sheet is."""

    scale: float
    nose: Point
    length_m: float
    width_m: float
    width: float = WIDTH

    def at(self, place: Place) -> Point:
        """A place on the sheet."""
        return self.spot(place.x_m, place.y_m)

    def spot(self, x_m: float, y_m: float) -> Point:
        """A spot on the sheet, from metres behind the nose and metres to the left."""
        return self.nose[0] + _sound(x_m) * self.scale, self.nose[1] + _sound(y_m) * self.scale

    @property
    def top(self) -> float:
        """Upper edge of the outline."""
        return self.nose[1] - self.width_m / 2 * self.scale

    @property
    def bottom(self) -> float:
        """Lower edge of the outline."""
        return self.nose[1] + self.width_m / 2 * self.scale


def sheet_for(vehicle: Vehicle, width: float = WIDTH) -> Sheet:
    """The largest scale at which outline and places fit a sheet of that width in pixels.

    The centre line lies at y = 0 until the labels are placed.
    """
    length_m = vehicle.length_m if _sound(vehicle.length_m) > 0.0 else 1.0
    width_m = vehicle.width_m if _sound(vehicle.width_m) > 0.0 else 1.0
    places = tuple(vehicle.places.values())
    first_m, last_m = _ends([0.0, length_m, *(_sound(place.x_m) for place in places)])
    right_m, left_m = _ends([-width_m / 2, width_m / 2, *(_sound(place.y_m) for place in places)])
    scale = min((width - LEFT - RIGHT) / (last_m - first_m), TALLEST / (left_m - right_m))
    spare = width - LEFT - RIGHT - (last_m - first_m) * scale
    return Sheet(scale, (LEFT + spare / 2 - first_m * scale, 0.0), length_m, width_m, width)


def _ends(values: Iterable[float]) -> tuple[float, float]:
    values = tuple(values)
    return min(values), max(values)


def _sound(value: float) -> float:
    return value if math.isfinite(value) else 0.0
