from dataclasses import replace
from pathlib import Path

import pytest

from loomwright.app.check import check_project
from loomwright.app.project import open_project
from loomwright.app.questions import Answers
from loomwright.app.start import examples, start_from_example
from loomwright.model.variant import changed
from loomwright.terms.change import Change, Edit


def test_an_answer_is_worked_out_once():
    calls = []

    def double(value):
        calls.append(value)
        return 2 * value

    answers = Answers()
    assert [answers.ask(double, 4), answers.ask(double, 4), answers.ask(double, 5)] == [8, 8, 10]
    assert calls == [4, 5]


def test_the_least_recently_asked_answers_go_first():
    answers = Answers(kept=2)
    calls = []

    def note(value):
        calls.append(value)
        return value

    for value in (1, 2, 1, 3, 1, 2):
        answers.ask(note, value)
    assert calls == [1, 2, 3, 2]


@pytest.fixture
def tipper(tmp_path):
    start_from_example(tmp_path / "tipper", "tipper")
    return open_project(tmp_path / "tipper")


def test_a_second_check_asks_nothing_anew(tipper):
    check_project(tipper)
    before = tipper.answers.asked - tipper.answers.remembered
    check_project(tipper)
    assert tipper.answers.asked - tipper.answers.remembered == before


def test_a_comment_re_runs_nothing(tipper):
    check_project(tipper)
    worked_out = tipper.answers.asked - tipper.answers.remembered
    file = next((tipper.folder / "lines").glob("*.toml"))
    file.write_bytes(b"# a remark\n" + file.read_bytes())
    tipper.reload()
    check_project(tipper)
    assert tipper.answers.asked - tipper.answers.remembered == worked_out


def test_an_edit_on_one_line_leaves_the_other_lines_answers(tipper):
    vehicle = tipper.vehicle
    tipper.answers.findings(vehicle)
    name = next(iter(vehicle.lines))
    edited = changed(vehicle, Change("", (Edit(("lines", name, "title"), "renamed"),)))
    wired = {other: tipper.answers.topology(vehicle, other) for other in vehicle.lines}
    assert all(tipper.answers.topology(edited, other) is wired[other] for other in vehicle.lines if other != name)


def test_remembered_findings_equal_fresh_ones_after_any_edit(tipper):
    vehicle = tipper.vehicle
    tipper.answers.findings(vehicle)
    for place in list(vehicle.places)[:5]:
        moved = replace(vehicle, places=vehicle.places.put(place, replace(vehicle.places[place], x_m=0.123)))
        assert tipper.answers.findings(moved) == Answers().findings(moved)


@pytest.mark.parametrize("example", examples())
def test_every_shipped_example_can_be_read(example, tmp_path):
    start_from_example(tmp_path / example, example)
    assert open_project(tmp_path / example).loaded.problems == ()


def test_the_revision_follows_the_bytes(tipper):
    before = tipper.revision
    file = tipper.folder / "vehicle.toml"
    file.write_bytes(file.read_bytes() + b"\n# more\n")
    tipper.reload()
    assert tipper.revision != before


def test_examples_are_copied_never_edited_in_place(tmp_path):
    import loomwright

    shipped = Path(loomwright.__file__).parent / "examples" / "tipper" / "vehicle.toml"
    before = shipped.read_bytes()
    start_from_example(tmp_path / "t", "tipper")
    (tmp_path / "t" / "vehicle.toml").write_bytes(b"")
    assert shipped.read_bytes() == before
