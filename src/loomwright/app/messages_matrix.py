"""Who says each message, who needs it, who misses it: messages as rows, components as columns."""

from collections import defaultdict
from dataclasses import dataclass

from loomwright.app.components import in_order
from loomwright.app.messages_page import Judged, owners
from loomwright.app.messages_words import line_title, named
from loomwright.app.project import Project
from loomwright.laws.wire_order import wire_order
from loomwright.model.message import Message
from loomwright.model.speech import sender_of
from loomwright.model.vehicle import Vehicle
from loomwright.show.traffic_tables import identifier_text
from loomwright.solve.hearing import HEARD
from loomwright.solve.streams import Stream, is_extended
from loomwright.solve.traffic import Traffic
from loomwright.terms.change import Path, path_text
from loomwright.terms.fact import value_of

SAYS, PASSES_ON, NEEDS, MISSES, EXPECTS = "says", "passes on", "needs", "misses", "expects"
MEANINGS = (
    (SAYS, "says it"),
    (PASSES_ON, "passes it on"),
    (NEEDS, "needs it and hears it"),
    (MISSES, "needs it and does not hear it"),
    (EXPECTS, "its manual expects it"),
)
"""What each mark means, in the order of legends."""
HUBS = ("vehicle controller", "gateway")
"""Roles of those who talk with nearly everybody: their columns stand next to the messages."""
STRONGEST = (MISSES, SAYS, PASSES_ON, NEEDS, EXPECTS)
UNHEARD = "On no line: the port that sends them is on none"
UNSENT = "Sent by nobody"


