"""Changes of messages that pages ask for. Nothing here writes."""

import tomllib
from collections.abc import Iterable, Sequence
from typing import Any

from loomwright.app import edits
from loomwright.app.edits.names import EditError, Slips, free_name, known
from loomwright.app.messages_words import line_title, named, title_of
from loomwright.app.session import Step
from loomwright.files.form import FieldWords, UnreadableFieldError, field_value
from loomwright.model.component import Need
from loomwright.model.message import Message, MessageSet, Signal
from loomwright.model.speech import message_and_signal
from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title
from loomwright.show.traffic_tables import identifier_text
from loomwright.solve.layouts import bits_of
from loomwright.solve.streams import Stream, is_extended
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Fact, Known, Unknown, value_of
from loomwright.terms.field import fields_of

LARGEST = 0x1FFFFFFF
_OPEN: Fact[int] = Unknown()
BITS = 8
"""Of a signal that says no width."""


def add_message(vehicle: Vehicle, owner: str, title: str, identifier: str, period: str = "") -> tuple[Path, Change]:
    """A message with everything still to be said, in a set, or in a new set of a port; its path and the change."""
    title, slips = title.strip(), Slips()
    if not title:
        slips.note("a message needs a name: what does the manual call it?", "title")
    found = slips.look(lambda: _identifier(identifier), _OPEN)
    every = slips.look(lambda: _period(period), None)
    if owner not in vehicle.messages:
        slips.look(lambda: _known_port(vehicle, owner), None)
    slips.end()
    message = Message(title=title, identifier=found, period_s=every)
    if owner in vehicle.messages:
        name = free_name(vehicle.messages[owner].messages, title)
        path: Path = ("messages", owner, "messages", name)
        return path, Change(f"add message {owner}.{name}", (Edit(path, message),))
    component = owner.partition(".")[0]
    own = vehicle.components[component]
    set_name, name = free_name(vehicle.messages, component), free_name(Table({}), title)
    made = MessageSet(own.title, own.manual, sender=owner, messages=Table({name: message}))
    path = ("messages", set_name, "messages", name)
    return path, Change(f"begin the messages of {owner}", (Edit(("messages", set_name), made),))


def add_signal(vehicle: Vehicle, set_name: str, name: str, title: str, start: str, bits: str) -> tuple[str, Change]:
    """A signal in the first bits that are free, or from a bit that is named; its name and the change."""
    message = _message(vehicle, set_name, name)
    slips = Slips()
    if not title.strip():
        slips.note("a signal needs a name: what does the manual call it?", "title")
    width = slips.look(lambda: _whole(bits, "bits") if bits.strip() else BITS, BITS)
    first = slips.look(lambda: _whole(start, "start") if start.strip() else _free_bit(message, width), 0)
    slips.end()
    signal = free_name(message.signals, title)
    path: Path = ("messages", set_name, "messages", name, "signals", signal)
    made = Signal(first, width, title=title.strip())
    return signal, Change(f"add signal {set_name}.{name}.{signal}", (Edit(path, made),))


def add_need(vehicle: Vehicle, component: str, set_name: str, name: str, signal: str) -> Change:
    """A component that needs the message or one of its signals."""
    owner, message = known(vehicle.components, component, "component", "component"), _message(vehicle, set_name, name)
    if signal and signal not in message.signals:
        raise EditError(f"there is no signal {signal!r} in {set_name}.{name}", "signal")
    full = ".".join(part for part in (set_name, name, signal) if part)
    if any(need.signal == full for need in owner.needs.values()):
        raise EditError(f"{component} needs {full} already", "component")
    key = free_name(owner.needs, signal or name)
    return Change(f"{component} needs {full}", (Edit(("components", component, "needs", key), Need(full)),))


def removal(vehicle: Vehicle, path: Path) -> Change:
    """The change that takes out a message, a signal, a need or a forward, with the needs and forwards that lean on it."""
    if len(path) == 4 and path[0] == "components" and path[2] in ("needs", "forwards"):
        known(getattr(known(vehicle.components, str(path[1]), "component"), str(path[2])), str(path[3]), "entry")
        return Change(f"{path[1]}: remove {str(path[2])[:-1]} {path[3]}", (Edit(path, None),))
    if path[0] != "messages" or len(path) not in (4, 6):
        return edits.removal(vehicle, path)
    message = _message(vehicle, str(path[1]), str(path[3]))
    gone = ".".join(str(step) for step in path[1::2])
    if len(path) == 6:
        known(message.signals, str(path[5]), "signal")
        leaning = [name for name, signal in message.signals.items() if signal.selected_by == path[5]]
        if leaning:
            raise EditError(f"{path[5]} says whether {', '.join(leaning)} is there; take that out first")
    chains = [name for name, chain in vehicle.chains.items() if gone in chain.steps]
    if chains:
        raise EditError(
            f"{gone} is a step of chain {', '.join(chains)}; take it out of that first, under Cause to effect"
        )
    return Change(f"remove {gone}", (*_leaning(vehicle, gone), Edit(path, None)))


def message_of(vehicle: Vehicle, path: Path) -> str:
    """The message that a need or a forward is about; empty where there is none of that path."""
    owner = vehicle.components.get(str(path[1]))
    if owner is None or path[2] not in ("needs", "forwards"):
        return ""
    need, forward = owner.needs.get(str(path[3])), owner.forwards.get(str(path[3]))
    if path[2] == "needs":
        return message_and_signal(need.signal)[0] if need is not None else ""
    return forward.message if forward is not None else ""


