"""Does the sender send what the receiver's manual describes?

A message with ``expected_by`` is a receiver's description. It is held against the message with the same identifier that
is really sent on the receiver's line.
"""

from dataclasses import dataclass

from loomwright.model.message import Message, Signal
from loomwright.model.speech import Speech, message_at
from loomwright.solve.hearing import expected_stream
from loomwright.solve.layouts import bits_of
from loomwright.solve.streams import Stream, lines_of_ports
from loomwright.terms.change import Path

GUARDS = ("counter", "checksum")


@dataclass(frozen=True, slots=True)
class Expectation:
    """A receiver's description and the message that is sent; ``sent`` is empty where nobody sends that identifier.

    ``differences`` are told in words of the two definitions, ``guards`` those of counter and checksum alone.
    """

    path: Path
    message: str
    port: str
    identifier: int | None
    sent: str
    differences: tuple[str, ...]
    guards: tuple[str, ...]


def expectations(speech: Speech, streams: tuple[Stream, ...]) -> tuple[Expectation, ...]:
    """Every receiver's description."""
    lines = lines_of_ports(speech)
    found = []
    for set_name, messages in speech.sets.items():
        for name, message in messages.messages.items():
            if not message.expected_by:
                continue
            full = f"{set_name}.{name}"
            twin = expected_stream(speech, streams, full, frozenset(lines.get(message.expected_by, ())))
            sent = message_at(speech.sets, twin.message) if twin is not None else None
            found.append(
                Expectation(
                    ("messages", set_name, "messages", name),
                    full,
                    message.expected_by,
                    getattr(message.identifier, "value", None),
                    twin.message if twin is not None else "",
                    _differences(message, sent) if sent is not None else (),
                    _guards(message, sent) if sent is not None else (),
                )
            )
    return tuple(found)


def _differences(wanted: Message, sent: Message) -> tuple[str, ...]:
    """Length, and for each value expected whether one sits on the same bits with the same meaning."""
    found = []
    if wanted.length != sent.length:
        found.append(f"{sent.length} bytes are sent, {wanted.length} expected")
    by_bits = {bits_of(signal): name for name, signal in sent.signals.items()}
    for name, signal in wanted.signals.items():
        if signal.duty in GUARDS:
            continue
        there = by_bits.get(bits_of(signal))
        if there is None:
            found.append(f"no signal is sent on the bits of {name}")
        elif (meant := _meaning(sent.signals[there])) != (mine := _meaning(signal)):
            said = [f"{what} {a} sent, {b} expected" for what, a, b in zip(MEANING, meant, mine, strict=True) if a != b]
            found.append(f"{name}: {', '.join(said)}")
    return tuple(found)


MEANING = ("number", "factor", "offset", "unit")
"""Fields of a signal that say what its bits mean."""


def _meaning(signal: Signal) -> tuple[str, float, float, str]:
    return signal.number, signal.factor, signal.offset, signal.unit


def _guards(wanted: Message, sent: Message) -> tuple[str, ...]:
    """How counter and checksum differ; a guard that the receiver does not expect does no harm."""
    found = []
    for duty in GUARDS:
        theirs = [signal for signal in wanted.signals.values() if signal.duty == duty]
        ours = [signal for signal in sent.signals.values() if signal.duty == duty]
        if not theirs:
            continue
        if not ours:
            found.append(f"a {duty} is expected and none is sent")
            continue
        mine, its = ours[0], theirs[0]
        if bits_of(mine) != bits_of(its):
            found.append(f"the {duty} is sent on other bits than it is expected on")
        if duty == "checksum" and mine.checksum != its.checksum:
            found.append(f"the checksum is sent by {_rule(mine)} and expected by {_rule(its)}")
    return tuple(found)


def _rule(signal: Signal) -> str:
    return signal.checksum or "a rule that is not stated"
