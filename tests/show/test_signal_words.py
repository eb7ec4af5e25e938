"""What an edge meets, in sentences: each cause by its own share."""

import math

from loomwright.show.signal_words import UNTOLD, Ends, deadline_words, echo_words, long_piece, remarks, short_branches
from loomwright.solve.echoes import Echo, Mismatch, Spot

CABLE_OHM = 95.0


def called(stop):
    return {0: "the terminator at box under the seat", 1: "Pump", 2: "Lamp"}[stop]


def told(*found, ends=UNTOLD, **more):
    return remarks(found, 2, 5e-9, called, ends=ends, **more)


def outcome(**more):
    return short_branches(delay_s_per_m=5e-9, **more)


def test_a_wrong_resistor_is_told_by_its_own_share_and_the_spot_beside_it():
    """(60 - 95)/(60 + 95) is 23 %; a branch of 95 ohm beside it leaves 36.8 ohm, and (36.8 - 95)/(36.8 + 95) is 44 %."""
    both = 1.0 / (1.0 / 60.0 + 1.0 / CABLE_OHM)
    end = Mismatch(0, 0, Spot.END, (both - CABLE_OHM) / (both + CABLE_OHM), 0.0, 60.0)
    cable, resistor = told(end, ends=Ends({0: 60.0}, CABLE_OHM))
    assert cable.replace("\u202f", " ").startswith(
        "The cable has 95.0 Ω where 120 Ω belongs: even at a right terminator 12 %"
    )
    said = resistor.replace("\u202f", " ")
    assert said.startswith("The terminator at box under the seat has 60.0 Ω instead of 120 Ω: on this cable of 95.0 Ω")
    assert "it alone sends back 23 % of each edge, 44 % with all that hangs at the same spot." in said


def test_a_right_resistor_is_not_blamed_for_its_cable():
    end = Mismatch(0, 1, Spot.END, 25.0 / 215.0, 0.0, 120.0)
    cable, resistor = told(end, ends=Ends({1: 120.0}, CABLE_OHM))
    assert "The cable has" in cable
    said = resistor.replace("\u202f", " ")
    assert (
        said
        == "The termination of Pump has the right 120 Ω: on this cable of 95.0 Ω it alone sends back 12 % of each edge."
    )
    assert told(Mismatch(0, 1, Spot.END, 0.0, 0.0, 120.0), ends=Ends({1: 120.0}, 120.0)) == ()


def test_an_open_end_is_open_whatever_the_cable():
    (said,) = told(Mismatch(0, 1, Spot.END, 1.0, 0.0, math.inf), ends=Ends({}, 120.0))
    assert said.startswith("The trunk ends open at Pump")


def test_short_branches_tell_their_outcome():
    tip = Mismatch(0, 2, Spot.TIP, 1.0, 0.3, math.inf)
    (said,) = told(tip, short_ones=outcome(late=False, late_at_worst=False))
    assert said.startswith("The branch to Lamp is short")
    assert "Here they do not matter" in said
    assert "Here they do matter" in outcome(rings=(0.25, 0.3), late=True, late_at_worst=True)
    assert "not these that ring" in outcome(rings=(2.25, 2.1), late=True, late_at_worst=True)
    assert "At typical values they do not matter" in outcome(late=False, late_at_worst=True)
    assert "when the rest is right" in outcome(late=True, late_at_worst=True)


def test_a_piece_by_hand_and_the_deadline_in_a_chart():
    assert long_piece(28.0, 0.95, "Gear selector", "Switch panel").replace("\u202f", " ") == (
        "28.00 m of trunk between Gear selector and Switch panel, entered by hand; the way is 0.95 m: cut it down."
    )
    assert deadline_words(255e-9) == "must be sure by here (sampled 255 ns later)"


def test_an_echo_from_a_cause_is_marked():
    echo = Echo(Mismatch(0, 2, Spot.TIP, 1.0, 4.0, math.inf), 60e-9, 40e-9, 0.3)
    assert echo_words(echo, called).endswith("30 % of its height")
    assert echo_words(echo, called, cause=True).endswith("; one of the causes told above")
