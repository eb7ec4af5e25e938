"""Changes that pages ask for, each a function from the vehicle to a ``Change``. Nothing here writes.

Names that other things lean on are followed: a renamed component keeps its stations and locks, and nothing is taken out
while something else still needs it (``EditError`` says what).
"""

from loomwright.app.edits.chains import add_chain, move_step, remove_chain, remove_step, set_step
from loomwright.app.edits.components import (
    add_component,
    duplicate_component,
    move_component,
    remove_component,
    rename_component,
)
from loomwright.app.edits.lines import add_line, add_terminator, remove_line
from loomwright.app.edits.locks import add_lock, lock_words, remove_lock
from loomwright.app.edits.names import EditError, free_name
from loomwright.app.edits.places import (
    add_place,
    add_run,
    move_place,
    remove_place,
    remove_run,
    rename_place,
    straight_length,
)
from loomwright.app.edits.removal import removal
from loomwright.app.edits.spoken import rename_message
from loomwright.app.edits.spots import divide_run, new_place, next_place, snapped, step_from
from loomwright.app.edits.stations import add_station, move_station, remove_station, set_station_at, set_terminated
from loomwright.model.vehicle import Vehicle

__all__ = [
    "EditError",
    "Vehicle",
    "add_chain",
    "add_component",
    "add_line",
    "add_lock",
    "add_place",
    "add_run",
    "add_station",
    "add_terminator",
    "divide_run",
    "duplicate_component",
    "free_name",
    "lock_words",
    "move_component",
    "move_place",
    "move_station",
    "move_step",
    "new_place",
    "next_place",
    "removal",
    "remove_chain",
    "remove_component",
    "remove_line",
    "remove_lock",
    "remove_place",
    "remove_run",
    "remove_station",
    "remove_step",
    "rename_component",
    "rename_message",
    "rename_place",
    "set_station_at",
    "set_step",
    "set_terminated",
    "snapped",
    "step_from",
    "straight_length",
]
