"""Who says what and who needs it, on paper: the matrix with its times, all signals, and what the signs mean."""

from collections import defaultdict
from dataclasses import dataclass

from loomwright.app.messages_matrix import (
    EXPECTS,
    MEANINGS,
    MISSES,
    NEEDS,
    PASSES_ON,
    SAYS,
    Matrix,
    MatrixRow,
    matrix,
)
from loomwright.app.messages_message import named_signal
from loomwright.app.messages_page import Judged, TimeRow, time_rows
from loomwright.app.messages_words import line_title, named
from loomwright.app.project import Project
from loomwright.files.printed import Column, Sheet, Value, printed_workbook
from loomwright.model.message import Message, Signal
from loomwright.model.speech import message_at
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title
from loomwright.show.quantity import MINUS, bare
from loomwright.show.traffic.items import value_spans
from loomwright.show.traffic.layout import drawn_order
from loomwright.show.traffic_tables import identifier_text
from loomwright.solve.streams import is_extended
from loomwright.solve.traffic import Traffic
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Unknown, value_of
from loomwright.terms.quantity import Kind

SIGNS = {SAYS: "●", PASSES_ON: "→", NEEDS: "○", MISSES: "Ø", EXPECTS: "◊"}
"""Signs that every common font has, so that paper shows them whatever printed it."""

KEPT = (Column("Identifier", 13), Column("Message", 34))
FIGURES = (
    Column("Line", 28), Column("Sender", 27), Column("Period, ms", 9, number=True), Column("Bytes", 8, number=True),
    Column("Sent in", 16), Column("Worst response, ms", 11, number=True), Column("Deadline, ms", 10, number=True),
)  # fmt: skip
OF_SIGNALS = (
    Column("Identifier", 13), Column("Message", 34), Column("Name in the files", 48), Column("Signal", 30),
    Column("First bit", 8, number=True), Column("Bits", 7, number=True), Column("Byte order", 15),
    Column("Number", 12), Column("Factor", 10, number=True), Column("Offset", 10, number=True), Column("Unit", 9),
    Column("Lowest", 10, number=True), Column("Highest", 10, number=True), Column("Value names", 34),
    Column("There when", 18), Column("Needed by", 26),
)  # fmt: skip
OF_LEGEND = (Column("Sign or word", 26), Column("What it means", 120))
NARROW = 4.2
"""Width of a component's column in characters: a sign, under a head that is turned."""

