"""The inner loop of the travelling waves, compiled on first use and kept in numba's cache on disk.

Every array ends in the lanes: independent simulations (a draw of the batch, a transmitter) that march side by side, so
that one pass through the loop feeds the processor's vector units. Numba keeps the machine code beside this file, or in
the user's cache folder where this one cannot be written. Loops are spelled out and conditions are selections, because
views of arrays and branches cost more here than the arithmetic.
"""

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar, cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

STILL_V = 1e-9
"""A change smaller than this from step to step is rounding, not a turn of the waveform."""
CHECK_EVERY = 64
"""Currents into every node are summed every so many steps."""
LEAK_S = 1e-12
"""Conductance of a node from which nothing hangs and to which no line runs, as a torn cable may leave one."""
RESULTS = 5
"""Columns of a result: steps to settle, nearest turn, rebound, lowest, highest."""


class Lines(NamedTuple):
    """Cells: node at either end, delay in steps (cells,); 1/(z + r) in S and (z - r)/(z + r), shape (cells, lanes)."""

    starts: Integers
    ends: Integers
    delays: Integers
    admittance: Floats
    kappa: Floats


class Skin(NamedTuple):
    """Inductors beside resistors in the ends of cells, which hold back currents that change fast.

    ``gain`` in ohm (cells, branches) and ``keep`` (branches,) turn the current and a branch's memory into its next memory.
    ``held`` (cells, 2, branches, lanes) are these memories in V, one for each end, ``sums`` (cells, 2, lanes) what they sum
    to. ``into`` (2, lanes) is room for the currents of one cell.
    """

    gain: Floats
    keep: Floats
    held: Floats
    sums: Floats
    into: Floats


class Shunts(NamedTuple):
    """What hangs from the nodes: conductance and 2 C / step, both in S, shape (nodes, lanes)."""

    siemens: Floats
    twice_c: Floats


class Driver(NamedTuple):
    """Each lane's transmitter, shape (lanes,): node, voltage, conductance when on, ramps in steps."""

    node: Integers
    volts: Floats
    siemens: Floats
    rise: Floats
    fall: Floats


class Edges(NamedTuple):
    """When the bits change and at last end, in steps (edges + 1, lanes); which changes are to dominant; thresholds."""

    at: Floats
    on: NDArray[np.bool_]
    thresholds: Floats


class Seen(NamedTuple):
    """What is remembered of the waveforms since the last edge, shape (probes, lanes)."""

    previous: Floats
    slope: Floats
    crossed: Floats
    nearest: Floats
    passed: Floats
    rebound: Floats
    low: Floats
    high: Floats


inlined: Callable[..., Any] = njit(inline="always")
_Loop = TypeVar("_Loop", bound=Callable[..., Any])


def compiled(function: _Loop) -> _Loop:
    """Compile with a cache on disk; without one where no folder can be written."""
    made: Any
    try:
        made = njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:
        made = njit(nogil=True, error_model="numpy")(function)
    return cast("_Loop", made)


@inlined
def gather(lines: Lines, skin: Skin, slots: Integers, waves: Floats, current: Floats) -> None:
    """Add the current that the waves arriving at both ends of each line would drive into a short.

    What the branches of an end hold counts against the wave.
    """
    for line in range(lines.starts.size):
        slot, back, a, b = slots[line, 0], slots[line, 1], lines.starts[line], lines.ends[line]
        if skin.gain.shape[1] > 0:
            for lane in range(current.shape[1]):
                current[a, lane] += lines.admittance[line, lane] * (waves[back, lane] - skin.sums[line, 0, lane])
            for lane in range(current.shape[1]):
                current[b, lane] += lines.admittance[line, lane] * (waves[slot, lane] - skin.sums[line, 1, lane])
        else:
            for lane in range(current.shape[1]):
                current[a, lane] += lines.admittance[line, lane] * waves[back, lane]
            for lane in range(current.shape[1]):
                current[b, lane] += lines.admittance[line, lane] * waves[slot, lane]


