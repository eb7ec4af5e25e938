"""A sender's message beside what the receiver's manual says it wants to hear, signal by signal."""

from dataclasses import dataclass

from loomwright.app.messages_words import named
from loomwright.app.plan_drawing import PAGE_PX
from loomwright.model.message import Message, Signal
from loomwright.model.speech import message_at
from loomwright.model.vehicle import Vehicle
from loomwright.show.traffic import frame_layout
from loomwright.solve.expectations import MEANING
from loomwright.solve.layouts import bits_of
from loomwright.solve.traffic import Traffic
from loomwright.terms.change import path_text


@dataclass(frozen=True, slots=True)
class TwinRow:
    """The bits of a message with what the sender puts there and what the receiver takes it for."""

    bits: str
    sent: str
    sent_as: str
    wanted: str
    wanted_as: str
    differs: bool


@dataclass(frozen=True, slots=True)
class Twin:
    """The other description of a message: that of the receiver ``port``, or, from its own page, what is really sent."""

    name: str
    title: str
    address: str
    path: str
    port: str
    is_sent: bool
    drawing: str
    told: tuple[str, ...]
    rows: tuple[TwinRow, ...]


def twins_of(vehicle: Vehicle, traffic: Traffic, full: str) -> tuple[Twin, ...]:
    """Every other description of a message: what receivers expect of it, or what is sent where they expect it."""
    found = []
    for each in traffic.expectations:
        if not each.sent or full not in (each.message, each.sent):
            continue
        other = each.sent if full == each.message else each.message
        sent, wanted = message_at(vehicle.messages, each.sent), message_at(vehicle.messages, each.message)
        there = message_at(vehicle.messages, other)
        if sent is None or wanted is None or there is None:
            continue
        set_name, _, own = other.partition(".")
        found.append(
            Twin(
                other,
                named(own, there),
                f"/messages/{set_name}/{own}",
                path_text(("messages", set_name, "messages", own)),
                each.port,
                other == each.sent,
                frame_layout(other, there, standalone=False, width=PAGE_PX) if there.signals else "",
                (*each.differences, *each.guards),
                _rows(sent, wanted),
            )
        )
    return tuple(found)


def _rows(sent: Message, wanted: Message) -> tuple[TwinRow, ...]:
    """Each set of bits that one of the two gives a meaning, in the order in which they lie in the frame."""
    said, expected = _by_bits(sent), _by_bits(wanted)
    rows = []
    for bits in sorted({*said, *expected}, key=min):
        ours, theirs = said.get(bits), expected.get(bits)
        differs = theirs is not None and (ours is None or _meaning(ours[1]) != _meaning(theirs[1]))
        rows.append(TwinRow(_span(bits), *_told(ours), *_told(theirs), differs))
    return tuple(rows)


def _by_bits(message: Message) -> dict[tuple[int, ...], tuple[str, Signal]]:
    return {bits_of(s): (name, s) for name, s in message.signals.items()}


def _meaning(signal: Signal) -> tuple[object, ...]:
    if signal.duty != "value":
        return (signal.duty, signal.checksum)
    return tuple(getattr(signal, item) for item in MEANING)


def _told(entry: tuple[str, Signal] | None) -> tuple[str, str]:
    if entry is None:
        return "", ""
    name, signal = entry
    if signal.duty != "value":
        return name, " ".join((signal.duty, signal.checksum)).strip()
    scale = f"× {signal.factor:g}" + (f" {signal.offset:+g}" if signal.offset else "")
    return name, " ".join((signal.number, scale, signal.unit)).strip()


def _span(bits: tuple[int, ...]) -> str:
    """Bits in words: "byte 0", "bytes 0-1", "byte 3, bits 4-7"."""
    places = [at // 8 for at in bits]
    first, last = min(places), max(places)
    if first != last:
        whole = len(bits) == 8 * (last - first + 1)
        return f"bytes {first}–{last}" + ("" if whole else f", {len(bits)} bits")
    low, high = min(bits) % 8, max(bits) % 8
    if high - low == 7:
        return f"byte {first}"
    return f"byte {first}, bit {low}" if low == high else f"byte {first}, bits {low}–{high}"
