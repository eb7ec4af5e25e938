"""The waveform of one pair as a chart's figures: everything computed and worded here, drawn in the browser."""

from bisect import bisect_left
from collections.abc import Callable, Sequence
from typing import Any

from loomwright.app.faults import faulty_line
from loomwright.app.project import Project
from loomwright.app.session import Session
from loomwright.app.signal import NoSuchPairError
from loomwright.judge.evidence import cable_of, components_on
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title
from loomwright.show.signal_words import chart_words, deadline_words, echo_words, is_cause
from loomwright.show.titled import Titles
from loomwright.solve.echoes import echoes
from loomwright.solve.signal import THRESHOLDS, trace
from loomwright.solve.signal_draws import trace_bands
from loomwright.solve.signal_parts import signal_parts
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Blocked

DRAWS = 100
"""Vehicles whose waveforms the bands enclose."""
CLOSE_S = 400e-9
"""How much of an edge the close view shows at least."""
STILL_V = THRESHOLDS.recessive_v / 2
"""What stays below this is over: half of what a receiver takes for recessive."""
BLOCK = 10
CLOSE, WHOLE = 2, 3
"""Views that are shown first: where all is over early the close one."""
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
    if sender not in ports or receiver not in ports:  # a sender reads its own bits too
        raise NoSuchPairError(f"a sender and a receiver of line {name} are needed, out of {', '.join(ports)}")
    typical, bands = trace(*asked, sender, receiver), trace_bands(*asked, sender, receiver, DRAWS)
    assert not isinstance(typical, Blocked)
    assert not isinstance(bands, Blocked)
    called = Titles(vehicle, name).stop if not fault else _called(vehicle, wired)
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
    close_s = max(CLOSE_S, 1.25 * over_s(own.time_s, columns[:5], parts.pattern.bit_s))
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
        "deadline": deadline_words(parts.electronics_s),
        "dominant": THRESHOLDS.dominant_v,
        "recessive": THRESHOLDS.recessive_v,
        "marks": [
            {"number": number + 1, "at": [round(echo.at_s * 1e9, 1), round(bit_ns + echo.at_s * 1e9, 1)],
             "words": echo_words(echo, called, cause=is_cause(echo.mismatch, parts.delay_s_per_m[1]))}
            for number, echo in enumerate(found)
        ],
        "views": [
            {"title": "Both edges", "from": -40.0, "to": round(2 * bit_ns)},
            {"title": "Dominant edge", "from": -20.0, "to": CLOSE_S * 1e9},
            {"title": "Recessive edge, close", "from": round(bit_ns - 20.0), "to": round(bit_ns + close_s * 1e9)},
            {"title": "Recessive edge until sampled", "from": round(bit_ns - 20.0), "to": round(sample_ns[1] + 60.0)},
        ],
        "view": CLOSE if close_s < (parts.sample_s - parts.electronics_s) / 2 else WHOLE,
    }  # fmt: skip


def _called(vehicle: Vehicle, wired: LineTopology) -> Callable[[int], str]:
    """Names of stops of a line with a fault, whose stations are not those of the line as drawn."""

    def called(stop: int) -> str:
        own = wired.stops[stop]
        return component_title(own.component, vehicle.components.get(own.component)) if own.port else own.place

    return called


def over_s(time_s: Sequence[float], columns: Sequence[Sequence[float]], after_s: float) -> float:
    """When the last of these comes near a threshold for the last time, in s after ``after_s``; 0 where none does."""
    first = bisect_left(time_s, after_s)
    last = (max((at for at in range(first, len(own)) if abs(own[at]) >= STILL_V), default=first) for own in columns)
    return max(0.0, max(time_s[at] for at in last) - after_s)


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
