"""Travelling waves against two solutions in the frequency domain: scikit-rf, and the exact lossy line by Laplace.

Both are for a linear circuit, so the driver's 30 ohm stays connected and a current is switched instead: a source of so
high a voltage and resistance that the line cannot be felt.
"""

import json
from dataclasses import replace

import numpy as np
import pytest

from loomwright.engines.wave_lanes import Drivers, Pattern
from loomwright.engines.wave_network import Line, Network
from loomwright.engines.waves import simulate
from tests.engines.netlists import read
from tests.engines.transfer_functions import CASE, SOURCE_OHM, STORED, by_scikit_rf

STIFF_OHM = 1e9
STEP_A = 0.1
"""3 V behind 30 ohm, as a current beside 30 ohm."""

TRANSFER = json.loads(STORED.read_text("utf-8"))


def driven_by_current(net, node, until_s, ramp_s, step_s):
    """Times and voltages (nodes, times) after a current is ramped up from 0 at time 0 into a node and its 30 ohm."""
    shunt = net.shunt_s.copy()
    shunt[node] += 1.0 / SOURCE_OHM
    linear = replace(net, shunt_s=shunt)
    drivers = Drivers((node,), STEP_A * STIFF_OHM, STIFF_OHM, ramp_s, ramp_s)
    waves = simulate(linear, drivers, Pattern("D", until_s), step_s)
    return waves.time_s[0], waves.volts[0, 0]


def test_scikit_rf_gives_its_stored_transfer_functions():
    case = read(CASE)
    volts = by_scikit_rf(case, np.array(TRANSFER["frequency_Hz"]))
    for name, stored in TRANSFER["nodes"].items():
        found = volts[case.node[name]]
        assert np.abs(found - [complex(*pair) for pair in stored]).max() < 1e-7, name


def test_the_spectrum_of_a_step_response_is_the_transfer_function_of_scikit_rf():
    """From 0.13 to 199 MHz, at all nodes. It takes 16 us until the stub's ringing has died away in this lossless net."""
    case = read(CASE)
    (driver,) = case.drivers.nodes
    time, volts = driven_by_current(case.network, driver, 16e-6, 1e-9, 0.05e-9)
    steps = np.diff(np.vstack([volts, STEP_A * np.clip(time / 1e-9, 0.0, 1.0)]))
    for index, frequency_hz in enumerate(TRANSFER["frequency_Hz"]):
        *spectra, driving = steps @ np.exp(-2j * np.pi * frequency_hz * time[1:])
        for name, stored in TRANSFER["nodes"].items():
            found = spectra[case.node[name]] / driving / SOURCE_OHM
            assert abs(found - complex(*stored[index])) < 1e-3, (name, frequency_hz)


def inverted(transform, time_s, until_s, terms=20_000):
    """Function of time from its Laplace transform by a Fourier series (Dubner and Abate), error below 1e-8 of its size."""
    period = 2.0 * until_s
    shift = 18.4 / period
    s = shift + 1j * np.pi * np.arange(terms) / until_s
    values = transform(s)
    values[0] *= 0.5
    waves = np.exp(1j * np.pi * np.outer(time_s, np.arange(terms)) / until_s)
    return np.exp(shift * time_s) / until_s * (waves @ values).real


@pytest.mark.parametrize(("length_m", "loop_ohm_per_m"), [(40.0, 0.14), (200.0, 0.14), (40.0, 1.0)])
def test_a_lossy_line_in_cells_is_the_exact_lossy_line_to_2_mv(length_m, loop_ohm_per_m):
    """One line of distributed resistance between two terminated nodes, exact in Laplace's domain, inverted here."""
    delay, z0, node_s, node_f, ramp_s = 5e-9 * length_m, 120.0, 1.0 / 120.0 + 1.0 / 30e3, 50e-12, 20e-9
    net = Network(
        2,
        (Line(0, 1, z0, delay, loop_ohm_per_m * length_m),),
        np.array([node_s, node_s]),
        np.array([node_f, node_f]),
    )
    until = 2e-6
    time, volts = driven_by_current(net, 0, 0.6 * until, ramp_s, 0.1e-9)

    def ends(s):
        """Transforms at both ends for the ramped current, by the chain matrix of the line."""
        series, parallel = loop_ohm_per_m * length_m + s * z0 * delay, s * delay / z0
        gamma, impedance = np.sqrt(series * parallel), np.sqrt(series / parallel)
        load = node_s + s * node_f
        a, b, c = np.cosh(gamma), impedance * np.sinh(gamma), np.sinh(gamma) / impedance
        ahead = (c + a * load) / (a + b * load)
        current = STEP_A * (1.0 - np.exp(-s * ramp_s)) / (ramp_s * s**2)
        near = current / (load + 1.0 / SOURCE_OHM + ahead)
        return near, near / (a + b * load)

    when = np.linspace(0.01, 0.59, 117) * until
    for node in (0, 1):
        exact = inverted(lambda s, node=node: ends(s)[node], when, until)
        found = np.interp(when, time, volts[node])
        assert np.abs(found - exact).max() < 2e-3
        assert np.abs(exact).max() > 1.0
