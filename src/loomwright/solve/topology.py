"""How is a line wired, piece by piece, and how long is every piece?"""

from dataclasses import dataclass, replace

from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.solve.ways import RunWays, Way, way_through
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Fact, Unknown


@dataclass(frozen=True, slots=True)
class Piece:
    """A length of cable between two nodes. ``kind`` is "trunk" or "branch"; ``stop`` is the stop it leads to."""

    start: int
    end: int
    length_m: float
    kind: str
    stop: int
    places: tuple[str, ...]
    runs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stop:
    """A station as wired.

    ``joint`` is the node where it meets the trunk, ``tip`` the node at the component's own pins. ``distance_m`` is
    measured along the trunk from its first end. ``branch_m`` is the stub, own lead (``lead_m``) included; it is 0 where
    an end station's termination makes its stub the end of the trunk. ``termination`` is "on", "off" or "unknown".
    ``way_m`` is the shortest way along the runs from the joint to the component, whatever branch was measured: a run of
    unknown length counts by its straight distance; ``None`` where no runs lead there.
    """

    index: int
    port: str
    joint: int
    tip: int
    place: str
    joint_place: str
    distance_m: float
    branch_m: float
    termination: str
    termination_ohm: Fact[float] | None
    repeated: bool = False
    lead_m: float = 0.0
    way_m: float | None = 0.0

    @property
    def component(self) -> str:
        """Name of the component; empty for a plug-in terminator."""
        return self.port.partition(".")[0]


@dataclass(frozen=True, slots=True)
class LineTopology:
    """A line as wired: nodes are numbered 0 to ``nodes`` - 1, pieces join them, stops stand in trunk order."""

    line: str
    nodes: int
    pieces: tuple[Piece, ...]
    stops: tuple[Stop, ...]
    trunk_m: float

    @property
    def branches_m(self) -> float:
        """All branches together, in metres."""
        return sum(stop.branch_m for stop in self.stops if not stop.repeated)

    @property
    def cable_m(self) -> float:
        """All bus cable of the line: trunk and branches, in metres."""
        return sum(piece.length_m for piece in self.pieces)


def port_of(components: Table[Component], address: str) -> Port:
    """The port at ``component.port``."""
    component, _, port = address.partition(".")
    return components[component].ports[port]


def line_topology(name: str, line: Line, components: Table[Component], net: RunWays) -> Answer[LineTopology]:
    """Wire one line. ``components`` needs to hold those of the line only.

    Blocked by unknown run lengths or own leads, or by ``("lines", name, "stations", i)`` where no runs join a stop to
    the one before it or a component to its branch point.
    """
    wiring = _Wiring(name, line, components, net)
    for index, station in enumerate(line.stations):
        wiring.add(index, station)
    if wiring.blocked:
        return Blocked(tuple(dict.fromkeys(wiring.blocked)))
    return Solved(wiring.topology(), tuple(dict.fromkeys(wiring.assumed)))


def torn(topology: LineTopology, stop: int, share: float = 0.5) -> LineTopology:
    """The line with its trunk torn on the way to a stop, at a share of that way; both ends hang open.

    Nodes and stops keep their numbers, and distances are those of the sound line. Not all nodes are joined then.
    """
    pieces = []
    nodes = topology.nodes
    for piece in topology.pieces:
        if piece.kind != "trunk" or piece.end != topology.stops[stop].joint or piece.stop != stop:
            pieces.append(piece)
            continue
        pieces.append(replace(piece, end=nodes, length_m=piece.length_m * share))
        pieces.append(replace(piece, start=nodes + 1, length_m=piece.length_m * (1.0 - share)))
        nodes += 2
    return replace(topology, nodes=nodes, pieces=tuple(pieces))


def termination_of(station: Station, port: Port | None) -> tuple[str, Fact[float] | None]:
    """Whether a station terminates the line ("on", "off", "unknown"), and with what."""
    if port is None:
        return ("on", station.terminator_ohm)
    if isinstance(port.termination, Unknown):
        return ("unknown", port.termination_ohm)
    kind = port.termination.value
    on = kind == "fixed" or (kind == "switchable" and station.terminated)
    return ("on" if on else "off", port.termination_ohm if kind != "none" else None)


