"""Who sends the messages of a definition file: its nodes as ports of the project.

The rule. A maker's file usually lists what its component sends and what it listens to. So:

- a message from a node that is given a port is sent by that port;
- a message from another node is taken as expected by the port of a node that the file names among its receivers, or,
  where the file names no receiver of it and one port alone is given, by that port;
- anything else passes between strangers, and is left out.

A port given without a node sends every message of the file.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.files.definition_ledger import Ledger

if TYPE_CHECKING:
    from cantools.database.can import Message as TheirMessage

EVERYTHING = ""
"""Stands for all nodes in what maps nodes to ports."""
NOBODY = "-"
"""Stands for the sender of messages that have none in the file."""
_PLACEHOLDERS = ("vector__xxx", "")


@dataclass(frozen=True, slots=True)
class Part:
    """What a port has to do with a message: it sends it or expects it. Neither: the message is left out."""

    sender: str = ""
    expected_by: str = ""


def senders_of(message: "TheirMessage") -> tuple[str, ...]:
    """The nodes that send a message by the file; ``-`` alone where it names none."""
    named = tuple(node for node in message.senders if (node or "").lower() not in _PLACEHOLDERS)
    return named or (NOBODY,)


def receivers_of(message: "TheirMessage") -> tuple[str, ...]:
    """The nodes that hear a signal of a message by the file, each once."""
    named = (node for signal in message.signals for node in signal.receivers or ())
    return tuple(dict.fromkeys(node for node in named if (node or "").lower() not in _PLACEHOLDERS))


def part_of(message: "TheirMessage", ports: Mapping[str, str], ledger: Ledger) -> Part:
    """Who sends or expects a message, by the rule of this module."""
    senders = senders_of(message)
    if EVERYTHING in ports:
        return Part(sender=ports[EVERYTHING])
    sending = [node for node in senders if node in ports]
    if sending:
        for node in senders:
            if node != sending[0]:
                ledger.lost("further senders of a message", f"{message.name}: {node}")
        return Part(sender=ports[sending[0]])
    receivers = receivers_of(message)
    hearing = list(dict.fromkeys(ports[node] for node in receivers if node in ports))
    if not hearing and not receivers and len(set(ports.values())) == 1 and senders != (NOBODY,):
        hearing = list(ports.values())[:1]
    if not hearing:
        who = "no sender named" if senders == (NOBODY,) else f"sent by {' and '.join(senders)}"
        ledger.lost("messages between nodes that no port was given for", f"{message.name}: {who}")
        return Part()
    for port in hearing[1:]:
        ledger.lost("further ports that expect a message", f"{message.name}: {port}")
    ledger.remark(f"messages of others, taken as expected by {hearing[0]}", message.name)
    return Part(expected_by=hearing[0])
