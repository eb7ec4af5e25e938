"""The stored waveform cases as networks, and ngspice to run them anew."""

import json
import re
import shutil
import subprocess
from dataclasses import dataclass

import numpy as np

from loomwright.engines.wave_lanes import Drivers, Pattern
from loomwright.engines.wave_network import Line, Network
from tests.authorities import FOLDER

CASES = FOLDER / "waveforms"
VALUES = json.loads((CASES / "values.json").read_text("utf-8"))
SCALE = {"n": 1e-9, "p": 1e-12, "u": 1e-6, "": 1.0}
START_S = 100e-9


@dataclass(frozen=True)
class Case:
    """One netlist: network, node numbers by name, the driver and its bits."""

    network: Network
    node: dict[str, int]
    drivers: Drivers
    pattern: Pattern
    ideal: bool


def number(text):
    """A value of a netlist, with its scale letter."""
    digits, scale = re.fullmatch(r"([-+0-9.e]+)([a-z]?)", text).groups()
    return float(digits) * SCALE[scale]


def read(name):
    """Parse one netlist; a resistor between two lines becomes the resistance of one line through it."""
    text = (CASES / f"{name}.cir").read_text("utf-8")
    lines = [
        (a, b, number(z0), number(delay), 0.0)
        for a, b, z0, delay in re.findall(r"^T\d+ (\S+) 0 (\S+) 0 Z0=(\S+) TD=(\S+)", text, re.MULTILINE)
    ]
    for a, b, ohm in re.findall(r"^RS\d+ (\S+) (\S+) (\S+)", text, re.MULTILINE):
        before = next(line for line in lines if line[1] == a)
        after = next(line for line in lines if line[0] == b)
        lines.remove(before)
        lines.remove(after)
        lines.append((before[0], after[1], before[2], before[3] + after[3], float(ohm)))
    names = list(dict.fromkeys(name for line in lines for name in line[:2]))
    node = {name: index for index, name in enumerate(names)}
    shunt, capacitance = np.zeros(len(names)), np.zeros(len(names))
    for at, ohm in re.findall(r"^R\d+ (\S+) 0 (\S+)", text, re.MULTILINE):
        shunt[node[at]] += 1.0 / number(ohm)
    for at, farad in re.findall(r"^C\d+ (\S+) 0 (\S+)", text, re.MULTILINE):
        capacitance[node[at]] += number(farad)
    driver, ohm, volts = re.search(r"^Bdrv 0 (\S+) I = V\(en\)/(\d+)\*\((\d+)-V", text, re.MULTILINE).groups()
    points = re.search(r"PWL\((.*)\)", text)[1].split()
    ramp_s = number(points[4]) - number(points[2])
    values = VALUES[name]
    network = Network(
        len(names), tuple(Line(node[a], node[b], z0, delay, r) for a, b, z0, delay, r in lines), shunt, capacitance
    )
    return Case(
        network,
        node,
        Drivers((node[driver],), float(volts), float(ohm), ramp_s, ramp_s),
        Pattern(values["bits"], values["bit_ns"] * 1e-9, START_S),
        ramp_s < 1e-9,
    )


def ngspice():
    """The program's path, ``None`` where it is not installed."""
    return shutil.which("ngspice")


def run_ngspice(name, folder, step_s=None):
    """Run a netlist, at another step if wanted; returns times in s and voltages by node name."""
    text = (CASES / f"{name}.cir").read_text("utf-8")
    if step_s is not None:
        text = re.sub(r"^tran \S+ (\S+) 0 \S+", rf"tran {step_s:g} \1 0 {step_s:g}", text, flags=re.MULTILINE)
    (folder / "out").mkdir(exist_ok=True)
    netlist = folder / f"{name}.cir"
    netlist.write_text(text, "utf-8")
    subprocess.run([ngspice(), "-b", netlist.name], cwd=folder, check=True, capture_output=True, timeout=120)
    table = np.loadtxt(folder / "out" / f"{name}.dat", skiprows=1)
    names = re.search(r"^wrdata \S+ (.*)$", text, re.MULTILINE)[1].split()
    return table[:, 0], {name[2:-1]: table[:, 1 + index] for index, name in enumerate(names)}