@inlined
def solve(
    driver: Driver, push: Floats, inverse: Floats, shunts: Shunts, current: Floats, volts: Floats, stored: Floats
) -> None:
    """One equation a node: its voltage is the current driven into it over its conductance.

    Capacitors then take their memory one step on (trapezoidal rule), which is where the next step's currents begin.
    """
    for lane in range(push.size):
        current[driver.node[lane], lane] += push[lane]
    for node in range(volts.shape[0]):
        for lane in range(volts.shape[1]):
            now = current[node, lane] * inverse[node, lane]
            kept = 2.0 * shunts.twice_c[node, lane] * now - stored[node, lane]
            volts[node, lane] = now
            stored[node, lane] = kept
            current[node, lane] = kept


@inlined
def bend(line: int, end: int, lines: Lines, skin: Skin) -> None:
    """Take the memories of the branches at one end of a cell one step on, and sum them."""
    first, keep = skin.gain[line, 0], skin.keep[0]
    for lane in range(skin.into.shape[1]):
        now = first * lines.admittance[line, lane] * skin.into[end, lane] + keep * skin.held[line, end, 0, lane]
        skin.held[line, end, 0, lane] = now
        skin.sums[line, end, lane] = now
    for branch in range(1, skin.gain.shape[1]):
        gain, kept = skin.gain[line, branch], skin.keep[branch]
        for lane in range(skin.into.shape[1]):
            now = gain * lines.admittance[line, lane] * skin.into[end, lane] + kept * skin.held[line, end, branch, lane]
            skin.held[line, end, branch, lane] = now
            skin.sums[line, end, lane] += now


@inlined
def depart(lines: Lines, skin: Skin, slots: Integers, waves: Floats, volts: Floats) -> None:
    """Replace the waves that arrived by those that leave: v + held + (z - r)/(z + r) (v - arrived).

    The branches of an end take their memory one step on (trapezoidal rule).
    """
    for line in range(lines.starts.size):
        slot, back, a, b = slots[line, 0], slots[line, 1], lines.starts[line], lines.ends[line]
        if skin.gain.shape[1] > 0:
            # Short loops over few arrays: the compiler gives up on telling more of them apart, and on its vectors.
            for lane in range(volts.shape[1]):
                skin.into[0, lane] = volts[a, lane] - waves[back, lane] + skin.sums[line, 0, lane]
            for lane in range(volts.shape[1]):
                skin.into[1, lane] = volts[b, lane] - waves[slot, lane] + skin.sums[line, 1, lane]
            for lane in range(volts.shape[1]):
                waves[slot, lane] = (
                    volts[a, lane] + skin.sums[line, 0, lane] + lines.kappa[line, lane] * skin.into[0, lane]
                )
            for lane in range(volts.shape[1]):
                waves[back, lane] = (
                    volts[b, lane] + skin.sums[line, 1, lane] + lines.kappa[line, lane] * skin.into[1, lane]
                )
            bend(line, 0, lines, skin)
            bend(line, 1, lines, skin)
        else:
            for lane in range(volts.shape[1]):
                share = lines.kappa[line, lane]
                at_a, at_b = volts[a, lane], volts[b, lane]
                to_a, to_b = waves[back, lane], waves[slot, lane]
                waves[slot, lane] = at_a + share * (at_a - to_a)
                waves[back, lane] = at_b + share * (at_b - to_b)


@inlined
def move_on(delays: Integers, offsets: Integers, slots: Integers) -> None:
    """Move every line's place in its ring of waves on by one step."""
    for line in range(delays.size):
        slots[line, 0] += 1
        if slots[line, 0] == offsets[line] + delays[line]:
            slots[line, 0] = offsets[line]
        slots[line, 1] = slots[line, 0] + delays[line]


