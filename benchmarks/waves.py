"""Travelling waves: a ten-node line against ngspice at equal error, a thousand tolerance draws, the first call.

The line is 18 m of trunk with ten nodes on 0.3 m stubs at 1 Mbit/s, lossless (the hardest case: nothing damps its ringing).
Error means the largest difference of any receiver's voltage at any time from the same line at 1/64 ns. Each program gets
the coarsest step of its ladder that stays within 5 mV. Wall times of ngspice include its start, reading the netlist and
writing the voltages, as a user would run it; what is left without start and writing is given beside it.
Run: .venv/bin/python benchmarks/waves.py   (the peer: apt-get install ngspice)
"""

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from loomwright.app.project import open_project
from loomwright.app.signal import drawn as built
from loomwright.app.signal import physics_of
from loomwright.app.start import start_from_example
from loomwright.engines.threads import in_order
from loomwright.engines.wave_lanes import Drivers, Pattern
from loomwright.engines.wave_network import Line, Network, on_grid
from loomwright.engines.waves import joined, settling, settling_jobs, simulate
from loomwright.terms.answer import Blocked

NODES = 10
SECTION_S, STUB_S = 10e-9, 1.5e-9
Z0_OHM, NODE_OHM, NODE_F, RAMP_S = 120.0, 30e3, 50e-12, 20e-9
BITS, BIT_S, START_S = "RDRDDRRD", 1e-6, 100e-9
MOST_V = 5e-3
OURS_NS = (0.5, 0.25, 1 / 6, 0.125, 0.1, 1 / 12)
PEER_NS = (0.5, 0.4, 0.3, 0.25, 0.23, 0.2, 0.15, 0.1)
COMMON_S = np.arange(0, 8.0e-6, 1e-9)
DRAWS = 1000


def ten_nodes():
    """The line; tips of the stubs are the odd nodes."""
    lines = []
    for index in range(NODES):
        lines.append(Line(2 * index, 2 * index + 1, Z0_OHM, STUB_S))
        if index:
            lines.append(Line(2 * index - 2, 2 * index, Z0_OHM, SECTION_S))
    shunt, farad = np.zeros(2 * NODES), np.zeros(2 * NODES)
    shunt[1::2], farad[1::2] = 1 / NODE_OHM, NODE_F
    shunt[[0, 2 * NODES - 2]] += 1 / 120.0
    return Network(2 * NODES, tuple(lines), shunt, farad), tuple(range(1, 2 * NODES, 2))


def netlist(driver, step_ns, write):
    """The same for ngspice, with REL=100 on each line, without which it is many times slower."""
    net, tips = ten_nodes()
    text = ["* ten nodes"]
    for index, line in enumerate(net.lines):
        text.append(f"T{index} n{line.start} 0 n{line.end} 0 Z0={line.impedance_ohm:g} TD={line.delay_s:g} REL=100")
    for node in range(net.nodes):
        if net.shunt_s[node]:
            text.append(f"R{node} n{node} 0 {1 / net.shunt_s[node]:.9g}")
        if net.capacitance_f[node]:
            text.append(f"C{node} n{node} 0 {net.capacitance_f[node]:g}")
    ramps = " ".join(
        f"{edge.at_s:.9g} {int(not edge.dominant)} {edge.at_s + RAMP_S:.9g} {int(edge.dominant)}"
        for edge in Pattern(BITS, BIT_S, START_S).edges
    )
    text += [
        f"Ven en 0 PWL(0 0 {ramps})",
        f"Bdrv 0 n{driver} I = V(en)/30*(3-V(n{driver}))",
        ".options reltol=1e-4 abstol=1e-10 vntol=1e-7",
        ".control",
    ]
    if step_ns:
        text.append(f"tran {step_ns}n 8.1u 0 {step_ns}n")
    if write:
        text += ["set wr_singlescale", "wrdata out.dat " + " ".join(f"v(n{tip})" for tip in tips)]
    return "\n".join([*text, "quit", ".endc", ".end", ""])


def peer(folder, driver, step_ns, *, write=True):
    """Wall seconds of one run, and voltages (receivers, common times) where they were written."""
    (folder / "line.cir").write_text(netlist(driver, step_ns, write))
    begin = time.perf_counter()
    subprocess.run(["ngspice", "-b", "line.cir"], cwd=folder, check=True, capture_output=True)
    seconds = time.perf_counter() - begin
    if not write or not step_ns:
        return seconds, None
    table = np.loadtxt(folder / "out.dat")
    return seconds, np.stack([np.interp(COMMON_S, table[:, 0], column) for column in table[:, 1:].T])


def ours(step_ns, drivers):
    """Voltages (drivers, receivers, common times)."""
    net, tips = ten_nodes()
    every = max(1, round(0.25 / step_ns))
    waves = simulate(net, transmitters(drivers), Pattern(BITS, BIT_S, START_S), step_ns * 1e-9, tips, every)
    return np.apply_along_axis(lambda volts: np.interp(COMMON_S, waves.time_s[0], volts), -1, waves.volts[0])