class _Wiring:
    """Collects nodes, pieces and stops while walking the stations once."""

    def __init__(self, name: str, line: Line, components: Table[Component], net: RunWays) -> None:
        self.name, self.line, self.components, self.net = name, line, components, net
        self.nodes = 0
        self.pieces: list[Piece] = []
        self.stops: list[Stop] = []
        self.blocked: list[Path] = []
        self.assumed: list[Path] = []
        self.trunk_m = 0.0
        self.seen: dict[str, int] = {}

    def node(self) -> int:
        self.nodes += 1
        return self.nodes - 1

    def add(self, index: int, station: Station) -> None:
        port = port_of(self.components, station.port) if station.port else None
        own_place = self.components[station.port.partition(".")[0]].place if station.port else station.at
        joint_place = station.at or own_place
        again = self.seen.get(station.port) if station.port else None
        joint = self.stops[again].joint if again is not None else self.node()
        self._section(index, station, joint, joint_place)
        termination, ohm = termination_of(station, port)
        stop = Stop(index, station.port, joint, joint, own_place, joint_place, self.trunk_m, 0.0, termination, ohm)
        if again is not None:
            stop = replace(stop, tip=self.stops[again].tip, termination="off", repeated=True)
        elif port is not None:
            self.seen[station.port] = index
            stop = self._stub(stop, station, port)
        self.stops.append(stop)

    def _section(self, index: int, station: Station, joint: int, joint_place: str) -> None:
        if not self.stops:
            return
        before = self.stops[-1]
        way = self._way(index, (before.joint_place, *station.via, joint_place), measured=station.section_m is not None)
        if way is None:
            return
        length_m = way.length_m if station.section_m is None else station.section_m
        self.pieces.append(Piece(before.joint, joint, length_m, "trunk", index, way.places, way.runs))
        self.trunk_m += length_m

    def _stub(self, stop: Stop, station: Station, port: Port) -> Stop:
        """Hang the component's branch and own lead under its joint."""
        way = self._way(stop.index, (stop.joint_place, stop.place), measured=station.branch_m is not None)
        branch_m = station.branch_m if station.branch_m is not None else (way.length_m if way else 0.0)
        lead_m = 0.0
        component, _, own = stop.port.partition(".")
        lead: Path = ("components", component, "ports", own, "pigtail_m")
        if isinstance(port.pigtail_m, Unknown):
            self.blocked.append(lead)
        else:
            if isinstance(port.pigtail_m, Assumed):
                self.assumed.append(lead)
            lead_m = port.pigtail_m.value
            branch_m += lead_m
        stop = replace(stop, way_m=self._reach_m(stop))
        if branch_m <= 0.0 or way is None:
            return stop
        tip = self.node()
        last = len(self.line.stations) - 1
        ends_trunk = stop.index in (0, last) and stop.termination == "on" and last > 0
        kind = "trunk" if ends_trunk else "branch"
        self.pieces.append(Piece(stop.joint, tip, branch_m, kind, stop.index, way.places, way.runs))
        if not ends_trunk:
            return replace(stop, tip=tip, branch_m=branch_m, lead_m=lead_m)
        # The stub is the trunk's own end. At the first stop the trunk starts at the tip; later stops count from there.
        self.trunk_m += branch_m
        return replace(stop, tip=tip, distance_m=0.0 if stop.index == 0 else self.trunk_m, lead_m=lead_m)

    def _reach_m(self, stop: Stop) -> float | None:
        way = way_through(self.net, (stop.joint_place, stop.place))
        return None if way is None else way.length_m

    def _way(self, index: int, stops: tuple[str, ...], *, measured: bool) -> Way | None:
        way = way_through(self.net, stops)
        if way is None:
            if measured:
                return Way((stops[0], stops[-1]), (), 0.0)
            self.blocked.append(("lines", self.name, "stations", index))
            return None
        if not measured:
            self.blocked.extend(way.unknown)
            self.assumed.extend(way.assumed)
        return way

    def topology(self) -> LineTopology:
        return LineTopology(self.name, self.nodes, tuple(self.pieces), tuple(self.stops), self.trunk_m)
