"""Messages taken over again: the maker's new file, the old one and what hands made of it, value by value.

Where the maker's file says what it said before, the project's value stays, whatever hands made of it. Where the maker
changed something, the new value is taken; a hand-made value that goes by that is told. Who sends and who expects a message
follows what is said now, unless a hand changed it since the last time.
"""

from collections import Counter
from dataclasses import fields, replace
from typing import Any

from loomwright.files.change import settled
from loomwright.files.definition_copy import FOLDER
from loomwright.model.message import Message, MessageSet, Signal
from loomwright.model.table import Table
from loomwright.terms.change import Path, path_text
from loomwright.terms.fact import Assumed, Known


def merged(
    old: MessageSet, present: MessageSet, new: MessageSet
) -> tuple[MessageSet, tuple[str, ...], tuple[str, ...]]:
    """The merged set, the paths whose hand-made values stay, and those whose hand-made values give way.

    ``old`` is the old file as the last taking read it, with the ports that were said then.
    """
    stay: list[str] = []
    gone: list[str] = []
    made: MessageSet = _merged(_mute(old), _mute(present), _mute(new), (), stay, gone)
    speakers = {}
    for name in made.messages:
        was, now, said = (_speaker(each, name) for each in (old, present, new))
        speakers[name] = (now if said is None else said) or ("", "")
        if now is not None and said is not None and now not in (was, said):
            speakers[name] = now
            stay.append(path_text(("messages", name, "expected_by" if now[1] else "sender")))
    return _spoken(made, speakers, present, new), tuple(stay), tuple(gone)


def renamed(present: MessageSet, old: str, new: str) -> MessageSet:
    """A set whose sources name a new file where they named the old one."""
    messages = {}
    for name, message in present.messages.items():
        facts: dict[str, Any] = {}
        for item in fields(message):
            fact = getattr(message, item.name)
            if isinstance(fact, Known) and fact.source is not None and fact.source.document == old:
                facts[item.name] = replace(fact, source=replace(fact.source, document=new))
            elif isinstance(fact, Assumed) and fact.why.startswith(f"{old} "):
                facts[item.name] = replace(fact, why=new + fact.why[len(old) :])
        messages[name] = replace(message, **facts)
    copy = f"{FOLDER}/{new}" if present.definition == f"{FOLDER}/{old}" else present.definition
    return replace(present, messages=Table(messages), definition=copy)


def _mute(messages: MessageSet) -> MessageSet:
    """A set without who sends and who expects: that is merged by itself, because one sender stands for many messages."""
    mute = {name: replace(each, sender="", expected_by="") for name, each in messages.messages.items()}
    plain: MessageSet = settled(replace(messages, sender="", nodes=(), messages=Table(mute)))
    return plain


def _speaker(messages: MessageSet, name: str) -> tuple[str, str] | None:
    """Who sends and who expects a message; ``None`` where it is not there."""
    message = messages.messages.get(name)
    if message is None:
        return None
    return "" if message.expected_by else message.sender or messages.sender, message.expected_by


def _spoken(made: MessageSet, speakers: dict[str, tuple[str, str]], present: MessageSet, new: MessageSet) -> MessageSet:
    """The set with its speakers, the sender of most named once for all; the one that stood there where it still sends."""
    sending = Counter(sender for sender, _ in speakers.values() if sender)
    most = sending.most_common(1)[0][0] if sending else new.sender
    main = next((each for each in (present.sender, new.sender) if each in sending), most)
    messages = {}
    for name, message in made.messages.items():
        sender, expected_by = speakers[name]
        before = present.messages.get(name)
        written = before is not None and before.sender == sender
        messages[name] = replace(message, sender=sender if sender != main or written else "", expected_by=expected_by)
    return replace(made, sender=main, nodes=new.nodes, messages=Table(messages))


def _merged(old: Any, present: Any, new: Any, path: Path, stay: list[str], gone: list[str]) -> Any:
    """One value; ``None`` stands for an entry that is not there."""
    if present in (old, new) or _taken_otherwise(old, present):
        return new
    if isinstance(new, Table) and isinstance(present, Table):
        before = old if isinstance(old, Table) else Table()
        names = dict.fromkeys((*present, *new))
        inner = {
            name: _merged(before.get(name), present.get(name), new.get(name), (*path, name), stay, gone)
            for name in names
        }
        return Table({name: value for name, value in inner.items() if value is not None})
    if isinstance(new, (MessageSet, Message, Signal)) and type(new) is type(present) is type(old):
        parts = {}
        for item in fields(new):
            was, now, said = (getattr(each, item.name) for each in (old, present, new))
            parts[item.name] = _merged(was, now, said, (*path, item.name), stay, gone)
        return replace(new, **parts)
    (stay if new == old else gone).append(path_text(path))
    return present if new == old else new


def _taken_otherwise(old: Any, present: Any) -> bool:
    """Whether a fact is the file's own figure, which an earlier taking wrote as known and this one as assumed."""
    return (
        isinstance(old, Assumed)
        and isinstance(present, Known)
        and present.source is not None
        and old.why.startswith(f"{present.source.document} ")
        and present.value == old.value
    )
