"""Messages of the model as a definition file of the trade, through the library that knows the formats (cantools).

What a format cannot say goes into the report, like everything that reading leaves out.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from loomwright.files.definition_ledger import Ledger, LeftOut
from loomwright.files.definition_names import their_name
from loomwright.files.definition_out_signals import DUTY, Limits, duty_definition, their_signals, words
from loomwright.model.message import Message
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.field import fields_of

if TYPE_CHECKING:
    from cantools.database.can import Message as TheirMessage

WRITTEN = ("dbc", "kcd", "sym")
_LIMITS: Mapping[str, Limits] = {
    "dbc": Limits(
        floats=(32, 64), many_values=True, nested=True, duties=True, plain_selectors=False, whole_file_names=False, longest_name=128
    ),
    "kcd": Limits(
        floats=(32, 64), many_values=False, nested=False, duties=False, plain_selectors=False, whole_file_names=False, longest_name=128
    ),
    "sym": Limits(
        floats=(32, 64), many_values=False, nested=False, duties=False, plain_selectors=True, whole_file_names=True, longest_name=31
    ),
}  # fmt: skip
_SEND, _HEAR = "ECU", "Peripherals"
"""The two sides that a .sym file has instead of nodes."""
_MOST_CYCLE_MS = 65_535


@dataclass(frozen=True, slots=True)
class Given:
    """A message to be written: the set and its name in it, who sends and who expects it (ports, or nothing).

    ``heard_by`` are the ports that hear it, each with the signal that it wants; ``""``: all of them.
    """

    set: str
    name: str
    message: Message
    sender: str = ""
    expected_by: str = ""
    heard_by: tuple[tuple[str, str], ...] = ()

    @property
    def hearers(self) -> tuple[tuple[str, str], ...]:
        """Everybody who hears it, who expects it too."""
        return (*([(self.expected_by, "")] if self.expected_by else ()), *self.heard_by)

    @property
    def place(self) -> str:
        """As the report names it."""
        return f"{self.set}.{self.name}"


def write_definition(
    messages: Sequence[Given], ending: str, version: str = "", ports: Sequence[str] = ()
) -> tuple[bytes, tuple[LeftOut, ...]]:
    """The bytes of a definition file with these messages, and what it does not say.

    ``ports`` are nodes of the file even where they neither send nor hear any of them. Raises ``ValueError`` for a format that is not written.
    """
    from cantools.database.can import Node
    from cantools.database.can.formats import dbc, kcd, sym
    from cantools.database.can.internal_database import InternalDatabase

    if ending not in WRITTEN:
        raise ValueError(f"files .{ending} are read but not written; written are .{', .'.join(WRITTEN)}")
    ledger = Ledger()
    given = _distinct(messages, ledger)
    names = _names(given, _LIMITS[ending], ledger)
    nodes = _nodes(given, ending, ports)
    if ending == "sym" and len({each.sender or each.expected_by for each in given}) > 1:
        for each in given:
            ledger.lost("which port it is: a .sym file has one component and the rest", each.place)
    taken: dict[str, str] = {}
    theirs = [_message(each, name, nodes, ending, taken, ledger) for each, name in zip(given, names, strict=True)]
    base = InternalDatabase(theirs, [Node(node) for node in dict.fromkeys(nodes.values())], [], version)
    if ending == "dbc":
        base.dbc = _specifics(theirs)
        text = dbc.dump_string(base, sort_signals=None, sort_attribute_signals=None)
    elif ending == "kcd":
        text = kcd.dump_string(base)
    else:
        text = sym.dump_string(base, sort_signals=None)
    return _encoded(text, ending), ledger.left_out()


def _distinct(messages: Sequence[Given], ledger: Ledger) -> list[Given]:
    """Messages that have an identifier, each identifier once."""
    seen: dict[tuple[int, bool], str] = {}
    kept = []
    for each in messages:
        identifier = each.message.identifier
        if isinstance(identifier, Unknown):
            ledger.lost("messages whose identifier is unknown", each.place)
            continue
        key = (identifier.value, _is_extended(each.message, identifier.value))
        if key in seen:
            ledger.lost(
                "messages whose identifier another one has already", f"{each.place}: {key[0]:#x} is {seen[key]}'s"
            )
            continue
        seen[key] = each.place
        kept.append(each)
    return kept


def _names(given: Sequence[Given], limits: Limits, ledger: Ledger) -> list[str]:
    """Names in the file: those that the maker's file had, where the titles keep them; else ours. Each once."""
    found: dict[str, None] = {}
    for each in given:
        wanted = their_name(each.message.title, each.name)[: limits.longest_name]
        name, number = wanted, 2
        if name in found:
            wanted = f"{each.set}_{each.name}"[: limits.longest_name - 3]
            name = wanted
        while name in found:
            name, number = f"{wanted}_{number}", number + 1
        if name not in (each.name, their_name(each.message.title, each.name)):
            ledger.remark("names of messages written anew, to be short enough or each once", f"{each.place}: {name}")
        found[name] = None
    return list(found)


