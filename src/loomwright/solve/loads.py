"""What loads the two wires of a line, at low, typical and high resistance?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.facts import Facts, Three
from loomwright.solve.topology import LineTopology, Stop, port_of
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Known

CORNERS = 3
"""Low, typical and high: the network rises with every one of its resistances, so all-low and all-high bound it."""


@dataclass(frozen=True, slots=True)
class LineLoads:
    """The cable's loop resistance in ohm per metre, and each stop's conductance at its tip in siemens, by corner."""

    loop_ohm_per_m: Three
    shunts_s: tuple[Three, ...]

    def siemens(self, topology: LineTopology, nodes: int) -> NDArray[np.float64]:
        """Conductance of every node in siemens, shape (3, nodes)."""
        total = np.zeros((CORNERS, nodes))
        for stop, shunt in zip(topology.stops, self.shunts_s, strict=True):
            total[:, stop.tip] += shunt
        return total


def loads_of(line: Line, components: Table[Component], cable: Cable, topology: LineTopology) -> Answer[LineLoads]:
    """Gather terminations, node resistances and cable resistance. Blocked by those that are unknown."""
    facts = _Loads(components)
    where: Path = (
        ("cables", line.cable, "conductor_resistance_ohm_per_m") if line.cable else ("lines", topology.line, "cable")
    )
    loop = facts.bounds(cable.conductor_resistance_ohm_per_m, where)
    shunts = tuple(facts.shunt(stop, ("lines", topology.line, "stations", stop.index)) for stop in topology.stops)
    if facts.blocked:
        return Blocked(tuple(dict.fromkeys(facts.blocked)))
    low, typical, high = (2.0 * ohm for ohm in loop)
    return Solved(LineLoads((low, typical, high), shunts), tuple(dict.fromkeys(facts.assumed)))


class _Loads(Facts):
    """Reads facts of a line's loads."""

    def __init__(self, components: Table[Component]) -> None:
        super().__init__()
        self.components = components

    def shunt(self, stop: Stop, station: Path) -> Three:
        """Conductance of a stop between the wires in siemens, for the three corners of resistance."""
        total = np.zeros(CORNERS)
        if stop.repeated:
            return (0.0, 0.0, 0.0)
        port: Path = ("components", stop.component, "ports", stop.port.partition(".")[2])
        if stop.port:
            component = self.components[stop.component]
            fact = port_of(self.components, stop.port).node_resistance_ohm
            # A service plug is bare contacts: nothing between its pins unless somebody measured it.
            if component.role != "service plug" or isinstance(fact, Known):
                total += 1.0 / np.array(self.bounds(fact, (*port, "node_resistance_ohm")))
        if stop.termination == "unknown":
            self.blocked.append((*port, "termination"))
        elif stop.termination == "on" and stop.termination_ohm is not None:
            where = (*port, "termination_ohm") if stop.port else (*station, "terminator_ohm")
            total += 1.0 / np.array(self.bounds(stop.termination_ohm, where))
        low, typical, high = (float(part) for part in total)
        return low, typical, high
