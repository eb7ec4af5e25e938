"""What the page of one message shows: its bits, its signals, who sends and who needs it, and what is written about it."""

from dataclasses import dataclass, replace

from loomwright.app.cells import Cell, cell
from loomwright.app.component_sheet import FactForm, fact_form
from loomwright.app.fields import FieldForm, field_form
from loomwright.app.messages_needs import Forwarded, NeedRow, forwarded_rows, need_rows
from loomwright.app.messages_page import Judged, TimeRow, time_rows
from loomwright.app.messages_twins import Twin, twins_of
from loomwright.app.messages_words import line_title, named
from loomwright.app.plan_drawing import PAGE_PX
from loomwright.app.project import Project
from loomwright.model.message import BYTE_ORDERS, NUMBERS, Message, Signal
from loomwright.model.vehicle import Vehicle
from loomwright.show.traffic import frame_layout
from loomwright.show.traffic.items import value_spans
from loomwright.show.traffic.layout import drawn_order
from loomwright.show.traffic_tables import identifier_text
from loomwright.solve.layouts import Layout, layout_of
from loomwright.solve.streams import CLASSICAL_BYTES, is_extended
from loomwright.solve.traffic import Traffic
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path, path_text
from loomwright.terms.fact import value_of

Option = tuple[str, str]
FIGURES = ("start", "bits")
SCALED = ("factor", "offset", "low", "high", "unit")
PLAIN = ("title", "width", "length", "frames", "sender", "expected_by", "states", "programmable")
FACTS = ("identifier", "period_s", "jitter_s", "deadline_s")
OF_EVENTS = ("identifier", "period_s", "minimum_gap_s", "jitter_s", "deadline_s")
OF_SIGNAL = ("title", "duty", "checksum", "values", "selects", "selected_by", "selected_when")
OF_SET = ("title", "manual", "sender", "definition")


@dataclass(frozen=True, slots=True)
class Choice:
    """A cell with a closed list of words."""

    path: str
    label: str
    value: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SignalRow:
    """A signal in the table: its number in the drawing, cells to type in, and in words what else is known of it."""

    order: int
    name: str
    path: str
    title: str
    figures: tuple[Cell, ...]
    byte_order: Choice
    number: Choice
    scaled: tuple[Cell, ...]
    values: tuple[str, ...]
    page: str
    duty: str
    wrong: str


@dataclass(frozen=True, slots=True)
class OpenSignal:
    """The signal whose further fields are shown."""

    name: str
    title: str
    path: str
    fields: tuple[tuple[FieldForm, tuple[Option, ...]], ...]


@dataclass(frozen=True, slots=True)
class OnLine:
    """A line that carries the message; ``row`` is missing where facts are."""

    line: str
    title: str
    path: str
    rows: tuple[TimeRow, ...]


@dataclass(frozen=True, slots=True)
class MessagePage:
    """One message by itself. ``expected_by`` names the port whose manual describes it as something it wants to hear."""

    set_name: str
    name: str
    title: str
    path: str
    identifier: str
    drawing: str
    signals: tuple[SignalRow, ...]
    open: OpenSignal | None
    sender: str
    expected_by: str
    lines: tuple[OnLine, ...]
    needs: tuple[NeedRow, ...]
    forwards: tuple[Forwarded, ...]
    twins: tuple[Twin, ...]
    plain: tuple[tuple[FieldForm, tuple[Option, ...]], ...]
    facts: tuple[FactForm, ...]
    of_set: tuple[tuple[FieldForm, tuple[Option, ...]], ...]
    components: tuple[Option, ...]
    before: Option | None
    after: Option | None


def message_page(project: Project, set_name: str, name: str, signal: str = "") -> MessagePage:
    """One message, with the further fields of one of its signals."""
    vehicle, traffic = project.vehicle, project.answers.traffic(project.vehicle)
    messages = vehicle.messages[set_name]
    message, full = messages.messages[name], f"{set_name}.{name}"
    path: Path = ("messages", set_name, "messages", name)
    layout, judged = layout_of(message), Judged(project)
    identifier = value_of(message.identifier)
    order = [
        (f"{one}/{own}", named(own, each)) for one, of in vehicle.messages.items() for own, each in of.messages.items()
    ]
    at = [address for address, _ in order].index(f"{set_name}/{name}")
    return MessagePage(
        set_name,
        name,
        named(name, message),
        path_text(path),
        identifier_text(identifier, extended=is_extended(message.width, identifier)),
        frame_layout(full, message, standalone=False, width=PAGE_PX) if message.signals else "",
        tuple(
            _signal(vehicle, number, (*path, "signals", key), message.signals[key], layout)
            for number, key in enumerate(drawn_order(message), 1)
        ),
        _open(vehicle, path, message, signal),
        "" if message.expected_by else message.sender or messages.sender,
        message.expected_by,
        tuple(_on_line(vehicle, traffic, line, full, judged) for line in _lines(traffic, full)),
        need_rows(vehicle, traffic, full, judged),
        forwarded_rows(vehicle, full),
        twins_of(vehicle, traffic, full),
        tuple(_field(vehicle, path, item) for item in PLAIN),
        tuple(fact_form(vehicle, (*path, item)) for item in _facts(message)),
        tuple(_field(vehicle, ("messages", set_name), item) for item in OF_SET),
        tuple((key, component.title or key) for key, component in vehicle.components.items()),
        order[at - 1] if at else None,
        order[at + 1] if at + 1 < len(order) else None,
    )


