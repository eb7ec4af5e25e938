"""The first box: what is wrong, where, how bad, what to do, the most harmful first."""

import math
from dataclasses import fields

import pytest

from loomwright.app.project import open_project
from loomwright.app.signal import LinePhysics
from loomwright.app.signal_first import first_box, of_line
from loomwright.app.signal_remarks import long_pieces
from loomwright.app.start import start_from_example
from loomwright.judge.rule import judge
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.judge.rules.signal_evidence import SignalEvidence
from loomwright.show.signal_first import HARM
from loomwright.show.words import finding_cure
from loomwright.solve.signal import LineSignal, PairSignal
from loomwright.terms.answer import Blocked, Solved
from loomwright.terms.finding import Verdict, Weight

SAMPLE_S, ELECTRONICS_S = 1.5e-6, 255e-9
THERE_S = SAMPLE_S - ELECTRONICS_S


def project_of(tmp_path, example):
    start_from_example(tmp_path / example, example)
    return open_project(tmp_path / example)


def physics(name, *pairs):
    """A line whose pairs take the times given: (sender, receiver, typical, worst corner)."""
    made = tuple(PairSignal(sender, to, worst_s, 0.0, typical_s, 0.1, 0.0) for sender, to, typical_s, worst_s in pairs)
    signal = Solved(LineSignal(name, 2e-6, SAMPLE_S, ELECTRONICS_S, 1e-9, 0.0, made))
    nothing = Blocked(())
    evidence = SignalEvidence(name, None, nothing, signal, nothing)
    answers = {field.name: nothing for field in fields(LinePhysics)}  # whatever else is asked of a line waits here
    return LinePhysics(**answers | {"name": name, "signal": signal, "findings": judge(SIGNAL_RULES, evidence)})


@pytest.fixture
def found(tmp_path):
    return project_of(tmp_path, "tipper-as-found")


@pytest.fixture
def sound(tmp_path):
    return project_of(tmp_path, "tipper")


def plain(text):
    return text.replace("\u202f", " ")


def test_every_broken_finding_of_the_line_stands_there_with_place_figure_and_cure(found):
    box = first_box(found, "body", None, None, "")
    broken = [own for own in of_line(found, "body") if own.verdict is Verdict.BROKEN]
    assert sorted(wrong.rule for wrong in box.wrong) == sorted({own.rule for own in broken})
    assert sum(len(wrong.spots) for wrong in box.wrong) == len(broken)
    assert all(wrong.cure and wrong.sentence and all(spot.where for spot in wrong.spots) for wrong in box.wrong)
    assert [wrong.rule for wrong in box.wrong] == sorted(
        (wrong.rule for wrong in box.wrong), key=lambda rule: next(at for at, group in enumerate(HARM) if rule in group)
    )
    branch = next(wrong for wrong in box.wrong if wrong.rule == "branch-length")
    (spot,) = branch.spots
    assert spot.where == "Telematics box (roof shelf), 31.75 m along the trunk"
    assert plain(spot.size) == "4.25 m, at most 3.00 m: 1.25 m too much (42 %)"
    assert spot.try_it
    texts = " ".join(f"{w.sentence} {w.cure} {w.cause} {' '.join(s.where for s in w.spots)}" for w in box.wrong)
    assert ".can" not in texts
    assert "`loomwright" not in texts


def test_the_same_change_is_offered_once(found):
    box = first_box(found, "body", None, None, "")
    two, meter = (next(w for w in box.wrong if w.rule == rule) for rule in ("two-terminations", "line-resistance"))
    assert two.spots[0].try_it == "Switch off the termination of Display"
    assert plain(two.spots[0].size) == "3 instead of 2"
    assert meter.spots[0].try_it == ""
    assert meter.cure == "The change under “Exactly two terminations” mends this too."


def test_a_drum_left_in_the_trunk_is_named_where_the_trunk_is_too_long(found, sound):
    (piece,) = long_pieces(found, "body")
    assert plain(piece).startswith(
        "28.00 m of trunk between Gear selector and Switch panel, entered by hand; the way is 0.95"
    )
    trunk = next(w for w in first_box(found, "body", None, None, "").wrong if w.rule == "trunk-length")
    assert trunk.cause == piece
    assert long_pieces(sound, "body") == ()


def test_late_bits_stand_before_terminations_and_lead_to_them(found):
    late = physics(
        "body", ("heater.can", "display.can", 1.5e-6, math.inf), ("heater.can", "telematics.can", 1.3e-6, 1.3e-6)
    )
    rules = [wrong.rule for wrong in first_box(found, "body", late, None, "").wrong]
    assert rules.index("signal-settling") < rules.index("two-terminations")
    bits = next(w for w in first_box(found, "body", late, None, "").wrong if w.rule == "signal-settling")
    assert bits.sentence == "Display looks before it can be sure of what Cab heater sends."
    assert "Put right first what is told under: Exactly two terminations" in bits.cause
    assert [spot.where.partition(" (")[0] for spot in bits.spots] == ["Display", "Telematics box"]
    assert bits.spots[0].size.startswith("needs 1500 of the 1245 ns there are (120 %): too late")


def test_in_time_typically_and_late_at_worst_is_not_told_to_be_left_alone(sound):
    for typical_s, word in ((0.2e-6, "holds typically, late at worst"), (1.2e-6, "tight typically, late at worst")):
        box = first_box(sound, "drive", physics("drive", ("pedal.can", "inverter.can", typical_s, 1.3e-6)), None, "")
        (wrong,) = box.wrong
        assert (wrong.verdict, wrong.word) == ("tight", word)
        assert "Nothing has to change" not in wrong.cure
        assert "gain time before you build" in wrong.cure
        assert (
            "with all tolerances at their worst it needs 1300 of the 1245 ns there are (104 %): too late"
            in wrong.spots[0].size
        )
    near = physics("drive", ("pedal.can", "inverter.can", 1.2e-6, 1.21e-6))
    governs = [own for own in near.findings if own.reading.weight is Weight.GOVERNS]
    assert [finding_cure(own) for own in governs] == ["Nothing has to change; leave this margin alone when you build."]


def test_where_nothing_is_wrong_the_margin_is_told_in_plain_words(sound):
    box = first_box(sound, "drive", physics("drive", ("pedal.can", "inverter.can", THERE_S / 4, THERE_S / 2)), None, "")
    assert box.wrong == ()
    assert box.head == "Nothing is wrong on this line"
    assert "75 % of the time there is are left at typical values, 50 % at the worst of ten extremes" in box.told
    waiting = first_box(sound, "drive", None, None, "")
    assert waiting.head == "Nothing is wrong with the wiring"
    assert "not computed yet" in waiting.told


def test_both_populations_are_counted_each_by_itself(found):
    box = first_box(found, "body", physics("body", ("heater.can", "display.can", 1e-7, 1e-7)), None, "")
    broken = sum(own.verdict is Verdict.BROKEN for own in of_line(found, "body"))
    assert box.beside.startswith("Checks of the bits: 1 holds. Other rules of this line: ")
    assert f"{broken} are broken" in box.beside
