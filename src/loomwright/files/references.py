"""Names that point at other things, and locks that cannot all be kept: checked when everything has been read."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from loomwright.files.message_references import MessageChecks
from loomwright.files.read import Entry
from loomwright.files.scanner import KeyPath
from loomwright.files.text import Notes
from loomwright.model.component import Component
from loomwright.model.line import Line, Station
from loomwright.model.vehicle import RULE_SETS, Lock, Run
from loomwright.terms.change import Path


def check_references(entries: Iterable[Entry], names: Mapping[Path, set[str]], notes: Notes) -> None:
    """Note every name that points at nothing and every entry whose values contradict each other.

    ``names`` are the names in each table, by the table's path. A table that could not be read at all has none, and
    names into it are not checked.
    """
    checker = _Checker(names, notes)
    messages = MessageChecks(checker)
    checks = {**checker.checks, **messages.checks}
    entries = tuple(entries)
    for entry in entries:
        messages.look(entry)
    locks = []
    for entry in entries:
        check = checks.get(entry.cls)
        if check is not None:
            check(entry)
        if entry.cls is Lock:
            locks.append(entry)
    _check_locks(locks, notes)


class _Checker:
    def __init__(self, names: Mapping[Path, set[str]], notes: Notes) -> None:
        self.names, self.notes = names, notes
        self.checks: Mapping[type, Callable[[Entry], None]] = {
            Run: self.run,
            Lock: self.lock,
            Component: lambda entry: self.name(entry, "place", ("places",), "place"),
            Line: self.line,
            Station: self.station,
        }

    def note(
        self, entry: Entry, at: KeyPath, message: str, expected: str, word: str = "", known: Iterable[str] = ()
    ) -> None:
        """Note a problem with a value of an entry."""
        self.notes.note(entry.text, (*entry.at, *at), message, expected, like=(word, known))

    def name(self, entry: Entry, field: str, table: Path, what: str, key: str = "") -> None:
        """Note a field whose value is not among the names of a table."""
        self.word(entry, entry.values.get(field, ""), (key or field,), table, what)

    def word(self, entry: Entry, word: str, at: KeyPath, table: Path, what: str) -> None:
        known = self.names.get(table)
        if not word or known is None or word in known:
            return
        some = ", ".join(sorted(known)) if len(known) <= 12 else f"one of {len(known)}"
        self.note(
            entry, at, f"there is no {what} {word!r}", f"a {what} ({some})" if known else f"a {what}", word, known
        )

    def port(self, entry: Entry, field: str, key: str = "") -> None:
        """Note a field that does not name a component's port."""
        word, at = entry.values.get(field, ""), (key or field,)
        components = self.names.get(("components",))
        if not word or components is None:
            return
        component, dot, port = word.partition(".")
        ports = self.names.get(("components", component, "ports"), set())
        if component not in components:
            self.word(entry, component, at, ("components",), "component")
        elif not dot:
            addresses = [f"{component}.{name}" for name in ports]
            self.note(entry, at, f"{word!r} names no port", 'component and port, as in "inverter.can"', word, addresses)
        else:
            self.word(entry, port, at, ("components", component, "ports"), f"port of {component}")

    def run(self, entry: Entry) -> None:
        self.name(entry, "start", ("places",), "place", "from")
        self.name(entry, "end", ("places",), "place", "to")
        if entry.values.get("start") and entry.values.get("start") == entry.values.get("end"):
            self.note(entry, ("to",), "the run joins a place to itself", "two different places")

    def line(self, entry: Entry) -> None:
        self.name(entry, "cable", ("cables",), "cable")
        self.port(entry, "controller")
        chosen = entry.values.get("rule_set", "")
        if chosen and chosen not in RULE_SETS:
            expected = f"one of {', '.join(RULE_SETS)}"
            self.note(entry, ("rule_set",), f"there is no rule set {chosen!r}", expected, chosen, RULE_SETS)

    def station(self, entry: Entry) -> None:
        self.port(entry, "port")
        self.name(entry, "at", ("places",), "place")
        via = entry.values.get("via", ())
        for number, place in enumerate(via):
            self.word(entry, place, ("via", number), ("places",), "place")
            if number and via[number - 1] == place:
                self.note(entry, ("via", number), f"{place!r} follows itself", "another place")
        port, terminator = "port" in entry.written, "terminator" in entry.written
        if port == terminator:
            wrong = "both a port and a terminator" if port else "neither a port nor a terminator"
            expected = 'port = "component.port", or terminator = "120 ohm" with at = "place"'
            self.note(entry, (), f"the station has {wrong}", expected)
        elif terminator and "at" not in entry.written:
            self.note(entry, (), "the terminator has no place", 'at = "place"')

    def lock(self, entry: Entry) -> None:
        self.port(entry, "port")
        self.port(entry, "other", "with")
        self.name(entry, "line", ("lines",), "line")
        must = entry.values.get("must")
        if must is None:
            return
        needed = {"be on line": "line", "share a line with": "with", "not share a line with": "with"}.get(must)
        for key, example in (("line", "drive"), ("with", "charger.can")):
            if key == needed and key not in entry.written:
                self.note(entry, (), f"{key} is missing: the port must {must}", f'{key} = "{example}"')
            elif key != needed and key in entry.written:
                self.note(entry, (key,), f"{key} has no meaning: the port must {must}", "the key left out")
        if needed == "with" and entry.values.get("other") == entry.values.get("port"):
            self.note(entry, ("with",), "the lock names the same port twice", "another port")


@dataclass(slots=True)
class _Group:
    """Ports that locks hold on one line, and which line that is."""

    ports: set[str]
    line: str = ""
    by: str = ""


def _check_locks(entries: list[Entry], notes: Notes) -> None:
    """Note locks that cannot be kept together: ports held on one line, on named lines, and apart."""
    groups: dict[str, _Group] = {}

    def group(port: str) -> _Group:
        return groups.setdefault(port, _Group({port}))

    for _, port, other in _of_kind(entries, "share a line with", "other"):
        one, two = group(port), group(other)
        if one is two:
            continue
        one.ports |= two.ports
        for member in two.ports:
            groups[member] = one
    for entry, port, line in _of_kind(entries, "be on line", "line"):
        held = group(port)
        if held.line and held.line != line:
            wrong = f"{port} cannot be on line {line!r}: lock {held.by!r} holds it on line {held.line!r}"
            notes.note(entry.text, (*entry.at, "line"), wrong, _KEPT)
        else:
            held.line, held.by = line, str(entry.path[-1])
    for entry, port, other in _of_kind(entries, "not share a line with", "other"):
        one, two = group(port), group(other)
        if port != other and (one is two or (one.line and one.line == two.line)):
            wrong = f"{port} cannot be kept off the line of {other}: other locks hold them together"
            notes.note(entry.text, (*entry.at, "with"), wrong, _KEPT)


_KEPT = "locks that can all be kept"


def _of_kind(entries: list[Entry], must: str, field: str) -> Iterator[tuple[Entry, str, Any]]:
    for entry in entries:
        values = entry.values
        if values.get("must") == must and values.get("port") and values.get(field):
            yield entry, values["port"], values[field]
