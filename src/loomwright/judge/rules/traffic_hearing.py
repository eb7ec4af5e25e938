"""Whether everybody hears what it needs, whether nobody is in anybody's way, and whether definitions agree."""

from collections import defaultdict
from collections.abc import Iterator

from loomwright.judge.evidence import TrafficEvidence
from loomwright.judge.rule import Rule
from loomwright.judge.traffic_cures import another_identifier, expected_instead, forward_it
from loomwright.laws.frame_lengths import CLASSICAL_BYTES_MOST
from loomwright.laws.j1939 import parts_of
from loomwright.model.message import Message
from loomwright.solve.hearing import HEARD, OPEN, UNHEARD, UNSENT
from loomwright.solve.layouts import layout_of
from loomwright.solve.streams import PACKETS, Stream, address_of
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Source, Unknown
from loomwright.terms.finding import Reading, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

_PRACTICE = "common practice"


def _count(value: float, bound: Bound, place: str, counted: tuple[str, str]) -> Limit:
    return Limit(value, bound, Kind.COUNT, Source(_PRACTICE, place), Standing.PRACTICE, counted=counted)


SENT = _count(1.0, Bound.AT_LEAST, "what is needed is sent by somebody", ("sender", "senders"))
HEARD_HERE = _count(
    1.0, Bound.AT_LEAST, "what is needed is heard on a line of the one who needs it", ("way to it", "ways to it")
)
NEEDED = _count(1.0, Bound.AT_LEAST, "what is sent is needed by somebody", ("use", "uses"))
ONE_SENDER = Limit(
    1.0, Bound.AT_MOST, Kind.COUNT, Source("ISO 11898-1", "an identifier has one sender, or two frames collide unseen"),
    Standing.MEMORY, counted=("message", "messages"),
)  # fmt: skip
_DIFFERENCES = ("difference", "differences")
OWN_BITS = _count(
    0.0, Bound.EXACTLY, "every signal has bits of its own, within its message", ("mistaken place", "mistaken places")
)
SAME = _count(0.0, Bound.EXACTLY, "sender and receiver describe a message alike", _DIFFERENCES)
GUARDED = _count(0.0, Bound.EXACTLY, "sender and receiver agree on counter and checksum", _DIFFERENCES)
WIDTH = _count(
    1.0, Bound.EXACTLY, "messages use the identifier width of their line", ("fitting width", "fitting widths")
)
FITS = _count(
    1.0, Bound.EXACTLY, "a message fits a frame of its line, or the line's protocol transports it",
    ("fitting frame", "fitting frames"),
)  # fmt: skip
ONE_ADDRESS = Limit(
    1.0, Bound.AT_MOST, Kind.COUNT, Source("SAE J1939-81", "an address belongs to one node of a line"), Standing.MEMORY,
    counted=("port", "ports"),
)  # fmt: skip
ADDRESSED = Limit(
    1.0, Bound.EXACTLY, Kind.COUNT, Source("SAE J1939-21", "an identifier ends in its sender's address"),
    Standing.SECONDARY, counted=("matching address", "matching addresses"),
)  # fmt: skip


def message_sent(evidence: TrafficEvidence) -> Iterator[Reading]:
    """Count the senders of each message that is needed."""
    for need in evidence.traffic.hearings.needs:
        because = (("component", need.component), ("message", need.message), ("sender", need.sender))
        # Of a receiver's description without identifier nobody can tell whether it is sent.
        open_fact = ((*_message_path(need.message), "identifier"),) if need.outcome == OPEN else ()
        value = None if open_fact else float(need.outcome != UNSENT)
        yield Reading(need.path, value, SENT, because, blocked_by=open_fact, line=_first(need.lines))


def message_heard(evidence: TrafficEvidence) -> Iterator[Reading]:
    """Count the lines on which a component hears what it needs."""
    for need in evidence.traffic.hearings.needs:
        if need.outcome in (UNSENT, OPEN):
            continue
        because = (("component", need.component), ("message", need.message), ("on", need.lines))
        change = forward_it(evidence, need) if need.outcome == UNHEARD else None
        yield Reading(
            need.path, float(need.outcome == HEARD), HEARD_HERE, because, change=change, line=_first(need.lines)
        )


def message_needed(evidence: TrafficEvidence) -> Iterator[Reading]:
    """Name what is sent although nobody needs it, as advice."""
    idle = {(each.path, each.line) for each in evidence.traffic.hearings.unneeded}
    for stream in evidence.traffic.streams:
        if not stream.brings_message:
            continue
        yield Reading(
            stream.path,
            float((stream.path, stream.line) not in idle),
            NEEDED,
            (("message", stream.message), ("sender", stream.sender), ("line", stream.line)),
            weight=Weight.ADVICE,
            line=stream.line,
        )