def _nodes(given: Sequence[Given], ending: str, further: Sequence[str]) -> dict[str, str]:
    """Nodes by port: the component's name, with the port's where two of its ports are in the file."""
    sending = (each.sender for each in given if each.sender)
    hearing = (port for each in given for port, _ in each.hearers)
    ports = dict.fromkeys((*sending, *hearing, *further))
    if ending == "sym":
        return {}
    owners = Counter(port.partition(".")[0] for port in ports)
    return {
        port: port.replace(".", "_") if owners[port.partition(".")[0]] > 1 else port.partition(".")[0] for port in ports
    }


def _message(
    each: Given, name: str, nodes: Mapping[str, str], ending: str, taken: dict[str, str], ledger: Ledger
) -> "TheirMessage":
    from cantools.database.can import Message as TheirMessage
    from cantools.database.can.formats.dbc import DbcSpecifics

    message, identifier = each.message, each.message.identifier
    assert not isinstance(identifier, Unknown), "messages without an identifier are sorted out before"
    _tell_unsaid(each, ending, ledger)
    senders = [nodes[each.sender]] if each.sender in nodes else []
    receivers = {
        signal: list(dict.fromkeys(nodes[port] for port, wanted in each.hearers if wanted in ("", signal) and nodes))
        for signal in message.signals
    }
    if ending == "sym":
        senders = [_HEAR if each.expected_by else _SEND]
        for port, _ in each.heard_by:
            ledger.lost("who hears a message: a .sym file names no receivers", f"{each.place}: {port}")
    signals = their_signals(message, each.place, name, receivers, _LIMITS[ending], taken, ledger)
    if not signals and ending != "sym":
        for port, _ in each.hearers:
            ledger.lost("who hears a message without signals: receivers are told with signals", f"{each.place}: {port}")
    fd = message.frames == "FD"
    if fd and ending != "dbc":
        ledger.lost(f"kind of frame: a .{ending} file as it is written here knows no FD", each.place)
    comment = message.title if their_name(message.title, each.name) == each.name else message.title.partition(": ")[2]
    made = TheirMessage(
        identifier.value,
        name,
        message.length,
        signals,
        comment=words(comment, each.place, ledger) or None,
        senders=senders,
        cycle_time=_cycle(each, ending, ledger),
        is_extended_frame=_is_extended(message, identifier.value),
        is_fd=fd,
        dbc_specifics=DbcSpecifics(),
        strict=False,
        sort_signals=None,
    )
    if ending == "dbc":
        _add_timing(made, each, ledger)
    return made


def _is_extended(message: Message, identifier: int) -> bool:
    return message.width == "29 bit" or identifier > 0x7FF


def _cycle(each: Given, ending: str, ledger: Ledger) -> Any:
    """The cycle time in milliseconds, or nothing."""
    period = each.message.period_s
    if period is None or isinstance(period, Unknown):
        if period is None and ending != "dbc":
            ledger.lost("that a message is sent on an event", each.place)
        return None
    milliseconds = round(period.value * 1e3, 6)
    if milliseconds.is_integer():
        cycle: float = int(milliseconds)
    elif ending == "dbc":
        ledger.remark("periods of no whole milliseconds, which few programs expect", each.place)
        cycle = milliseconds
    else:
        cycle = round(milliseconds)
        ledger.remark("periods rounded to whole milliseconds", f"{each.place}: {milliseconds:g} ms")
    if not 0 < cycle <= _MOST_CYCLE_MS:
        ledger.lost(f"periods outside of 1 to {_MOST_CYCLE_MS} ms", each.place)
        return None
    return cycle


_PLAIN = {item.name: item.default for item in fields_of(Message)}


