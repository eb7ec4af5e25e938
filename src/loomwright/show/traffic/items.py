"""The list beside a frame's layout: each signal by its number, where it lies and what it means."""

from loomwright.model.message import Message, Signal
from loomwright.show.quantity import MINUS
from loomwright.show.svg import Point, box, group, words
from loomwright.show.traffic.cells import Part
from loomwright.show.traffic.parts import fitted

ITEM = 32.0
"""Pixels of two lines of text."""


def signal_item(message: Message, part: Part, at: Point, room: float, bytes_drawn: int) -> str:
    """Number, swatch and name; below it bits, order and meaning, shortened to the room there is."""
    x, y = at
    signal = message.signals[part.name]
    placed, meant = _placed(signal), _meant(signal)
    if max(part.bits) // 8 >= bytes_drawn:
        placed += f", up to byte {max(part.bits) // 8}"
    told = f"{placed} · {meant}" if meant else placed
    shapes = [
        words((x + 14.0, y + 11.0), str(part.number), "figure strong", anchor="end"),
        box(x + 20.0, y + 2.0, 12.0, 10.0, f"bar ink-{part.hue}"),
        box(x + 20.0, y + 2.0, 12.0, 10.0, "rule"),
        words((x + 38.0, y + 11.0), fitted(signal.title or part.name, room - 40.0), "strong", size=11.5),
        words((x + 38.0, y + 24.0), fitted(told, room - 40.0, 10.0), "small muted", size=10.0),
    ]
    return group(part.path, *shapes, title=f"{part.number} {part.name}: {told}")


def value_spans(values: tuple[int, ...]) -> str:
    """Values with neighbours drawn together: ``0, 2–5``."""
    spans: list[list[int]] = []
    for value in sorted(values):
        if spans and value == spans[-1][1] + 1:
            spans[-1][1] = value
        else:
            spans.append([value, value])
    return ", ".join(str(low) if low == high else f"{low}–{high}" for low, high in spans)


def _placed(signal: Signal) -> str:
    bits = "1 bit" if signal.bits == 1 else f"{signal.bits} bits"
    order = f", {signal.byte_order}" if signal.bits > 1 else ""
    number = f", {signal.number}" if signal.number != "unsigned" else ""
    return f"{bits} from {signal.start}{order}{number}"


def _meant(signal: Signal) -> str:
    """Duty, or scale and range; then with what it is there."""
    told = []
    if signal.duty != "value":
        told.append(f"{signal.duty} {signal.checksum}".strip())
    else:
        told += _scale(signal)
    if signal.values:
        told.append(f"{len(signal.values)} named values")
    if signal.selects:
        told.append("says which signals are there")
    if signal.selected_by:
        told.append(f"with {signal.selected_by} {value_spans(signal.selected_when)}")
    return " · ".join(told)


def _scale(signal: Signal) -> list[str]:
    """What a step is worth, what zero stands for, and the range, with the unit said once."""
    unit = f" {signal.unit}" if signal.unit else ""
    zero = f", 0 is {_plain(signal.offset)}" if signal.offset != 0.0 else ""
    low, high = signal.low, signal.high
    ranged = [f"{_plain(low)} … {_plain(high)}"] if low is not None and high is not None else []
    if signal.factor != 1.0:
        return [f"{_plain(signal.factor)}{unit} a step{zero}", *ranged]
    return [f"{f'in{unit}' if unit else 'steps of 1'}{zero}", *ranged] if unit or zero else ranged


def _plain(value: float) -> str:
    return f"{value:.6g}".replace("-", MINUS)
