"""How does a cable get from one place to another along the runs, and how long is it?"""

import itertools
import math
from dataclasses import dataclass

from loomwright.engines.routes import Ways, shortest_ways
from loomwright.model.table import Table
from loomwright.model.vehicle import Place, Run
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Unknown


@dataclass(frozen=True, eq=False, slots=True)
class RunWays:
    """All shortest ways along the runs, and what is not known or only assumed about each run's length.

    A run of unknown length is weighed by the straight distance of its places so that a way can be chosen; every
    length that leans on it is blocked.
    """

    ways: Ways
    unknown: dict[str, Path]
    assumed: dict[str, Path]


@dataclass(frozen=True, slots=True)
class Way:
    """One way: the places passed, the runs used, the length in metres."""

    places: tuple[str, ...]
    runs: tuple[str, ...]
    length_m: float
    unknown: tuple[Path, ...] = ()
    assumed: tuple[Path, ...] = ()


def straight_m(first: Place, second: Place) -> float:
    """Straight distance between two places in metres."""
    return math.dist((first.x_m, first.y_m, first.z_m), (second.x_m, second.y_m, second.z_m))


def run_ways(places: Table[Place], runs: Table[Run]) -> RunWays:
    """Solve every pair of places once."""
    unknown: dict[str, Path] = {}
    assumed: dict[str, Path] = {}
    edges = []
    for name, run in runs.items():
        fact = run.length_m
        path: Path = ("runs", name, "length_m")
        if isinstance(fact, Unknown):
            unknown[name] = path
            length_m = straight_m(places[run.start], places[run.end])
        else:
            if isinstance(fact, Assumed):
                assumed[name] = path
            length_m = fact.value
        edges.append((name, run.start, run.end, length_m))
    return RunWays(shortest_ways(places, edges), unknown, assumed)


def way_through(net: RunWays, stops: tuple[str, ...]) -> Way | None:
    """The shortest way that passes the given places in that order; ``None`` where no runs join two of them."""
    places: list[str] = [stops[0]]
    for start, end in itertools.pairwise(stops):
        points = net.ways.points(start, end)
        if not points:
            return None
        places.extend(points[1:])
    runs = net.ways.edges(places)
    # Summed from the pair lengths, so that an unreachable or zero-length step cannot creep in.
    length_m = sum(net.ways.length(a, b) for a, b in itertools.pairwise(places))
    return Way(
        tuple(places),
        runs,
        length_m,
        tuple(net.unknown[run] for run in dict.fromkeys(runs) if run in net.unknown),
        tuple(net.assumed[run] for run in dict.fromkeys(runs) if run in net.assumed),
    )
