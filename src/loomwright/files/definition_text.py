"""The bytes of a definition file become a database of the library that knows the formats, mended where that can be told.

The library (cantools) is loaded when a file is read, not before.
"""

import logging
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import ParseError as XmlError

from loomwright.files.definition_ledger import Ledger
from loomwright.files.definition_statements import (
    line_of,
    orphans,
    selected,
    too_wide,
    unassigned,
    widened,
    without,
    without_statement,
)
from loomwright.terms.problem import Problem

if TYPE_CHECKING:
    from cantools.database.can.internal_database import InternalDatabase

FORMATS = ("dbc", "kcd", "arxml", "sym")
LARGEST = 30_000_000
"""Bytes a definition file may have."""
MENDS = 60
"""Bad statements after which a file is taken for something else."""
NOT_STRICT = "read without strictness, because the library's strict reading refused"
_END = "\nBS_:\n"
"""A statement that means nothing, behind the text: the library drops a last statement that is torn, but not one before."""
_UNUSED = re.compile(r"(VAL_|SIG_VALTYPE_) (\d+) (\w+)")
_IN_MESSAGE = re.compile(r"in message (\S+?)\.?$")
_ENCODINGS = {"dbc": "cp1252", "sym": "cp1252", "kcd": "utf-8", "arxml": "utf-8"}


def read_database(name: str, raw: bytes, ledger: Ledger) -> "InternalDatabase | Problem":
    """The database that a file's bytes hold, or why they hold none. What had to be mended goes into the ledger."""
    ending = name.rpartition(".")[2].lower()
    if ending not in FORMATS:
        return Problem(name, 0, 0, "is no definition file that is known here", f"a file .{', .'.join(FORMATS)}")
    if len(raw) > LARGEST:
        return Problem(name, 0, 0, f"is {len(raw) / 1e6:.0f} MB large", f"at most {LARGEST / 1e6:.0f} MB")
    text = text_of(name, raw)
    if "\ufffd" in text and b"\xef\xbf\xbd" not in raw:
        ledger.lost("signs that are in no code page", f"{text.count(chr(0xFFFD))} signs")
    if not text.strip():
        return Problem(name, 0, 0, "is empty", "definitions of messages")
    with _listening(ledger):
        try:
            return _Reader(text, ledger).dbc() if ending == "dbc" else _named(_either(ending, text, ledger), ledger)
        except RecursionError:
            return Problem(name, 0, 0, "cannot be read: it is nested too deeply")
        except Exception as error:  # the library raises whatever it stumbles over in a broken file
            return _problem(name, error)


def text_of(name: str, raw: bytes) -> str:
    """The text. Where it is no UTF-8, it is in the code page that these files are usually written in."""
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        ending = name.rpartition(".")[2].lower()
        return raw.decode(_ENCODINGS[ending], "replace").replace("\r\n", "\n")


def _either(ending: str, text: str, ledger: Ledger) -> "InternalDatabase":
    """The database, read strictly, else without strictness."""
    from cantools.database.can.formats import arxml, kcd, sym
    from cantools.database.errors import Error

    load: Callable[..., Any] = {"arxml": arxml.load_string, "kcd": kcd.load_string, "sym": sym.load_string}[ending]
    made: InternalDatabase
    try:
        made = load(text, strict=True)
    except (Error, ValueError) as error:
        made = load(text, strict=False)
        if not _about_bits(str(error)):
            ledger.remark(NOT_STRICT, str(error))
    return made


def _named(base: "InternalDatabase", ledger: Ledger) -> "InternalDatabase":
    """Give names to messages and signals that have none, as files in XML may leave them."""
    for message in base.messages:
        if not message.name:
            message.name = f"message_{message.frame_id:x}"
            ledger.remark("messages without a name, named by their identifier", message.name)
        for number, signal in enumerate(message.signals):
            if not signal.name:
                signal.name = f"signal_{number}"
                ledger.remark("signals without a name, numbered", f"{message.name}.{signal.name}")
    return base


def _keep_selected(base: "InternalDatabase", text: str) -> None:
    """Give a signal the value that selects it where the library dropped it, because the file names no selecting signal."""
    values = selected(text)
    if not values:
        return
    for message in base.messages:
        number = message.frame_id | (0x8000_0000 if message.is_extended_frame else 0)
        for signal in message.signals:
            if (number, signal.name) in values and signal.multiplexer_signal is None:
                signal.multiplexer_ids = [values[number, signal.name]]


