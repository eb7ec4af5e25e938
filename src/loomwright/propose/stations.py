"""A planned line as stations in the order of its trunk."""

import itertools
from dataclasses import dataclass

from loomwright.judge.cures import PLUG_IN
from loomwright.model.line import Station
from loomwright.propose.ground import Ground, crosses_unknown
from loomwright.propose.lay import Lay
from loomwright.propose.task import Task
from loomwright.propose.walk import walk_along
from loomwright.solve.ways import way_through

_EQUAL_M = 1e-6


@dataclass(frozen=True, slots=True)
class _Item:
    """A station to come: its stop (-1 for a plug-in terminator), where it joins, and where on the walk."""

    stop: int
    place: int
    position: int
    terminated: bool = False


def stations_of(task: Task, lay: Lay) -> tuple[Station, ...]:
    """The stations of one line in trunk order."""
    walk, items = _in_order(task, lay)
    stations = []
    for number, item in enumerate(items):
        via = _via(task.ground, walk[items[number - 1].position : item.position + 1]) if number else ()
        stations.append(_station(task, item, via))
    return tuple(stations)


def _in_order(task: Task, lay: Lay) -> tuple[tuple[int, ...], list[_Item]]:
    (start, first), (end, last) = lay.ends
    walk = walk_along(lay.steps, start, end)
    far = lay.far
    middle = sorted(
        (walk.index(place), task.stops[stop].port, stop, place)
        for stop, place in lay.joins.items()
        if stop not in (first, last)
    )
    # A stop that is to stand at an end comes next to the plug-in terminator there.
    begins = [entry for entry in middle if entry[2] in far and entry[3] == walk[0] and first < 0][:1]
    ends = [entry for entry in middle if entry[2] in far and entry not in begins and entry[3] == walk[-1] and last < 0][
        :1
    ]
    middle = [entry for entry in middle if entry not in begins and entry not in ends]
    final = len(walk) - 1
    items = [_Item(stop, place, 0) for _, _, stop, place in begins]
    items += [_Item(stop, place, position) for position, _, stop, place in middle]
    items += [_Item(stop, place, final) for _, _, stop, place in ends]
    items = [*([_Item(first, walk[0], 0, terminated=True)] if first >= 0 else []), *items]
    items += [_Item(last, walk[-1], final, terminated=True)] if last >= 0 else []
    # A trunk that runs on to a plug-in terminator beyond the outermost stop is cut back to that stop.
    if first < 0:
        items.insert(0, _Item(-1, items[0].place, items[0].position))
    if last < 0:
        items.append(_Item(-1, items[-1].place, items[-1].position))
    return walk, items


def _station(task: Task, item: _Item, via: tuple[str, ...]) -> Station:
    names = task.ground.names
    if item.stop < 0:
        return Station(terminator_ohm=PLUG_IN, at=names[item.place], via=via)
    stop = task.stops[item.stop]
    at = "" if item.place == stop.place else names[item.place]
    return Station(stop.port, at=at, via=via, terminated=item.terminated and stop.termination == "switchable")


def _via(ground: Ground, places: tuple[int, ...]) -> tuple[str, ...]:
    """Places to name so that the trunk takes this walk; none where the shortest way is as short."""
    names = [ground.names[place] for place in places]
    via: list[str] = []
    anchor = 0
    while anchor < len(names) - 1:
        reach = max(
            end for end in range(anchor + 1, len(names)) if end == anchor + 1 or _leads(ground, names[anchor : end + 1])
        )
        if reach < len(names) - 1:
            via.append(names[reach])
        anchor = reach
    return tuple(via)


def _leads(ground: Ground, names: list[str]) -> bool:
    """Whether the shortest way between the ends of a walk is no longer than the walk, and all known."""
    way = way_through(ground.net, (names[0], names[-1]))
    walked_m = sum(ground.net.ways.length(a, b) for a, b in itertools.pairwise(names))
    return (
        way is not None and way.length_m <= walked_m + _EQUAL_M and not crosses_unknown(ground.net, names[0], names[-1])
    )