def one_sender(evidence: TrafficEvidence) -> Iterator[Reading]:
    """Count who sends each identifier on each line by its own; what gateways bring is told by another rule."""
    return _senders(evidence, passed_on=False)


def forward_identifier(evidence: TrafficEvidence) -> Iterator[Reading]:
    """Count who sends the identifier of each message that a gateway brings to a line."""
    return _senders(evidence, passed_on=True)


def _senders(evidence: TrafficEvidence, *, passed_on: bool) -> Iterator[Reading]:
    by_identifier: dict[tuple[str, bool, int], list[Stream]] = defaultdict(list)
    for stream in evidence.traffic.streams:
        whole = stream.entire
        if whole.identifier is not None and stream.brings_message:
            by_identifier[whole.line, whole.extended, whole.identifier].append(whole)
    groups = list(by_identifier.items())
    told = {frozenset(each.path for each in here) for _, here in groups}
    groups += [each for each in _packets(evidence) if frozenset(whole.path for whole in each[1]) not in told]
    for (line, _, identifier), here in groups:
        guests = [stream for stream in here if stream.source_line]
        if bool(guests) != passed_on:
            continue
        subject = (guests or here)[-1]
        names = tuple(stream.message for stream in here)
        senders = tuple(dict.fromkeys(stream.sender for stream in here))
        described = len(here) > 1 and len(senders) == 1 and not guests
        change = None
        if described:
            change = expected_instead(evidence, here)
        elif len(here) > 1 and all(stream.identifier == identifier for stream in here):
            change = another_identifier(evidence, here)
        because = (("identifier", identifier), ("messages", names), ("senders", senders), ("described", described))
        also = _others(
            subject.path, *(path for stream in here for path in (stream.path, _message_path(stream.message)))
        )
        yield Reading(subject.path, float(len(here)), ONE_SENDER, because, change=change, line=line, also=also)


def _packets(evidence: TrafficEvidence) -> Iterator[tuple[tuple[str, bool, int], list[Stream]]]:
    """Identifiers of packets that more than one sender has: of each sender one of its messages, whichever they are."""
    senders: dict[tuple[str, bool, int], dict[str, Stream]] = defaultdict(dict)
    for stream in evidence.traffic.streams:
        if stream.part == PACKETS and stream.identifier is not None:
            senders[stream.line, True, stream.identifier].setdefault(stream.sender, stream.entire)
    yield from ((key, list(by_sender.values())) for key, by_sender in senders.items() if len(by_sender) > 1)


def signals_fit(evidence: TrafficEvidence) -> Iterator[Reading]:
    """Count the signals of each message that share bits or reach beyond its end."""
    for path, message in _messages(evidence):
        if not message.signals:
            continue
        layout = layout_of(message)
        because = (("message", _name(path)), ("beyond", layout.beyond), ("shared", layout.shared))
        yield Reading(
            path, float(len(layout.beyond) + len(layout.shared)), OWN_BITS, because, line=_line(evidence, path)
        )


def same_definition(evidence: TrafficEvidence) -> Iterator[Reading]:
    """Hold each receiver's description against what is sent."""
    for each in evidence.traffic.expectations:
        because = (
            ("message", each.message),
            ("port", each.port),
            ("sent", each.sent),
            ("identifier", each.identifier),
            ("differences", each.differences if each.sent else ("nobody sends this identifier there",)),
            ("periods_s", each.periods_s),
        )
        yield Reading(
            each.path,
            None if each.identifier is None else float(len(each.differences)) if each.sent else 1.0,
            SAME,
            because,
            also=(_message_path(each.sent),) if each.sent else (),
            blocked_by=((*each.path, "identifier"),) if each.identifier is None else (),
        )


def same_guards(evidence: TrafficEvidence) -> Iterator[Reading]:
    """Hold counter and checksum as a receiver expects them against those that are sent."""
    for each in evidence.traffic.expectations:
        if each.sent:
            because = (
                ("message", each.message),
                ("port", each.port),
                ("sent", each.sent),
                ("differences", each.guards),
            )
            yield Reading(each.path, float(len(each.guards)), GUARDED, because, also=(_message_path(each.sent),))


