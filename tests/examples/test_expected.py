"""Each shipped example is judged as its ``expected/findings.toml`` says: all that is listed is found, and nothing else."""

import tomllib
from collections import Counter
from importlib.resources import files
from pathlib import Path

import pytest

from loomwright.app.check import check
from loomwright.app.questions import Answers
from loomwright.app.start import examples
from loomwright.files import load
from loomwright.propose import arrange
from loomwright.propose.arrangement import PROVED
from loomwright.terms.answer import Solved
from loomwright.terms.change import path_text
from loomwright.terms.finding import Verdict, Weight
from tests.coils import without_coils

ROOT = Path(str(files("loomwright") / "examples"))
GOOD = ("bench", "minibus", "tipper")
AS_FOUND = "tipper-as-found"


def expected(name):
    text = (ROOT / name / "expected" / "findings.toml").read_text(encoding="utf-8")
    return tomllib.loads(text).get("findings", [])


def key(entry):
    return entry["rule"], entry["subject"], entry["verdict"]


def test_every_example_is_on_offer():
    assert set(examples()) == {*GOOD, AS_FOUND}


@pytest.mark.parametrize("name", [*GOOD, AS_FOUND])
def test_an_example_is_judged_as_expected(name):
    checked = check(ROOT / name)
    assert checked.problems == ()
    found = Counter(
        (item.rule, path_text(item.reading.subject), item.verdict.value)
        for item in checked.findings
        if item.reading.weight is Weight.GOVERNS and item.verdict is not Verdict.HOLDS
    )
    assert found == Counter(key(entry) for entry in expected(name))


@pytest.mark.parametrize("name", GOOD)
def test_a_finished_example_has_nothing_broken_or_open(name):
    assert check(ROOT / name).verdict in (Verdict.HOLDS, Verdict.TIGHT)


@pytest.mark.parametrize(
    ("name", "components", "lines", "places"),
    [("bench", 3, 1, 4), ("tipper", 24, 3, 44), ("tipper-as-found", 24, 4, 44), ("minibus", 46, 5, 74)],
)
def test_an_example_has_the_size_it_is_shipped_with(name, components, lines, places):
    folder = ROOT / name
    assert len(list((folder / "components").glob("*.toml"))) == components
    assert len(list((folder / "lines").glob("*.toml"))) == lines
    assert len(tomllib.loads((folder / "vehicle.toml").read_text(encoding="utf-8"))["places"]) == places


def test_the_tipper_speaks_in_full():
    vehicle = load(ROOT / "tipper").vehicle
    messages = [message for one in vehicle.messages.values() for message in one.messages.values()]
    assert len(messages) >= 70
    assert sum(len(message.signals) for message in messages) >= 300
    files = {one.definition for one in vehicle.messages.values() if one.definition}
    assert len(files) >= 2
    assert all((ROOT / "tipper" / file).is_file() for file in files)
    assert vehicle.states
    assert len(vehicle.chains) >= 4


def test_the_planted_mistakes_are_many_and_spread_over_the_rules():
    planted = [entry for entry in expected(AS_FOUND) if "companion_of" not in entry]
    assert len(planted) >= 15
    assert all(entry["why"].startswith("planted: ") for entry in planted)
    assert len({entry["rule"] for entry in planted}) >= 15


def test_a_companion_names_the_planted_mistake_it_comes_with():
    entries = expected(AS_FOUND)
    planted = {f"{entry['rule']} {entry['subject']}" for entry in entries if "companion_of" not in entry}
    assert {entry["companion_of"] for entry in entries if "companion_of" in entry} <= planted


def score_m(vehicle, weights):
    total = 0.0
    for name, line in vehicle.lines.items():
        wired = Answers().topology(vehicle, name)
        assert isinstance(wired, Solved)
        plugs = sum(not station.port for station in line.stations)
        total += wired.value.trunk_m + weights.branch * wired.value.branches_m + weights.terminator_m * plugs
    return total


def test_the_tipper_is_wired_as_well_as_the_planner_can():
    vehicle = without_coils(load(ROOT / "tipper").vehicle)
    plan = arrange(vehicle, seconds=60.0)
    assert plan.status == PROVED
    assert score_m(vehicle, plan.weights) == pytest.approx(plan.score_m, rel=0.01)
