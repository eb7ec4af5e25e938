"""Everything else that a definition file holds and the model has no place for: each thing is told once by kind."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from loomwright.files.definition_ledger import Ledger
from loomwright.files.definition_messages import READ_OF_MESSAGES
from loomwright.files.definition_senders import receivers_of
from loomwright.files.definition_signals import duty_said

if TYPE_CHECKING:
    from cantools.database.can.internal_database import InternalDatabase

_READ = (*READ_OF_MESSAGES, "SystemSignalLongSymbol", "SystemNodeLongSymbol", "DBName", "Baudrate")


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
        if bus.baudrate:
            ledger.lost("bit rate of the bus: compare it with the line's", f"{bus.name or 'bus'}: {bus.baudrate} bit/s")
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
        if receivers_of(message):
            ledger.lost("receivers of signals: the project tells them as needs of components", message.name)
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
            ledger.lost(f"attribute {name}", place)


def _leaves(tree: Any, above: tuple[str, ...]) -> Iterable[tuple[str, ...]]:
    if not isinstance(tree, Mapping):
        yield above
        return
    for name, inner in tree.items():
        yield from _leaves(inner, (*above, str(name)))