def transmitters(nodes):
    """Drivers of 3 V behind 30 ohm with edges of 20 ns."""
    return Drivers(tuple(nodes), 3.0, 30.0, RAMP_S, RAMP_S)


def timed(work, repeat=5):
    """Median seconds, and the last result."""
    seconds = []
    for _ in range(repeat):
        begin = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - begin)
    return statistics.median(seconds), result


def against_ngspice():
    """Every transmitter in turn, all receivers at once, at equal error."""
    net, tips = ten_nodes()
    truth = ours(1 / 64, tips)
    pattern = Pattern(BITS, BIT_S, START_S)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fine = peer(folder, tips[0], 0.02)[1]
        print(f"the yardstick differs from ngspice at 0.02 ns by {np.abs(fine - truth[0]).max() * 1e3:.2f} mV")
        peer_ns, peer_v = next(
            (step, error)
            for step in PEER_NS
            if (error := np.abs(peer(folder, tips[0], step)[1] - truth[0]).max()) <= MOST_V
        )
        our_ns, our_v = next(
            (step, error) for step in OURS_NS if (error := np.abs(ours(step, tips) - truth).max()) <= MOST_V
        )
        print(
            f"ngspice at {peer_ns:.3g} ns: error {peer_v * 1e3:.1f} mV; loomwright at {our_ns:.3g} ns: {our_v * 1e3:.1f} mV"
        )
        start = statistics.median(peer(folder, tips[0], None, write=False)[0] for _ in range(5))
        bare = statistics.median(peer(folder, tips[0], peer_ns, write=False)[0] for _ in range(3)) - start
        every = [peer(folder, tip, peer_ns)[0] for tip in tips]
    step_s = our_ns * 1e-9
    one, _ = timed(lambda: settling(net, transmitters(tips[:1]), pattern, step_s, tips))
    whole, _ = timed(lambda: settling(net, transmitters(tips), pattern, step_s, tips))
    single = statistics.median(every)
    print(
        f"  one transmitter       ngspice {single * 1e3:8.1f} ms   loomwright {one * 1e3:7.1f} ms   ratio {single / one:6.1f}"
    )
    print(f"    without start and writing   {bare * 1e3:8.1f} ms                         ratio {bare / one:6.1f}")
    print(
        f"  all ten transmitters  ngspice {sum(every) * 1e3:8.1f} ms   loomwright {whole * 1e3:7.1f} ms   ratio {sum(every) / whole:6.1f}"
    )
    print(
        f"    without start and writing   {10 * bare * 1e3:8.1f} ms                         ratio {10 * bare / whole:6.1f}"
    )


def tolerance_draws():
    """A thousand draws of everything, ten transmitters each, with progress, in one thread and in two; and once cancelled."""
    net, tips = ten_nodes()
    dice = np.random.default_rng(1)
    lines = tuple(
        Line(line.start, line.end, line.impedance_ohm * dice.uniform(0.9, 1.1, DRAWS), line.delay_s,
             dice.uniform(0.8, 1.2, DRAWS) * 0.14 * line.delay_s / 5e-9)
        for line in net.lines
    )  # fmt: skip
    drawn = Network(
        net.nodes,
        lines,
        net.shunt_s * dice.uniform(0.95, 1.05, (DRAWS, net.nodes)),
        net.capacitance_f * dice.uniform(0.5, 2.0, (DRAWS, net.nodes)),
        dice.uniform(0.95, 1.05, DRAWS),
    )
    shape = (DRAWS, NODES)
    drivers = Drivers(
        tips, dice.uniform(2.4, 4.5, shape), dice.uniform(25.0, 35.0, shape),
        dice.uniform(15e-9, 30e-9, shape), dice.uniform(15e-9, 30e-9, shape),
    )  # fmt: skip
    for bit_s, step_s in ((1e-6, 0.25e-9), (2e-6, 0.25e-9)):
        jobs = settling_jobs(drawn, drivers, Pattern("DR", bit_s, START_S), step_s, tips, turns=False)
        print(
            f"{DRAWS} draws x {NODES} transmitters, a dominant and a recessive bit of {bit_s * 1e6:g} us, {step_s * 1e9:.3g} ns, "
            f"{len(jobs)} jobs"
        )
        answers = [drawn_with(jobs, threads) for threads in (1, 2)]
        assert np.array_equal(answers[0], answers[1]), "the number of threads must not matter"
        recessive = answers[0][:, :, 1]
        assert answers[0].shape == (DRAWS, NODES, 2, NODES)
        print(
            f"  recessive settling: half within {np.median(recessive) * 1e9:.0f} ns, 99 % within "
            f"{np.quantile(recessive, 0.99, method='lower') * 1e9:.0f} ns, {np.isinf(recessive).mean():.3%} not in the bit"
        )
    asked = []
    stop = in_order(jobs, lambda done, _: done < 10 or asked.append(time.perf_counter()), 2)
    assert stop is None
    print(f"  cancelled in two threads: at rest {time.perf_counter() - asked[0]:.2f} s later")


