"""What rules may look at: the values and the answers, nothing else."""

from dataclasses import dataclass

from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable, Place, Run, Vehicle
from loomwright.solve.ohms import LineOhms
from loomwright.solve.reach import Reach
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer
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


@dataclass(frozen=True, slots=True)
class VehicleEvidence:
    """The whole vehicle with every line's evidence."""

    vehicle: Vehicle
    reach: Reach
    lines: tuple[LineEvidence, ...]
