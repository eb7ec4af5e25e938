from loomwright.propose.arrangement import Arrangement, BrokenRule, Difference, LineLengths, LockPrice, SecondBest
from loomwright.propose.limits import LineLimits
from loomwright.propose.task import Unplaced
from loomwright.propose.weights import Weights
from loomwright.show.arranged import arrangement_text, headline, remarks
from loomwright.terms.change import Change


def plan(**values):
    line = LineLengths("drive", 12.0, 9.0, 3.0, 1.25, 1, LineLimits())
    usual = {
        "status": "proved optimal", "change": Change("Lay all lines as planned"), "lines": (line,), "cable_m": 12.0,
        "score_m": 15.3, "bound_m": 15.3, "gap": 0.0, "broken": (), "broken_count": 0, "fewest_broken": 0,
        "unplaced": (), "weights": Weights(), "seconds": 1.0,
    }  # fmt: skip
    return Arrangement(**{**usual, **values})


def test_the_headline_says_proved_or_the_gap():
    assert headline(plan()).startswith("Proved optimal: 12.00")
    assert "gap 2.0 %" in headline(plan(status="gap", gap=0.02, bound_m=15.0))
    assert "stopped early" in headline(plan(status="gap", gap=0.02, bound_m=15.0, cancelled=True))
    assert headline(plan(status="no plan found", score_m=None)) == "There is no plan: no plan found."


def test_what_a_lock_costs_and_what_stays_unsaid():
    prices = (
        LockPrice("a", 0.0, 0.0, 0, True),
        LockPrice("b", 1.5, 2.0, 0, True),
        LockPrice("c", None, None, None, False),
    )
    said = list(remarks(plan(lock_prices=prices)))
    assert "Lock a costs nothing." in said
    assert any(sentence.startswith("Lock b costs 1.50") for sentence in said)
    assert "What lock c costs was not found in the time given." in said


def test_the_second_best_plan_tells_what_differs():
    second = SecondBest(
        "proved optimal", Change(""), 12.4, 15.5, 15.5,
        (Difference("joint", "fan.can", ("nose",), ("tie",)), Difference("trunk", "body", ("a", "b"), ("a", "c", "b"))),
    )  # fmt: skip
    said = " ".join(remarks(plan(second_best=second)))
    assert "fan.can joins at tie instead of nose" in said
    assert "the trunk of body passes c" in said


def test_ports_without_a_line_and_broken_rules_are_told():
    lost = Unplaced("pump.can", (("drive", ("bit rate",)),), (("components", "pump", "ports", "can", "termination"),))
    said = " ".join(remarks(plan(unplaced=(lost,), broken=(BrokenRule("trunk-length", "drive"),), fewest_broken=1)))
    assert "pump.can finds no line (drive: bit rate)" in said
    assert "It breaks trunk-length (line drive)" in said


def test_it_prints_in_a_terminal():
    from rich.console import Console

    console = Console(width=100, record=True)
    console.print(arrangement_text(plan()))
    assert "drive" in console.export_text()