def drawn_with(jobs, threads):
    """Settle times of all jobs; prints seconds, processor time, and how often it is told how far they are."""
    marks = [time.perf_counter()]
    processor = time.process_time()
    seen = joined(in_order(jobs, lambda *_: marks.append(time.perf_counter()) is None, threads))
    seconds, processor = time.perf_counter() - marks[0], time.process_time() - processor
    print(
        f"  {threads} thread{'s' if threads > 1 else ''}: {seconds:.1f} s, {processor:.1f} s of processor time, "
        f"reports at most {max(np.diff(marks)):.2f} s apart"
    )
    return seen.settle_s


def on_a_vehicle():
    """The drive line of a shipped example, as ``loomwright signal --draws 1000`` asks it: 500 kbit/s, nine nodes."""
    with tempfile.TemporaryDirectory() as name:
        start_from_example(Path(name) / "truck", "tipper")
        project = open_project(Path(name) / "truck")
        physics_of(project, project.vehicle, "drive")
        begin, processor = time.perf_counter(), time.process_time()
        found = built(project, "drive", DRAWS)
        assert not isinstance(found, Blocked)
        print(
            f"drive line of the tipper, {DRAWS} draws: {time.perf_counter() - begin:.1f} s, "
            f"{time.process_time() - processor:.1f} s of processor time"
        )


def by_arrays(net, driver, pattern, step_s):
    """The same equations for one transmitter in numpy, step by step: is compiling worth it?"""
    grid = on_grid(net, step_s)
    z = grid.impedance_ohm[0]
    nodes, steps = grid.shunt_s.shape[1], int(pattern.end_s / step_s)
    twice_c = 2 * grid.capacitance_f[0] / step_s
    total = grid.shunt_s[0] + twice_c
    np.add.at(total, grid.starts, 1 / z)
    np.add.at(total, grid.ends, 1 / z)
    longest = int(grid.steps.max()) + 1
    forth, back = np.zeros((longest, z.size)), np.zeros((longest, z.size))
    stored, volts, rows = np.zeros(nodes), np.zeros((steps, nodes)), np.arange(z.size)
    level = np.array([edge.dominant for edge in pattern.edges])
    at = np.array([edge.at_s for edge in pattern.edges])
    for step in range(steps):
        now = step * step_s
        edge = np.searchsorted(at, now, "right") - 1
        share = min(1.0, (now - at[edge]) / RAMP_S) if edge >= 0 else 0.0
        drive = (share if edge >= 0 and level[edge] else 1.0 - share if edge >= 0 else 0.0) / 30.0
        old = (step - grid.steps) % longest
        to_end, to_start = forth[old, rows], back[old, rows]
        current = stored + np.bincount(grid.starts, to_start / z, nodes) + np.bincount(grid.ends, to_end / z, nodes)
        v = current / total
        v[driver] = (current[driver] + drive * 3.0) / (total[driver] + drive)
        forth[step % longest] = 2 * v[grid.starts] - to_start
        back[step % longest] = 2 * v[grid.ends] - to_end
        stored = 2 * twice_c * v - stored
        volts[step] = v
    return volts


def against_arrays():
    """The profile that decides for compiled code."""
    net, tips = ten_nodes()
    pattern = Pattern(BITS, BIT_S, START_S)
    seconds, volts = timed(lambda: by_arrays(net, tips[0], pattern, 0.25e-9), 1)
    own, waves = timed(lambda: simulate(net, transmitters(tips[:1]), pattern, 0.25e-9))
    off = np.abs(waves.volts[0, 0, :, : volts.shape[0]].T - volts).max()
    print(
        f"array code, one transmitter at 0.25 ns: {seconds * 1e3:.0f} ms; compiled: {own * 1e3:.1f} ms; ratio {seconds / own:.0f}; "
        f"they differ by {off:.1e} V"
    )


FIRST = """
import time, numpy as np
begin = time.perf_counter()
from loomwright.engines.wave_lanes import Drivers, Pattern
from loomwright.engines.wave_network import Line, Network
from loomwright.engines.waves import settling
net = Network(2, (Line(0, 1, 120.0, 1e-8),), np.full(2, 1 / 120), np.full(2, 5e-11))
settling(net, Drivers((0,), 3.0, 30.0, 2e-8, 2e-8), Pattern("DR", 1e-6), 2.5e-10, (1,))
print(time.perf_counter() - begin)
"""


def first_call():
    """Imports, compiling and the smallest run in a new process: without and with numba's cache on disk."""
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "NUMBA_CACHE_DIR": cache}
        cold, warm = (
            float(
                subprocess.run(
                    [sys.executable, "-c", FIRST], check=True, capture_output=True, text=True, env=environment
                ).stdout
            )
            for _ in range(2)
        )
    print(
        f"first call in a new process: {cold:.1f} s with compiling (once a machine), {warm:.2f} s from the cache on disk"
    )


def main():
    """Print all figures."""
    first_call()
    against_arrays()
    tolerance_draws()
    on_a_vehicle()
    if shutil.which("ngspice") is None:
        print("ngspice is not installed; no comparison")
    else:
        against_ngspice()


if __name__ == "__main__":
    main()
