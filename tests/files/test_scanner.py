import contextlib
import random
import time
import tomllib

import pytest
from hypothesis import assume, given, settings

from loomwright.files.scanner import scan
from tests.files.generate import toml_texts


def keys_of(value, path=()):
    """Every key path that tomllib knows."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield (*path, key)
            yield from keys_of(inner, (*path, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield (*path, number)
            yield from keys_of(inner, (*path, number))


def valid(text):
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


@settings(max_examples=300, deadline=None)
@given(toml_texts())
def test_the_scanner_lists_the_same_keys_as_tomllib_and_the_spans_hold_their_values(text):
    data = valid(text)
    assume(data is not None)
    found = scan(text)
    assert set(found.marks) == set(keys_of(data))
    for path, mark in found.marks.items():
        if mark.form == "key":
            here = data
            for step in path:
                here = here[step]
            assert repr(tomllib.loads(f"x = {text[mark.start : mark.end]}")["x"]) == repr(here)
            if isinstance(path[-1], str):
                name = text[mark.name_start : mark.name_end]
                assert next(iter(tomllib.loads(f"{name} = 0"))) == path[-1]
    for statement in found.statements:
        mark = found.marks[statement.path]
        assert (statement.value, statement.end) == (mark.start, mark.end)
        assert statement.parts[-1] == mark.name_start


ODD = [
    'a = """x\ny""""\nb = 1',
    'a = """"two" """\nb = 1',
    "a = '''it''s'''''\nb = 1",
    'a = """\\\n   next \\"""" \nb = 1',
    "when = 1979-05-27 07:32:00 # noon\nb = 1979-05-27\nc = 07:32:00",
    'a = [ # one\n  "x", # two\n\n  [1,2,], { y = "]" }\n]\nb = 1',
    '"quoted key".\'other\'."" = { a.b = 1, "c" = [ { d = 2 } ] }',
    "[[a]]\n[a.b]\nc = 1\n[[a.d]]\n[[a.d]]\ne = 1\n[[a]]\n[a.b]\n",
    '[ a . "b c" ]\n[x]\r\ny = 1\r\n\r\n# end\r\n',
    "[a.b.c]\n[a]\nd.e = 1",
    "a = -0x1F_0\nb=+1.5e-3\tc",
    'a = ""\nb = \'\'\nc = """"""',
]


@pytest.mark.parametrize("text", ODD)
def test_odd_spellings_are_found_like_all_others(text):
    data = valid(text)
    if data is not None:
        assert set(scan(text).marks) == set(keys_of(data))
    else:
        assert text == ODD[10]


def test_headers_are_found_in_order():
    found = scan("[a]\nx = 1\n[[b]]\ny = 2\n[[b]]\n[b.c]\nz = 3\n")
    assert [header.path for header in found.headers] == [("a",), ("b", 0), ("b", 1), ("b", 1, "c")]
    assert [(entry.path, entry.header) for entry in found.statements] == [
        (("a", "x"), 0),
        (("b", 0, "y"), 1),
        (("b", 1, "c", "z"), 3),
    ]


def test_time_grows_with_the_length_of_the_text_and_no_faster():
    line = 'key{} = "value" # remark\nlist{} = ["a", "b"]\n'

    def seconds(lines):
        text = "".join(line.format(number, number) for number in range(lines))
        begin = time.process_time()
        scan(text)
        return time.process_time() - begin

    seconds(100)
    short = min(seconds(1_000) for _ in range(3))
    assert min(seconds(20_000) for _ in range(3)) < 20 * 6 * short


def test_text_that_is_not_toml_ends_the_scan_with_an_error_and_not_with_a_hang():
    chance = random.Random(7)
    for _ in range(300):
        text = "".join(chance.choice("ab=.[]{}\"'#\n\\, 1") for _ in range(30))
        with contextlib.suppress(ValueError, IndexError):
            scan(text)
