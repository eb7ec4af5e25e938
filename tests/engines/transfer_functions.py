"""Transfer functions of a stored waveform case by scikit-rf, with the driver always connected.

``authorities/waveforms/transfer_functions.json`` holds what this gave; run ``python -m tests.engines.transfer_functions``
to write it anew.
"""

import json

import numpy as np

from tests.authorities import FOLDER
from tests.engines.netlists import read

STORED = FOLDER / "waveforms" / "transfer_functions.json"
CASE = "05_stub3m"
PROBE_OHM = 1e9
SOURCE_OHM = 30.0


def by_scikit_rf(case, frequency_hz):
    """Volts at every node for 1 V of the source, complex, shape (nodes, frequencies).

    Every node is a port of very high impedance, the driver's one of 30 ohm; what hangs from it stands before its port.
    """
    import skrf
    from skrf.circuit import Circuit
    from skrf.media import DefinedGammaZ0

    net, (driver,) = case.network, case.drivers.nodes
    frequency = skrf.Frequency.from_f(frequency_hz, unit="Hz")
    medium = DefinedGammaZ0(frequency, z0=120.0, gamma=2j * np.pi * frequency.f)  # one metre delays by one second
    joints = [[] for _ in range(net.nodes)]
    for index, line in enumerate(net.lines):
        part = medium.line(line.delay_s, "m", name=f"line{index}")
        joints[line.start].append((part, 0))
        joints[line.end].append((part, 1))
    ohm = [SOURCE_OHM if node == driver else PROBE_OHM for node in range(net.nodes)]
    outlets = []
    for node in range(net.nodes):
        siemens = net.shunt_s[node] + 2j * np.pi * frequency.f * net.capacitance_f[node]
        load = Circuit.ShuntAdmittance(frequency, siemens, name=f"load{node}", z0=120.0)
        port = Circuit.Port(frequency, name=f"port{node}", z0=ohm[node])
        joints[node].append((load, 0))
        outlets.append([(load, 1), (port, 0)])
    circuit = Circuit([*joints, *outlets])
    assert list(circuit.port_names) == [f"port{node}" for node in range(net.nodes)]
    scattering = circuit.network.s
    volts = np.empty((net.nodes, frequency.npoints), dtype=complex)
    for node in range(net.nodes):
        if node == driver:
            volts[node] = (1.0 + scattering[:, node, node]) / 2.0
        else:
            volts[node] = scattering[:, node, driver] * np.sqrt(ohm[node] / ohm[driver]) / 2.0
    return volts


def main():
    """Write the stored values anew."""
    case = read(CASE)
    frequency_hz = np.round(np.geomspace(0.13e6, 199e6, 41), 0)
    volts = by_scikit_rf(case, frequency_hz)
    stored = {
        "source": "scikit-rf 2.2.0, Circuit of the case below with the driver's 30 ohm always connected; volts a volt of source",
        "standing": "computed by another program",
        "case": CASE,
        "frequency_Hz": frequency_hz.tolist(),
        "nodes": {
            name: [[round(float(value.real), 9), round(float(value.imag), 9)] for value in volts[node]]
            for name, node in case.node.items()
        },
    }
    STORED.write_text(json.dumps(stored, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()
