"""The lines as they are now, measured like a plan: what is as good as the best plan shall stay as it is."""

from dataclasses import replace

from loomwright.model.line import Station
from loomwright.model.vehicle import Vehicle
from loomwright.propose.task import Task
from loomwright.propose.weights import Weights
from loomwright.propose.wired import Wired, broken_rules, plugs
from loomwright.solve.topology import LineTopology, line_topology
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path

SAME_M = 0.001
"""Scores are counted in whole millimetres of run; less than one is no gain."""


def as_good(vehicle: Vehicle, task: Task, weights: Weights, plan: Wired) -> Wired | None:
    """The present lines, if they place the same ports, break no more rules and score no worse; else ``None``."""
    stations = tuple(vehicle.lines[name].stations for name in task.lines)
    ports = sorted(station.port for own in stations for station in own if station.port)
    planned = sorted(station.port for own in plan.stations for station in own if station.port)
    if ports != planned or not _permitted(task, stations):
        return None
    topologies: list[LineTopology] = []
    assumed: list[Path] = []
    for name, own in zip(task.lines, stations, strict=True):
        line = replace(vehicle.lines[name], stations=own)
        answer = line_topology(name, line, vehicle.components, task.ground.net)
        if isinstance(answer, Blocked):
            return None
        topologies.append(answer.value)
        assumed.extend(answer.assumed)
    score_m = sum(
        topology.trunk_m + weights.branch * topology.branches_m + weights.terminator_m * plugs(own)
        for topology, own in zip(topologies, stations, strict=True)
    )
    broken = tuple(broken_rules(task, stations, tuple(topologies)))
    if len(broken) > len(plan.broken) or score_m > plan.score_m + SAME_M or not _ends_are_right(topologies):
        return None
    return Wired(stations, tuple(topologies), tuple(dict.fromkeys(assumed)), score_m, broken)


def _permitted(task: Task, stations: tuple[tuple[Station, ...], ...]) -> bool:
    """Every port on a line that it can be on, and no two of one component on the same."""
    lines_of = {stop.port: stop.lines for stop in task.stops}
    for number, own in enumerate(stations):
        ports = [station.port for station in own if station.port]
        if any(number not in lines_of[port] for port in ports):
            return False
        if len({port.partition(".")[0] for port in ports}) < len(ports):
            return False
    return True


def _ends_are_right(topologies: list[LineTopology]) -> bool:
    """Every line that carries stops has its two terminations at its two ends, and none between."""
    for topology in topologies:
        stops = topology.stops
        if not stops:
            continue
        on = [stop.index for stop in stops if stop.termination == "on"]
        if on != [0, stops[-1].index] or any(stop.repeated for stop in stops):
            return False
    return True
