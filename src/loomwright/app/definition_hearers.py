"""Who hears what is given out as a definition file: needs of components, what receivers' manuals describe, what gateways pass on."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from loomwright.files.definition import LeftOut
from loomwright.model.component import Need
from loomwright.model.message import Message
from loomwright.model.speech import Speech, message_at
from loomwright.model.vehicle import Vehicle
from loomwright.show.quantity import text as quantity
from loomwright.solve.hearing import expected_stream, hearings
from loomwright.solve.layouts import bits_of
from loomwright.solve.streams import Stream, lines_of_ports
from loomwright.terms.change import Path
from loomwright.terms.fact import value_of
from loomwright.terms.quantity import Kind


@dataclass(frozen=True, slots=True)
class Heard:
    """One signal of a stream, or all of them (``""``), that a port hears, and the need, description or forward that says so."""

    stream: Stream
    port: str
    signal: str
    said_by: Path


def heard(speech: Speech, streams: tuple[Stream, ...]) -> tuple[Heard, ...]:
    """Everything that somebody needs, expects or passes on and that is really sent where it is heard."""
    return (*_needs(speech, streams), *_expected(speech, streams), *_passed_on(speech, streams))


def left_out(vehicle: Vehicle, found: tuple[Heard, ...]) -> Iterator[LeftOut]:
    """What no definition file says of needs and of receivers' descriptions that are among these."""
    fresh: list[str] = []
    lost: list[str] = []
    described: list[str] = []
    for each in found:
        if each.said_by[0] == "messages":
            described.append(f"{each.said_by[1]}.{each.said_by[3]}: {each.stream.message}")
            continue
        if each.said_by[2] == "forwards":
            continue
        component, name = str(each.said_by[1]), str(each.said_by[3])
        need = vehicle.components[component].needs[name]
        for facts, fact in ((fresh, need.fresh_s), (lost, need.time_out_s)):
            if (value := None if fact is None else value_of(fact)) is not None:
                facts.append(f"{component}.{name}: {quantity(value, Kind.TIME)}")
    for kind, places in (
        ("freshness that needs ask for", fresh),
        ("time-outs of needs", lost),
        ("expected messages as their receivers describe them: they stand as they are sent", described),
    ):
        if places:
            yield LeftOut(kind, tuple(dict.fromkeys(places)))


def _needs(speech: Speech, streams: tuple[Stream, ...]) -> Iterator[Heard]:
    for need in hearings(speech, streams).needs:
        if need.stream is None:
            continue
        told: Need = speech.voices[need.component].needs[str(need.path[-1])]
        sent = message_at(speech.sets, need.stream.message)
        signal = need.signal if sent is not None and need.signal in sent.signals else ""
        on = speech.media[need.stream.line].ports
        for port in [told.port] if told.port else speech.voices[need.component].ports:
            if f"{need.component}.{port}" in on:
                yield Heard(need.stream, f"{need.component}.{port}", signal, need.path)


def _expected(speech: Speech, streams: tuple[Stream, ...]) -> Iterator[Heard]:
    lines = lines_of_ports(speech)
    for set_name, messages in speech.sets.items():
        for name, message in messages.messages.items():
            at = frozenset(lines.get(message.expected_by, ()))
            twin = expected_stream(speech, streams, f"{set_name}.{name}", at) if message.expected_by else None
            sent = message_at(speech.sets, twin.message) if twin is not None else None
            if twin is None or sent is None:
                continue
            for signal in _on_the_same_bits(message, sent):
                yield Heard(twin, message.expected_by, signal, ("messages", set_name, "messages", name))


def _passed_on(speech: Speech, streams: tuple[Stream, ...]) -> Iterator[Heard]:
    """A gateway hears what it passes on, on the line that it comes from."""
    for stream in (each for each in streams if each.source_line):
        gateway = stream.sender.partition(".")[0]
        for source in streams:
            if source.message == stream.message and source.line == stream.source_line:
                on = speech.media[source.line].ports
                for port in speech.voices[gateway].ports:
                    if f"{gateway}.{port}" in on and f"{gateway}.{port}" != source.sender:
                        yield Heard(source, f"{gateway}.{port}", "", stream.path)


def _on_the_same_bits(wanted: Message, sent: Message) -> list[str]:
    """The signals of a message that lie where a receiver looks; all (``""``) where it names no signal that is there."""
    bits = {bit for signal in wanted.signals.values() for bit in bits_of(signal)}
    return [name for name, signal in sent.signals.items() if bits & set(bits_of(signal))] or [""]


def by_key(found: tuple[Heard, ...], key: str) -> Mapping[object, tuple[tuple[str, str], ...]]:
    """Ports and signals by the ``path`` or the ``message`` of the stream that is heard, each once."""
    made: dict[object, dict[tuple[str, str], None]] = {}
    for each in found:
        made.setdefault(getattr(each.stream, key), {})[each.port, each.signal] = None
    return {name: tuple(pairs) for name, pairs in made.items()}