def _leaning(vehicle: Vehicle, gone: str) -> list[Edit]:
    """What needs or passes on what goes."""
    found = []
    for name, component in vehicle.components.items():
        for key, need in component.needs.items():
            if need.signal == gone or need.signal.startswith(f"{gone}."):
                found.append(Edit(("components", name, "needs", key), None))
        for key, forward in component.forwards.items():
            if forward.message == gone:
                found.append(Edit(("components", name, "forwards", key), None))
    return found


def taken_by(vehicle: Vehicle, streams: Iterable[Stream], owner: str, identifier: str) -> str:
    """Who has an identifier already on a line of the port that is to send it; empty where nobody has.

    On every line while no port is chosen. Words that are no identifier are nobody's; adding refuses them.
    """
    try:
        wanted = value_of(_identifier(identifier))
    except EditError:
        return ""
    if wanted is None:
        return ""
    port = vehicle.messages[owner].sender if owner in vehicle.messages else owner
    lines = {name for name, line in vehicle.lines.items() if any(port and stop.port == port for stop in line.stations)}
    for stream in streams:
        same = (stream.entire.identifier, stream.extended) == (wanted, is_extended("", wanted))
        if same and (not port or stream.line in lines):
            text = identifier_text(wanted, extended=stream.extended)
            sender = component_title(name := stream.sender.partition(".")[0], vehicle.components.get(name))
            where = line_title(vehicle, stream.line)
            return f"{text} is taken by {sender}: {title_of(vehicle, stream.message)}, on {where}."
    return ""


def message_called(vehicle: Vehicle, set_name: str, name: str) -> str | None:
    """What people call a message; ``None`` where there is none of that name."""
    message = vehicle.messages[set_name].messages.get(name) if set_name in vehicle.messages else None
    return None if message is None else named(name, message)


def gone_to(history: Sequence[Step], set_name: str, name: str) -> str:
    """The name that a message has now which was renamed in this session; empty where there is none.

    A page or a link may still have the old name. It is told by the texts: a table is gone, another one says the same.
    """
    for step in reversed(history):
        raw, now = step.texts.get(f"messages/{set_name}.toml", (b"", b""))
        before, after = _tables(raw), _tables(now)
        if name in before and name not in after:
            return next((key for key, table in after.items() if key not in before and table == before[name]), "")
    return ""


def _tables(raw: bytes) -> dict[str, Any]:
    try:
        found: dict[str, Any] = tomllib.loads(raw.decode("utf-8-sig")).get("messages", {})
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):  # a hand was at it
        return {}
    return found if isinstance(found, dict) else {}


def references(vehicle: Vehicle, name: str) -> tuple[str, ...]:
    """What names a message, in words: needs, forwards, chains."""
    found = []
    for key, component in vehicle.components.items():
        title = component_title(key, component)
        needs = [need for need in component.needs.values() if message_and_signal(need.signal)[0] == name]
        found += [f"{title} needs {message_and_signal(need.signal)[1] or 'it'}" for need in needs]
        found += [f"{title} passes it on to {each.to}" for each in component.forwards.values() if each.message == name]
    found += [
        f"Chain {chain.title or key}: step {chain.steps.index(name) + 1}"
        for key, chain in vehicle.chains.items()
        if name in chain.steps
    ]
    return tuple(found)


def _known_port(vehicle: Vehicle, owner: str) -> None:
    component, _, port = owner.partition(".")
    if component not in vehicle.components or port not in vehicle.components[component].ports:
        raise EditError(f"there are no messages and no port called {owner!r}", "owner")


def _message(vehicle: Vehicle, set_name: str, name: str) -> Message:
    return known(known(vehicle.messages, set_name, "set of messages").messages, name, "message")


def _period(words: str) -> Fact[float] | None:
    """A period as a file would have it, "?" for one still to be looked up; none for a message sent on an event."""
    item = next(item for item in fields_of(Message) if item.name == "period_s")
    try:
        found: Fact[float] | None = field_value(item, FieldWords(words.strip()))
    except UnreadableFieldError as error:
        raise EditError(str(error), "period") from error
    return found


def _identifier(words: str) -> Fact[int]:
    if not words.strip():
        return Unknown()
    found = _whole(words, "identifier")
    if found > LARGEST:
        raise EditError(f"0x{found:X} has more than the 29 bits of an identifier", "identifier")
    return Known(found)


def _whole(words: str, field: str) -> int:
    try:
        found = int(words.strip(), 16 if words.strip().lower().startswith("0x") else 10)
    except ValueError as error:
        raise EditError(f"{words.strip()!r} is no whole number; one looks like 16 or 0x181", field) from error
    if found < (1 if field == "bits" else 0):
        raise EditError(f"{words.strip()} is too small for {field}", field)
    return found


def _free_bit(message: Message, bits: int) -> int:
    """The first bit from which so many are free, at the beginning of a byte where they fill bytes."""
    taken = {at for signal in message.signals.values() for at in bits_of(signal)}
    step = 8 if bits % 8 == 0 else 1
    for first in range(0, 8 * message.length - bits + 1, step):
        if not taken & set(range(first, first + bits)):
            return first
    raise EditError(f"no {bits} bits in a row are free in this message; name the bit it begins at", "start")