def _facts(message: Message) -> tuple[str, ...]:
    """The facts to ask for; how far apart packets are only of a message that may need some."""
    found = FACTS if message.period_s is not None else OF_EVENTS
    return (*found, "packet_spacing_s") if message.length > CLASSICAL_BYTES and message.frames != "FD" else found


def message_scope(shown: MessagePage) -> tuple[str, ...]:
    """The paths of what the page shows: the message, its needs and forwards, and the other description of it."""
    found = [shown.path, *(row.path for row in shown.needs), *(row.path for row in shown.forwards)]
    return tuple(dict.fromkeys((*found, *(twin.path for twin in shown.twins))))


def _lines(traffic: Traffic, full: str) -> tuple[str, ...]:
    own = [stream for stream in traffic.streams if stream.message == full]
    return tuple(dict.fromkeys(stream.line for stream in sorted(own, key=lambda stream: bool(stream.source_line))))


def _on_line(vehicle: Vehicle, traffic: Traffic, line: str, full: str, judged: Judged) -> OnLine:
    load, answer = traffic.loads[line], traffic.responses[line]
    rows: tuple[TimeRow, ...] = ()
    if not isinstance(load, Blocked) and not isinstance(answer, Blocked):
        name = full.replace(".", "/")
        rows = tuple(row for row in time_rows(vehicle, answer.value, load.value, judged) if row.message == name)
    return OnLine(line, line_title(vehicle, line), f"lines.{line}", rows)


def _signal(vehicle: Vehicle, number: int, path: Path, signal: Signal, layout: Layout) -> SignalRow:
    name = str(path[-1])
    wrong = ["reaches beyond the last byte"] if name in layout.beyond else []
    wrong += [f"shares bits with {two if one == name else one}" for one, two in layout.shared if name in (one, two)]
    duty = "" if signal.duty == "value" else " ".join((signal.duty, signal.checksum)).strip()
    page = "selects what else is there" if signal.selects else ""
    if signal.selected_by:
        page = f"when {signal.selected_by} is {value_spans(signal.selected_when)}"
    return SignalRow(
        number,
        name,
        path_text(path),
        named_signal(name, signal),
        tuple(cell(vehicle, (*path, item), f"{item} of {name}") for item in FIGURES),
        Choice(path_text((*path, "byte_order")), f"Byte order of {name}", signal.byte_order, BYTE_ORDERS),
        Choice(path_text((*path, "number")), f"Number of {name}", signal.number, NUMBERS),
        tuple(_scaled(vehicle, (*path, item), name) for item in SCALED),
        signal.values,
        page,
        duty,
        "; ".join(wrong),
    )


def _scaled(vehicle: Vehicle, path: Path, name: str) -> Cell:
    """A figure of a signal's meaning, without the point that whole numbers have in files."""
    made = cell(vehicle, path, f"{path[-1]} of {name}")
    return replace(made, value=made.value.removesuffix(".0"))


def named_signal(name: str, signal: Signal) -> str:
    """The title of a signal, else its own name as a word."""
    return signal.title or name.replace("_", " ").capitalize()


def _open(vehicle: Vehicle, path: Path, message: Message, name: str) -> OpenSignal | None:
    if name not in message.signals:
        return None
    own: Path = (*path, "signals", name)
    return OpenSignal(
        name,
        named_signal(name, message.signals[name]),
        path_text(own),
        tuple(_field(vehicle, own, item) for item in OF_SIGNAL),
    )


def _field(vehicle: Vehicle, path: Path, item: str) -> tuple[FieldForm, tuple[Option, ...]]:
    """A plain field; one that names something else offers what there is."""
    form = field_form(vehicle, (*path, item))
    ports = [f"{name}.{port}" for name, component in vehicle.components.items() for port in component.ports]
    offered: dict[str, tuple[Option, ...]] = {
        "width": (("", "as its value needs"), *((word, word) for word in form.choices if word)),
        "checksum": (("", "not stated"), *((word, word) for word in form.choices if word)),
    }
    if item in ("sender", "expected_by"):
        none = "nobody" if item == "expected_by" or len(path) == 2 else "as all in this file"
        offered[item] = (("", none), *((port, port) for port in ports))
    if item == "selected_by":
        signals = vehicle.messages[str(path[1])].messages[str(path[3])].signals
        offered[item] = (("", "always there"), *((key, key) for key in signals if key != path[-1]))
    return form, offered.get(item, ())
