"""What of a line goes into the waves: loads, capacitances, delays and impedance, each low, typical and high."""

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.skin_branches import ANGULAR, FIT_HZ, branches
from loomwright.engines.wave_lanes import Drivers, Pattern
from loomwright.engines.wave_network import Line as WaveLine
from loomwright.engines.wave_network import Network, fitting_step
from loomwright.engines.waves import STEP_S
from loomwright.laws.bit_timing import usual_sample_point
from loomwright.laws.copper import COPPER_OHM_M, pair_excess, section_of
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
from loomwright.terms.fact import Unknown

EDGE_S = 20e-9
"""Time in which a driver's conductance goes up or down; common practice for a fast transceiver, and no part's promise."""

Floats = NDArray[np.float64]


class Extreme(NamedTuple):
    """A driver, and for resistances, capacitances, impedance and delay whether they are low (0), typical (1) or high (2)."""

    driver: DriverSource
    ohm: int
    farad: int
    impedance: int = 1
    delay: int = 1


TYPICAL = Extreme(TYPICAL_DRIVER, 1, 1)
#: Typical first, then what makes edges late or ringing. Not all there are: draws may find later bits.
EXTREMES = (
    TYPICAL,
    Extreme(WEAK_DRIVER, 0, 2),
    Extreme(WEAK_DRIVER, 2, 2),
    Extreme(STRONG_DRIVER, 0, 2),
    Extreme(STRONG_DRIVER, 2, 2),
    Extreme(STRONG_DRIVER, 2, 0),
    Extreme(WEAK_DRIVER, 2, 2, 2, 2),
    Extreme(WEAK_DRIVER, 2, 2, 0, 2),
    Extreme(STRONG_DRIVER, 2, 2, 2, 2),
    Extreme(STRONG_DRIVER, 2, 2, 0, 2),
    Extreme(STRONG_DRIVER, 2, 2, 0, 0),
)
BITS_BEFORE = "DRDRDDR"
"""What is sent at typical values: bits that meet what is left of the bits before them, and those from rest."""


@dataclass(frozen=True, slots=True, eq=False)
class SignalParts:
    """A line made ready for the wave engine.

    ``capacitance_f`` has shape (3, nodes). ``stops`` are those that send and listen, in trunk order. ``sample_s`` is the
    earliest sample point, ``electronics_s`` the slowest transceiver. ``skin_ohm_per_m`` is what the loop resists more when
    currents change fast, branch by branch.
    """

    topology: LineTopology
    loads: LineLoads
    capacitance_f: Floats
    delay_s_per_m: Three
    impedance_ohm: Three
    skin_ohm_per_m: tuple[float, ...]
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
    section_m2 = _section_m2(facts, line, cable, loads.value.loop_ohm_per_m[1])
    step_s = fitting_step([piece.length_m * delay[1] for piece in topology.pieces if piece.length_m > 0.0], STEP_S)
    return SignalParts(
        topology,
        loads.value,
        capacitance,
        delay,
        impedance,
        () if section_m2 is None else skin_of(section_m2, impedance[1], delay[1]),
        stops,
        Pattern("DR", 1.0 / rate, 10 * step_s),
        step_s,
        min(points, default=usual_sample_point(rate)) / rate,
        max(delays),
        tuple(dict.fromkeys((*loads.assumed, *facts.assumed))),
    )


def _section_m2(facts: Facts, line: Line, cable: Cable, loop_ohm_per_m: float) -> float | None:
    """A conductor's cross-section as told, else that of its resistance; ``None`` where it has none."""
    if not isinstance(cable.cross_section_m2, Unknown):
        return facts.bounds(cable.cross_section_m2, ("cables", line.cable, "cross_section_m2"))[1]
    return section_of(loop_ohm_per_m / 2.0) if loop_ohm_per_m > 0.0 else None


@lru_cache(maxsize=64)
def skin_of(cross_section_m2: float, impedance_ohm: float, delay_s_per_m: float) -> tuple[float, ...]:
    """Resistances in ohm/m of a pair's loop, one for each of ``skin_branches.ANGULAR``."""
    excess = pair_excess(cross_section_m2, impedance_ohm, delay_s_per_m, FIT_HZ)
    return branches(excess, np.abs(excess + 2.0 * COPPER_OHM_M / cross_section_m2))


def typical_circuit(parts: SignalParts, senders: tuple[int, ...]) -> tuple[Network, Drivers]:
    """The line with everything typical, driven at the given nodes."""
    return _circuit(parts, senders, (TYPICAL,))


def corner_circuits(parts: SignalParts) -> tuple[Network, Drivers]:
    """The line with everything typical, then at each of the ``EXTREMES``, driven by every stop."""
    return _circuit(parts, parts.tips, EXTREMES)


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
            tuple(ohm * piece.length_m for ohm in parts.skin_ohm_per_m),
        )
        for piece in parts.topology.pieces
    )
    return Network(parts.topology.nodes, pieces, siemens, farad, stretch, ANGULAR)


def _circuit(parts: SignalParts, senders: tuple[int, ...], draws: tuple[Extreme, ...]) -> tuple[Network, Drivers]:
    siemens, delay = parts.loads.siemens(parts.topology, parts.topology.nodes), parts.delay_s_per_m
    network = circuit(
        parts,
        np.array([siemens[draw.ohm] for draw in draws]),
        np.array([parts.capacitance_f[draw.farad] for draw in draws]),
        np.array([parts.loads.loop_ohm_per_m[draw.ohm] for draw in draws]),
        np.array([parts.impedance_ohm[draw.impedance] for draw in draws]),
        np.array([delay[draw.delay] / delay[1] if delay[1] > 0.0 else 1.0 for draw in draws]),
    )
    volts = np.array([[draw.driver.volts] for draw in draws])
    ohm = np.array([[draw.driver.ohm] for draw in draws])
    return network, Drivers(senders, volts, ohm, EDGE_S, EDGE_S)
