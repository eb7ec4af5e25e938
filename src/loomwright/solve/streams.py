"""Which frames does each line carry, from whom, and how often?

A line carries what the ports on it send. A gateway's forward carries a message from a line where the gateway hears it
to another. A J1939 message of more than eight bytes is carried as an announcement and data packets.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from loomwright.laws.j1939 import (
    TRANSPORTED_BYTES_MOST,
    addressee,
    packet_spacing_s,
    packets,
    transport_identifiers,
)
from loomwright.laws.wire_order import wire_order
from loomwright.model.component import Forward
from loomwright.model.message import Message
from loomwright.model.speech import Medium, Speech, message_at
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Fact, Unknown, bounds_of, value_of

CLASSICAL_BYTES = 8
ANNOUNCEMENT, PACKETS, ANSWERS = "announcement", "data packets", "answers"
"""What transports a long message: what begins it, what carries it, and what the one it is addressed to sends back."""


@dataclass(frozen=True, slots=True)
class Stream:
    """One kind of frame on one line, of a message or of a part of it.

    ``path`` is the message, or the forward that brings it here; ``message`` its name; ``sender`` the port that puts it
    on this line, ``source_line`` the line a gateway heard it on. Times in s, each at the end of its range that is worse:
    ``period_s`` between two frames at the least (of an event its least gap), ``gap_s`` that of the whole message and
    ``longest_gap_s`` the most between two of them, ``jitter_s`` of its own sender, ``delay_s`` a gateway's.
    ``frames_per_message`` is more than one for the packets of a transported message, ``whole`` is that message with its own
    identifier and length, ``packet_spacing_s`` the least and most time between its packets where that is stated, and
    ``spread_s`` how far within its period a part may be sent, which is in ``jitter_s`` too. ``heard``: the path of the
    stream on ``source_line`` that a gateway passes on. Where the identifier is unknown,
    ``extended`` is what its line uses, else the longer frame.
    """

    path: Path
    message: str
    line: str
    sender: str
    identifier: int | None
    extended: bool
    length: int
    fd: bool
    event: bool
    period_s: float | None
    gap_s: float | None
    longest_gap_s: float | None
    jitter_s: float
    deadline_s: float | None
    states: tuple[str, ...]
    programmable: bool
    part: str = ""
    frames_per_message: int = 1
    source_line: str = ""
    delay_s: float = 0.0
    own_cycle: bool = False
    heard: Path = ()
    packet_spacing_s: tuple[float, float] | None = None
    spread_s: float = 0.0
    whole: "Stream | None" = None
    unknown: tuple[Path, ...] = ()
    assumed: tuple[Path, ...] = ()

    @property
    def name(self) -> str:
        """The message, and which part of it."""
        return f"{self.message} ({self.part})" if self.part else self.message

    @property
    def entire(self) -> "Stream":
        """The message with its own identifier, width and length, also where this is a part of what transports it."""
        return self.whole or self

    @property
    def brings_message(self) -> bool:
        """Whether the message is there with it: one in packets is with the last of them."""
        return self.part in ("", PACKETS)

    @property
    def carrying_s(self) -> float:
        """The longest from a message's first frame until its last packet is ready, in s; 0 for a message in one frame."""
        if self.part != PACKETS:
            return 0.0
        to = None if self.entire.identifier is None else addressee(self.entire.identifier)
        return self.frames_per_message * (self.packet_spacing_s or packet_spacing_s(to))[1]

    def is_sent_in(self, state: str) -> bool:
        """Whether it is sent in a state of the vehicle; "" stands for a vehicle without states."""
        return not self.states or not state or state in self.states


def lines_of_ports(speech: Speech) -> dict[str, tuple[str, ...]]:
    """The lines that each port is on; more than one only by mistake."""
    found: dict[str, list[str]] = defaultdict(list)
    for name, medium in speech.media.items():
        for port in sorted(medium.ports):
            found[port].append(name)
    return {port: tuple(lines) for port, lines in found.items()}


def streams(speech: Speech) -> tuple[Stream, ...]:
    """Every kind of frame on every line, line by line."""
    lines = lines_of_ports(speech)
    found: list[Stream] = []
    carried: dict[str, dict[str, Stream]] = defaultdict(dict)
    """By message the stream on each line."""
    for set_name, messages in speech.sets.items():
        for name, message in messages.messages.items():
            sender = "" if message.expected_by else message.sender or messages.sender
            for line in lines.get(sender, ()):
                stream = _own(f"{set_name}.{name}", message, sender, line, speech.media[line])
                carried[stream.message][line] = stream
    for stream in _forwarded(speech, lines, carried):
        carried[stream.message].setdefault(stream.line, stream)
        found.append(stream)
    own = (stream for at in carried.values() for stream in at.values() if not stream.source_line)
    said = (*own, *found)
    long = Counter((stream.line, stream.sender) for stream in said if _is_transported(stream, speech))
    parts = [part for stream in said for part in _parts(stream, speech, alone=long[stream.line, stream.sender] < 2)]
    return tuple(sorted(parts, key=lambda stream: (stream.line, *_rank(stream), stream.name)))


