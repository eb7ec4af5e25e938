"""How much of the time there is a bit needs, and what a line's bits are said to be."""

import math

import pytest

from loomwright.show.signal_sizes import COMFORTABLE, Size
from loomwright.show.signal_words import headline, verdict_told
from loomwright.solve.signal import LineSignal, PairSignal
from loomwright.terms.finding import Verdict


def pair(typical_s, worst_s, sender="one.can", receiver="two.can"):
    return PairSignal(sender, receiver, worst_s, worst_s / 2, typical_s, 0.1, 0.0)


def line(*pairs):
    return LineSignal("drive", 4e-6, 3.5e-6, 255e-9, 1e-9, 0.0, pairs)


@pytest.mark.parametrize(
    ("needs_s", "word"),
    [
        (0.0, "comfortable"),
        (COMFORTABLE * 3e-6, "comfortable"),
        (COMFORTABLE * 3e-6 + 1e-9, "close"),
        (3e-6, "close"),
        (3.001e-6, "too late"),
        (math.inf, "too late"),
    ],
)
def test_a_share_of_the_time_is_comfortable_close_or_too_late(needs_s, word):
    assert Size(needs_s, 3e-6).word == word


def test_a_size_is_told_against_what_there_is():
    assert Size(380e-9, 3245e-9).text == "needs 380 of the 3245 ns there are (12 %)"
    assert Size(math.inf, 3245e-9).text == "is never sure before the bit ends"
    assert Size(300e-9, -5e-9).text == "needs 300 ns, and the transceivers leave none"
    assert Size(300e-9, 0.0).word == "too late"


def test_the_headline_tells_the_slowest_and_the_worst_corner_each_with_its_share():
    told = headline(line(pair(380e-9, 600e-9), pair(100e-9, 700e-9, receiver="three.can")), str.title)
    assert "The slowest, Two.Can, needs 380 of the 3245 ns there are (12 %): comfortable." in told
    assert "Three.Can needs 700 of the 3245 ns there are (22 %) for what One.Can sends: comfortable." in told
    late = headline(line(pair(3300e-9, math.inf)), str.title)
    assert late.startswith("Bits come too late: Two.Can needs 3300 of the 3245 ns there are (102 %)")
    assert "Two.Can is never sure before the bit ends for what One.Can sends: too late." in late
    assert headline(line(pair(math.inf, math.inf)), str.title).startswith("Bits do not arrive")


def test_what_is_late_at_the_worst_corner_is_tight_at_best():
    assert verdict_told(Verdict.HOLDS, late_at_worst=True) == (Verdict.TIGHT, "holds typically, late at worst")
    assert verdict_told(Verdict.TIGHT, late_at_worst=True) == (Verdict.TIGHT, "tight typically, late at worst")
    assert verdict_told(Verdict.HOLDS, late_at_worst=False) == (Verdict.HOLDS, "holds")
    assert verdict_told(Verdict.BROKEN, late_at_worst=True) == (Verdict.BROKEN, "broken")
