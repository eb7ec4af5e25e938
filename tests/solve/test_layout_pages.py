"""Which signals are in a message together, against trying every value of every selector."""

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from loomwright.model.message import Message, Signal
from loomwright.model.table import Table
from loomwright.solve.layouts import MOST_PAGES, bits_of, pages_of


def paged(**signals):
    return pages_of(Message(signals=Table(signals)))


def test_without_a_selector_there_is_one_page_with_everything():
    (page,) = paged(a=Signal(0, 8), b=Signal(8, 8))
    assert page.when == ()
    assert page.signals == ("a", "b")


def test_values_that_bring_the_same_signals_share_a_page():
    one, two = (Signal(8, 8, selected_by="page", selected_when=when) for when in ((0, 1, 3), (2,)))
    pages = paged(page=Signal(0, 8, selects=True), one=one, two=two)
    assert [(page.when, set(page.signals)) for page in pages] == [
        ((("page", (0, 1, 3)),), {"page", "one"}),
        ((("page", (2,)),), {"page", "two"}),
    ]


def test_a_selector_may_be_selected_itself():
    sub = Signal(8, 4, selects=True, selected_by="page", selected_when=(1,))
    one, two = (Signal(16, 8, selected_by="sub", selected_when=(when,)) for when in (0, 1))
    other = Signal(8, 8, selected_by="page", selected_when=(2,))
    pages = paged(page=Signal(0, 8, selects=True), sub=sub, one=one, two=two, other=other)
    assert [set(page.signals) for page in pages] == [{"page", "sub", "one"}, {"page", "sub", "two"}, {"page", "other"}]
    assert pages[1].when == (("page", (1,)), ("sub", (1,)))


def test_selectors_that_select_each_other_bring_nothing_and_come_to_an_end():
    one = Signal(0, 8, selected_by="two", selected_when=(0,))
    two = Signal(8, 8, selected_by="one", selected_when=(0,))
    (page,) = paged(one=one, two=two, free=Signal(16, 8))
    assert page.signals == ("free",)


def test_many_selectors_do_not_make_pages_without_end():
    signals = {f"s{n}": Signal(n, 1, selects=True) for n in range(20)}
    for n in range(20):
        for value in (0, 1):
            signals[f"v{n}_{value}"] = Signal(24 + n, 1, selected_by=f"s{n}", selected_when=(value,))
    assert len(paged(**signals)) == MOST_PAGES


@given(st.lists(st.tuples(st.integers(0, 6), st.frozensets(st.integers(0, 2), min_size=1)), max_size=6))
def test_pages_are_what_trying_every_value_finds(wanted):
    """Signal n may be selected by an earlier one (its number less one), or be there always (0)."""
    signals = {}
    for number, (by, when) in enumerate(wanted):
        selector = f"s{by - 1}" if 0 < by <= number else ""
        signals[f"s{number}"] = Signal(8 * number, 8, selected_by=selector, selected_when=tuple(sorted(when)))
    selectors = sorted({signal.selected_by for signal in signals.values()} - {""})
    useful = [
        sorted({value for signal in signals.values() if signal.selected_by == name for value in signal.selected_when})
        for name in selectors
    ]
    tried = set()
    for values in product(*useful):
        chosen = dict(zip(selectors, values, strict=True))
        there = set()
        for name, signal in signals.items():  # a selector comes before what it selects
            by = signal.selected_by
            if not by or (by in there and chosen[by] in signal.selected_when):
                there.add(name)
        tried.add(frozenset(there))
    found = pages_of(Message(signals=Table(signals)))
    if len(found) < MOST_PAGES:
        assert {frozenset(page.signals) for page in found} == tried


def test_bits_are_told_from_the_lowest():
    assert bits_of(Signal(7, 9, "big endian")) == (15, 0, 1, 2, 3, 4, 5, 6, 7)