@inlined
def residual(
    lines: Lines, skin: Skin, shunts: Shunts, driver: Driver,
    slots: Integers, waves: Floats, volts: Floats, stored: Floats, drive: Floats,
) -> float:  # fmt: skip
    """The largest sum of currents out of any node, each current from its own law, in A; infinite if one is no number.

    ``stored`` has been taken on by ``solve``: what a capacitor brought into the step is 4 C v / step less that.
    """
    sums = shunts.siemens * volts + stored - shunts.twice_c * volts
    bent = skin.gain.shape[1] > 0
    for line in range(lines.starts.size):
        slot, back, a, b = slots[line, 0], slots[line, 1], lines.starts[line], lines.ends[line]
        for lane in range(volts.shape[1]):
            held_a, held_b = (skin.sums[line, 0, lane], skin.sums[line, 1, lane]) if bent else (0.0, 0.0)
            sums[a, lane] += lines.admittance[line, lane] * (volts[a, lane] - waves[back, lane] + held_a)
            sums[b, lane] += lines.admittance[line, lane] * (volts[b, lane] - waves[slot, lane] + held_b)
    for lane in range(drive.size):
        node = driver.node[lane]
        sums[node, lane] += drive[lane] * (volts[node, lane] - driver.volts[lane])
    worst = 0.0
    for place in range(sums.shape[0]):
        for lane in range(sums.shape[1]):
            off = abs(sums[place, lane])
            worst = max(worst, off) if off >= 0.0 else np.inf
    return worst


@inlined
def watch(step: int, probes: Integers, volts: Floats, sign: Floats, threshold: Floats, turns: bool, seen: Seen) -> None:
    """Take one more sample of every probe into the memory of what happened since the last edge.

    Without ``turns`` only the crossing of the threshold is remembered, which is a quarter less work for the whole loop.
    """
    previous, slope, crossed, nearest, passed, rebound, low, high = seen
    for probe in range(probes.size):
        node = probes[probe]
        for lane in range(volts.shape[1] if turns else 0):
            before = previous[probe, lane]
            inside_before = sign[lane] * (before - threshold[lane])
            change = volts[node, lane] - before
            turned = change * slope[probe, lane] < 0.0
            near, distance = nearest[probe, lane], abs(inside_before)
            nearest[probe, lane] = distance if turned & (distance < near) else near
            worst = rebound[probe, lane]
            back = turned & (passed[probe, lane] > 0.0) & (sign[lane] * change > 0.0)
            rebound[probe, lane] = inside_before if back & (inside_before < worst) else worst
            slope[probe, lane] = change if abs(change) > STILL_V else slope[probe, lane]
        for lane in range(volts.shape[1]):
            inside = sign[lane] * (volts[node, lane] - threshold[lane])
            inside_before = sign[lane] * (previous[probe, lane] - threshold[lane])
            when = step - 1.0 + inside_before / (inside_before - inside)
            when = when if inside_before < 0.0 else crossed[probe, lane]
            crossed[probe, lane] = np.inf if inside < 0.0 else when
            passed[probe, lane] = 1.0 if inside >= 0.0 else passed[probe, lane]
        for lane in range(volts.shape[1]):
            previous[probe, lane] = volts[node, lane]
        for lane in range(volts.shape[1] if turns else 0):
            now = volts[node, lane]
            low[probe, lane] = min(low[probe, lane], now)
            high[probe, lane] = max(high[probe, lane], now)


@inlined
def conclude(lane: int, edge: int, edges: Edges, seen: Seen, results: Floats) -> None:
    """Write down what was seen since the edge (if there was one) and forget it."""
    for probe in range(results.shape[1]):
        if 0 <= edge < edges.on.size:
            results[edge, probe, 0, lane] = max(0.0, seen.crossed[probe, lane] - edges.at[edge, lane])
            results[edge, probe, 1, lane] = seen.nearest[probe, lane]
            results[edge, probe, 2, lane] = seen.rebound[probe, lane]
            results[edge, probe, 3, lane] = seen.low[probe, lane]
            results[edge, probe, 4, lane] = seen.high[probe, lane]
        seen.slope[probe, lane] = 0.0
        seen.crossed[probe, lane] = -np.inf
        seen.nearest[probe, lane] = np.inf
        seen.passed[probe, lane] = 0.0
        seen.rebound[probe, lane] = np.inf
        seen.low[probe, lane] = np.inf
        seen.high[probe, lane] = -np.inf


