import tomllib

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


@settings(max_examples=400, deadline=None)
@given(toml_texts())
def test_the_scanner_lists_the_same_keys_as_tomllib(text):
    data = valid(text)
    assume(data is not None)
    assert set(scan(text).marks) == set(keys_of(data))


@settings(max_examples=200, deadline=None)
@given(toml_texts())
def test_the_span_of_every_value_holds_that_value(text):
    data = valid(text)
    assume(data is not None)
    for path, mark in scan(text).marks.items():
        if mark.table:
            continue
        here = data
        for step in path:
            here = here[step]
        if any(len(other) > len(path) and it == mark for other, it in scan(text).marks.items()):
            continue  # a table made by a dotted key has no text of its own
        again = tomllib.loads(f"x = {text[mark.value[0] : mark.value[1]]}")["x"]
        assert repr(again) == repr(here)


def test_headers_and_blocks_are_found_in_order():
    text = "[a]\nx = 1\n[[b]]\ny = 2\n[[b]]\n[b.c]\nz = 3\n"
    found = scan(text)
    assert [path for path, _, _ in found.headers] == [("a",), ("b", 0), ("b", 1), ("b", 1, "c")]
    assert set(found.marks) == {
        ("a",),
        ("a", "x"),
        ("b",),
        ("b", 0),
        ("b", 0, "y"),
        ("b", 1),
        ("b", 1, "c"),
        ("b", 1, "c", "z"),
    }
