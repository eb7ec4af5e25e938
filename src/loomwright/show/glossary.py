"""Trade terms explained, and where a text uses one."""

import re
import tomllib
from collections.abc import Mapping, Set
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Term:
    """One entry: its name in addresses, the term and other spellings, a sentence, an explanation, further entries."""

    name: str
    term: str
    also: tuple[str, ...]
    short: str
    longer: str
    see: tuple[str, ...]


@cache
def glossary() -> Mapping[str, Term]:
    """Every term by name, sorted as a reader looks it up."""
    data = tomllib.loads((files("loomwright.show") / "glossary.toml").read_text("utf-8"))
    terms = [
        Term(name, entry["term"], tuple(entry.get("also", ())), entry["short"], entry["longer"], tuple(entry["see"]))
        for name, entry in data.items()
    ]
    return MappingProxyType({term.name: term for term in sorted(terms, key=lambda term: term.term.lower())})


def pieces(text: str, seen: Set[str] = frozenset()) -> tuple[tuple[str, str], ...]:
    """A text cut into pieces, each with the name of the term it is, or with nothing.

    The first use of each term that is not in ``seen`` is told, once; longer terms win over shorter ones within them.
    """
    told = set(seen)
    spelling = _spellings()
    cut: list[tuple[str, str]] = []
    at = 0
    for match in _pattern().finditer(text):
        name = spelling[match.group().lower()]
        if name in told:
            continue
        told.add(name)
        if match.start() > at:
            cut.append((text[at : match.start()], ""))
        cut.append((match.group(), name))
        at = match.end()
    if at < len(text):
        cut.append((text[at:], ""))
    return tuple(cut)


@cache
def _spellings() -> Mapping[str, str]:
    found: dict[str, str] = {}
    for term in glossary().values():
        for word in (term.term, *term.also):
            found.setdefault(word.lower(), term.name)
    return MappingProxyType(found)


@cache
def _pattern() -> re.Pattern[str]:
    longest_first = sorted(_spellings(), key=lambda word: (-len(word), word))
    return re.compile(rf"(?<![\w.\-])(?:{'|'.join(map(re.escape, longest_first))})(?![\w\-]|\.\w)", re.IGNORECASE)
