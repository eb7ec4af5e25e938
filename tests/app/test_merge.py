from hypothesis import given
from hypothesis import strategies as st

from loomwright.app.merge import merged

LINES = st.lists(st.sampled_from([b"a\n", b"b\n", b"c\n", b"d\n", b"\n"]), max_size=8).map(b"".join)


def test_changes_of_different_lines_come_together():
    base = b"a = 1\nb = 2\nc = 3\nd = 4\n"
    mine = b"a = 9\nb = 2\nc = 3\nd = 4\n"
    theirs = b"a = 1\nb = 2\nc = 3\nd = 8\n# remark\n"
    assert merged(base, mine, theirs) == b"a = 9\nb = 2\nc = 3\nd = 8\n# remark\n"


def test_changes_of_the_same_line_do_not():
    assert merged(b"a = 1\n", b"a = 2\n", b"a = 3\n") is None


def test_two_additions_at_the_same_place_do_not():
    assert merged(b"a\nb\n", b"a\nx\nb\n", b"a\ny\nb\n") is None


@given(LINES, LINES)
def test_nothing_changed_on_one_side_gives_the_other(base, other):
    assert merged(base, base, other) == other
    assert merged(base, other, base) == other


@given(LINES, LINES, LINES)
def test_the_order_of_the_two_changes_does_not_matter(base, one, other):
    assert merged(base, one, other) == merged(base, other, one)
