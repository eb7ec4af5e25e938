"""Places on the plan that a page can take hold of."""

from collections.abc import Mapping

from loomwright.model.vehicle import Vehicle
from loomwright.show.handles import REACH, handle
from loomwright.show.names import spoken
from loomwright.show.quantity import text as quantity
from loomwright.show.svg import Point, circle, group
from loomwright.terms.quantity import Kind


def place_handles(vehicle: Vehicle, spots: Mapping[str, Point]) -> list[str]:
    """An area over every place, above the lines."""
    shapes = []
    for name, place in vehicle.places.items():
        title = place.title or spoken(name)
        at = f"{quantity(place.x_m, Kind.LENGTH)} behind the front, {_aside(place.y_m)}"
        shape = circle(spots[name], REACH, "hit")
        shapes.append(group(("places", name), shape, title=f"{title}: {at}", **handle("place", f"Place {title}, {at}")))
    return shapes


def _aside(y_m: float) -> str:
    if abs(y_m) < 0.005:
        return "on the centre line"
    return f"{quantity(abs(y_m), Kind.LENGTH)} to the {'left' if y_m > 0.0 else 'right'}"