def _tell_unsaid(each: Given, ending: str, ledger: Ledger) -> None:
    """Facts of a message that no definition file has a place for."""
    for what, name in (
        ("jitter", "jitter_s"), ("deadline", "deadline_s"), ("time between packets", "packet_spacing_s"),
        ("states of the vehicle", "states"), ("whether it is programmable", "programmable"),
    ):  # fmt: skip
        if getattr(each.message, name) != _PLAIN[name]:
            ledger.lost(what, each.place)
    gap = each.message.minimum_gap_s
    if gap is not None and not isinstance(gap, Unknown) and ending != "dbc":
        ledger.lost("least gap between two messages", each.place)
    if any(getattr(getattr(each.message, item.name), "low", None) is not None for item in fields(each.message)):
        ledger.lost("ranges of facts: the typical value alone is written", each.place)
    for name in ("identifier", "period_s", "minimum_gap_s", "jitter_s", "deadline_s", "packet_spacing_s"):
        if (source := getattr(getattr(each.message, name), "source", None)) is not None:
            ledger.lost("sources: where a figure was read", f"{each.place}, {_said_of(name)}: {source}")
    if any(isinstance(getattr(each.message, name), Assumed) for name in ("identifier", "period_s", "minimum_gap_s")):
        ledger.remark("assumptions, written like what is known", each.place)


def _said_of(name: str) -> str:
    """A fact as the report names it."""
    return name.removesuffix("_s").replace("_", " ")


_CYCLE, _KIND, _GAP, _FORMAT = "GenMsgCycleTime", "GenMsgSendType", "GenMsgDelayTime", "VFrameFormat"


def _definitions() -> dict[str, Any]:
    """The attributes of messages that are written, by name, as makers' files usually define them."""
    from cantools.database.can.formats.dbc.dbc_attribute_definition import DbcAttributeDefinition

    kinds = ["Cyclic", "Event", "NotSaid"]
    frames = ["StandardCAN", "ExtendedCAN", *["reserved"] * 12, "StandardCAN_FD", "ExtendedCAN_FD"]
    return {
        _CYCLE: DbcAttributeDefinition(_CYCLE, 0, "BO_", "INT", 0, _MOST_CYCLE_MS),
        _KIND: DbcAttributeDefinition(_KIND, "NotSaid", "BO_", "ENUM", choices=kinds),
        _GAP: DbcAttributeDefinition(_GAP, 0.0, "BO_", "FLOAT", 0.0, 1e9),
        DUTY: duty_definition(),
        _FORMAT: DbcAttributeDefinition(_FORMAT, "StandardCAN", "BO_", "ENUM", choices=frames),
    }


def _add_timing(made: "TheirMessage", each: Given, ledger: Ledger) -> None:
    """How a message is sent, as attributes."""
    from cantools.database.can.formats.dbc.dbc_attribute import DbcAttribute

    definitions, attributes = _definitions(), made.dbc.attributes if made.dbc is not None else {}
    period, gap = each.message.period_s, each.message.minimum_gap_s
    if period is None or isinstance(period, (Known, Assumed)):
        attributes[_KIND] = DbcAttribute(1 if period is None else 0, definitions[_KIND])
    if gap is not None and not isinstance(gap, Unknown):
        attributes[_GAP] = DbcAttribute(round(gap.value * 1e3, 6), definitions[_GAP])
        if period is not None:
            ledger.remark("least gaps of messages that are sent in a cycle", each.place)


def _specifics(messages: Sequence["TheirMessage"]) -> Any:
    from cantools.database.can.formats.dbc import DbcSpecifics
    from cantools.database.can.formats.dbc.dbc_attribute_definition import DbcAttributeDefinition

    definitions = _definitions()
    if any(isinstance(each.cycle_time, float) for each in messages):
        definitions[_CYCLE] = DbcAttributeDefinition(_CYCLE, 0.0, "BO_", "FLOAT", 0.0, float(_MOST_CYCLE_MS))
    return DbcSpecifics(attribute_definitions=definitions)  # type: ignore[arg-type]


def _encoded(text: str, ending: str) -> bytes:
    """The text in the format's usual code page, or in UTF-8 where that has not all its signs or could be mistaken."""
    if ending == "kcd":
        return text.encode("utf-8")
    try:
        raw = text.encode("cp1252")
    except UnicodeEncodeError:
        return text.encode("utf-8")
    try:
        return raw if raw.decode("utf-8") == text else text.encode("utf-8")
    except UnicodeDecodeError:
        return raw
