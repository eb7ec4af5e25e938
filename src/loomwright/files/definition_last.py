"""Which ports the nodes of a definition file were said to be, told from what taking it over left in the project."""

from collections import Counter, defaultdict

from loomwright.files.definition_ledger import Ledger
from loomwright.files.definition_senders import NOBODY, receivers_of, senders_of
from loomwright.files.definition_text import read_database
from loomwright.model.message import MessageSet
from loomwright.terms.fact import Unknown
from loomwright.terms.problem import Problem


def ports_taken(raw: bytes, name: str, present: MessageSet) -> dict[str, str]:
    """The port of each node, as most of its messages have it in a set that was taken over from these bytes.

    For sets that do not tell it themselves. A node that sends nothing is the port that expects what it alone hears.
    """
    base = read_database(name, raw, Ledger())
    if isinstance(base, Problem):
        return {}
    there = {
        (message.identifier.value, message.width == "29 bit"): (message.sender or present.sender, message.expected_by)
        for message in present.messages.values()
        if not isinstance(message.identifier, Unknown)
    }
    votes: dict[str, Counter[str]] = defaultdict(Counter)
    heard: dict[str, Counter[str]] = defaultdict(Counter)
    for theirs in base.messages:
        sender, expected_by = there.get((theirs.frame_id, theirs.is_extended_frame), ("", ""))
        receivers = receivers_of(theirs)
        if expected_by and len(receivers) == 1 and receivers[0] != NOBODY:
            heard[receivers[0]][expected_by] += 1
        elif sender and not expected_by:
            votes[senders_of(theirs)[0]][sender] += 1
    found = {node: counted.most_common(1)[0][0] for node, counted in votes.items()}
    return found | {node: counted.most_common(1)[0][0] for node, counted in heard.items() if node not in found}