@inlined
def turn_edges(
    step: int, edges: Edges, driver: Driver, total: Floats,
    edge_of: Integers, sign: Floats, threshold: Floats, drive: Floats, push: Floats, inverse: Floats,
    seen: Seen, results: Floats,
) -> float:  # fmt: skip
    """Start the edges that are due, each lane by its own clock, and ramp the drivers' conductances.

    Returns the step until which nothing of this changes.
    """
    until = np.inf
    for lane in range(edge_of.size):
        edge = edge_of[lane]
        if edge < edges.on.size and step >= edges.at[edge + 1, lane]:
            conclude(lane, edge, edges, seen, results)
            edge += 1
            edge_of[lane] = edge
            on = edge < edges.on.size and edges.on[edge]
            sign[lane] = 1.0 if on else -1.0
            threshold[lane] = edges.thresholds[0] if on else edges.thresholds[1]
        if 0 <= edge < edges.on.size:
            since = step - edges.at[edge, lane]
            rising, falling = min(1.0, since / driver.rise[lane]), max(0.0, 1.0 - since / driver.fall[lane])
            share = rising if edges.on[edge] else falling
            drive[lane] = share * driver.siemens[lane]
            push[lane] = drive[lane] * driver.volts[lane]
            inverse[driver.node[lane], lane] = 1.0 / (total[driver.node[lane], lane] + drive[lane])
            if 0.0 < share < 1.0 or since == 0.0:
                until = step
        if edge < edges.on.size:
            until = min(until, edges.at[edge + 1, lane])
    return until


@compiled
def march(
    steps: int, lines: Lines, skin: Skin, shunts: Shunts, driver: Driver, edges: Edges,
    probes: Integers, results: Floats, turns: bool, every: int, record: Floats,
) -> float:  # fmt: skip
    """March ``steps`` steps from rest; fill ``results`` and ``record``; return the worst sum of currents in A.

    The steps must reach the end of the bits in every lane: a result is written when the edge after it comes. Shapes: results (edges, probes, RESULTS, lanes), record (probes, records, lanes); either may be empty.
    """
    nodes, lanes = shunts.siemens.shape
    offsets = np.zeros(lines.delays.size, dtype=np.int64)
    for line in range(1, lines.delays.size):
        offsets[line] = offsets[line - 1] + 2 * lines.delays[line - 1]
    slots = np.stack((offsets, offsets + lines.delays), axis=1)
    waves = np.zeros((2 * lines.delays.sum(), lanes))
    total = shunts.siemens + shunts.twice_c
    for line in range(lines.delays.size):
        total[lines.starts[line]] += lines.admittance[line]
        total[lines.ends[line]] += lines.admittance[line]
    total = np.where(total > 0.0, total, LEAK_S)
    inverse = 1.0 / total
    current, volts, stored = np.zeros((nodes, lanes)), np.zeros((nodes, lanes)), np.zeros((nodes, lanes))
    idle = np.zeros((probes.size, lanes))
    seen = Seen(
        idle.copy(), idle.copy(), idle.copy(), idle.copy(), idle.copy(), idle.copy(), idle.copy(), idle.copy()
    )  # fmt: skip
    edge_of = np.full(lanes, -1)
    sign, threshold, drive, push = np.ones(lanes), np.zeros(lanes), np.zeros(lanes), np.zeros(lanes)
    worst, due = 0.0, 0.0
    for step in range(steps):
        if step >= due:
            due = turn_edges(step, edges, driver, total, edge_of, sign, threshold, drive, push, inverse, seen, results)
        gather(lines, skin, slots, waves, current)
        solve(driver, push, inverse, shunts, current, volts, stored)
        if step % CHECK_EVERY == 0 or step == steps - 1:
            worst = max(worst, residual(lines, skin, shunts, driver, slots, waves, volts, stored, drive))
        depart(lines, skin, slots, waves, volts)
        move_on(lines.delays, offsets, slots)
        if results.size:
            watch(step, probes, volts, sign, threshold, turns, seen)
        if every > 0 and step % every == 0:
            for probe in range(probes.size):
                for lane in range(lanes):
                    record[probe, step // every, lane] = volts[probes[probe], lane]
    return worst