class _Reader:
    """Reads a .dbc text, cutting or mending what keeps it from being read."""

    def __init__(self, text: str, ledger: Ledger) -> None:
        self.text, self.ledger = text, ledger
        self.strict, self.wide = True, False
        self.first: Exception | None = None

    def dbc(self) -> "InternalDatabase":
        from cantools.database.can.formats import dbc

        for signal in unassigned(self.text):
            self.ledger.lost("signals that belong to no message", signal)
        for _ in range(MENDS):
            try:
                base = dbc.load_string(self.text + _END, self.strict)
            except Exception as error:  # as above: each kind is told apart by its words
                if not self.mended(error):
                    raise
            else:
                if self.first is not None and not base.messages:
                    raise self.first
                _keep_selected(base, self.text)
                for each in orphans(self.text):
                    self.ledger.lost("statements about messages or signals that are not there", each)
                return base
        return dbc.load_string(self.text + _END, self.strict)

    def mended(self, error: Exception) -> bool:
        """Mend the text, or give up strictness; false where neither can be."""
        words, offset = str(error), getattr(error, "offset", None)
        if isinstance(offset, int):
            before, self.first = self.text, self.first or error
            self.text, place = without_statement(self.text, offset)
            self.ledger.lost("statements that cannot be read", place)
            return self.text != before
        if "is more than 11 bits" in words and not self.wide:
            self.wide = True
            self.text, marked = widened(self.text)
            for each in marked:
                self.ledger.remark("identifiers above 0x7FF without the mark of 29 bits, taken for 29 bits", each)
            return bool(marked) or self.without_messages(words)
        if self.strict and _about_bits(words):
            self.strict = False
            return True
        if words.startswith("unused "):
            return self.without_unused(words)
        return self.without_messages(words)

    def without_messages(self, words: str) -> bool:
        """Cut the message that an error names, or all whose identifiers are too wide for any frame."""
        if "bits in message" in words:
            self.text, places = without(self.text, "BO_", too_wide)
        elif match := _IN_MESSAGE.search(words):
            wanted = re.compile(rf"\s+\d+\s+{re.escape(match[1])}\s*:")
            self.text, places = without(self.text, "BO_", lambda rest: wanted.match(rest) is not None)
        else:
            return False
        for place in places:
            self.ledger.lost("messages that cannot be read", f"{place} ({words})" if len(places) == 1 else place)
        return bool(places)

    def without_unused(self, words: str) -> bool:
        unused = _UNUSED.findall(words)
        gone = False
        for word, what in (("VAL_", "value names"), ("SIG_VALTYPE_", "floats")):
            wanted = {(number, name) for kind, number, name in unused if kind == word}
            self.text, places = without(self.text, word, partial(_begins, wanted)) if wanted else (self.text, [])
            for place in places:
                self.ledger.lost(f"{what} of signals that are not there", place)
            gone = gone or bool(places)
        return gone


def _about_bits(words: str) -> bool:
    """Whether strict reading refused because of bits: those are looked at when the signals are at hand.

    The library takes signals for overlapping that no value of a selecting signal brings together.
    """
    return "are overlapping in" in words or "does not fit in" in words


def _begins(wanted: set[tuple[str, str]], rest: str) -> bool:
    return tuple(rest.split()[:2]) in wanted


@contextmanager
def _listening(ledger: Ledger) -> Iterator[None]:
    """Take down what the library tells its log about things that it does not read."""
    log = logging.getLogger("cantools")
    heard: set[str] = set()

    class Listener(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            words = record.getMessage()
            if words not in heard:
                heard.add(words)
                ledger.lost("told by the reading library", words)

    listener, level, propagate = Listener(), log.level, log.propagate
    log.addHandler(listener)
    log.setLevel(logging.DEBUG)
    log.propagate = False
    try:
        yield
    finally:
        log.removeHandler(listener)
        log.setLevel(level)
        log.propagate = propagate


def _problem(name: str, error: Exception) -> Problem:
    """An error of the library as a problem, with its place where the error tells one."""
    if isinstance(error, XmlError):
        line, column = error.position
        return Problem(name, line, column + 1, f"cannot be read: {str(error).partition(':')[0]}", "well-formed XML")
    offset, text = getattr(error, "offset", None), getattr(error, "text", None)
    if isinstance(offset, int) and isinstance(text, str):
        line = line_of(text, offset)
        column = offset - text.rfind("\n", 0, offset)
        shown = text.splitlines()[line - 1] if line <= len(text.splitlines()) else ""
        return Problem(name, line, column, "the syntax is wrong here", "a statement of the format", excerpt=shown)
    words = " ".join(str(error).split()) or type(error).__name__
    return Problem(name, 0, 0, f"cannot be read: {words}")
