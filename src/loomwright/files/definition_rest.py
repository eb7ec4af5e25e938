"""Everything else that a definition file holds and the model has no place for: each thing is told once by kind."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from loomwright.files.definition_ledger import Ledger
from loomwright.files.definition_messages import READ_OF_MESSAGES
from loomwright.files.definition_senders import receivers_of
from loomwright.files.definition_signals import attribute_value, duty_said

if TYPE_CHECKING:
    from cantools.database.can.internal_database import InternalDatabase

_ADDRESS, _BIT_RATE = "NmStationAddress", "Baudrate"
_READ = (*READ_OF_MESSAGES, "SystemSignalLongSymbol", "SystemNodeLongSymbol", "DBName", "SPN", _BIT_RATE, _ADDRESS)
_IN_KBIT = 1000
"""Up to here a bit rate is written in kbit/s: no bus is slower than a thousand bits in a second."""


def bit_rates_of(base: "InternalDatabase", text: str) -> tuple[tuple[str, float], ...]:
    """The bit rates in bit/s that a file states for its buses, by bus; without the library's own default of a .kcd file."""
    if "baudrate" not in text.lower():
        return ()
    found: list[tuple[str, float]] = [(bus.name or "", bus.baudrate) for bus in base.buses if bus.baudrate]
    defined = base.dbc.attribute_definitions.get(_BIT_RATE) if base.dbc is not None else None
    default = getattr(defined, "default_value", None)
    if not found and isinstance(default, (int, float)) and default:
        found = [("", default)]
    return tuple((bus, float(rate * 1000 if rate <= _IN_KBIT else rate)) for bus, rate in found)


def addresses_of(base: "InternalDatabase") -> tuple[tuple[str, int, bool], ...]:
    """The address of each node that the file states one for; whether one of its own messages ends in it, as by J1939."""
    found = []
    for node in base.nodes:
        said = (node.dbc.attributes if node.dbc is not None else {}).get(_ADDRESS)
        if said is None or not isinstance(said.value, (int, float)):
            continue
        address = int(said.value)
        ends = any(
            message.is_extended_frame and message.frame_id & 0xFF == address and node.name in message.senders
            for message in base.messages
        )
        found.append((node.name, address, ends))
    return tuple(found)


def tell_rest(base: "InternalDatabase", file: str, ledger: Ledger) -> None:
    """Note attributes, groups, tables, variables, buses and comments of a file."""
    _tell_messages(base, ledger)
    for node in base.nodes:
        _attributes(ledger, node.dbc, node.name)
        if node.comment:
            ledger.lost("comments of nodes", node.name)
    if base.version and not file.lower().endswith(".sym"):  # there it is the format's
        ledger.lost("version of the file", base.version)
    buses = [bus for bus in base.buses if bus.name]
    for bus in base.buses:
        if bus.comment:
            ledger.lost("comments of the file", bus.name or "bus")
    if len(buses) > 1:
        for bus in buses:
            ledger.remark("buses whose messages are taken into one set", str(bus.name))
    if base.dbc is not None:
        _tell_dbc(base.dbc, ledger)


def _tell_messages(base: "InternalDatabase", ledger: Ledger) -> None:
    for message in base.messages:
        _attributes(ledger, message.dbc, message.name)
        for group in message.signal_groups or ():
            ledger.lost("groups of signals", f"{message.name}: {group.name}")
        if receivers := receivers_of(message):
            kind = "receivers of signals: the project tells them as needs of components"
            ledger.lost(kind, f"{message.name}: {', '.join(receivers)}")
        for what in ("e2e", "secoc"):
            said = getattr(message.autosar, what, None)
            if said is not None:
                kind = "end-to-end protection" if what == "e2e" else "authentication (SecOC)"
                ledger.lost(f"{kind}: say it with duty and checksum of signals", message.name)
        for signal in message.signals:
            _attributes(ledger, signal.dbc, f"{message.name}.{signal.name}", guards=True)


def _tell_dbc(specifics: Any, ledger: Ledger) -> None:
    _attributes(ledger, specifics, "file")
    for name in specifics.environment_variables:
        ledger.lost("environment variables", name)
    for name in specifics.value_tables:
        ledger.lost("tables of value names beside those of signals", name)
    relations = specifics.relation_attributes
    if relations is not None:
        for part in ("node_signal_relations", "node_message_relations"):
            for names in _leaves(getattr(relations, part, {}), ()):
                ledger.lost("attributes between nodes and messages or signals", " ".join(names))


def _attributes(ledger: Ledger, specifics: Any, place: str, *, guards: bool = False) -> None:
    for name, attribute in (specifics.attributes if specifics is not None else {}).items():
        if name not in _READ and not (guards and duty_said(attribute)):
            ledger.lost(f"attribute {name}", f"{place}: {attribute_value(attribute)}")


def _leaves(tree: Any, above: tuple[str, ...]) -> Iterable[tuple[str, ...]]:
    if not isinstance(tree, Mapping):
        yield above
        return
    for name, inner in tree.items():
        yield from _leaves(inner, (*above, str(name)))
