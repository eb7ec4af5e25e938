"""Names in messages, needs, forwards and chains that point at other things."""

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Protocol

from loomwright.files.read import Entry
from loomwright.files.scanner import KeyPath
from loomwright.model.component import Forward, Need
from loomwright.model.message import Message, MessageSet, Signal
from loomwright.model.vehicle import Chain, Vehicle
from loomwright.terms.change import Path

MOST_BYTES = {"classical": 1785, "FD": 64}
"""Bytes of a classical message, transported in several frames where it is more than eight; and of an FD frame."""


_NAMED_VALUE = re.compile(r"([+-]?[0-9]{1,20})\s+\S.*", re.DOTALL)


def named_value(words: str) -> int | None:
    """The number in words such as "3 not available"; ``None`` where they do not begin with one, or nothing follows."""
    match = _NAMED_VALUE.fullmatch(words.strip())
    return None if match is None else int(match[1])


def raw_span(bits: int, number: str) -> tuple[int, int] | None:
    """The least and the largest number that bits can make, before factor and offset; ``None`` for a float."""
    if number == "float" or not 1 <= bits <= 64:
        return None
    return (-(1 << bits - 1), (1 << bits - 1) - 1) if number == "signed" else (0, (1 << bits) - 1)


class Checker(Protocol):
    """What the checks of all references share: the names in each table and ways to note a wrong one."""

    names: Mapping[Path, set[str]]

    def note(
        self, entry: Entry, at: KeyPath, message: str, expected: str, word: str = "", known: Iterable[str] = ()
    ) -> None:
        """Note a problem with a value of an entry."""

    def word(self, entry: Entry, word: str, at: KeyPath, table: Path, what: str) -> None:
        """Note a word that is not among the names of a table."""

    def name(self, entry: Entry, field: str, table: Path, what: str, key: str = "") -> None:
        """Note a field whose value is not among the names of a table."""

    def port(self, entry: Entry, field: str, key: str = "") -> None:
        """Note a field that does not name a component's port."""


