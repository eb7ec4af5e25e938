"""Cures for traffic: a message passed on by a gateway, an identifier that is free, a receiver's description told as such."""

from collections.abc import Iterable

from loomwright.judge.evidence import TrafficEvidence
from loomwright.laws.j1939 import parts_of
from loomwright.model.component import Forward
from loomwright.model.message import MessageSet
from loomwright.solve.hearing import Hearing
from loomwright.solve.streams import Stream, lines_of_ports
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Known, Unknown, value_of

GATEWAYS = ("gateway", "vehicle controller")
"""Roles that pass messages on, the first choice first."""
PROPRIETARY = 0x18FF0000
"""Identifiers of J1939 whose group a maker may give a meaning of its own: priority 6, groups 65280 to 65535."""


def forward_it(evidence: TrafficEvidence, need: Hearing) -> Change | None:
    """Have a gateway that is on both lines pass the message on to the one who needs it."""
    speech = evidence.speech
    lines = lines_of_ports(speech)
    wanted = speech.voices[need.component].needs[str(need.path[-1])]
    ports = [wanted.port] if wanted.port else list(speech.voices[need.component].ports)
    targets = [line for port in ports for line in lines.get(f"{need.component}.{port}", ())]
    source = next((each.entire for each in evidence.traffic.streams if each.message == need.message), None)
    if source is None:
        return None
    for role in GATEWAYS:
        for name, voice in speech.voices.items():
            hears = any(line in need.lines for port in voice.ports for line in lines.get(f"{name}.{port}", ()))
            if voice.role != role or not hears:
                continue
            for port in voice.ports:
                for line in lines.get(f"{name}.{port}", ()):
                    if line in targets and line not in need.lines:
                        return _forward(evidence, name, port, line, source)
    return None


def _forward(evidence: TrafficEvidence, gateway: str, port: str, line: str, source: Stream) -> Change | None:
    width = evidence.speech.media[line].identifiers
    here = evidence.traffic.on(line)
    wide = source.extended if isinstance(width, Unknown) or width.value == "both" else width.value == "29 bit"
    taken = _taken(here, wide=wide)
    identifier: int | None = None
    if wide != source.extended or source.identifier in taken:
        address = value_of(evidence.speech.voices[gateway].ports[port].address or Unknown())
        identifier = free_identifier(here, wide=wide, address=address, like=source.identifier)
        if identifier is None:
            return None
    own = evidence.speech.voices[gateway].forwards
    name = _fresh(source.message.partition(".")[2], own)
    path: Path = ("components", gateway, "forwards", name)
    forward = Forward(source.message, port, None if identifier is None else Known(identifier))
    title = f"Let {gateway} pass {source.message} on to line {line}"
    if identifier is not None:
        title += f" as 0x{identifier:03X} (a free one: look up which one its receivers expect)"
    return Change(title, (Edit(path, forward),))


def stop_passing(stream: Stream) -> Change | None:
    """Have a gateway bring a message no longer to a line where nobody needs it; ``None`` where no gateway does."""
    if not stream.source_line:
        return None
    return Change(f"Stop passing {stream.message} on to line {stream.line}", (Edit(stream.path, None),))


def another_identifier(evidence: TrafficEvidence, here: list[Stream]) -> Change | None:
    """Give one of several senders of an identifier another one, where it can be chosen."""
    free = [stream for stream in here if stream.programmable or stream.source_line]
    if not free:
        return None
    stream = free[-1]
    address = None if stream.identifier is None or not stream.extended else parts_of(stream.identifier).source
    line = evidence.traffic.on(stream.line)
    identifier = free_identifier(line, wide=stream.extended, address=address, like=stream.identifier)
    if identifier is None:
        return None
    edit = Edit((*stream.path, "identifier"), Known(identifier))
    title = f"Send {stream.message} on line {stream.line} as 0x{identifier:03X} (a free one: see that its receivers know it)"
    return Change(title, (edit,))


def expected_instead(evidence: TrafficEvidence, here: list[Stream]) -> Change | None:
    """Of several descriptions of one sender's message, make those that stand in a receiver's set what it expects.

    A receiver's set is one whose other messages come from another port. Where no set is one, or all are, nobody can tell
    which description is whose.
    """
    edits: list[Edit] = []
    told: list[str] = []
    for stream in here:
        name, _, own = stream.message.partition(".")
        owner = _other_owner(evidence.speech.sets[name], stream.sender)
        if owner:
            edits += [Edit((*stream.path, "expected_by"), owner)]
            if evidence.speech.sets[name].messages[own].sender:
                edits += [Edit((*stream.path, "sender"), "")]
            told.append(f"{stream.message} as what {owner} expects to hear")
    if not edits or len(told) == len(here):
        return None
    return Change(f"Take {' and '.join(told)} (expected_by), not as a second message of {here[0].sender}", tuple(edits))


def _other_owner(messages: MessageSet, sender: str) -> str:
    """The port that a set is about, where that is another than one of its senders; empty where it is not, or not clear."""
    if messages.sender not in ("", sender):
        return messages.sender
    ports = {each.expected_by or each.sender or messages.sender for each in messages.messages.values()} - {sender, ""}
    return ports.pop() if messages.definition and len(ports) == 1 else ""


def free_identifier(
    here: Iterable[Stream], *, wide: bool, address: int | None = None, like: int | None = None
) -> int | None:
    """An identifier nobody has on a line, close behind ``like``; of a wide one in the groups that are free to use."""
    taken = _taken(here, wide=wide)
    if wide:
        own = 0 if address is None else address
        return next((each for group in range(256) if (each := PROPRIETARY | group << 8 | own) not in taken), None)
    start = like if like is not None and like <= 0x7FF else 0x400
    return next((each for each in (*range(start, 0x7F0), *range(start, 0, -1)) if each not in taken), None)


def _taken(here: Iterable[Stream], *, wide: bool) -> set[int | None]:
    """Identifiers of a line's frames, and those of the messages that go in packets."""
    return {number for each in here if each.extended == wide for number in (each.identifier, each.entire.identifier)}


def _fresh(name: str, taken: Iterable[str]) -> str:
    names = set(taken)
    return next(each for each in (name, *(f"{name}_{number}" for number in range(2, 99))) if each not in names)
