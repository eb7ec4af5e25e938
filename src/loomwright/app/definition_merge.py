"""Messages taken over again: the maker's new file, the old one and what hands made of it, value by value.

Where the maker's file says what it said before, the project's value stays, whatever hands made of it. Where the maker
changed something, the new value is taken; a hand-made value that goes by that is told.
"""

from dataclasses import fields, replace
from typing import Any

from loomwright.files.change import settled
from loomwright.files.definition_copy import FOLDER
from loomwright.model.message import Message, MessageSet, Signal
from loomwright.model.table import Table
from loomwright.terms.change import Path, path_text
from loomwright.terms.fact import Known


def merged(
    old: MessageSet, present: MessageSet, new: MessageSet
) -> tuple[MessageSet, tuple[str, ...], tuple[str, ...]]:
    """The merged set, the paths whose hand-made values stay, and those whose hand-made values give way."""
    stay: list[str] = []
    gone: list[str] = []
    made: MessageSet = _merged(settled(old), settled(present), settled(new), (), stay, gone)
    return made, tuple(stay), tuple(gone)


def renamed(present: MessageSet, old: str, new: str) -> MessageSet:
    """A set whose sources name a new file where they named the old one."""
    messages = {}
    for name, message in present.messages.items():
        facts: dict[str, Any] = {}
        for item in fields(message):
            fact = getattr(message, item.name)
            if isinstance(fact, Known) and fact.source is not None and fact.source.document == old:
                facts[item.name] = replace(fact, source=replace(fact.source, document=new))
        messages[name] = replace(message, **facts)
    copy = f"{FOLDER}/{new}" if present.definition == f"{FOLDER}/{old}" else present.definition
    return replace(present, messages=Table(messages), definition=copy)


def _merged(old: Any, present: Any, new: Any, path: Path, stay: list[str], gone: list[str]) -> Any:
    """One value; ``None`` stands for an entry that is not there."""
    if present in (old, new):
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
