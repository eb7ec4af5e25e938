"""Branched lines whose copper resists fast changes, against the exact solution by Laplace, lines distributed."""

import itertools

import numpy as np
import pytest

from loomwright.engines.skin_branches import ANGULAR, AT_HZ, FIT_HZ, branches, row
from loomwright.engines.wave_lanes import Drivers, Pattern
from loomwright.engines.wave_network import Line, Network
from loomwright.engines.waves import simulate
from loomwright.laws.copper import (
    COPPER_OHM_M,
    VACUUM_PERMEABILITY,
    nearness,
    pair_excess,
)
from tests.engines.test_waves_frequency import STEP_A, driven_by_current, inverted
from tests.engines.transfer_functions import SOURCE_OHM

SECTION_M2, OHM, DELAY = 0.5e-6, 120.0, 5e-9
LOOP_OHM_PER_M = 2.0 * COPPER_OHM_M / SECTION_M2
RAMP_S = 20e-9


def copper(section_m2=SECTION_M2):
    excess = pair_excess(section_m2, OHM, DELAY, FIT_HZ)
    return branches(excess, np.abs(excess + 2.0 * COPPER_OHM_M / section_m2))


def network(pieces, nodes, node_s, node_f, skin):
    lines = tuple(
        Line(a, b, OHM, DELAY * metres, LOOP_OHM_PER_M * metres, tuple(ohm * metres for ohm in skin))
        for a, b, metres in pieces
    )
    return Network(nodes, lines, np.array(node_s), np.array(node_f), 1.0, ANGULAR if skin else ())


def exact_wire(s):
    """Loop impedance in ohm/m at complex frequencies: Bessel's functions, nearness on what skin adds."""
    from scipy.special import ive

    radius = np.sqrt(SECTION_M2 / np.pi)
    at = np.sqrt(s * VACUUM_PERMEABILITY / COPPER_OHM_M) * radius
    skin = LOOP_OHM_PER_M * (at / 2.0 * ive(0, at) / ive(1, at) - 1.0)
    return LOOP_OHM_PER_M + nearness(OHM, DELAY) * skin


def row_wire(s):
    """The same of the row of branches, but spread along the line."""
    return LOOP_OHM_PER_M + sum(ohm * s / (s + at) for ohm, at in zip(copper(), ANGULAR, strict=True))


def exact(pieces, nodes, node_s, node_f, driver, of_metre):
    """Transforms of all node voltages for the ramped current, by admittances of lines with distributed impedance."""

    def transforms(s):
        matrix = np.zeros((s.size, nodes, nodes), dtype=complex)
        for node in range(nodes):
            matrix[:, node, node] = node_s[node] + s * node_f[node] + (1.0 / SOURCE_OHM if node == driver else 0.0)
        for a, b, metres in pieces:
            series, parallel = of_metre(s) + s * OHM * DELAY, s * DELAY / OHM
            gamma, impedance = np.sqrt(series * parallel) * metres, np.sqrt(series / parallel)
            own, other = 1.0 / (impedance * np.tanh(gamma)), -1.0 / (impedance * np.sinh(gamma))
            matrix[:, a, a] += own
            matrix[:, b, b] += own
            matrix[:, a, b] += other
            matrix[:, b, a] += other
        current = np.zeros((s.size, nodes, 1), dtype=complex)
        current[:, driver, 0] = STEP_A * (1.0 - np.exp(-s * RAMP_S)) / (RAMP_S * s**2)
        return np.linalg.solve(matrix, current)[:, :, 0]

    return transforms


NODE_F = 100e-12
#: Trunk 0 - 1 - 2 - 3 with terminators at its ends and two stubs of like length, 4 and 5, with a transceiver each.
TWINS = [(0, 1, 3.0), (1, 2, 0.15), (2, 3, 2.5), (1, 4, 0.25), (2, 5, 0.2)]
SHUNT_S = [1 / 120, 0.0, 0.0, 1 / 120, 1 / 30e3, 1 / 30e3]
FARAD = [0.0, 0.0, 0.0, 0.0, NODE_F, NODE_F]


@pytest.mark.parametrize(("of_metre", "within_v"), [(row_wire, 7e-3), (exact_wire, 12e-3)])
def test_twin_stubs_ring_and_fade_as_they_do_exactly(of_metre, within_v):
    """To 7 mV where the wire is made of the branches (cells lump them), to 12 mV for the round wire (the branches fit it)."""
    until = 2e-6
    time, volts = driven_by_current(network(TWINS, 6, SHUNT_S, FARAD, copper()), 0, 0.6 * until, RAMP_S, 0.05e-9)
    solved = exact(TWINS, 6, SHUNT_S, FARAD, 0, of_metre)
    when = np.linspace(0.002, 0.59, 590) * until
    for node in (4, 5, 3):
        wanted = inverted(lambda s, node=node: solved(s)[:, node], when, until)
        assert np.abs(np.interp(when, time, volts[node]) - wanted).max() < within_v, node
        assert np.abs(wanted).max() > 1.0


