"""A point of the planning program wired as lines, and measured anew: lengths, score, broken rules."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from loomwright.engines.cut_rounds import Point
from loomwright.model.component import Component
from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.propose.arrangement import BrokenRule, LineLengths
from loomwright.propose.columns import over_limit
from loomwright.propose.lay import branched, lay_of
from loomwright.propose.program import Planning
from loomwright.propose.stations import stations_of
from loomwright.propose.task import APART, LOAD_ROUNDING, LockOn, Task, late_anyway, load_bounds, load_of, overfull
from loomwright.propose.weights import TWICE
from loomwright.solve.topology import LineTopology, line_topology
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Known, Unknown

IN_TIME = "everything in time"


@dataclass(frozen=True, slots=True)
class Wired:
    """A plan as it would be laid. ``stations`` and ``topologies`` stand in the order of the task's lines."""

    stations: tuple[tuple[Station, ...], ...]
    topologies: tuple[LineTopology, ...]
    assumed: tuple[Path, ...]
    score_m: float
    broken: tuple[BrokenRule, ...]

    @property
    def cable_m(self) -> float:
        """All bus cable, in metres."""
        return sum(topology.cable_m for topology in self.topologies)


def wire(vehicle: Vehicle, task: Task, planning: Planning, point: Point) -> Wired:
    """Wire a point through the same answer that judges use. ``task`` carries all limits.

    The wiring must not be longer than the plan's own figures; a plan proved optimal comes out equal.
    """
    weights = planning.weights
    leads = _counted(vehicle.components)
    stations = tuple(_stations(task, planning, point, line) for line in range(len(task.lines)))
    topologies: list[LineTopology] = []
    assumed: list[Path] = []
    for name, line_stations in zip(task.lines, stations, strict=True):
        answer = line_topology(name, replace(vehicle.lines[name], stations=line_stations), leads, task.ground.net)
        assert not isinstance(answer, Blocked), answer
        topologies.append(answer.value)
        assumed.extend(answer.assumed)
    score_m = sum(
        topology.trunk_m + weights.branch * topology.branches_m + weights.terminator_m * plugs(line_stations)
        for topology, line_stations in zip(topologies, stations, strict=True)
    )
    planned_m = 1e-3 * float(sum(cost * value for cost, value in zip(planning.columns.cost, point, strict=False)))
    # Half a millimetre of rounding a piece.
    slack_m = 1e-3 + 0.5e-3 * max(1.0, weights.branch) * sum(
        len(piece.runs) + 1 for t in topologies for piece in t.pieces
    )
    assert score_m <= planned_m + slack_m, (score_m, planned_m)
    broken = tuple(broken_rules(task, stations, tuple(topologies)))
    return Wired(stations, tuple(topologies), tuple(dict.fromkeys(assumed)), score_m, broken)


def _stations(task: Task, planning: Planning, point: Point, line: int) -> tuple[Station, ...]:
    lay = lay_of(planning, point, line)
    if lay is None:
        return ()
    if planning.weights.branch == TWICE:
        lay = branched(task, line, lay)
    return stations_of(task, lay)


def change_of(task: Task, stations: tuple[tuple[Station, ...], ...]) -> Change:
    """The stations of all lines as one change."""
    edits = tuple(Edit(("lines", name, "stations"), own) for name, own in zip(task.lines, stations, strict=True))
    return Change("Lay all lines as planned", edits)


def lengths_of(task: Task, wired: Wired) -> tuple[LineLengths, ...]:
    """Lengths of every line."""
    return tuple(
        LineLengths(
            topology.line,
            topology.cable_m,
            topology.trunk_m,
            topology.branches_m,
            max((stop.branch_m for stop in topology.stops), default=0.0),
            plugs(stations),
            limits,
        )
        for topology, stations, limits in zip(wired.topologies, wired.stations, task.limits, strict=True)
    )


def plugs(stations: tuple[Station, ...]) -> int:
    """How many plug-in terminators a line has."""
    return sum(station.terminator_ohm is not None for station in stations)


def _counted(components: Table[Component]) -> Table[Component]:
    """Leads of unknown length count nothing, so that the rest can be measured."""
    return Table(
        {
            name: replace(
                component,
                ports=Table(
                    {
                        port_name: replace(port, pigtail_m=Known(0.0)) if isinstance(port.pigtail_m, Unknown) else port
                        for port_name, port in component.ports.items()
                    }
                ),
            )
            for name, component in components.items()
        }
    )


