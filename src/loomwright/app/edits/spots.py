"""Spots on the vehicle that a hand meant: the next place in a direction, a spot on a run, a run divided there."""

import math
from dataclasses import replace

from loomwright.app.edits.names import EditError, free, free_name, known
from loomwright.app.edits.places import STRAIGHT, straight_length
from loomwright.model.table import Table
from loomwright.model.vehicle import Place, Run, Vehicle
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Assumed, Fact, Known, Unknown

DIRECTIONS = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "up": (0.0, -1.0), "down": (0.0, 1.0)}
"""As they are seen on the plan: the front is to the left, the vehicle's left side below. (x, y) in metres."""

SNAP_M = 0.06
"""A spot nearer to a run than this is meant to lie on it."""


def next_place(vehicle: Vehicle, place: str, direction: str) -> str:
    """The nearest place in a direction of the plan; what lies ahead counts before what lies aside. Empty: none."""
    here = known(vehicle.places, place, "place")
    ahead = _direction(direction)

    def price(there: Place) -> float:
        dx, dy = there.x_m - here.x_m, there.y_m - here.y_m
        along, aside = dx * ahead[0] + dy * ahead[1], abs(dx * ahead[1] - dy * ahead[0])
        if along < 1e-6:
            return math.inf
        return along + 2.0 * aside if aside <= along else 10.0 * (along + aside)

    priced = [(price(there), name) for name, there in vehicle.places.items() if name != place]
    best, name = min(priced, default=(math.inf, ""))
    return name if math.isfinite(best) else ""


def step_from(vehicle: Vehicle, place: str, direction: str, step_m: float) -> tuple[float, float]:
    """A place's spot after a step in a direction of the plan, in metres."""
    here, ahead = known(vehicle.places, place, "place"), _direction(direction)
    return here.x_m + ahead[0] * step_m, here.y_m + ahead[1] * step_m


def snapped(vehicle: Vehicle, x_m: float, y_m: float, moving: str = "") -> tuple[float, float, str]:
    """The spot, moved onto the nearest run where one is close, and the run's name; ``moving`` is the place on the move."""
    best = (SNAP_M, x_m, y_m, "")
    for name, run in vehicle.runs.items():
        if moving and moving in (run.start, run.end):
            continue
        a, b = vehicle.places[run.start], vehicle.places[run.end]
        share = _share(a, b, x_m, y_m)
        if not 0.0 < share < 1.0:
            continue
        x, y = a.x_m + share * (b.x_m - a.x_m), a.y_m + share * (b.y_m - a.y_m)
        away = math.hypot(x - x_m, y - y_m)
        if away < best[0]:
            best = (away, x, y, name)
    return best[1:]


def divide_run(vehicle: Vehicle, run_name: str, place_name: str, x_m: float, y_m: float) -> Change:
    """A new place on a run, which becomes two; their lengths are shares of what it had."""
    run = known(vehicle.runs, run_name, "run")
    free(vehicle.places, place_name, "place")
    a, b = vehicle.places[run.start], vehicle.places[run.end]
    share = min(max(_share(a, b, x_m, y_m), 0.0), 1.0)
    place = Place(round(x_m, 2) + 0.0, round(y_m, 2) + 0.0, round(a.z_m + share * (b.z_m - a.z_m), 2))
    after = replace(vehicle, places=vehicle.places.put(place_name, place))
    rest = free_name(vehicle.runs, f"{place_name}_{run.end}")
    first = replace(run, end=place_name, length_m=_part(after, run, run.start, place_name, share))
    second = replace(run, start=place_name, length_m=_part(after, run, place_name, run.end, 1.0 - share))
    edits = (
        Edit(("places", place_name), place),
        Edit(("runs", run_name, "end"), first.end),
        Edit(("runs", run_name, "length_m"), first.length_m),
        Edit(("runs", rest), second),
    )
    return Change(f"add place {place_name} on run {run_name}", edits)


def new_place(vehicle: Vehicle, x_m: float, y_m: float) -> tuple[str, Change]:
    """A place at a spot, on the run that passes there if one does; its name and the change."""
    x_m, y_m, run = snapped(vehicle, x_m, y_m)
    name = free_name(vehicle.places, "place")
    if run:
        return name, divide_run(vehicle, run, name, x_m, y_m)
    place = Place(round(x_m, 2) + 0.0, round(y_m, 2) + 0.0, _height(vehicle.places, x_m, y_m))
    return name, Change(f"add place {name}", (Edit(("places", name), place),))


def _part(after: Vehicle, run: Run, start: str, end: str, share: float) -> Fact[float]:
    """Length of a part of a run: in proportion, since nobody has measured the part."""
    whole = run.length_m
    if isinstance(whole, Unknown):
        return whole
    if isinstance(whole, Assumed) and whole.why == STRAIGHT:
        return straight_length(after, start, end)
    told = whole.why if isinstance(whole, Assumed) else "measured"
    why = f"share of {whole.value:.2f} m ({told}) that {run.start} to {run.end} had; lay a string along the part"
    return Assumed(round(whole.value * share, 2), why) if isinstance(whole, (Known, Assumed)) else whole


def _share(a: Place, b: Place, x_m: float, y_m: float) -> float:
    """How far along a run the nearest point to a spot lies, 0 at its start and 1 at its end; outside beyond."""
    dx, dy = b.x_m - a.x_m, b.y_m - a.y_m
    long = dx * dx + dy * dy
    return -1.0 if long < 1e-12 else ((x_m - a.x_m) * dx + (y_m - a.y_m) * dy) / long


def _height(places: Table[Place], x_m: float, y_m: float) -> float:
    """The height of the nearest place, as a beginning."""
    near = [(math.hypot(place.x_m - x_m, place.y_m - y_m), place.z_m) for place in places.values()]
    return min(near, default=(0.0, 0.0))[1]


def _direction(word: str) -> tuple[float, float]:
    if word not in DIRECTIONS:
        raise EditError(f"{word!r} is no direction: left, right, up or down")
    return DIRECTIONS[word]