def _rank(stream: Stream) -> tuple[bool, int]:
    return (stream.identifier is None, wire_order(stream.identifier or 0, extended=stream.extended))


def _own(name: str, message: Message, sender: str, line: str, medium: Medium) -> Stream:
    path: Path = ("messages", name.partition(".")[0], "messages", name.partition(".")[2])
    reader = _Reader(path)
    identifier = reader.whole(message.identifier, "identifier")
    event = message.period_s is None
    gap, longest = reader.time(
        message.minimum_gap_s if event else message.period_s, "minimum_gap_s" if event else "period_s"
    )
    deadline, _ = reader.time(message.deadline_s, "deadline_s") if message.deadline_s is not None else (None, None)
    _, jitter = reader.time(message.jitter_s, "jitter_s")
    spacing = message.packet_spacing_s
    stated = None if spacing is None or isinstance(spacing, Unknown) else bounds_of(spacing)
    return Stream(
        path=path,
        message=name,
        line=line,
        sender=sender,
        identifier=identifier,
        extended=_width(reader, message.width, identifier, line, medium),
        length=message.length,
        fd=message.frames == "FD",
        event=event,
        period_s=gap,
        gap_s=gap,
        longest_gap_s=longest,
        jitter_s=jitter or 0.0,
        deadline_s=deadline,
        states=message.states,
        programmable=message.programmable,
        packet_spacing_s=None if stated is None else (stated[0], stated[2]),
        unknown=tuple(reader.unknown),
        assumed=tuple(reader.assumed),
    )


def is_extended(width: str, identifier: int | None) -> bool:
    """Whether an identifier has 29 bits: as it is written, else by its size."""
    return width == "29 bit" or (width == "" and identifier is not None and identifier > 0x7FF)


def _width(reader: "_Reader", width: str, identifier: int | None, line: str, medium: Medium) -> bool:
    """The same; of an identifier that nobody knows what its line uses, else the longer, so that no load is too small."""
    if width or identifier is not None:
        return is_extended(width, identifier)
    if isinstance(medium.identifiers, Assumed):
        reader.assumed.append(("lines", line, "identifiers"))
    return bool(value_of(medium.identifiers) != "11 bit")


def _forwarded(
    speech: Speech, lines: dict[str, tuple[str, ...]], carried: dict[str, dict[str, Stream]]
) -> Iterator[Stream]:
    """What gateways carry on, in the order in which it comes from line to line; each forward once."""
    waiting = [
        (component, name, forward)
        for component, voice in speech.voices.items()
        for name, forward in voice.forwards.items()
        if message_at(speech.sets, forward.message) is not None
    ]
    while waiting:
        ready = [item for item in waiting if _heard(speech, lines, carried, item[0], item[2])]
        for item in ready:
            component, name, forward = item
            waiting.remove(item)
            source = _heard(speech, lines, carried, component, forward)
            for line in lines.get(f"{component}.{forward.to}", ()):
                if source is not None and line != source.line and _states(forward, source) is not None:
                    stream = _passed_on(component, name, forward, source, line, speech.media[line])
                    carried[forward.message].setdefault(line, stream)
                    yield stream
        if not ready:
            return


def _heard(
    speech: Speech,
    lines: dict[str, tuple[str, ...]],
    carried: dict[str, dict[str, Stream]],
    component: str,
    forward: Forward,
) -> Stream | None:
    """The stream by which a gateway hears what it is to carry on: on the first of its lines that has it."""
    target = lines.get(f"{component}.{forward.to}", ())
    for port in speech.voices[component].ports:
        for line in lines.get(f"{component}.{port}", ()):
            if line not in target and line in carried[forward.message]:
                return carried[forward.message][line]
    return None


def _states(forward: Forward, source: Stream) -> tuple[str, ...] | None:
    """The states in which a message is passed on and is there to be passed on; ``()`` for all, ``None`` for none."""
    if not forward.states or not source.states:
        return forward.states or source.states
    return tuple(state for state in forward.states if state in source.states) or None


