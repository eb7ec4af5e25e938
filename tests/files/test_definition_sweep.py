"""Every definition file of two packages is read, with a full report, and its bits are those of another program."""

import logging
import math
import random
from collections import Counter
from functools import cache

import pytest
import textparser
from cantools.database.can import Message
from cantools.database.can.formats import dbc
from cantools.database.errors import DecodeError, Error
from cantools.database.utils import start_bit

from loomwright.files.definition import read_definition
from loomwright.files.definition_ledger import Ledger
from loomwright.files.definition_names import their_name
from loomwright.files.definition_text import read_database
from loomwright.laws.signal_bits import number_of, raw_bits, scaled
from tests.files.definition_files import definition_files, read

FILES = definition_files()
PAYLOADS = 3


@cache
def their_database(path):
    """What the other program reads by itself, without anything mended; ``None`` where it cannot."""
    logging.getLogger("cantools").addHandler(logging.NullHandler())
    try:
        return dbc.load_string(read(path)[0].decode("utf-8"), strict=False)
    except (Error, ValueError, textparser.Error):
        return None


def decoded(message, payload):
    """Raw and scaled values by that program."""
    try:
        return [message.decode(payload, decode_choices=False, scaling=scaling) for scaling in (False, True)]
    except DecodeError as error:
        if "unpacking" not in str(error):
            return [{}, {}]  # a selecting signal with a value that selects nothing
    found = [{}, {}]  # signals that do not fit, or lie on each other's bits, keep it from decoding: one by one then
    for signal in message.signals:
        if start_bit(signal) + signal.length <= 8 * message.length and not signal.multiplexer_ids:
            alone = Message(1, "alone", message.length, [signal], strict=False)
            for values, scaling in zip(found, (False, True), strict=True):
                values.update(alone.decode(payload, decode_choices=False, scaling=scaling))
    return found


def test_every_file_is_read_and_its_report_is_full():
    """Counted: files, messages, signals, losses, and that nothing in the text is unaccounted for."""
    totals, losses = Counter(), Counter()
    for path in FILES:
        raw, found = read(path)
        assert found.problem is None, path.name
        text = raw.decode("utf-8")
        told = Counter({(each.kind, each.taken): each.count for each in found.left_out})
        losses.update(told)
        messages = found.set.messages.values()
        totals.update(files=1, messages=len(messages), signals=sum(len(each.signals) for each in messages))
        lost = sum(count for (kind, _), count in told.items() if kind in MESSAGES_LOST)
        headers = sum(line.lstrip().startswith("BO_ ") and ":" in line for line in text.splitlines())
        independent = text.count("VECTOR__INDEPENDENT_SIG_MSG:")
        cut = sum(
            "BO_ " in place.partition(": ")[2][:5]
            for each in found.left_out
            if "be read" in each.kind and each.kind.startswith("statements")
            for place in each.places
        )
        assert len(messages) + lost + independent + cut == headers, path.name
    assert totals["files"] >= 115
    assert totals["messages"] > 4_900
    assert totals["signals"] > 37_000
    assert losses["signals outside of their frame", False] > 20
    assert losses["statements that cannot be read", False] > 10
    assert losses["attribute GenSigStartValue", False] > 500


MESSAGES_LOST = (
    "messages that cannot be read",
    "messages whose identifier another one has already",
    "containers of other messages",
)


def test_what_others_decode_is_what_our_bits_say():
    """Random payloads of every message: raw and scaled values equal those of the other program's decoder."""
    dice = random.Random(8)
    compared = files = 0
    for path in FILES:
        theirs = their_database(path) or read_database(path.name, read(path)[0], Ledger())  # mended where it must be
        files += 1
        messages = read(path)[1].set.messages
        by_title = {their_name(each.title, name): each for name, each in messages.items()}
        for message in theirs.messages:
            ours = by_title.get(message.name)
            if ours is None:
                continue
            for _ in range(PAYLOADS):
                compared += same_values(message, ours, dice.randbytes(message.length))
    assert files >= 115
    assert compared > 105_000


def same_values(message, ours, payload):
    """How many values were compared; signals that only some payloads have are left to those."""
    numbers, values = decoded(message, payload)
    shared = Counter(signal.name for signal in message.signals)
    count = 0
    for name, signal in ours.signals.items():
        theirs_is = their_name(signal.title, name)
        if theirs_is not in numbers or shared[theirs_is] > 1:
            continue
        number = number_of(raw_bits(payload, signal.start, signal.bits, signal.byte_order), signal.bits, signal.number)
        theirs = numbers[theirs_is]
        if isinstance(number, float) and math.isnan(number):
            assert math.isnan(theirs)
            continue
        assert number == theirs, (message.name, name)
        assert scaled(number, signal.factor, signal.offset) == pytest.approx(values[theirs_is], rel=1e-12, abs=1e-12)
        count += 1
    return count


def test_cycle_times_and_identifiers_are_those_of_the_other_program():
    periods = 0
    for path in FILES:
        theirs = their_database(path)
        if theirs is None:
            continue
        messages = read(path)[1].set.messages
        by_identifier = {(each.identifier.value, each.width): each for each in messages.values()}
        for message in theirs.messages:
            ours = by_identifier[message.frame_id, "29 bit" if message.is_extended_frame else "11 bit"]
            assert ours.length == message.length
            if message.cycle_time:
                assert ours.period_s.value == pytest.approx(message.cycle_time / 1e3)
                periods += 1
            else:
                assert ours.period_s is None or not hasattr(ours.period_s, "value")
    assert periods > 150


@pytest.mark.parametrize("keep", [0.1, 0.5, 0.9])
def test_torn_files_give_messages_or_a_problem_and_never_a_crash(keep):
    for path in [path for path in FILES if path.stat().st_size < 20_000]:
        raw = read(path)[0]
        torn = raw[: int(len(raw) * keep)]
        found = read_definition(torn, path.name, {"": "gateway.can"})
        if b"\nBO_ " in torn:
            assert found.problem is not None or found.set.messages or found.left_out, path.name
