"""What rules may look at: the values and the answers, nothing else."""

from dataclasses import dataclass

from loomwright.model.component import Component
from loomwright.model.line import Line, Station
from loomwright.model.speech import Speech
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable, Place, Run, Vehicle
from loomwright.solve.ohms import LineOhms, line_ohms
from loomwright.solve.reach import Reach
from loomwright.solve.topology import LineTopology, line_topology
from loomwright.solve.traffic import Traffic
from loomwright.solve.ways import RunWays
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.change import Path


@dataclass(frozen=True, slots=True)
class LineEvidence:
    """One line: its own components, its cable, the rule set that governs it, and what was computed of it."""

    name: str
    line: Line
    components: Table[Component]
    cable: Cable
    rule_set: str
    places: Table[Place]
    runs: Table[Run]
    topology: Answer[LineTopology]
    ohms: Answer[LineOhms]

    @property
    def path(self) -> Path:
        """The line itself, as a subject."""
        return ("lines", self.name)

    def station(self, index: int) -> Path:
        """A station, as a subject."""
        return ("lines", self.name, "stations", index)

    def cable_fact(self, field: str) -> Path:
        """A fact of the cable; where the line names no cable, the missing name."""
        return ("cables", self.line.cable, field) if self.line.cable else (*self.path, "cable")

    def port_fact(self, address: str, field: str) -> Path:
        """A fact of a port on the line."""
        component, _, port = address.partition(".")
        return ("components", component, "ports", port, field)

    def joint_place(self, station: Station) -> str:
        """Place where a station joins the trunk."""
        return station.at or self.components[station.port.partition(".")[0]].place


@dataclass(frozen=True, slots=True)
class VehicleEvidence:
    """The whole vehicle with every line's evidence."""

    vehicle: Vehicle
    reach: Reach
    lines: tuple[LineEvidence, ...]


@dataclass(frozen=True, slots=True)
class TrafficEvidence:
    """What is said in the vehicle, and what was found out about it."""

    speech: Speech
    traffic: Traffic


def line_evidence(vehicle: Vehicle, name: str, net: RunWays) -> LineEvidence:
    """Answer everything about one line anew; nothing is remembered."""
    line = vehicle.lines[name]
    components, cable = components_on(vehicle, line), cable_of(vehicle, line)
    topology = line_topology(name, line, components, net)
    ohms = topology if isinstance(topology, Blocked) else line_ohms(line, components, cable, topology.value)
    return evidence_of(vehicle, name, topology, ohms)


def evidence_of(vehicle: Vehicle, name: str, topology: Answer[LineTopology], ohms: Answer[LineOhms]) -> LineEvidence:
    """A line's evidence out of answers that are at hand."""
    line = vehicle.lines[name]
    return LineEvidence(
        name=name,
        line=line,
        components=components_on(vehicle, line),
        cable=cable_of(vehicle, line),
        rule_set=line.rule_set or vehicle.rule_set,
        places=vehicle.places,
        runs=vehicle.runs,
        topology=topology,
        ohms=ohms,
    )


def components_on(vehicle: Vehicle, line: Line) -> Table[Component]:
    """The components that a line's stations name."""
    names = dict.fromkeys(station.port.partition(".")[0] for station in line.stations if station.port)
    return Table((name, vehicle.components[name]) for name in names)


def cable_of(vehicle: Vehicle, line: Line) -> Cable:
    """The line's cable; nominal bus cable, with all its figures assumed, where it names none."""
    return vehicle.cables[line.cable] if line.cable else Cable()


def alone(evidence: LineEvidence) -> Vehicle:
    """A vehicle that holds nothing but the line, so that a change of the line can be tried on it."""
    return Vehicle(
        evidence.name,
        0.0,
        0.0,
        rule_set=evidence.rule_set,
        places=evidence.places,
        runs=evidence.runs,
        cables=Table({evidence.line.cable: evidence.cable} if evidence.line.cable else {}),
        components=evidence.components,
        lines=Table({evidence.name: evidence.line}),
    )
