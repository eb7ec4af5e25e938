"""The waveform of one pair as a chart's figures: everything computed and worded here, drawn in the browser."""

from typing import Any

from loomwright.app.faults import faulty_line
from loomwright.app.project import Project
from loomwright.app.session import Session
from loomwright.app.signal import NoSuchPairError
from loomwright.judge.evidence import cable_of, components_on
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title
from loomwright.show.signal_words import echo_words
from loomwright.solve.echoes import echoes
from loomwright.solve.signal import THRESHOLDS, trace
from loomwright.solve.signal_draws import trace_bands
from loomwright.solve.signal_parts import signal_parts
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Blocked

DRAWS = 100
"""Vehicles whose waveforms the bands enclose."""


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
    count = min(len(own.time_s), len(drawn.time_s))
    return {
        "time": [round(time * 1e9, 2) for time in own.time_s[:count]],
        "typical": _volts(own.volts[:count]),
        "lowest": _volts(drawn.lowest_v[:count]),
        "low": _volts(drawn.low_v[:count]),
        "high": _volts(drawn.high_v[:count]),
        "highest": _volts(drawn.highest_v[:count]),
        "draws": drawn.draws,
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


def _volts(values: tuple[float, ...]) -> list[float]:
    return [round(value, 3) for value in values]
