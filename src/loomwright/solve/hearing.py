"""Who hears each message, and who misses what it needs?"""

from dataclasses import dataclass

from loomwright.model.speech import Speech, message_and_signal, message_at, sender_of
from loomwright.solve.streams import ANNOUNCEMENT, Stream, lines_of_ports
from loomwright.terms.change import Path

HEARD, UNSENT, UNHEARD = "heard", "sent by nobody", "not heard here"


@dataclass(frozen=True, slots=True)
class Hearing:
    """One need of a component: the stream by which it hears the message, or why it does not.

    ``lines`` are where the message can be heard at all, ``sender`` is the port that is to send it.
    """

    path: Path
    component: str
    message: str
    signal: str
    outcome: str
    stream: Stream | None
    sender: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Hearings:
    """All needs of a vehicle, and the messages that nobody needs."""

    needs: tuple[Hearing, ...]
    unneeded: tuple[Stream, ...]

    def of(self, component: str) -> tuple[Hearing, ...]:
        """The needs of one component."""
        return tuple(each for each in self.needs if each.component == component)


def hearings(speech: Speech, streams: tuple[Stream, ...]) -> Hearings:
    """Follow every need to the line on which it is met."""
    lines = lines_of_ports(speech)
    said: dict[str, list[Stream]] = {}
    for stream in streams:
        if stream.part != ANNOUNCEMENT:  # the message is there with its last packet
            said.setdefault(stream.message, []).append(stream)
    found = []
    for component, voice in speech.voices.items():
        for name, need in voice.needs.items():
            message, signal = message_and_signal(need.signal)
            if message_at(speech.sets, message) is None:
                continue
            ports = [need.port] if need.port else list(voice.ports)
            at = {line for port in ports for line in lines.get(f"{component}.{port}", ())}
            sent = said.get(_sent_as(speech, streams, message, at), [])
            heard = sorted((each for each in sent if each.line in at), key=lambda each: bool(each.source_line))
            own = any(each.sender.partition(".")[0] == component for each in sent)
            outcome = HEARD if heard or own else UNHEARD if sent else UNSENT
            found.append(
                Hearing(
                    ("components", component, "needs", name),
                    component,
                    message,
                    signal,
                    outcome,
                    heard[0] if heard else None,
                    sent[0].sender if sent else sender_of(speech.sets, message),
                    tuple(dict.fromkeys(each.line for each in sent)),
                )
            )
    return Hearings(tuple(found), _unneeded(speech, streams, found))


def _sent_as(speech: Speech, streams: tuple[Stream, ...], message: str, at: set[str]) -> str:
    """The name under which a message is sent: of one that a receiver's manual describes, whoever has its identifier."""
    told = message_at(speech.sets, message)
    if told is None or not told.expected_by:
        return message
    twin = expected_stream(speech, streams, message, at)
    return twin.message if twin is not None else message


def expected_stream(
    speech: Speech, streams: tuple[Stream, ...], message: str, at: set[str] | frozenset[str]
) -> Stream | None:
    """The stream that has the identifier of a message which a receiver's manual describes, on one of these lines."""
    told = message_at(speech.sets, message)
    wanted = getattr(told.identifier, "value", None) if told is not None else None
    if wanted is None:
        return None
    return next((each for each in streams if each.identifier == wanted and each.line in at), None)


def _unneeded(speech: Speech, streams: tuple[Stream, ...], found: list[Hearing]) -> tuple[Stream, ...]:
    """Streams on lines where nobody needs them, passed on or not, less those that a chain goes by."""
    used = {(each.stream.message, each.stream.line) for each in found if each.stream is not None}
    used |= {(each.message, each.source_line) for each in streams if each.source_line}
    chained = {step for chain in speech.chains.values() for step in chain.steps}
    return tuple(
        each
        for each in streams
        if (each.message, each.line) not in used
        and not (each.message in chained and not each.source_line)
        and each.part != ANNOUNCEMENT
    )
