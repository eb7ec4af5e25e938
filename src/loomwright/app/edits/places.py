"""Places and the runs between them."""

import math
from dataclasses import replace

from loomwright.app.edits.names import EditError, free, known, subject_edits
from loomwright.app.start import SLACK
from loomwright.model.vehicle import Place, Run, Vehicle
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Assumed

STRAIGHT = f"straight distance times {SLACK}; lay a string along the run"


def add_place(vehicle: Vehicle, name: str, x_m: float, y_m: float, title: str = "", z_m: float = 0.0) -> Change:
    """A new place; nothing leads to it until a run does."""
    free(vehicle.places, name, "place")
    return Change(f"add place {name}", (Edit(("places", name), Place(x_m, y_m, z_m, title.strip())),))


def move_place(vehicle: Vehicle, name: str, x_m: float, y_m: float, z_m: float | None = None) -> Change:
    """Move a place. Runs whose length was only assumed from the straight distance are assumed anew; others stay."""
    place = known(vehicle.places, name, "place")
    moved = replace(place, x_m=_step(x_m), y_m=_step(y_m), z_m=place.z_m if z_m is None else _step(z_m))
    after = replace(vehicle, places=vehicle.places.put(name, moved))
    edits = [
        Edit(("places", name, field), getattr(moved, field))
        for field in ("x_m", "y_m", "z_m")
        if field != "z_m" or z_m is not None
    ]
    for run_name, run in vehicle.runs.items():
        if name in (run.start, run.end) and isinstance(run.length_m, Assumed) and run.length_m.why == STRAIGHT:
            edits.append(Edit(("runs", run_name, "length_m"), straight_length(after, run.start, run.end)))
    return Change(f"move place {name}", tuple(edits))


def remove_place(vehicle: Vehicle, name: str) -> Change:
    """Take a place out, with the runs that end there. Refused while something is mounted or branches there."""
    known(vehicle.places, name, "place")
    users = [f"component {n}" for n, component in vehicle.components.items() if component.place == name]
    for line_name, line in vehicle.lines.items():
        users += [f"a station of line {line_name}" for s in line.stations if name == s.at or name in s.via]
    if users:
        raise EditError(f"{name} is still needed by {', '.join(dict.fromkeys(users))}")
    runs = [Edit(("runs", n), None) for n, run in vehicle.runs.items() if name in (run.start, run.end)]
    return Change(f"remove place {name}", (*runs, Edit(("places", name), None)))


def rename_place(vehicle: Vehicle, old: str, new: str) -> Change:
    """Give a place another name; components, runs and stations follow."""
    place = known(vehicle.places, old, "place")
    free(vehicle.places, new, "place")
    edits = [Edit(("places", new), place)]
    edits += [Edit(("components", n, "place"), new) for n, c in vehicle.components.items() if c.place == old]
    for name, run in vehicle.runs.items():
        edits += [Edit(("runs", name, end), new) for end in ("start", "end") if getattr(run, end) == old]
    for name, line in vehicle.lines.items():
        for index, station in enumerate(line.stations):
            if station.at == old:
                edits.append(Edit(("lines", name, "stations", index, "at"), new))
            if old in station.via:
                via = tuple(new if place == old else place for place in station.via)
                edits.append(Edit(("lines", name, "stations", index, "via"), via))
    edits += subject_edits(
        vehicle, (f"places.{old}", f"places.{new}"), (f"[terminator at {old}]", f"[terminator at {new}]")
    )
    return Change(f"rename place {old} to {new}", (*edits, Edit(("places", old), None)))


def add_run(vehicle: Vehicle, name: str, start: str, end: str) -> Change:
    """A way for cables between two places; its length is assumed until somebody measures it."""
    free(vehicle.runs, name, "run")
    known(vehicle.places, start, "place", "start")
    known(vehicle.places, end, "place", "end")
    if start == end:
        raise EditError("a run joins two different places", "end")
    return Change(f"add run {name}", (Edit(("runs", name), Run(start, end, straight_length(vehicle, start, end))),))


def remove_run(vehicle: Vehicle, name: str) -> Change:
    """Take a run out; lines that took it look for another way."""
    known(vehicle.runs, name, "run")
    return Change(f"remove run {name}", (Edit(("runs", name), None),))


def straight_length(vehicle: Vehicle, start: str, end: str) -> Assumed[float]:
    """A run's length assumed from the straight distance, to the centimetre."""
    a, b = vehicle.places[start], vehicle.places[end]
    return Assumed(round(math.dist((a.x_m, a.y_m, a.z_m), (b.x_m, b.y_m, b.z_m)) * SLACK, 2), STRAIGHT)


def _step(value_m: float) -> float:
    """Places are kept to the centimetre: nobody measures a spot in a vehicle closer."""
    return round(value_m, 2) + 0.0