def identifier_width(evidence: TrafficEvidence) -> Iterator[Reading]:
    """See of each message whether its line uses identifiers of its width."""
    for stream in evidence.traffic.streams:
        if stream.identifier is None or not stream.brings_message:
            continue
        wanted = evidence.speech.media[stream.line].identifiers
        width = "29 bit" if stream.extended else "11 bit"
        line_fact: Path = ("lines", stream.line, "identifiers")
        yield Reading(
            stream.path,
            None if isinstance(wanted, Unknown) else float(wanted.value in (width, "both")),
            WIDTH,
            (("message", stream.message), ("width", width), ("line", stream.line)),
            blocked_by=(line_fact,) if isinstance(wanted, Unknown) else (),
            assumed=(line_fact,) if isinstance(wanted, Assumed) else (),
            line=stream.line,
        )


def message_fits(evidence: TrafficEvidence) -> Iterator[Reading]:
    """See of each message whether its line has frames for it."""
    for stream in evidence.traffic.streams:
        if not stream.brings_message:
            continue
        medium = evidence.speech.media[stream.line]
        long = not stream.fd and stream.length > CLASSICAL_BYTES_MOST and not stream.part
        foreign = stream.fd and medium.frames != "FD"
        why = "an FD frame on a classical line" if foreign else f"{stream.length} bytes in one frame" if long else ""
        because = (("message", stream.message), ("line", stream.line), ("why", why), ("length", stream.length))
        yield Reading(stream.path, float(not why), FITS, because, line=stream.line)


def one_address(evidence: TrafficEvidence) -> Iterator[Reading]:
    """Count the ports that have the same address on a J1939 line."""
    for line, medium in evidence.speech.media.items():
        if medium.protocol != "J1939":
            continue
        by_address: dict[int, list[str]] = defaultdict(list)
        for port in sorted(medium.ports):
            if (address := address_of(evidence.speech, port)) is not None:
                by_address[address].append(port)
        for address, ports in sorted(by_address.items()):
            because = (("address", address), ("ports", tuple(ports)), ("line", line))
            also = tuple(_port_path(port) for port in ports[:-1])
            yield Reading(_port_path(ports[-1]), float(len(ports)), ONE_ADDRESS, because, line=line, also=also)


def address_in_identifier(evidence: TrafficEvidence) -> Iterator[Reading]:
    """See of each J1939 message whether it ends in the address of the port that sends it."""
    for stream in evidence.traffic.streams:
        identifier = stream.entire.identifier
        if identifier is None or not stream.extended or not stream.brings_message:
            continue
        address = address_of(evidence.speech, stream.sender)
        if evidence.speech.media[stream.line].protocol != "J1939" or address is None:
            continue
        source = parts_of(identifier).source
        because = (("message", stream.message), ("port", stream.sender), ("address", address), ("source", source))
        yield Reading(stream.path, float(source == address), ADDRESSED, because, line=stream.line)


def _port_path(port: str) -> Path:
    component, _, name = port.partition(".")
    return ("components", component, "ports", name, "address")


def _messages(evidence: TrafficEvidence) -> Iterator[tuple[Path, Message]]:
    for set_name, messages in evidence.speech.sets.items():
        for name, message in messages.messages.items():
            yield ("messages", set_name, "messages", name), message


def _name(path: Path) -> str:
    return f"{path[1]}.{path[3]}"


def _message_path(name: str) -> Path:
    set_name, _, own = name.partition(".")
    return ("messages", set_name, "messages", own)


def _others(subject: Path, *paths: Path) -> tuple[Path, ...]:
    return tuple(path for path in dict.fromkeys(paths) if path != subject)


def _line(evidence: TrafficEvidence, path: Path) -> str:
    return next((stream.line for stream in evidence.traffic.streams if stream.path == path), "")


def _first(lines: tuple[str, ...]) -> str:
    return lines[0] if lines else ""


RULES = (
    Rule("message-sent", "Everything needed is sent by somebody", message_sent),
    Rule("message-heard", "Everything needed is heard where it is needed", message_heard),
    Rule("message-needed", "Everything sent is needed by somebody", message_needed),
    Rule("one-sender", "Every identifier has one sender on its line", one_sender),
    Rule("forward-identifier", "A gateway brings no identifier that is taken", forward_identifier),
    Rule("signals-fit", "Every signal has bits of its own", signals_fit),
    Rule("same-definition", "Sender and receiver describe a message alike", same_definition),
    Rule("same-guards", "Sender and receiver agree on counter and checksum", same_guards),
    Rule("identifier-width", "Messages use the identifier width of their line", identifier_width),
    Rule("message-fits", "Every message fits a frame of its line", message_fits),
    Rule("one-address", "An address belongs to one node of a line", one_address),
    Rule("address-in-identifier", "An identifier ends in its sender's address", address_in_identifier),
)