def test_without_skin_the_twins_ring_on_and_that_is_told_by_the_exact_solution_too():
    """After 1 us the swing is less than half as wide as with copper that knows direct current only."""
    until = 2e-6
    when = np.linspace(0.45, 0.55, 200) * until

    def swing(volts):
        return np.ptp(volts)

    def ours(skin):
        time, volts = driven_by_current(network(TWINS, 6, SHUNT_S, FARAD, skin), 0, 0.6 * until, RAMP_S, 0.05e-9)
        return np.interp(when, time, volts[5])

    exactly = exact(TWINS, 6, SHUNT_S, FARAD, 0, exact_wire)
    wanted = swing(inverted(lambda s: exactly(s)[:, 5], when, until))
    assert swing(ours(())) > 2.5 * wanted > 2e-3
    assert swing(ours(copper())) == pytest.approx(wanted, abs=1e-3)


@pytest.mark.parametrize(("metres", "within_v"), [(20.0, 20e-3), (100.0, 60e-3)])
def test_a_long_pair_rounds_its_steps_as_it_does_exactly(metres, within_v):
    """Thresholds are passed within 0.8 ns of when they are passed exactly, and the level 200 ns behind the edge is right to some mV."""
    pieces, node_s, node_f = [(0, 1, metres)], [1 / 120, 1 / 120], [50e-12, 50e-12]
    until = 3e-6
    time, volts = driven_by_current(network(pieces, 2, node_s, node_f, copper()), 0, 0.6 * until, RAMP_S, 0.1e-9)
    solved = exact(pieces, 2, node_s, node_f, 0, exact_wire)
    when = np.linspace(0.001, 0.59, 3000) * until
    for node in (0, 1):
        wanted = inverted(lambda s, node=node: solved(s)[:, node], when, until)
        found = np.interp(when, time, volts[node])
        for threshold in (0.5, 0.9):
            passed = [np.interp(threshold, curve[:first], when[:first]) for curve in (found, wanted)
                      for first in [int(np.argmax(curve > 1.2))]]  # fmt: skip
            assert passed[0] == pytest.approx(passed[1], abs=0.8e-9)
        late = when > DELAY * metres + 0.2e-6
        assert np.abs(found - wanted)[late].max() < within_v


@pytest.mark.parametrize("section_mm2", [0.14, 0.22, 0.35, 0.5, 0.75, 1.0, 1.5])
def test_two_branches_hold_the_resistance_of_a_wire_within_a_quarter(section_mm2):
    section = section_mm2 * 1e-6
    frequency = np.geomspace(1e6, 200e6, 200)
    found = 2.0 * COPPER_OHM_M / section + row(np.array(copper(section))[:, None], frequency)[:, 0]
    wanted = 2.0 * COPPER_OHM_M / section + pair_excess(section, OHM, DELAY, frequency)
    assert np.abs(found.real / wanted.real - 1.0).max() < 0.25
    assert min(copper(section)) >= 0.0
    assert len(copper(section)) == len(AT_HZ)


def test_energy_is_never_made():
    """Open ends, no load: what is on the line can only become less, however the lengths and branches combine."""
    draw = np.random.default_rng(3)
    for _ in range(5):
        lengths = draw.uniform(0.1, 3.0, 3)
        pieces = [(0, 1, lengths[0]), (1, 2, lengths[1]), (1, 3, lengths[2])]
        skin = tuple(draw.uniform(0.0, 50.0, len(ANGULAR)))
        net = network(pieces, 4, [0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0], skin)
        waves = simulate(net, Drivers((0,), 2.0, 50.0, 5e-9, 5e-9), Pattern("DR", 1e-6), 0.1e-9)
        after = np.abs(waves.volts[0, 0][:, waves.time_s[0] > 1.05e-6])
        halves = np.array_split(after, 4, axis=1)
        swings = [np.ptp(half, axis=1).max() for half in halves]
        assert all(late <= early + 1e-12 for early, late in itertools.pairwise(swings))


def test_draws_march_the_same_alone_and_together():
    net = network(TWINS, 6, SHUNT_S, FARAD, copper())
    stretched = Network(net.nodes, net.lines, net.shunt_s, net.capacitance_f, np.array([0.9, 1.0, 1.1]), ANGULAR)
    alone = Network(net.nodes, net.lines, net.shunt_s, net.capacitance_f, 1.1, ANGULAR)
    drivers, pattern = Drivers((4, 5), 2.0, 30.0, RAMP_S, RAMP_S), Pattern("DR", 300e-9)
    together = simulate(stretched, drivers, pattern, 0.25e-9).volts[2]
    single = simulate(alone, drivers, pattern, 0.25e-9).volts[0]
    count = single.shape[-1]
    assert np.abs(together[..., :count] - single).max() < 1e-12