@dataclass(frozen=True, slots=True)
class Mark:
    """What a component has to do with a message: the strongest word for it, and all of it told; ``path`` is of that."""

    kind: str
    told: str
    path: str


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """A message; a mark or nothing for each column. ``sender`` is a port, empty for what nobody sends."""

    name: str
    title: str
    path: str
    address: str
    identifier: str
    sender: str
    lines: tuple[str, ...]
    marks: tuple[Mark | None, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class Group:
    """The messages that begin on one line; ``title`` is the line's."""

    title: str
    rows: tuple[MatrixRow, ...]


@dataclass(frozen=True, slots=True)
class Matrix:
    """Columns are name and title of components; ``misses`` counts the marks of what is needed and not heard."""

    columns: tuple[tuple[str, str], ...]
    groups: tuple[Group, ...]
    misses: int
    messages: int
    owners: tuple[tuple[str, str], ...]


Told = dict[str, dict[str, list[Mark]]]
"""Marks by message and component."""


def matrix(project: Project, line: str = "") -> Matrix:
    """Everything that is said and needed in the vehicle, or on one line."""
    vehicle, traffic = project.vehicle, project.answers.traffic(project.vehicle)
    told = _told(vehicle, traffic)
    on: dict[str, list[Stream]] = defaultdict(list)
    for stream in traffic.streams:
        on[stream.message].append(stream)
    there = _on_line(vehicle, line)
    described = {each.message for each in traffic.expectations if each.sent}
    judged = Judged(project)
    shown_here = [
        (name, message)
        for name, message in _messages(vehicle)
        if name not in described and (not line or _belongs(name, on, told, line, there))
    ]
    missing = {
        component
        for name, _ in shown_here
        for component, marks in told[name].items()
        if any(mark.kind == MISSES for mark in marks)
    }
    columns = tuple(
        (name, title)
        for name, title in sorted(in_order(vehicle), key=lambda each: vehicle.components[each[0]].role not in HUBS)
        if (not line or name in there or name in missing) and any(name in marks for marks in told.values())
    )
    by_home: dict[str, list[tuple[int, MatrixRow]]] = defaultdict(list)
    for name, message in shown_here:
        home = next((stream.line for stream in on[name] if not stream.source_line), "")
        home = home or (UNHEARD if sender_of(vehicle.messages, name) else UNSENT)
        row = _row(vehicle, name, message, on[name], told[name], columns, judged)
        identifier = value_of(message.identifier)
        wide = is_extended(message.width, identifier)
        by_home[home].append((wire_order(identifier or 0, extended=wide), row))
    groups = tuple(
        Group(
            home if home in (UNHEARD, UNSENT) else line_title(vehicle, home),
            tuple(row for _, row in sorted(by_home[home], key=lambda each: each[0])),
        )
        for home in dict.fromkeys((*filter(None, (line,)), *vehicle.lines, UNHEARD, UNSENT))
        if by_home[home]
    )
    shown = [mark for group in groups for row in group.rows for mark in row.marks if mark]
    return Matrix(
        columns,
        groups,
        sum(mark.kind == MISSES for mark in shown),
        sum(len(group.rows) for group in groups),
        owners(vehicle),
    )


def _messages(vehicle: Vehicle) -> tuple[tuple[str, Message], ...]:
    return tuple(
        (f"{set_name}.{name}", message)
        for set_name, messages in vehicle.messages.items()
        for name, message in messages.messages.items()
    )


def _told(vehicle: Vehicle, traffic: Traffic) -> Told:
    told: Told = defaultdict(lambda: defaultdict(list))
    on_lines = {stream.message for stream in traffic.streams}
    for name, _ in _messages(vehicle):
        port = sender_of(vehicle.messages, name)
        if port and name not in on_lines:
            set_name, _, own = name.partition(".")
            path: Path = ("messages", set_name, "messages", own)
            told[name][port.partition(".")[0]].append(Mark(SAYS, f"says, but {port} is on no line", path_text(path)))
    for stream in traffic.streams:
        if not stream.brings_message:
            continue
        kind = PASSES_ON if stream.source_line else SAYS
        words = f"{kind} to {stream.line}" if stream.source_line else kind
        mark = Mark(kind, words, path_text(stream.path))
        marks = told[stream.message][stream.sender.partition(".")[0]]
        if mark not in marks:
            marks.append(mark)
    sent_as = {each.message: each.sent for each in traffic.expectations if each.sent}
    for need in traffic.hearings.needs:
        name = need.stream.message if need.stream is not None else sent_as.get(need.message, need.message)
        kind = NEEDS if need.outcome == HEARD else MISSES
        signal = f" {need.signal}" if need.signal else ""
        words = f"needs{signal}" if kind == NEEDS else f"needs{signal}, {need.outcome}"
        told[name][need.component].append(Mark(kind, words, path_text(need.path)))
    for each in traffic.expectations:
        words = "its manual expects it" if each.sent else "its manual expects it, and nobody sends it"
        told[each.sent or each.message][each.port.partition(".")[0]].append(Mark(EXPECTS, words, path_text(each.path)))
    return told


def _on_line(vehicle: Vehicle, line: str) -> frozenset[str]:
    stations = vehicle.lines[line].stations if line else ()
    return frozenset(station.port.partition(".")[0] for station in stations if station.port)


def _belongs(name: str, on: dict[str, list[Stream]], told: Told, line: str, there: frozenset[str]) -> bool:
    """Whether a message is said on the line, or missed or expected in vain by a component that stands there."""
    if any(stream.line == line for stream in on[name]):
        return True
    wanted = (MISSES,) if on[name] else (MISSES, EXPECTS)
    return any(mark.kind in wanted for component in there for mark in told[name].get(component, ()))


def _row(
    vehicle: Vehicle,
    name: str,
    message: Message,
    streams: list[Stream],
    told: dict[str, list[Mark]],
    columns: tuple[tuple[str, str], ...],
    judged: Judged,
) -> MatrixRow:
    set_name, _, own = name.partition(".")
    path: Path = ("messages", set_name, "messages", own)
    identifier = value_of(message.identifier)
    lines = tuple(dict.fromkeys(stream.line for stream in streams))
    return MatrixRow(
        name,
        named(own, message),
        path_text(path),
        f"/messages/{set_name}/{own}",
        identifier_text(identifier, extended=is_extended(message.width, identifier)),
        sender_of(vehicle.messages, name),
        tuple(line_title(vehicle, line) for line in lines),
        tuple(_strongest(told.get(component, [])) for component, _ in columns),
        judged.verdict(path, "", *lines),
    )


def _strongest(marks: list[Mark]) -> Mark | None:
    if not marks:
        return None
    first = min(marks, key=lambda mark: STRONGEST.index(mark.kind))
    return Mark(first.kind, "; ".join(dict.fromkeys(mark.told for mark in marks)), first.path)