WORDS = (
    ("Worst response", "By when at the latest a message has arrived, counted from when it is due on its line: a bound, "
     "worked out from what is written down. Measured times are mostly far below it."),
    ("Deadline", "By when it has to have arrived: its own where the manual says one, else the time until the next one."),
    ("Period", "Time from one to the next. “or more” stands with a message that is sent on an event: no sooner."),
    ("Sent in", "The states of the vehicle in which it is sent; “always” where nobody said otherwise."),
    ("several lines in a cell", "One for each line that carries the message, in the order of the column Line; an arrow "
     "before it: passed on there by a gateway, with its times counted from when the gateway heard it."),
    ("?", "Nobody knows it yet, or something that nobody knows yet is needed to work it out."),
    ("Bits", "Bits are numbered from 0, the lowest of the first byte; bit 8 is the lowest of the second. Little endian: "
     "the first bit is the lowest one; big endian: the highest."),
    ("Factor, offset", "Value = number in the bits × factor + offset, in the unit."),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Book:
    """What the sheets are made from."""

    project: Project
    vehicle: Vehicle
    traffic: Traffic
    shown: Matrix
    times: dict[tuple[str, str], tuple[TimeRow, ...]]


def messages_workbook(project: Project, day: str, line: str = "") -> bytes:
    """The workbook of the whole vehicle, or of one line; ``day`` is printed at the foot beside the revision."""
    book = _book(project, line)
    where = f"{book.vehicle.name}, {line_title(book.vehicle, line)}" if line else book.vehicle.name
    sheets = (_matrix_sheet(book), _signals_sheet(book), _legend_sheet(book, where, day))
    return printed_workbook(sheets, where, f"Revision {project.revision}, {day}")


def _book(project: Project, line: str) -> _Book:
    vehicle, traffic = project.vehicle, project.answers.traffic(project.vehicle)
    judged = Judged(project)
    times: dict[tuple[str, str], list[TimeRow]] = defaultdict(list)
    for name in vehicle.lines:
        load, answer = traffic.loads[name], traffic.responses[name]
        if not isinstance(load, Blocked) and not isinstance(answer, Blocked):
            for row in time_rows(vehicle, answer.value, load.value, judged):
                times[row.message.replace("/", "."), name].append(row)
    shown = matrix(project, line)
    return _Book(project, vehicle, traffic, shown, {key: tuple(rows) for key, rows in times.items()})


def _matrix_sheet(book: _Book) -> Sheet:
    rows: list[tuple[Value, ...]] = []
    parted = []
    for group in book.shown.groups:
        parted.append(len(rows))
        rows += [_matrix_row(book, row) for row in group.rows]
    columns = tuple(Column(title, NARROW, turned=True) for _, title in book.shown.columns)
    alarms = (SIGNS[MISSES],)
    return Sheet("Who says, who needs", (*KEPT, *FIGURES, *columns), tuple(rows), len(KEPT), tuple(parted), alarms)


def _matrix_row(book: _Book, row: MatrixRow) -> tuple[Value, ...]:
    message = message_at(book.vehicle.messages, row.name)
    assert message is not None
    streams = [stream for stream in book.traffic.streams if stream.message == row.name]
    passed_on = {stream.line: bool(stream.source_line) for stream in streams}
    lines, worst, wanted = [], [], []
    for line in sorted(passed_on, key=passed_on.__getitem__):
        for time in book.times.get((row.name, line), ()) or (None,):
            part = f" ({time.part})" if time is not None and time.part else ""
            lines.append(f"{'→ ' if passed_on[line] else ''}{line_title(book.vehicle, line)}{part}")
            worst.append(time.worst if time is not None else "?")
            wanted.append(time.deadline if time is not None else "?")
    return (
        row.identifier,
        row.title,
        "\n".join(lines) or "on no line",
        row.sender or "nobody",
        _period(message),
        message.length,
        ", ".join(message.states) or "always",
        _figures(worst),
        _figures(wanted),
        *(SIGNS[mark.kind] if mark else "" for mark in row.marks),
    )


def _period(message: Message) -> Value:
    fact = message.period_s if message.period_s is not None else message.minimum_gap_s
    if fact is None or isinstance(fact, Unknown):
        return "?" if fact is not None else "on an event"
    told = bare(value_of(fact), Kind.TIME, "ms")
    return _figure(told) if message.period_s is not None else f"{told} or more"


def _figures(told: list[str]) -> Value:
    return _figure(told[0]) if len(told) == 1 else "\n".join(told)


def _figure(told: str) -> Value:
    """A figure as a number, rounded as pages round it; words that are none stay words."""
    try:
        return float("".join(told.split()).replace(MINUS, "-"))
    except ValueError:
        return told


def _signals_sheet(book: _Book) -> Sheet:
    needed: dict[str, list[str]] = defaultdict(list)
    for need in book.traffic.hearings.needs:
        component = book.vehicle.components[need.component]
        needed[f"{need.message}.{need.signal}"].append(component_title(need.component, component))
    shown = {row.name for group in book.shown.groups for row in group.rows}
    shown |= {each.message for each in book.traffic.expectations if each.sent in shown}
    rows: list[tuple[Value, ...]] = []
    parted = []
    for set_name, messages in book.vehicle.messages.items():
        for own, message in messages.messages.items():
            name = f"{set_name}.{own}"
            if name not in shown or not message.signals:
                continue
            parted.append(len(rows))
            rows += [_signal_row(name, message, key, needed[f"{name}.{key}"]) for key in drawn_order(message)]
    return Sheet("Signals", OF_SIGNALS, tuple(rows), 4, tuple(parted))


def _signal_row(name: str, message: Message, key: str, needed: list[str]) -> tuple[Value, ...]:
    signal, identifier = message.signals[key], value_of(message.identifier)
    title = named(name.partition(".")[2], message)
    return (
        identifier_text(identifier, extended=is_extended(message.width, identifier)),
        f"{title} (as {message.expected_by} expects it)" if message.expected_by else title,
        f"{name}.{key}",
        named_signal(key, signal),
        signal.start,
        signal.bits,
        signal.byte_order,
        signal.number if signal.duty == "value" else f"{signal.duty} {signal.checksum}".strip(),
        signal.factor,
        signal.offset,
        signal.unit,
        signal.low,
        signal.high,
        ", ".join(signal.values),
        _there(signal),
        ", ".join(needed),
    )


def _there(signal: Signal) -> str:
    if signal.selects:
        return "selects the others"
    return f"{signal.selected_by} is {value_spans(signal.selected_when)}" if signal.selected_by else ""


def _legend_sheet(book: _Book, where: str, day: str) -> Sheet:
    """What signs and words mean; first of all whose paper it is."""
    rows: list[tuple[Value, ...]] = [
        ("Vehicle", where),
        ("Revision", f"{book.project.revision}, taken out on {day}. The files of the project are the truth; take it out "
         "anew when they have changed."),
    ]  # fmt: skip
    rows += [(SIGNS[kind], f"The component {words}.") for kind, words in MEANINGS[:3]]
    rows.append(
        (SIGNS[MISSES],
         "needs, not heard here: the component needs the message or one of its signals, and on the lines that it is on "
         "nobody says it and no gateway passes it on. It will run without that value, or not at all, until a gateway "
         "passes the message on or the component is put on the line. The page of the message tells which way is shortest."),
    )  # fmt: skip
    rows.append((SIGNS[EXPECTS], "The component's manual describes the message as one that it wants to hear; nothing is "
                 "said yet of what it does with it. Where nobody sends it, the sender's column says nobody."))  # fmt: skip
    rows += [(sign, words) for sign, words in WORDS]
    return Sheet("Legend", OF_LEGEND, tuple(rows), 1, (2, len(rows) - len(WORDS)))
