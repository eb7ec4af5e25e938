"""Does the sender send what the receiver's manual describes?

A message with ``expected_by`` is a receiver's description. It is held against the message with the same identifier that
is really sent on the receiver's line.
"""

from dataclasses import dataclass

from loomwright.model.message import Message, Signal
from loomwright.model.speech import Speech, message_at
from loomwright.solve.hearing import expected_stream
from loomwright.solve.layouts import bits_of, conditions_of
from loomwright.solve.streams import Stream, lines_of_ports
from loomwright.terms.change import Path
from loomwright.terms.fact import Unknown, bounds_of

Bits = tuple[int, ...]
Conditions = dict[Bits, frozenset[int]]
"""By the bits of each selecting signal the values with which a signal is in its message; no names, which differ by manual."""

OPPOSITES = frozenset(
    frozenset(pair.split("/"))
    for pair in (
        "on/off", "open/closed", "active/inactive", "enabled/disabled", "enable/disable", "yes/no", "true/false",
        "locked/unlocked", "pressed/released", "forward/reverse", "left/right", "up/down", "high/low", "start/stop",
    )
)  # fmt: skip
"""Names of values that say the contrary of each other."""
LONGER = 1.0 + 1e-9
"""What two periods may differ by in their last digits."""

GUARDS = ("counter", "checksum")


@dataclass(frozen=True, slots=True)
class Expectation:
    """A receiver's description and the message that is sent; ``sent`` is empty where nobody sends that identifier.

    ``differences`` are told in words of the two definitions, ``guards`` those of counter and checksum alone. ``periods_s``:
    the longest period with which it is sent and that with which it is expected, where the first is longer.
    """

    path: Path
    message: str
    port: str
    identifier: int | None
    sent: str
    differences: tuple[str, ...]
    guards: tuple[str, ...]
    periods_s: tuple[float, float] | None = None


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
            periods = _periods(message, twin) if twin is not None else None
            found.append(
                Expectation(
                    ("messages", set_name, "messages", name),
                    full,
                    message.expected_by,
                    getattr(message.identifier, "value", None),
                    twin.message if twin is not None else "",
                    (*_differences(message, sent), *_seldom(message, twin, periods)) if sent and twin else (),
                    _guards(message, sent) if sent is not None else (),
                    periods,
                )
            )
    return tuple(found)


def _differences(wanted: Message, sent: Message) -> tuple[str, ...]:
    """Length, kind of frame, and for each value expected whether one sits on the same bits with the same meaning."""
    found = []
    if wanted.length != sent.length:
        found.append(f"{sent.length} bytes are sent, {wanted.length} expected")
    if wanted.frames != sent.frames:
        found.append(f"{sent.frames} frames are sent, {wanted.frames} expected")
    by_bits: dict[Bits, list[Signal]] = {}
    for signal in sent.signals.values():
        by_bits.setdefault(bits_of(signal), []).append(signal)
    for name, signal in wanted.signals.items():
        if signal.duty not in GUARDS:
            found += _unlike(wanted, name, sent, by_bits.get(bits_of(signal), []))
    return tuple(found)


def _unlike(wanted: Message, name: str, sent: Message, there: list[Signal]) -> list[str]:
    """How a value differs from what is sent on its bits, on the pages on which it is expected."""
    signal = wanted.signals[name]
    mine = _conditions(wanted, signal)
    pages = [(each, _conditions(sent, each)) for each in there]
    met = [
        (each, theirs)
        for each, theirs in pages
        if all(mine[selector] & theirs[selector] for selector in mine.keys() & theirs.keys())
    ]
    if not met:
        return [f"no signal is sent on the bits of {name}" + (f" {_where(wanted, signal)}" if there else "")]
    found = []
    for selector in dict.fromkeys(selector for _, theirs in met for selector in theirs):
        if any(selector not in theirs for _, theirs in met):
            continue
        values = frozenset[int]().union(*(theirs[selector] for _, theirs in met))
        if selector not in mine:
            found.append(f"{name} is sent on some pages only, expected on all")
        elif missing := sorted(mine[selector] - values):
            found.append(f"{name} is not sent on page {', '.join(map(str, missing))}")
    for each, _ in met:
        said = [
            f"{what} {a} sent, {b} expected"
            for what, a, b in zip(MEANING, _meaning(each), _meaning(signal), strict=True)
            if a != b
        ]
        said += _contrary(each, signal)
        if said:
            found.append(f"{name}: {', '.join(said)}")
    return list(dict.fromkeys(found))


def _conditions(message: Message, signal: Signal) -> Conditions:
    return {bits_of(message.signals[name]): values for name, values in conditions_of(message, signal).items()}


def _where(message: Message, signal: Signal) -> str:
    told = (
        f"{name} is {' or '.join(map(str, sorted(values)))}" for name, values in conditions_of(message, signal).items()
    )
    return f"where {' and '.join(told)}" if signal.selected_by else "always"


MEANING = ("number", "factor", "offset", "unit")
"""Fields of a signal that say what its bits mean."""


def _meaning(signal: Signal) -> tuple[str, float, float, str]:
    return signal.number, signal.factor, signal.offset, signal.unit


def _contrary(sent: Signal, wanted: Signal) -> list[str]:
    """Values whose names cannot mean the same: the contrary, or one that the other manual gives to another value.

    Names that are merely different may be two words for one thing, and are passed over.
    """
    ours, theirs = _named(sent), _named(wanted)
    return [
        f"{value} is {ours[value]} sent, {theirs[value]} expected"
        for value in sorted(ours.keys() & theirs.keys())
        if (a := _word(ours[value])) != (b := _word(theirs[value]))
        and (
            frozenset((a, b)) in OPPOSITES
            or a in {_word(each) for each in theirs.values()}
            or b in {_word(each) for each in ours.values()}
        )
    ]


def _named(signal: Signal) -> dict[int, str]:
    """Names by their values; what names no number is told on loading."""
    found = {}
    for each in signal.values:
        number, _, name = each.strip().partition(" ")
        try:
            found[int(number)] = name.strip()
        except ValueError:
            continue
    return found


def _word(name: str) -> str:
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def _periods(wanted: Message, sent: Stream) -> tuple[float, float] | None:
    """The longest period sent and the longest expected, in s, where the first is longer."""
    if wanted.period_s is None or isinstance(wanted.period_s, Unknown) or sent.event or sent.longest_gap_s is None:
        return None
    most = bounds_of(wanted.period_s)[2]
    return (sent.longest_gap_s, most) if sent.longest_gap_s > most * LONGER else None


def _seldom(wanted: Message, sent: Stream, periods: tuple[float, float] | None) -> tuple[str, ...]:
    if sent.event and wanted.period_s is not None:
        return ("it is sent on an event, expected in a period",)
    return ("it is sent less often than expected",) if periods else ()


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