class MessageChecks:
    """The checks by class of entry; made for one project."""

    def __init__(self, checker: Checker) -> None:
        self.checker = checker
        self.states: tuple[str, ...] | None = None
        self.senders: dict[str, str] = {}
        self.checks: Mapping[type, Callable[[Entry], None]] = {
            Message: self._check_message,
            Signal: self._check_signal,
            MessageSet: lambda entry: checker.port(entry, "sender"),
            Need: self._check_need,
            Forward: self._check_forward,
            Chain: self._check_chain,
        }

    def look(self, entry: Entry) -> None:
        """Take down what checks of other entries ask for."""
        if entry.cls is Vehicle:
            self.states = entry.values.get("states", ())
        elif entry.cls is MessageSet:
            self.senders[str(entry.path[-1])] = entry.values.get("sender", "")

    def _check_message(self, entry: Entry) -> None:
        values = entry.values
        self.checker.port(entry, "sender")
        self.checker.port(entry, "expected_by")
        self._states(entry)
        sender = values.get("sender") or self.senders.get(str(entry.path[1]), "")
        if not sender and not values.get("expected_by") and "sender" not in entry.written:
            self.checker.note(entry, (), "nobody sends the message", 'sender = "component.port", here or for the file')
        self._width(entry)
        most = MOST_BYTES.get(values.get("frames", "classical"), 64)
        if values.get("length", 8) > most:
            self.checker.note(entry, ("length",), f"{values['length']} bytes are too many", f"at most {most}")
        if values.get("period_s") is not None and values.get("minimum_gap_s") is not None:
            wrong = "a message sent in a period has its gap by that"
            self.checker.note(entry, ("minimum_gap",), wrong, "period or minimum_gap, not both")

    def _width(self, entry: Entry) -> None:
        identifier = getattr(entry.values.get("identifier"), "value", None)
        if entry.values.get("width") == "11 bit" and identifier is not None and identifier > 0x7FF:
            self.checker.note(entry, ("identifier",), f"0x{identifier:X} does not fit into 11 bits", "at most 0x7FF")

    def _check_signal(self, entry: Entry) -> None:
        values = entry.values
        if not 1 <= values.get("bits", 1) <= 64 and values.get("number", "unsigned") != "float":
            self.checker.note(entry, ("bits",), f"{values['bits']} bits make no number", "1 to 64")
        elif values.get("number") == "float" and values.get("bits") not in (16, 32, 64):
            self.checker.note(entry, ("bits",), "a float has 16, 32 or 64 bits", "bits = 32")
        low, high = values.get("low"), values.get("high")
        if low is not None and high is not None and low > high:
            self.checker.note(entry, ("high",), f"high {high:g} is below low {low:g}", f"at least {low:g}")
        self._check_values(entry)
        self.checker.name(entry, "selected_by", entry.path[:-1], "signal of this message")
        if ("selected_by" in entry.written) != ("selected_when" in entry.written):
            self.checker.note(entry, (), "selected_by and selected_when go together", "both, or neither")

    def _check_values(self, entry: Entry) -> None:
        """Named values: a whole number that the bits can make, once, and its name."""
        bits, number = entry.values.get("bits", 0), entry.values.get("number", "unsigned")
        span = raw_span(bits, number)
        seen: dict[int, int] = {}
        for at, words in enumerate(entry.values.get("values", ())):
            value = named_value(words)
            if value is None:
                self.checker.note(
                    entry, ("values", at), f"{words!r} names no value", 'number and name: "3 not available"'
                )
            elif span is not None and not span[0] <= value <= span[1]:
                wrong = f"{bits} bits ({number}) cannot be {value}"
                self.checker.note(entry, ("values", at), wrong, f"{span[0]} to {span[1]}")
            elif value in seen:
                wrong = f"{value} is named twice, first as {entry.values['values'][seen[value]]!r}"
                self.checker.note(entry, ("values", at), wrong, "one name for each value")
            else:
                seen[value] = at

    def _check_need(self, entry: Entry) -> None:
        self._message(entry, entry.values.get("signal", ""), ("signal",), signal=True)
        owner = tuple(entry.path[:2])
        self.checker.name(entry, "port", (*owner, "ports"), f"port of {owner[1]}")

    def _check_forward(self, entry: Entry) -> None:
        self._message(entry, entry.values.get("message", ""), ("message",))
        owner = tuple(entry.path[:2])
        self.checker.name(entry, "to", (*owner, "ports"), f"port of {owner[1]}")
        self._width(entry)
        self._states(entry)

    def _check_chain(self, entry: Entry) -> None:
        steps = entry.values.get("steps", ())
        if steps == ():
            return
        for number, step in enumerate(steps):
            self._message(entry, step, ("steps", number))
        self.checker.name(entry, "effect", ("components",), "component")

    def _states(self, entry: Entry) -> None:
        for number, state in enumerate(entry.values.get("states", ())):
            if self.states is not None and state not in self.states:
                known = ", ".join(self.states) or "none is declared: states = [...] in vehicle.toml"
                expected = f"one of the vehicle's states ({known})"
                self.checker.note(
                    entry, ("states", number), f"there is no state {state!r}", expected, state, self.states
                )

    def _message(self, entry: Entry, words: str, at: KeyPath, *, signal: bool = False) -> None:
        """Note words that do not name a message, or one of its signals."""
        if not words or ("messages",) not in self.checker.names:
            return
        parts = words.split(".")
        if len(parts) != 2 and not (signal and len(parts) == 3):
            expected = 'file and message, as in "inverter.status_1"' + (", or with a signal behind" if signal else "")
            self.checker.note(entry, at, f"{words!r} names no message", expected)
            return
        table: Path = ("messages",)
        for part, what in zip(
            parts, ("file of messages", f"message in {parts[0]}", f"signal of {parts[-2]}"), strict=False
        ):
            if part not in self.checker.names.get(table, set()):
                self.checker.word(entry, part, at, table, what)
                return
            table = (*table, part, "messages" if len(table) == 1 else "signals")
