"""What of a line goes into the waves: loads, capacitances, delays and impedance, each low, typical and high."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.wave_lanes import Drivers, Pattern
from loomwright.engines.wave_network import Line as WaveLine
from loomwright.engines.wave_network import Network, fitting_step
from loomwright.engines.waves import STEP_S
from loomwright.laws.bit_timing import usual_sample_point
from loomwright.laws.levels import STRONG_DRIVER, TYPICAL_DRIVER, WEAK_DRIVER, DriverSource
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable
from loomwright.solve.facts import Facts, Three
from loomwright.solve.levels import is_node
from loomwright.solve.loads import CORNERS, LineLoads, loads_of
from loomwright.solve.topology import LineTopology, Stop, port_of
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path

EDGE_S = 20e-9
"""Time in which a driver's conductance goes up or down; common practice for a fast transceiver, and no part's promise."""

Floats = NDArray[np.float64]

#: (driver, index of the resistances, index of the capacitances): typical first, then what makes edges late or ringing.
_CORNERS = (
    (TYPICAL_DRIVER, 1, 1),
    (WEAK_DRIVER, 0, 2),
    (WEAK_DRIVER, 2, 2),
    (STRONG_DRIVER, 0, 2),
    (STRONG_DRIVER, 2, 2),
    (STRONG_DRIVER, 2, 0),
)


@dataclass(frozen=True, slots=True, eq=False)
class SignalParts:
    """A line made ready for the wave engine.

    ``capacitance_f`` has shape (3, nodes). ``stops`` are those that send and listen, in trunk order. ``sample_s`` is the
    earliest sample point, ``electronics_s`` the slowest transceiver.
    """

    topology: LineTopology
    loads: LineLoads
    capacitance_f: Floats
    delay_s_per_m: Three
    impedance_ohm: Three
    stops: tuple[Stop, ...]
    pattern: Pattern
    step_s: float
    sample_s: float
    electronics_s: float
    assumed: tuple[Path, ...]

    @property
    def tips(self) -> tuple[int, ...]:
        """The nodes at the pins of the stops."""
        return tuple(stop.tip for stop in self.stops)


def signal_parts(
    line: Line, components: Table[Component], cable: Cable, topology: LineTopology
) -> SignalParts | Blocked:
    """Gather all facts. Blocked by those that are unknown; by none where fewer than two nodes stand on the line."""
    loads = loads_of(line, components, cable, topology)
    facts = Facts()
    rate = facts.bounds(line.bit_rate_bit_per_s, ("lines", topology.line, "bit_rate_bit_per_s"))[1]
    delay = facts.bounds(cable.delay_s_per_m, ("cables", line.cable, "delay_s_per_m"))
    impedance = facts.bounds(cable.impedance_ohm, ("cables", line.cable, "impedance_ohm"))
    stops = tuple(stop for stop in topology.stops if stop.port and not stop.repeated and is_node(components, stop))
    capacitance = np.zeros((CORNERS, topology.nodes))
    points, delays = [], []
    for stop in stops:
        component, _, name = stop.port.partition(".")
        port, path = port_of(components, stop.port), ("components", component, "ports", name)
        capacitance[:, stop.tip] += facts.bounds(port.node_capacitance_f, (*path, "node_capacitance_f"))
        delays.append(facts.bounds(port.transceiver_delay_s, (*path, "transceiver_delay_s"))[2])
        if port.sample_point is not None:
            points.append(facts.bounds(port.sample_point, (*path, "sample_point"))[0])
    if isinstance(loads, Blocked) or facts.blocked:
        return Blocked(tuple(dict.fromkeys((*(loads.by if isinstance(loads, Blocked) else ()), *facts.blocked))))
    if len(stops) < 2:
        return Blocked(())
    step_s = fitting_step([piece.length_m * delay[1] for piece in topology.pieces if piece.length_m > 0.0], STEP_S)
    return SignalParts(
        topology,
        loads.value,
        capacitance,
        delay,
        impedance,
        stops,
        Pattern("DR", 1.0 / rate, 10 * step_s),
        step_s,
        min(points, default=usual_sample_point(rate)) / rate,
        max(delays),
        tuple(dict.fromkeys((*loads.assumed, *facts.assumed))),
    )


def typical_circuit(parts: SignalParts, senders: tuple[int, ...]) -> tuple[Network, Drivers]:
    """The line with everything typical, driven at the given nodes."""
    return _circuit(parts, senders, _CORNERS[:1])


def corner_circuits(parts: SignalParts) -> tuple[Network, Drivers]:
    """The line with everything typical, then at each corner, driven by every stop."""
    return _circuit(parts, parts.tips, _CORNERS)


def circuit(
    parts: SignalParts,
    siemens: Floats,
    farad: Floats,
    loop_ohm_per_m: Floats,
    impedance_ohm: float | Floats,
    stretch: float | Floats = 1.0,
) -> Network:
    """The line as a network of one draw or more: shapes (draws, nodes), (draws, nodes), (draws,)."""
    pieces = tuple(
        WaveLine(
            piece.start,
            piece.end,
            impedance_ohm,
            piece.length_m * parts.delay_s_per_m[1],
            loop_ohm_per_m * piece.length_m,
        )
        for piece in parts.topology.pieces
    )
    return Network(parts.topology.nodes, pieces, siemens, farad, stretch)


def _circuit(
    parts: SignalParts, senders: tuple[int, ...], draws: tuple[tuple[DriverSource, int, int], ...]
) -> tuple[Network, Drivers]:
    siemens = parts.loads.siemens(parts.topology, parts.topology.nodes)
    network = circuit(
        parts,
        np.array([siemens[ohm] for _, ohm, _ in draws]),
        np.array([parts.capacitance_f[farad] for _, _, farad in draws]),
        np.array([parts.loads.loop_ohm_per_m[ohm] for _, ohm, _ in draws]),
        parts.impedance_ohm[1],
    )
    volts = np.array([[driver.volts] for driver, _, _ in draws])
    ohm = np.array([[driver.ohm] for driver, _, _ in draws])
    return network, Drivers(senders, volts, ohm, EDGE_S, EDGE_S)