def broken_rules(
    task: Task, stations: tuple[tuple[Station, ...], ...], topologies: tuple[LineTopology, ...]
) -> Iterator[BrokenRule]:
    """Every rule that wired lines break, found from the wiring alone. Ports left out are told apart from these."""
    for number, (topology, own) in enumerate(zip(topologies, stations, strict=True)):
        if own:
            yield from _on_line(task, number, topology, own)
    for lock in task.locks:
        if not _kept(task, lock, stations):
            yield BrokenRule("lock kept", port=task.stops[lock.stop].port, lock=lock.name)
    for name in task.lost_locks:
        yield BrokenRule("lock kept", lock=name)
    for port, line in task.lost_masters:
        yield BrokenRule("controller on its line", line=line, port=port)
    for port, line in task.misfits:
        yield BrokenRule("port can speak on the line it is held on", line=line, port=port)
    for line, value, limit in overfull(task):
        yield BrokenRule("load within its limit", line=line, value=value, limit=limit)
    for line in late_anyway(task):
        yield BrokenRule(IN_TIME, line=line)


def _on_line(task: Task, number: int, topology: LineTopology, stations: tuple[Station, ...]) -> Iterator[BrokenRule]:
    name, limits = task.lines[number], task.limits[number]
    by_port = {stop.port: place for place, stop in enumerate(task.stops)}
    for stop in topology.stops:
        if over_limit(1000.0 * stop.branch_m, limits.branch_m):
            yield BrokenRule("branch within its limit", name, stop.port, value=stop.branch_m, limit=limits.branch_m)
        if (
            stop.port
            and task.stops[by_port[stop.port]].termination == "fixed"
            and stop.index not in (0, len(stations) - 1)
        ):
            yield BrokenRule("fixed termination at an end", name, stop.port, value=stop.distance_m)
    if over_limit(1000.0 * topology.branches_m, limits.branches_m):
        yield BrokenRule("all branches within their limit", name, value=topology.branches_m, limit=limits.branches_m)
    trunk_m = topology.trunk_m + (topology.branches_m if limits.trunk_counts_branches else 0.0)
    if over_limit(1000.0 * trunk_m, limits.trunk_m):
        yield BrokenRule("trunk within its limit", name, value=trunk_m, limit=limits.trunk_m)
    stops = [by_port[station.port] for station in stations if station.port]
    nodes = len([stop for stop in stops if stop not in task.plugs])
    if limits.nodes is not None and nodes > limits.nodes:
        yield BrokenRule("components within their limit", name, value=float(nodes), limit=float(limits.nodes))
    if task.plugs and not task.plugs & set(stops):
        yield BrokenRule("a service plug on the line", name, value=0.0, limit=1.0)
    yield from _said(task, number, stops)


def _said(task: Task, number: int, stops: list[int]) -> Iterator[BrokenRule]:
    """What the ports on a line say: too much, or too much at once."""
    name, limit = task.lines[number], task.limits[number].load
    loads, bounds = load_of(task, number, stops), load_bounds(task, number)
    if any(load > bound + LOAD_ROUNDING for load, bound in zip(loads, bounds, strict=False)):
        full = any(line == name for line, *_ in overfull(task))
        rule = "nothing more on a line too full already" if full else "load within its limit"
        yield BrokenRule(rule, name, value=max(loads), limit=limit)
    ports = {task.stops[stop].port for stop in stops}
    late = any(each.line == name and each.ports <= ports for each in task.late)
    if late and name not in late_anyway(task):
        yield BrokenRule(IN_TIME, line=name)


def _kept(task: Task, lock: LockOn, stations: tuple[tuple[Station, ...], ...]) -> bool:
    port = task.stops[lock.stop].port
    ports = [[station.port for station in own if station.port] for own in stations]
    here = next((number for number, own in enumerate(ports) if port in own), -1)
    if lock.other >= 0:
        other = task.stops[lock.other].port
        share = here >= 0 and other in ports[here]
        return not share if lock.must == APART else share
    if here < 0:
        return False
    if lock.must == "be on line":
        return here == lock.line
    through = next(station for station in stations[here] if station.port == port).at == ""
    return through and (lock.must == "be joined through" or port in (ports[here][0], ports[here][-1]))
