"""Changes that pages ask for, each a function from the vehicle to a ``Change``. Nothing here writes.

Names that other things lean on are followed: a renamed component keeps its stations and locks, and nothing is taken out
while something else still needs it (``EditError`` says what).
"""

from loomwright.app.edits.components import (
    add_component,
    duplicate_component,
    move_component,
    remove_component,
    rename_component,
)
from loomwright.app.edits.names import EditError
from loomwright.app.edits.places import (
    add_place,
    add_run,
    move_place,
    remove_place,
    remove_run,
    rename_place,
    straight_length,
)
from loomwright.app.edits.stations import add_station, move_station, remove_station, set_station_at, set_terminated
from loomwright.model.vehicle import Vehicle

__all__ = [
    "EditError",
    "Vehicle",
    "add_component",
    "add_place",
    "add_run",
    "add_station",
    "duplicate_component",
    "move_component",
    "move_place",
    "move_station",
    "remove_component",
    "remove_place",
    "remove_run",
    "remove_station",
    "rename_component",
    "rename_place",
    "set_station_at",
    "set_terminated",
    "straight_length",
]
