"""Every way to write it wrong is told with its place, what was expected, and the nearest known word."""

import time

import pytest

from loomwright.files.load import understood
from tests.files.build import BODY, COMPONENT, LINE, MESSAGES, TEXTS, problems

LOCK = b'[locks.%s]\nport = "box.can"\nmust = "%s"\n%s = "%s"\n'
TWO = {"components__bix": COMPONENT, "lines__two": b""}


def test_the_project_that_these_cases_bend_is_fine():
    assert problems() == ()
    assert problems(**TWO) == ()


def body(old, new):
    assert old in BODY
    return {"vehicle": BODY.replace(old, new)}


def box(old, new):
    assert old in COMPONENT
    return {"components__box": COMPONENT.replace(old, new)}


def said(old, new):
    assert old in MESSAGES
    return {"messages__box": MESSAGES.replace(old, new)}


def needing(words):
    return {"components__box": COMPONENT + b"[needs.n]\n" + words, "messages__box": MESSAGES}


CASES = {
    # text that is no TOML, or no text
    "malformed": ({"vehicle": BODY + b"x = \n"}, "vehicle.toml:11:5", "not TOML: Invalid value", ""),
    "unclosed": ({"vehicle": BODY + b'x = "1'}, "vehicle.toml:11:7", "not TOML: Unterminated string", ""),
    "two keys": (body(b'"x"\n', b'"x"\nname = "y"\n'), "vehicle.toml:3:1", "'name' is given twice; first on line 2", ""),
    "two places": ({"vehicle": BODY + b'[places.a]\nx = "1 m"\n'}, "vehicle.toml:11:1", "'a' is given twice; first on line 5", ""),
    "two inline": ({"vehicle": BODY + b'runs.r = { from = "a", from = "b" }\n'}, "vehicle.toml:11:34", "not TOML: Duplicate", ""),
    "latin-1": ({"components__box": COMPONENT + 'maker = "Kühn"\n'.encode("latin-1")}, "components/box.toml:4:11", "byte 0xfc is not UTF-8", ""),
    "utf-16": ({"components__box": "role = 1".encode("utf-16")}, "components/box.toml:1:1", "UTF-16", ""),
    "utf-16 without mark": ({"components__box": "role".encode("utf-16-be")}, "components/box.toml:1:1", "UTF-16", ""),
    "nul": ({"components__box": COMPONENT + b"a\0b = 1"}, "components/box.toml:4:2", "NUL byte", ""),
    "deep": ({"components__box": b"x = " + b"[" * 5000 + b"]" * 5000}, "components/box.toml:0:0", "nested too deeply", ""),
    "endless number": ({"components__box": b"x = " + b"9" * 5000}, "components/box.toml:1", "not TOML", ""),
    # keys
    "unknown key": (body(b"length", b"lenght"), "vehicle.toml:3:1", "unknown key 'lenght'", "length"),
    "unknown table": ({"vehicle": BODY + b"[plaices.c]\n"}, "vehicle.toml:11:2", "unknown key 'plaices'", "places"),
    "component in the body": ({"vehicle": BODY + b"[components.c]\n"}, "vehicle.toml:11:2", "components do not stand", ""),
    "missing key": (box(b'role = "other"\n', b""), "components/box.toml:1:1", "role is missing", ""),
    "missing in a table": ({"vehicle": BODY + b'[places.c]\nx = "1 m"\n'}, "vehicle.toml:11:1", "y is missing", ""),
    "lone source": ({"components__box": COMPONENT + b'pigtail_source = "page 3"\n'}, "components/box.toml:4:1", "there is no pigtail beside it", ""),
    "source of no fact": (body(b'"4 m"', b'"4 m"\nlength_source = "tape"'), "vehicle.toml:4:1", "length is no fact", ""),
    "source and assumed": (
        {"components__box": COMPONENT + b'pigtail = "1 m"\npigtail_source = "p"\npigtail_assumed = "w"\n'},
        "components/box.toml:6:1", "pigtail_assumed contradicts pigtail", "",
    ),
    "source of an unknown": ({"components__box": COMPONENT + b'pigtail = "?"\npigtail_source = "p"\n'}, "components/box.toml:5:1", "contradicts", ""),
    "question answered": ({"components__box": COMPONENT + b'pigtail = "1 m"\npigtail_ask = "p"\n'}, "components/box.toml:5:1", "contradicts", ""),
    "no reason": ({"components__box": COMPONENT + b'pigtail = "1 m"\npigtail_assumed = " "\n'}, "components/box.toml:5:19", "found nothing", ""),
    "source is a number": ({"components__box": COMPONENT + b'pigtail = "1 m"\npigtail_source = 3\n'}, "components/box.toml:5:18", "a bare number", ""),
    # values
    "wrong dimension": (body(b'"4 m"', b'"120 ohm"'), "vehicle.toml:3:10", "'120 ohm' is a resistance, not a length", ""),
    "decimal comma": (body(b'"4 m"', b'"4,5 m"'), "vehicle.toml:3:10", "decimal comma", ""),
    "bare number": (body(b'"4 m"', b"4.5"), "vehicle.toml:3:10", "a bare number without a unit", ""),
    "no unit": (body(b'"4 m"', b'"4.5"'), "vehicle.toml:3:10", "'4.5' has no unit", ""),
    "not a number": (body(b'"4 m"', b"nan"), "vehicle.toml:3:10", "a bare number without a unit", ""),
    "infinite": (body(b'"4 m"', b'"inf m"'), "vehicle.toml:3:10", "does not begin with a number", ""),
    "absurd": (body(b'"4 m"', b'"4e30 m"'), "vehicle.toml:3:10", "is not believable", ""),
    "negative length": (body(b'"4 m"', b'"-4 m"'), "vehicle.toml:3:10", "is negative", ""),
    "negative height": (body(b'y = "0 m"\n[', b'y = "0 m"\nz = "-1 m"\n['), "vehicle.toml:8:5", "is negative", ""),
    "negative resistance": ({"components__box": COMPONENT + b'node_resistance = "-1 .. 2 ohm"\n'}, "components/box.toml:4:19", "is negative", ""),
    "falling range": ({"components__box": COMPONENT + b'pigtail = "3 .. 2 m"\n'}, "components/box.toml:4:11", "does not rise", ""),
    "range for a plain value": (body(b'"4 m"', b'"4 .. 5 m"'), "vehicle.toml:3:10", "is a range", ""),
    "unknown plain value": (body(b'"4 m"', b'"?"'), "vehicle.toml:3:10", "cannot be left unknown", ""),
    "unit misspelt": ({"components__box": COMPONENT + b'bit_rates = ["250 kbits/s"]\n'}, "components/box.toml:4:14", "no known unit", "kbit/s"),
    "wrong choice": (box(b"other", b"inverer"), "components/box.toml:1:8", "'inverer' is no choice here", "inverter"),
    "wrong choice in a list": ({"components__box": COMPONENT + b'protocols = ["raw", "j1939"]\n'}, "components/box.toml:4:21", "'j1939' is no choice", "J1939"),
    "text for a list": ({"components__box": COMPONENT + b'protocols = "raw"\n'}, "components/box.toml:4:13", "found text", ""),
    "empty list": ({"components__box": COMPONENT + b"protocols = []\n"}, "components/box.toml:4:13", "the list is empty", ""),
    "number for text": (box(b'"other"', b"3"), "components/box.toml:1:8", "a bare number", ""),
    "text for a switch": (body(b'"4 m"', b'"4 m"\nwet = "yes"'), "vehicle.toml:4:7", "found text", ""),
    "value for a table": ({"vehicle": b"places = 3\n" + BODY[: BODY.index(b"[")]}, "vehicle.toml:1:10", "a bare number", ""),
    "value for a place": ({"vehicle": BODY + b'[places]\nc = "here"\n'}, "vehicle.toml:12:5", "found text", ""),
    "table for a list": ({"vehicle": BODY + b'[axles]\nx = "1 m"\n'}, "vehicle.toml:11:1", "found a table", ""),
    "list for a place": ({"vehicle": BODY + b'[[places.c]]\nx = "1 m"\n'}, "vehicle.toml:11:1", "found a list", ""),
    # names
    "name of a place": ({"vehicle": BODY + b'[places."Dash board"]\nx = "1 m"\ny = "1 m"\n'}, "vehicle.toml:11:9", "'Dash board' is no name", ""),
    "name of a file": ({"components__Big-Box": COMPONENT}, "components/Big-Box.toml:0:0", "is no name for a file", ""),
    "format": (body(b"format = 1", b"format = 9"), "vehicle.toml:1:10", "newer than this program knows", ""),
    "no format": (body(b"format = 1\n", b""), "vehicle.toml:1:1", "format is missing", ""),
    "format zero": (body(b"format = 1", b"format = 0"), "vehicle.toml:1:10", "no such format", ""),
    "format in words": (body(b"format = 1", b'format = "one"'), "vehicle.toml:1:10", "found text", ""),
    # names that point at nothing
    "place": (box(b'"a"', b'"aa"'), "components/box.toml:2:9", "there is no place 'aa'", "a"),
    "station": ({"lines__one": LINE + b'[[stations]]\nport = "box.cam"\n'}, "lines/one.toml:5:8", "there is no port of box 'cam'", "can"),
    "component": ({"lines__one": LINE + b'[[stations]]\nport = "boxx.can"\n'}, "lines/one.toml:5:8", "there is no component 'boxx'", "box"),
    "component alone": ({"lines__one": LINE + b'[[stations]]\nport = "box"\n'}, "lines/one.toml:5:8", "'box' names no port", "box.can"),
    "at": ({"lines__one": LINE + b'at = "bb"\n'}, "lines/one.toml:4:6", "there is no place 'bb'", "b"),
    "via": ({"lines__one": LINE + b'via = ["a", "c"]\n'}, "lines/one.toml:4:13", "there is no place 'c'", ""),
    "via twice": ({"lines__one": LINE + b'via = ["a", "a"]\n'}, "lines/one.toml:4:13", "'a' follows itself", ""),
    "controller": ({"lines__one": LINE.replace(b'"box.can"\n[', b'"bix.can"\n[')}, "lines/one.toml:1:14", "no component 'bix'", "box"),
    "cable": ({"lines__one": b'cable = "pair"\n' + LINE}, "lines/one.toml:1:9", "there is no cable 'pair'", ""),
    "rule set": ({"lines__one": b'rule_set = "SAE J1939-51"\n' + LINE}, "lines/one.toml:1:12", "no rule set", "SAE J1939-15"),
    "run end": ({"vehicle": BODY + b'[runs.r]\nfrom = "a"\nto = "z"\n'}, "vehicle.toml:13:6", "there is no place 'z'", ""),
    "lock port": ({"vehicle": BODY + b'[locks.l]\nport = "bx.can"\nmust = "be at an end"\n'}, "vehicle.toml:12:8", "no component 'bx'", "box"),
    "lock line": ({"vehicle": BODY + LOCK % (b"l", b"be on line", b"line", b"on")}, "vehicle.toml:14:8", "there is no line 'on'", "one"),
    "lock other": ({"vehicle": BODY + LOCK % (b"l", b"share a line with", b"with", b"box.cam")}, "vehicle.toml:14:8", "no port of box 'cam'", "can"),
    # messages, needs, forwards, chains
    "identifier in words": (said(b"0x123", b'"0x123"'), "messages/box.toml:3:14", "found text", ""),
    "identifier of 30 bits": (said(b"0x123", b"0x20000000"), "messages/box.toml:3:14", "is out of range", ""),
    "wide identifier": (said(b"0x123", b'0x1234\nwidth = "11 bit"'), "messages/box.toml:3:14", "does not fit into 11 bits", ""),
    "negative start": (said(b"start = 0", b"start = -1"), "messages/box.toml:6:9", "-1 is out of range", ""),
    "half a bit": (said(b"bits = 8", b"bits = 8.5"), "messages/box.toml:7:8", "a bare number", ""),
    "no period": (said(b'"10 ms"', b'"0 ms"'), "messages/box.toml:4:10", "'0 ms' is no period", ""),
    "negative period": (said(b'"10 ms"', b'"-10 ms"'), "messages/box.toml:4:10", "is negative", ""),
    "no gap": (said(b'period = "10 ms"', b'minimum_gap = "0 s"'), "messages/box.toml:4:15", "'0 s' is no minimum gap", ""),
    "no deadline": (said(b'"10 ms"', b'"10 ms"\ndeadline = "0 us"'), "messages/box.toml:5:12", "is no deadline", ""),
    "no cycle": ({"components__box": b'cycle = "0 ms"\n' + COMPONENT}, "components/box.toml:1:9", "'0 ms' is no cycle", ""),
    "no outline": (body(b'"4 m"', b'"0 m"'), "vehicle.toml:3:10", "'0 m' is no length", ""),
    "no period of a forward": (
        {"components__box": COMPONENT + b'[forwards.f]\nmessage = "box.hello"\nto = "can"\nperiod = "0 ms"\n', "messages__box": MESSAGES},
        "components/box.toml:7:10", "'0 ms' is no period", "",
    ),
    "never fresh": (needing(b'signal = "box.hello"\nfresh = "0 ms"\n'), "components/box.toml:6:9", "is no fresh", ""),
    "no gap between errors": ({"lines__one": b'error_gap = "0 ms"\n' + LINE}, "lines/one.toml:1:13", "is no error gap", ""),
    "late sample": ({"components__box": COMPONENT + b'sample_point = "150 %"\n'}, "components/box.toml:4:16", "is too much", ""),
    "high address": ({"components__box": COMPONENT + b"address = 256\n"}, "components/box.toml:4:11", "256 is out of range", ""),
    "no factor": (said(b"bits = 8", b"bits = 8\nfactor = 0.0"), "messages/box.toml:8:10", "factor is 0", ""),
    "falling bounds": (said(b"bits = 8", b"bits = 8\nlow = 10\nhigh = 5"), "messages/box.toml:9:8", "high 5 is below low 10", ""),
    "value beyond its bits": (said(b"bits = 8", b'bits = 8\nvalues = ["0 off", "300 too big"]'), "messages/box.toml:8:20", "8 bits (unsigned) cannot be 300", ""),
    "value below its bits": (said(b"bits = 8", b'bits = 8\nnumber = "signed"\nvalues = ["-129 low"]'), "messages/box.toml:9:11", "cannot be -129", ""),
    "value named twice": (said(b"bits = 8", b'bits = 8\nvalues = ["1 a", "1 b"]'), "messages/box.toml:8:18", "1 is named twice, first as '1 a'", ""),
    "value without number": (said(b"bits = 8", b'bits = 8\nvalues = ["off"]'), "messages/box.toml:8:11", "'off' names no value", ""),
    "no bits": (said(b"bits = 8", b"bits = 0"), "messages/box.toml:7:8", "0 bits make no number", ""),
    "odd float": (said(b"bits = 8", b'bits = 8\nnumber = "float"'), "messages/box.toml:7:8", "a float has", ""),
    "factor in words": (said(b"bits = 8", b'bits = 8\nfactor = "0.1"'), "messages/box.toml:8:10", "found text", ""),
    "factor without end": (said(b"bits = 8", b"bits = 8\nfactor = inf"), "messages/box.toml:8:10", "no finite number", ""),
    "selector": (said(b"bits = 8", b'bits = 8\nselected_by = "pace"\nselected_when = [1]'), "messages/box.toml:8:15", "there is no signal of this message 'pace'", ""),
    "selected never": (said(b"bits = 8", b'bits = 8\nselected_by = "speed"'), "messages/box.toml:5:1", "go together", ""),
    "nobody sends": (said(b'sender = "box.can"\n', b""), "messages/box.toml:1:1", "nobody sends the message", ""),
    "sender": (said(b'"box.can"', b'"bix.can"'), "messages/box.toml:1:10", "no component 'bix'", "box"),
    "too long": (said(b"0x123", b"0x123\nlength = 1786"), "messages/box.toml:4:10", "are too many", ""),
    "too long for FD": (said(b"0x123", b'0x123\nlength = 65\nframes = "FD"'), "messages/box.toml:4:10", "are too many", ""),
    "state": (said(b"0x123", b'0x123\nstates = ["drive"]'), "messages/box.toml:4:11", "there is no state 'drive'", ""),
    "period and gap": (said(b"0x123", b'0x123\nminimum_gap = "1 ms"'), "messages/box.toml:4:15", "has its gap by that", ""),
    "need": (needing(b'signal = "box.hullo"'), "components/box.toml:5:10", "there is no message in box 'hullo'", "hello"),
    "need of a signal": (needing(b'signal = "box.hello.sped"'), "components/box.toml:5:10", "there is no signal of hello 'sped'", "speed"),
    "need of nothing": (needing(b'signal = "box"'), "components/box.toml:5:10", "'box' names no message", ""),
    "need at no port": (needing(b'signal = "box.hello"\nport = "cam"'), "components/box.toml:6:8", "no port of box 'cam'", "can"),
    "forward": ({"components__box": COMPONENT + b'[forwards.f]\nmessage = "bix.hello"\nto = "can"\n', "messages__box": MESSAGES}, "components/box.toml:5:11", "no file of messages 'bix'", "box"),
    "chain": ({"vehicle": BODY + b'[chains.c]\nsteps = ["box.hello", "box.hallo"]\neffect = "box"\n', "messages__box": MESSAGES}, "vehicle.toml:12:23", "no message in box 'hallo'", "hello"),
    # entries that contradict themselves or each other
    "run to itself": ({"vehicle": BODY + b'[runs.r]\nfrom = "a"\nto = "a"\n'}, "vehicle.toml:13:6", "joins a place to itself", ""),
    "empty station": ({"lines__one": LINE + b"[[stations]]\n"}, "lines/one.toml:4:1", "neither a port nor a terminator", ""),
    "full station": ({"lines__one": LINE + b'terminator = "120 ohm"\nat = "a"\n'}, "lines/one.toml:2:1", "both a port and a terminator", ""),
    "terminator nowhere": ({"lines__one": LINE + b'[[stations]]\nterminator = "120 ohm"\n'}, "lines/one.toml:4:1", "the terminator has no place", ""),
    "lock without line": ({"vehicle": BODY + b'[locks.l]\nport = "box.can"\nmust = "be on line"\n'}, "vehicle.toml:11:1", "line is missing", ""),
    "lock with too much": ({"vehicle": BODY + LOCK % (b"l", b"be at an end", b"line", b"one")}, "vehicle.toml:14:8", "line has no meaning", ""),
    "lock with itself": ({"vehicle": BODY + LOCK % (b"l", b"share a line with", b"with", b"box.can")}, "vehicle.toml:14:8", "the same port twice", ""),
    "two lines for one port": (
        {**TWO, "vehicle": BODY + LOCK % (b"l", b"be on line", b"line", b"one") + LOCK % (b"m", b"be on line", b"line", b"two")},
        "vehicle.toml:18:8", "cannot be on line 'two': lock 'l' holds it on line 'one'", "",
    ),
    "together and apart": (
        {**TWO, "vehicle": BODY + LOCK % (b"l", b"share a line with", b"with", b"bix.can") + LOCK % (b"m", b"not share a line with", b"with", b"bix.can")},
        "vehicle.toml:18:8", "other locks hold them together", "",
    ),
    "apart on one line": (
        {
            **TWO,
            "vehicle": BODY + LOCK % (b"l", b"be on line", b"line", b"one")
            + (LOCK % (b"m", b"be on line", b"line", b"one")).replace(b"box.can", b"bix.can")
            + LOCK % (b"n", b"not share a line with", b"with", b"bix.can"),
        },
        "vehicle.toml:22:8", "other locks hold them together", "",
    ),
    "together on two lines": (
        {
            **TWO,
            "vehicle": BODY + LOCK % (b"l", b"share a line with", b"with", b"bix.can")
            + LOCK % (b"m", b"be on line", b"line", b"one")
            + (LOCK % (b"n", b"be on line", b"line", b"two")).replace(b"box.can", b"bix.can"),
        },
        "vehicle.toml:22:8", "bix.can cannot be on line 'two'", "",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_it_is_told_where_it_stands_and_what_is_wrong(case):
    files, place, message, nearest = CASES[case]
    found = problems(**files)
    hits = [item for item in found if f"{item.file}:{item.line}:{item.column}".startswith(place)]
    hits = [item for item in hits if message in item.message]
    assert hits, found
    assert hits[0].nearest == nearest
    assert hits[0].expected
    assert len(found) == (2 if case == "unknown key" else 1), found


def test_all_problems_are_told_at_once_in_order():
    found = problems(
        vehicle=BODY.replace(b'"4 m"', b"4").replace(b'"2 m"\n[', b'"2 ohm"\n['),
        components__box=b"",
        lines__one=b"[[stations]]\n",
    )
    assert [(item.file, item.line) for item in found] == [
        ("components/box.toml", 1),
        ("components/box.toml", 1),
        ("lines/one.toml", 1),
        ("vehicle.toml", 3),
        ("vehicle.toml", 4),
    ]


def test_one_mistake_is_not_told_again_wherever_the_name_is_used():
    assert [item.message for item in problems(components__box=COMPONENT.replace(b"other", b"wrong"))] == [
        "'wrong' is no choice here"
    ]
    assert len(problems(components__box=b"role = ")) == 1
    assert len(problems(vehicle=BODY + b"?")) == 1
    assert len(problems(vehicle=BODY.replace(b'x = "1 m"', b'x = "1"'))) == 1


def test_the_caret_stands_under_the_culprit():
    found = problems(vehicle=BODY.replace(b'"4 m"', b'"120 ohm"'))[0]
    assert found.excerpt == 'length = "120 ohm"'
    assert found.excerpt[found.column - 1 : found.column - 1 + found.width] == '"120 ohm"'
    found = problems(vehicle=BODY.replace(b"length", b'\t"le\\u006eght"'))[1]
    assert found.excerpt[found.column - 1 : found.column - 1 + found.width] == '"le\\u006eght"'
    assert "\t" not in found.excerpt


def test_windows_line_ends_and_wide_letters_do_not_move_the_caret():
    found = problems(vehicle=BODY.replace(b'"x"', '"Ü€𝄞"'.encode()).replace(b"4 m", b"4 x").replace(b"\n", b"\r\n"))[0]
    assert (found.line, found.column, found.excerpt) == (3, 10, 'length = "4 x"')


def test_a_byte_order_mark_is_passed_over():
    loaded = understood({name: b"\xef\xbb\xbf" + text for name, text in TEXTS.items()})
    assert loaded.problems == ()
    assert loaded.vehicle == understood(TEXTS).vehicle


def test_a_file_with_very_many_problems_is_cut_short_and_quickly():
    text = BODY + b"".join(b"unknown_key_number_%d = 1\n" % number for number in range(60_000))
    begin = time.process_time()
    found = problems(vehicle=text)
    assert time.process_time() - begin < 10
    assert len(found) == 101
    assert any("more problems" in item.message for item in found)


def test_what_can_be_read_is_read_in_spite_of_problems():
    files = TEXTS | {
        "components/bad.toml": b"",
        "vehicle.toml": BODY + b'[places.c]\nx = "1"\n[runs.r]\nfrom = "a"\nto = "c"\n',
    }
    loaded = understood(files)
    assert {item.message.partition(":")[0] for item in loaded.problems} >= {"role is missing", "y is missing"}
    assert set(loaded.vehicle.components) == {"box"}
    assert set(loaded.vehicle.places) == {"a", "b"}
    assert set(loaded.vehicle.runs) == {"r"}
    assert understood(TEXTS | {"vehicle.toml": b""}).vehicle is None
