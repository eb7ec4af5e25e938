"""Strips of the physical layer for the line ruler: margin before the sample point, and the lowest level."""

import math

from loomwright.show.quantity import bare
from loomwright.show.ruler.strips import Strip
from loomwright.solve.levels import LineLevels
from loomwright.solve.signal import THRESHOLDS, LineSignal
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.quantity import Kind


def signal_strips(topology: LineTopology, signal: Answer[LineSignal], levels: Answer[LineLevels]) -> tuple[Strip, ...]:
    """What is left before the sample point at each stop, at typical values and in the worst corner; lowest level."""
    strips = []
    ports = [stop.port if not stop.repeated else "" for stop in topology.stops]
    if not isinstance(signal, Blocked):
        found = signal.value
        typical = _least(found, corner=False)
        corner = _least(found, corner=True)
        for title, of in (("left", typical), ("worst corner, left", corner)):
            values = tuple(of.get(port) for port in ports)
            texts = tuple("" if value is None else _text(value) for value in values)
            bars = tuple(None if value is None else max(value, 0.0) for value in values)
            late = tuple(value is not None and value < 0.0 for value in values)
            strips.append(Strip(title, "ns", bars, texts, late))
    if not isinstance(levels, Blocked):
        lowest = {receiver.port: receiver.low_v for receiver in levels.value.receivers}
        volts = tuple(lowest.get(port) for port in ports)
        texts = tuple("" if value is None else bare(value, Kind.VOLTAGE, "V") for value in volts)
        strips.append(Strip(f"lowest, min. {bare(THRESHOLDS.dominant_v, Kind.VOLTAGE, 'V')}", "V", volts, texts))
    return tuple(strips)


def _least(signal: LineSignal, *, corner: bool) -> dict[str, float]:
    """The least time left at each receiver; minus infinity where a bit never settles."""
    left: dict[str, float] = {}
    for pair in signal.pairs:
        settle_s = pair.settle_s if corner else pair.typical_s
        margin_s = signal.sample_s - signal.electronics_s - settle_s
        left[pair.receiver] = min(margin_s, left.get(pair.receiver, margin_s))
    return left


def _text(left_s: float) -> str:
    """Short, for a column is narrow: a page and a table say "never sure"."""
    return "never" if math.isinf(left_s) else bare(left_s, Kind.TIME, "ns")