def _passed_on(component: str, name: str, forward: Forward, source: Stream, line: str, medium: Medium) -> Stream:
    path: Path = ("components", component, "forwards", name)
    reader = _Reader(path)
    identifier, extended = source.identifier, source.extended
    if forward.identifier is not None:
        identifier = reader.whole(forward.identifier, "identifier")
        extended = _width(reader, forward.width, identifier, line, medium)
    elif forward.width:
        extended = forward.width == "29 bit"
    own_cycle = forward.period_s is not None
    period, longest = source.period_s, source.longest_gap_s
    if own_cycle:
        period, longest = reader.time(forward.period_s, "period_s")
    delay = reader.time(forward.delay_s, "delay_s")[1] or 0.0
    # What the forward states itself, nobody needs to know of the message; how late that is, its own line answers.
    taken = {"identifier", "identifiers"} if forward.identifier is None else set[str]()
    taken |= set() if own_cycle else {"period_s", "minimum_gap_s"}
    return replace(
        source,
        path=path,
        line=line,
        sender=f"{component}.{forward.to}",
        identifier=identifier,
        extended=extended,
        event=source.event and not own_cycle,
        period_s=period,
        gap_s=period,
        longest_gap_s=longest,
        jitter_s=delay if own_cycle else 0.0,
        deadline_s=None,
        states=_states(forward, source) or (),
        programmable=forward.identifier is not None,
        source_line=source.line,
        heard=source.path,
        delay_s=delay,
        own_cycle=own_cycle,
        unknown=(*(fact for fact in source.unknown if fact[-1] in taken), *reader.unknown),
        assumed=(*(fact for fact in source.assumed if fact[-1] in taken), *reader.assumed),
    )


def _is_transported(stream: Stream, speech: Speech) -> bool:
    """Whether it is too long for a frame and its line knows how to carry it: transport is for identifiers of 29 bits."""
    knows = speech.media[stream.line].protocol == "J1939" and stream.extended and not stream.fd
    return knows and CLASSICAL_BYTES < stream.length <= TRANSPORTED_BYTES_MOST


def _parts(stream: Stream, speech: Speech, *, alone: bool) -> Iterator[Stream]:
    """The stream itself, or what transports it. ``alone``: its sender transports nothing else there.

    Where the identifier is unknown it is taken to be for everybody, which is as many frames but for the answers.
    """
    if not _is_transported(stream, speech):
        yield stream
        return
    to = None if stream.identifier is None else addressee(stream.identifier)
    control, data = (None, None) if stream.identifier is None else transport_identifiers(stream.identifier & 0xFF, to)
    least, _ = stream.packet_spacing_s or packet_spacing_s(to)
    part = replace(stream, whole=stream, length=CLASSICAL_BYTES, deadline_s=None)
    # One that waits for others of its sender, or comes in pieces from another line, begins at any time in its period.
    moves = not alone or (bool(stream.source_line) and not stream.own_cycle)
    count = packets(stream.length)
    yield _anywhere(replace(part, part=ANNOUNCEMENT, identifier=control), 1, moves=moves)
    carried = replace(part, part=PACKETS, identifier=data)
    if to is None:
        period = None if stream.gap_s is None else least
        yield replace(carried, period_s=period, frames_per_message=count, deadline_s=least)
        return
    yield _anywhere(carried, count, moves=True)
    receiver = port_of_address(speech, stream.line, to)
    if receiver and stream.identifier is not None:
        back, _ = transport_identifiers(to, stream.identifier & 0xFF)
        # One for each packet at the most, and one at the end.
        yield _anywhere(replace(part, part=ANSWERS, identifier=back, sender=receiver), count + 1, moves=True)


def _anywhere(part: Stream, count: int, *, moves: bool) -> Stream:
    """So many frames of a message, back to back; where it ``moves``, anywhere in the message's period.

    Frames that come evenly, each early by all that a crowd may be before its time, are no fewer in any time than those.
    """
    if part.gap_s is None:
        return replace(part, frames_per_message=count)
    period = part.gap_s / count
    spread = (part.gap_s - period) + (part.gap_s if moves else 0.0)
    return replace(
        part,
        period_s=period,
        frames_per_message=count,
        jitter_s=part.jitter_s + spread,
        spread_s=spread,
        deadline_s=part.gap_s + spread,
    )


def port_of_address(speech: Speech, line: str, address: int) -> str:
    """The port on a line that has an address; empty where nobody says that it has."""
    return next((port for port in sorted(speech.media[line].ports) if address_of(speech, port) == address), "")


def address_of(speech: Speech, port: str) -> int | None:
    """The address of a port, ``None`` where nobody stated it."""
    component, _, name = port.partition(".")
    found: int | None = getattr(speech.voices[component].ports[name].address, "value", None)
    return found


class _Reader:
    """Reads a message's facts, remembering which are unknown and which assumed."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.unknown: list[Path] = []
        self.assumed: list[Path] = []

    def whole(self, fact: Fact[int], field: str) -> int | None:
        self._note(fact, field)
        found: int | None = value_of(fact)
        return found

    def time(self, fact: Fact[float] | None, field: str) -> tuple[float | None, float | None]:
        """The least and the most of a time that is needed: where nobody spoke of it, it is unknown."""
        self._note(fact or Unknown(), field)
        if fact is None or isinstance(fact, Unknown):
            return None, None
        low, _, high = bounds_of(fact)
        return low, high

    def _note(self, fact: Fact[float] | Fact[int], field: str) -> None:
        if isinstance(fact, Unknown):
            self.unknown.append((*self.path, field))
        elif isinstance(fact, Assumed):
            self.assumed.append((*self.path, field))
