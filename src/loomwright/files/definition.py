"""A definition file of the trade (.dbc, .kcd, .arxml, .sym) as messages of the model, and what it says beyond them.

Reading never raises for what stands in a file. Nothing is dropped in silence: what is not taken over, or taken over
otherwise than it stands, is told by kind with every place.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from loomwright.files.definition_ledger import Ledger, LeftOut
from loomwright.files.definition_senders import EVERYTHING, NOBODY, senders_of
from loomwright.files.definition_statements import torn_at
from loomwright.files.definition_text import FORMATS, read_database, text_of
from loomwright.model.message import MessageSet
from loomwright.terms.problem import Problem

__all__ = ["EVERYTHING", "FORMATS", "NOBODY", "Definition", "LeftOut", "read_definition"]


@dataclass(frozen=True, slots=True)
class Definition:
    """What a definition file holds.

    ``nodes`` tells how many messages each node sends (``-``: no node is named), ``problem`` why the file cannot be read.
    ``bit_rates`` are those that it states, in bit/s by bus, ``addresses`` those of its nodes, with whether one of the
    node's messages ends in it. ``torn`` is the line in which the file ends in the middle of a statement; 0: it does not.
    """

    set: MessageSet = field(default_factory=MessageSet)
    left_out: tuple[LeftOut, ...] = ()
    nodes: tuple[tuple[str, int], ...] = ()
    problem: Problem | None = None
    bit_rates: tuple[tuple[str, float], ...] = ()
    addresses: tuple[tuple[str, int, bool], ...] = ()
    torn: int = 0


def read_definition(raw: bytes, name: str, ports: Mapping[str, str]) -> Definition:
    """Read the bytes of a definition file.

    ``ports`` names the port of the project that a node of the file is: ``{"INV": "inverter.can"}``. The node
    ``EVERYTHING`` stands for all of them, ``NOBODY`` for messages without a sender. ``definition_senders`` has the rule.
    """
    from loomwright.files.definition_messages import message_set
    from loomwright.files.definition_rest import addresses_of, bit_rates_of, tell_rest

    ledger = Ledger()
    base = read_database(name, raw, ledger)
    if isinstance(base, Problem):
        return Definition(left_out=ledger.left_out(), problem=base)
    found = message_set(base, name, ports, ledger)
    tell_rest(base, name, ledger)
    sending: dict[str, int] = dict.fromkeys((node.name for node in base.nodes), 0)
    for message in base.messages:
        for node in senders_of(message):
            sending[node] = sending.get(node, 0) + 1
    return Definition(
        replace(found, definition=f"definitions/{name}"),
        ledger.left_out(),
        tuple(sending.items()),
        bit_rates=bit_rates_of(base, text_of(name, raw)),
        addresses=addresses_of(base),
        torn=torn_at(text_of(name, raw)) if name.lower().endswith(".dbc") else 0,
    )
