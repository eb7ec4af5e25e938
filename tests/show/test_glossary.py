import pytest

from loomwright.judge import RULES
from loomwright.show.glossary import glossary, pieces
from loomwright.show.words.formulas import FIGURES
from loomwright.show.words.formulas import RULES as FORMULAS

# What a learner meets on the pages; each has to be explained.
MET = (
    "bus line", "trunk", "branch", "stub", "termination", "bit rate", "sample point", "dominant", "recessive", "splice",
    "pigtail", "own lead", "identifier width", "FD", "J1939", "CANopen", "node", "impedance", "propagation delay",
    "service plug", "gateway", "precharge", "contactor", "port", "station", "stop", "run", "place", "rule set", "finding",
    "deviation", "lock", "fact", "known", "assumed", "unknown", "frames", "protocols", "twisted pair", "loop resistance",
    "meter reading", "input resistance", "node capacitance", "transceiver", "cavity", "daisy chain", "inverter",
    "battery manager", "high voltage", "insulation monitor",
)  # fmt: skip


@pytest.mark.parametrize("word", MET)
def test_every_trade_term_has_an_entry(word):
    assert [name for _, name in pieces(word) if name] != []
    assert len(pieces(word)) == 1


def test_there_are_enough_of_them_and_each_says_something():
    assert len(glossary()) >= 45
    for term in glossary().values():
        assert 20 <= len(term.short) <= 120, term.name
        assert len(term.longer) > 40, term.name
        assert term.short.endswith("."), term.name


def test_every_entry_that_another_one_leads_to_exists():
    assert {other for term in glossary().values() for other in term.see} <= set(glossary())
    assert all(term.name not in term.see for term in glossary().values())


def test_no_spelling_belongs_to_two_terms():
    spelt = [word.lower() for term in glossary().values() for word in (term.term, *term.also)]
    assert sorted(spelt) == sorted(set(spelt))


@pytest.mark.parametrize("name", ["contactor", "precharge", "high-voltage", "inverter"])
def test_terms_of_high_voltage_say_who_may_work_there(name):
    text = glossary()[name].longer
    assert "trained and licensed" in text
    assert "local rules" in text


def test_the_first_use_alone_is_marked_and_the_longest_term_wins():
    assert pieces("The trunk ends; the trunk has a terminating resistor.") == (
        ("The ", ""),
        ("trunk", "trunk"),
        (" ends; the trunk has a ", ""),
        ("terminating resistor", "termination"),
        (".", ""),
    )
    assert pieces("trunk", {"trunk"}) == (("trunk", ""),)


def test_names_of_files_and_paths_are_no_terms():
    for text in ("lines.drive.trunk_m", "branch_m", "nodes-left", "service.port", "trunkline"):
        assert [name for _, name in pieces(text) if name] == [], text


def test_nothing_of_a_text_is_lost():
    text = "A gateway on J1939; FD frames, unknown facts."
    assert "".join(words for words, _ in pieces(text)) == text


def test_every_rule_has_its_formula_in_words():
    assert set(FORMULAS) == {rule.code for rule in RULES}
    assert all(len(formula.words) > 20 for formula in (*FORMULAS.values(), *FIGURES.values()))
