"""Command: give the messages of a line, or of a set, out as a definition file of the trade."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from loomwright.app.definition_hearers import Heard, by_key, heard, left_out
from loomwright.app.definitions import NotTakenError, of_told
from loomwright.app.plain import headed
from loomwright.app.project import Project
from loomwright.files.definition import LeftOut
from loomwright.files.definition_ledger import by_weight
from loomwright.files.definition_out import WRITTEN, Given, write_definition
from loomwright.files.write import write_file
from loomwright.model.component import Forward
from loomwright.model.message import Message
from loomwright.model.speech import Speech, message_at, speech_of
from loomwright.solve.hearing import expected_stream
from loomwright.solve.streams import Stream, streams
from loomwright.terms.fact import Unknown


@dataclass(frozen=True, slots=True)
class GivenOut:
    """A definition file: its bytes, how many messages it holds, and what it does not say."""

    what: str
    data: bytes
    messages: int
    left_out: tuple[LeftOut, ...]


def give(project: Project, what: str, ending: str) -> GivenOut:
    """The definition file of a line (``drive`` or ``lines.drive``) or of a set (``messages.inverter``).

    Raises ``NotTakenError`` for a format that is not written, and for what is neither or could be both.
    """
    if ending not in WRITTEN:
        raise NotTakenError(f"a file .{ending} is not written; written are .{', .'.join(WRITTEN)}")
    vehicle = project.vehicle
    part, name = _meant(project, what)
    speech = speech_of(vehicle)
    sent = streams(speech)
    everything = heard(speech, sent)
    ports: tuple[str, ...] = ()
    if part == "messages":
        here = tuple(
            each for each in everything if each.stream.message.startswith(f"{name}.") and not each.stream.source_line
        )
        given = list(_of_set(project, name, here))
    else:
        here = tuple(each for each in everything if each.stream.line == name)
        given, ports = list(_of_line(speech, sent, name, here)), tuple(sorted(speech.media[name].ports))
    data, told = write_definition(given, ending, f"{vehicle.name} {name}", ports)
    unsaid = {place for each in told if each.kind.startswith("messages whose") for place in each.places}
    return GivenOut(f"{part}.{name}", data, len(given) - len(unsaid), by_weight((*told, *left_out(vehicle, here))))


def write(file: Path, given: GivenOut) -> None:
    """Write the file, whole or not at all. Raises ``RefusedWriteError``."""
    write_file(file, given.data)


def of_given(given: GivenOut, file: str) -> dict[str, Any]:
    """The report as plain data."""
    body = {"what": given.what, "file": file, "messages": given.messages, "told": of_told(given.left_out)}
    return headed("give", body)


def _meant(project: Project, what: str) -> tuple[str, str]:
    vehicle = project.vehicle
    named = [f"lines.{name}" for name in vehicle.lines] + [f"messages.{name}" for name in vehicle.messages]
    meant = [what] if what in named else [each for each in named if each.partition(".")[2] == what]
    if len(meant) != 1:
        why = f"{what!r} is both {' and '.join(meant)}: say which" if meant else f"there is no line or set {what!r}"
        raise NotTakenError(f"{why}; there are {', '.join(named) or 'none yet'}")
    part, _, name = meant[0].partition(".")
    return part, name


def _of_set(project: Project, name: str, here: tuple[Heard, ...]) -> Iterator[Given]:
    messages, hearers = project.vehicle.messages[name], by_key(here, "message")
    for own, message in messages.messages.items():
        sender = "" if message.expected_by else message.sender or messages.sender
        yield Given(name, own, message, sender, message.expected_by, hearers.get(f"{name}.{own}", ()))


def _of_line(speech: Speech, sent: tuple[Stream, ...], line: str, here: tuple[Heard, ...]) -> Iterator[Given]:
    """What the ports on a line send, forwarded messages too, each with the identifier and period that it has there.

    Then what a port on it expects and nobody sends there.
    """
    seen: set[tuple[Any, ...]] = set()
    hearers = by_key(here, "path")
    for stream in sent:
        if stream.line != line or stream.path in seen or not stream.brings_message:
            continue
        seen.add(stream.path)
        message = message_at(speech.sets, stream.message)
        assert message is not None, "a stream carries a message that is there"
        name, _, own = stream.message.partition(".")
        if stream.source_line:
            forward = speech.voices[str(stream.path[1])].forwards[str(stream.path[3])]
            message = _forwarded(message, forward)
        yield Given(name, own, message, stream.sender, heard_by=hearers.get(stream.path, ()))
    for name, messages in speech.sets.items():
        for own, message in messages.messages.items():
            waits = message.expected_by in speech.media[line].ports
            if waits and expected_stream(speech, sent, f"{name}.{own}", {line}) is None:
                yield Given(name, own, message, "", message.expected_by)


def _forwarded(message: Message, forward: Forward) -> Message:
    """A message as a gateway sends it on."""
    identifier = message.identifier if forward.identifier is None else forward.identifier
    period = message.period_s if forward.period_s is None else forward.period_s
    wide = not isinstance(identifier, Unknown) and identifier.value > 0x7FF
    return replace(
        message,
        identifier=identifier,
        width=forward.width or (message.width if forward.identifier is None else "29 bit" if wide else ""),
        period_s=period,
        minimum_gap_s=None if period is not None else message.minimum_gap_s,
    )
