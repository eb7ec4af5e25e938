"""Who hears each message, and who misses what it needs?"""

from dataclasses import dataclass

from loomwright.model.speech import Speech, message_and_signal, message_at, sender_of
from loomwright.solve.streams import Stream, is_extended, lines_of_ports
from loomwright.terms.change import Path
from loomwright.terms.fact import Unknown

HEARD, UNSENT, UNHEARD, OPEN = "heard", "sent by nobody", "not heard here", "of an unknown identifier"


@dataclass(frozen=True, slots=True)
class Hearing:
    """One need of a component: the stream by which it hears the message, or why it does not.

    ``streams`` are all by which it may hear it: the one its own sender sends, or all that gateways bring, because nobody
    says to which of them it listens. ``lines`` are where the message can be heard at all, ``sender`` is the port that is to send it.
    """

    path: Path
    component: str
    message: str
    signal: str
    outcome: str
    stream: Stream | None
    sender: str
    lines: tuple[str, ...]
    streams: tuple[Stream, ...] = ()


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
        if stream.brings_message:
            said.setdefault(stream.message, []).append(stream)
    found = []
    for component, voice in speech.voices.items():
        for name, need in voice.needs.items():
            message, signal = message_and_signal(need.signal)
            told = message_at(speech.sets, message)
            if told is None:
                continue
            ports = [need.port] if need.port else list(voice.ports)
            at = {line for port in ports for line in lines.get(f"{component}.{port}", ())}
            twin = expected_stream(speech, streams, message, at) if told.expected_by else None
            sent = said.get(twin.message if twin is not None else message, [])
            heard = heard_of([each for each in sent if twin is None or _sounds_like(each, twin)], at)
            own = any(each.sender.partition(".")[0] == component for each in sent)
            outcome = HEARD if heard or own else UNHEARD if sent else UNSENT
            if outcome == UNSENT and told.expected_by and isinstance(told.identifier, Unknown):
                outcome = OPEN
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
                    heard,
                )
            )
    return Hearings(tuple(found), _unneeded(speech, streams, found))


def _sounds_like(one: Stream, other: Stream) -> bool:
    return (one.entire.identifier, one.entire.extended) == (other.entire.identifier, other.entire.extended)


def heard_of(sent: list[Stream], at: set[str]) -> tuple[Stream, ...]:
    """Of the streams of a message those by which it is heard on some lines: its sender's own, else all that are passed on."""
    here = tuple(each for each in sent if each.line in at)
    return tuple(each for each in here if not each.source_line)[:1] or here


def expected_stream(
    speech: Speech, streams: tuple[Stream, ...], message: str, at: set[str] | frozenset[str]
) -> Stream | None:
    """The stream with the identifier of a message, in its width, that a receiver's manual describes, on one of these lines.

    Of a message in packets it is the packets: their own identifier is that of every message which the sender transports.
    """
    told = message_at(speech.sets, message)
    wanted = getattr(told.identifier, "value", None) if told is not None else None
    if told is None or wanted is None:
        return None
    wide = is_extended(told.width, wanted)
    return next(
        (
            each
            for each in streams
            if each.brings_message
            and each.line in at
            and (each.entire.identifier, each.entire.extended) == (wanted, wide)
        ),
        None,
    )


def _unneeded(speech: Speech, streams: tuple[Stream, ...], found: list[Hearing]) -> tuple[Stream, ...]:
    """Streams on lines where nobody needs them, passed on or not, less those that a chain goes by."""
    used = {(stream.message, stream.line) for each in found for stream in each.streams}
    used |= {(each.message, each.source_line) for each in streams if each.source_line}
    chained = {step for chain in speech.chains.values() for step in chain.steps}
    return tuple(
        each
        for each in streams
        if (each.message, each.line) not in used
        and not (each.message in chained and not each.source_line)
        and each.brings_message
    )
