"""Search over everything that has a name: the vehicle's things, the rules, the glossary.

Best first: a name that begins with what was typed, then one with a word that begins so, then one that holds it, then
one that is nearly it. Nearly means one slip of the finger in a word of four letters or more, two from eight on.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from loomwright.app.margin import rule_title
from loomwright.judge import RULES
from loomwright.model.vehicle import Vehicle
from loomwright.show.glossary import glossary
from loomwright.show.names import spoken
from loomwright.terms.change import Path
from loomwright.terms.fact import value_of

MOST = 40
NO_MATCH = 99


@dataclass(frozen=True, slots=True)
class Hit:
    """A named thing: what kind of thing, its name as files have it, its title for people, its path."""

    kind: str
    name: str
    title: str
    path: Path


@dataclass(frozen=True, slots=True)
class Entry:
    """A hit ready to be compared: name and title as typed words, and everything else it can be found by."""

    hit: Hit
    names: tuple[str, ...]
    words: tuple[str, ...]
    text: str


def search(vehicle: Vehicle, words: str, most: int = MOST) -> tuple[Hit, ...]:
    """Things that fit every word, best first; things of the vehicle before rules and terms that fit as well."""
    typed = plain(words)
    wanted = typed.split()
    if not wanted:
        return ()
    entries = _entries(vehicle)
    ranked = [(_rank(entry, typed, wanted), order, entry.hit) for order, entry in enumerate(entries)]
    found = [entry for entry in ranked if entry[0] < NO_MATCH]
    if not found:
        near = [(_slips(entry, wanted), order, entry.hit) for order, entry in enumerate(entries)]
        found = [entry for entry in near if entry[0] < NO_MATCH]
    return tuple(hit for _, _, hit in sorted(found, key=lambda entry: entry[:2])[:most])


def plain(words: str) -> str:
    """Words as they are compared: small letters, names taken apart."""
    return " ".join(words.lower().replace("_", " ").replace(".", " ").replace("-", " ").split())


def _rank(entry: Entry, typed: str, wanted: list[str]) -> int:
    if any(name == typed for name in entry.names):
        return 0
    if any(name.startswith(typed) for name in entry.names):
        return 1
    own = " ".join(entry.names)
    if all(any(word.startswith(part) for word in own.split()) for part in wanted):
        return 2
    if all(any(word.startswith(part) for word in entry.words) for part in wanted):
        return 3
    return 4 if all(part in entry.text for part in wanted) else NO_MATCH


def _slips(entry: Entry, wanted: list[str]) -> int:
    """The sum of slips with which every wanted word is the beginning of a word of the entry."""
    total = 0
    for part in wanted:
        allowed = 2 if len(part) >= 8 else 1 if len(part) >= 4 else 0
        best = min((slips(part, word, allowed) for word in entry.words), default=NO_MATCH)
        if best > allowed:
            return NO_MATCH
        total += best
    return total


def slips(typed: str, word: str, allowed: int) -> int:
    """Letters wrong, missing, too many or swapped that turn ``typed`` into a beginning of ``word``; past ``allowed``: more."""
    beyond = allowed + 1
    if len(typed) - len(word) > allowed or len(set(typed) - set(word)) > allowed:
        return beyond
    word = word[: len(typed) + allowed]
    before: list[int] = []
    row = list(range(len(word) + 1))
    for at, letter in enumerate(typed, 1):
        twice, before = before, row
        row = [at]
        for to, other in enumerate(word, 1):
            cost = min(before[to] + 1, row[to - 1] + 1, before[to - 1] + (letter != other))
            if at > 1 and to > 1 and letter == word[to - 2] and typed[at - 2] == other:
                cost = min(cost, twice[to - 2] + 1)
            row.append(cost)
        if min(row) > allowed:
            return beyond
    return min(row)


@lru_cache(maxsize=4)
def _entries(vehicle: Vehicle) -> tuple[Entry, ...]:
    made = []
    for hit, more in (*_of_vehicle(vehicle), *_of_messages(vehicle), *_of_program(), *_of_signals(vehicle)):
        # What is said is found by its own name first: whoever types a component's name looks for the component.
        own = hit.name.rpartition(".")[2] if hit.kind in ("message", "signal") else hit.name
        names = tuple(dict.fromkeys((plain(hit.title), plain(own))))
        text = plain(f"{' '.join(names)} {more}")
        made.append(Entry(hit, names, tuple(dict.fromkeys(text.split())), text))
    return tuple(made)


def _of_vehicle(vehicle: Vehicle) -> Iterator[tuple[Hit, str]]:
    """Every named thing with further words it can be found by."""
    for name, component in vehicle.components.items():
        more = f"{component.role} {component.maker} {component.place}"
        yield Hit("component", name, component.title or name, ("components", name)), more
    for name, line in vehicle.lines.items():
        yield Hit("line", name, line.title or name, ("lines", name)), line.protocol
    for name, component in vehicle.components.items():
        for port in component.ports:
            address = f"{name}.{port}"
            yield Hit("port", address, address, ("components", name, "ports", port)), component.title
    for name, place in vehicle.places.items():
        yield Hit("place", name, place.title or name, ("places", name)), ""
    for name, run in vehicle.runs.items():
        yield Hit("run", name, name, ("runs", name)), f"{run.start} {run.end}"
    for name, cable in vehicle.cables.items():
        yield Hit("cable", name, cable.title or name, ("cables", name)), ""
    for name, lock in vehicle.locks.items():
        yield Hit("lock", name, name, ("locks", name)), f"{lock.port} {lock.must} {lock.why}"


def _of_messages(vehicle: Vehicle) -> Iterator[tuple[Hit, str]]:
    """Every message, found by its identifier too, and every chain."""
    for set_name, messages in vehicle.messages.items():
        for name, message in messages.messages.items():
            full, path = f"{set_name}.{name}", ("messages", set_name, "messages", name)
            identifier = value_of(message.identifier)
            figures = (
                "" if identifier is None else f"0x{identifier:x} 0x{identifier:03x} {identifier:x} {identifier:03x}"
            )
            yield Hit("message", full, message.title or spoken(name), path), f"{full} {figures}"
    for name, chain in vehicle.chains.items():
        yield Hit("chain", name, chain.title or spoken(name), ("chains", name)), ""


def _of_signals(vehicle: Vehicle) -> Iterator[tuple[Hit, str]]:
    """Every signal; after terms, because there are so many."""
    for set_name, messages in vehicle.messages.items():
        for name, message in messages.messages.items():
            for key, signal in message.signals.items():
                full = f"{set_name}.{name}.{key}"
                path = ("messages", set_name, "messages", name, "signals", key)
                yield Hit("signal", full, signal.title or spoken(key), path), full


def _of_program() -> Iterator[tuple[Hit, str]]:
    for term in glossary().values():
        yield Hit("term", term.name, term.term, ("glossary", term.name)), " ".join(term.also)
    for rule in RULES:
        yield Hit("rule", rule.code, rule_title(rule.code), ("rules", rule.code)), ""
