"""The waveform of one pair as a chart's figures: everything computed and worded here, drawn in the browser."""

from collections.abc import Sequence
from typing import Any

from loomwright.app.faults import faulty_line
from loomwright.app.project import Project
from loomwright.app.session import Session
from loomwright.app.signal import NoSuchPairError
from loomwright.judge.evidence import cable_of, components_on
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title
from loomwright.show.signal_words import chart_words, echo_words
from loomwright.solve.echoes import echoes
from loomwright.solve.signal import THRESHOLDS, trace
from loomwright.solve.signal_draws import trace_bands
from loomwright.solve.signal_parts import signal_parts
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Blocked

DRAWS = 100
"""Vehicles whose waveforms the bands enclose."""
BLOCK = 10
MOVES_V = 5e-3
"""What moves less within a block of samples is a straight line in a chart."""


def wave(session: Session, name: str, sender: str, receiver: str, fault: str = "") -> dict[str, Any]:
    """Times in ns, voltages in V, sample points, thresholds, echoes with words; with a fault if one is named.

    Raises ``NoSuchPairError`` or ``NoSuchFaultError``. Computed outside the session's lock, so that other pages go on
    meanwhile.
    """
    vehicle, wired = session.ask(lambda project: _wired(project, name, fault))
    line = vehicle.lines[name]
    asked = (line, components_on(vehicle, line), cable_of(vehicle, line), wired)
    parts = signal_parts(*asked)
    if isinstance(parts, Blocked):
        raise NoSuchPairError(f"line {name} cannot be computed yet")
    ports = [stop.port for stop in parts.stops]
    if sender == receiver or sender not in ports or receiver not in ports:
        raise NoSuchPairError(f"a sender and another receiver of line {name} are needed, out of {', '.join(ports)}")
    typical, bands = trace(*asked, sender, receiver), trace_bands(*asked, sender, receiver, DRAWS)
    assert not isinstance(typical, Blocked)
    assert not isinstance(bands, Blocked)
    stops = wired.stops

    def called(stop: int) -> str:
        own = stops[stop]
        return component_title(own.component, vehicle.components.get(own.component)) if own.port else own.place

    found = [echo for echo in echoes(parts, sender, receiver) if abs(echo.share) >= 0.1]
    bit_ns = parts.pattern.bit_s * 1e9
    sample_ns = [round(time * 1e9, 1) for time in typical.value.sample_s]
    own, drawn = typical.value, bands.value
    latest = drawn.traces[-1]
    columns = (
        own.volts,
        drawn.lowest_v,
        drawn.low_v,
        drawn.high_v,
        drawn.highest_v,
        *(one.volts for one in drawn.traces),
    )
    kept = moving(columns)
    typical_v, lowest_v, low_v, high_v, highest_v = (_volts(column, kept) for column in columns[:5])
    return {
        "time": [round(own.time_s[at] * 1e9, 2) for at in kept],
        "typical": typical_v,
        "lowest": lowest_v,
        "low": low_v,
        "high": high_v,
        "highest": highest_v,
        "traces": [_volts(one.volts, kept, 2) for one in drawn.traces],
        "latest": f"vehicle {latest.draw + 1}, the latest",
        "draws": drawn.draws,
        "words": chart_words(drawn.draws, len(drawn.traces), latest.draw + 1, latest.settle_s, drawn.never),
        "sample": sample_ns,
        "dominant": THRESHOLDS.dominant_v,
        "recessive": THRESHOLDS.recessive_v,
        "marks": [
            {"number": number + 1, "at": [round(echo.at_s * 1e9, 1), round(bit_ns + echo.at_s * 1e9, 1)],
             "words": echo_words(echo, called)}
            for number, echo in enumerate(found)
        ],
        "views": [
            {"title": "Both edges", "from": -40.0, "to": round(2 * bit_ns)},
            {"title": "Dominant edge", "from": -20.0, "to": 400.0},
            {"title": "Recessive edge, close", "from": round(bit_ns - 20.0), "to": round(bit_ns + 400.0)},
            {"title": "Recessive edge until sampled", "from": round(bit_ns - 20.0), "to": round(sample_ns[1] + 60.0)},
        ],
    }  # fmt: skip


def _wired(project: Project, name: str, fault: str) -> tuple[Vehicle, LineTopology]:
    if fault:
        faulty = faulty_line(project, name, fault)
        return faulty.vehicle, faulty.topology
    vehicle = project.vehicle
    wired = project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        raise NoSuchPairError(f"line {name} cannot be computed yet")
    return vehicle, wired.value


def moving(columns: Sequence[Sequence[float]]) -> list[int]:
    """Samples worth drawing: all of a block of ``BLOCK`` in which any column moves by ``MOVES_V``, else its first."""
    count = min(len(column) for column in columns)
    kept: list[int] = []
    for first in range(0, count, BLOCK):
        last = min(first + BLOCK, count - 1)
        moves = any(max(column[first : last + 1]) - min(column[first : last + 1]) >= MOVES_V for column in columns)
        kept.extend(range(first, min(first + BLOCK, count)) if moves else [first])
    return [*kept, count - 1] if kept[-1] != count - 1 else kept


def _volts(values: Sequence[float], kept: list[int], digits: int = 3) -> list[float]:
    return [round(values[at], digits) for at in kept]
