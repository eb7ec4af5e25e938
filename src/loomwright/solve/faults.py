"""Which faults can a line get, and does a torn trunk part it?"""

import math

from loomwright.model.component import Component
from loomwright.model.fault import Fault, FaultKind
from loomwright.model.table import Table
from loomwright.solve.levels import is_node
from loomwright.solve.round_trip import distances_m
from loomwright.solve.topology import LineTopology, torn

STUB_M = 2.0
"""Length of a forgotten lead where nobody names one."""


def possible_faults(topology: LineTopology, components: Table[Component]) -> tuple[Fault, ...]:
    """Every single fault of a line, by kind and then in trunk order; stubs of ``STUB_M``.

    A branch can be torn where there is one, the end of the trunk that leads to a component included; the trunk between
    two stops that cable lies between.
    """
    own = [stop for stop in topology.stops if not stop.repeated]
    nodes = [stop for stop in own if stop.port and is_node(components, stop)]
    sections = [
        piece.stop
        for piece in topology.pieces
        if piece.kind == "trunk" and piece.length_m > 0.0 and piece.end == topology.stops[piece.stop].joint
    ]
    return (
        *(Fault(FaultKind.NO_TERMINATOR, stop.index) for stop in own if stop.termination == "on"),
        *(Fault(FaultKind.OPEN_BRANCH, stop.index) for stop in own if stop.port and stop.tip != stop.joint),
        *(Fault(FaultKind.UNPLUGGED, stop.index) for stop in nodes),
        *(Fault(FaultKind.OPEN_TRUNK, stop) for stop in sections),
        *(Fault(FaultKind.STUB, stop.index, STUB_M) for stop in own),
    )


def parted_at_m(topology: LineTopology, stop: int) -> float | None:
    """Metres of trunk from a tear half-way to a stop to its neighbours; ``None`` where the trunk's other way joins them."""
    before, after = topology.stops[stop - 1].joint, topology.stops[stop].joint
    if math.isfinite(distances_m(torn(topology, stop), before)[after]):
        return None
    pieces = (p for p in topology.pieces if p.kind == "trunk" and p.end == after and p.stop == stop)
    return next(pieces).length_m / 2.0
