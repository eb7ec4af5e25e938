"""Edits, undo and redo over one open project, with somebody else editing the same files."""

import itertools
import threading

import pytest

from loomwright.app import edits
from loomwright.app.fields import FieldWords, set_field
from loomwright.app.project import UnreadableError
from loomwright.app.session import KEPT_REVISIONS, NothingToUndoError, Session, UnreadableStepError
from loomwright.app.stale import StaleChangeError
from loomwright.app.start import start_from_example
from loomwright.terms.change import Change, Edit, path_of
from loomwright.terms.errors import RefusedWriteError, StaleWriteError


@pytest.fixture
def session(tmp_path):
    start_from_example(tmp_path / "tipper", "tipper")
    return Session(tmp_path / "tipper")


def texts(session):
    return {str(path.relative_to(session.folder)): path.read_bytes() for path in sorted(session.folder.rglob("*.toml"))}


def titled(name, title):
    return Change(f"name {name}", (Edit(("components", name, "title"), title),))


def title_of(session, name):
    return session.view().vehicle.components[name].title


def by_hand(session, file, old, new):
    path = session.folder / file
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")


def test_a_change_touches_only_the_bytes_it_must(session):
    before = texts(session)
    step = session.apply(titled("inverter", "Motor inverter"))
    after = texts(session)
    assert [name for name in after if after[name] != before[name]] == ["components/inverter.toml"]
    assert after["components/inverter.toml"] == before["components/inverter.toml"].replace(
        b'"Drive inverter"', b'"Motor inverter"'
    )
    assert step.title == session.view().undo == "name inverter"


def test_undo_and_redo_bring_back_exactly_the_bytes(session):
    states = [texts(session)]
    vehicle = session.view().vehicle
    for make in (
        lambda v: titled("inverter", "Motor inverter"),
        lambda v: edits.rename_component(v, "inverter", "motor_inverter"),
        lambda v: edits.move_place(v, next(iter(v.places)), 1.0, 0.25),
        lambda v: edits.remove_station(v, "drive", 0),
        lambda v: edits.remove_component(v, "display"),
        lambda v: edits.rename_place(v, vehicle.components["inverter"].place, "elsewhere"),
        lambda v: edits.duplicate_component(v, "motor_inverter", "second_inverter"),
    ):
        session.apply(make(session.view().vehicle))
        states.append(texts(session))
    assert all(one != other for one, other in itertools.pairwise(states))
    for state in reversed(states[:-1]):
        session.undo()
        assert texts(session) == state
    for state in states[1:]:
        session.redo()
        assert texts(session) == state


def test_each_step_is_named(session):
    session.apply(titled("inverter", "A"))
    session.apply(edits.move_component(session.view().vehicle, "inverter", "console"))
    view = session.view()
    assert (view.undo, view.redo) == ("move inverter to console", "")
    session.undo()
    view = session.view()
    assert (view.undo, view.redo) == ("name inverter", "move inverter to console")


def test_nothing_to_undo_is_told(session):
    with pytest.raises(NothingToUndoError):
        session.undo()
    with pytest.raises(NothingToUndoError):
        session.redo()


def test_a_new_change_ends_what_could_be_done_again(session):
    session.apply(titled("inverter", "A"))
    session.undo()
    session.apply(titled("inverter", "B"))
    assert session.view().redo == ""
    with pytest.raises(NothingToUndoError):
        session.redo()


def test_a_change_that_changes_no_text_is_no_step(session):
    step = session.apply(titled("inverter", "Drive inverter"))
    assert (step.texts, session.view().undo) == ({}, "")


def test_an_edit_outside_is_taken_in(session):
    told = []
    session.listen(lambda: told.append(session.revision))
    before = session.revision
    by_hand(session, "components/inverter.toml", "Drive inverter", "By hand")
    assert session.follow()
    assert title_of(session, "inverter") == "By hand"
    assert told == [session.revision]
    assert session.revision != before
    assert session.history()[-1].by_hand
    assert not session.follow()


def test_a_files_own_undo_is_not_ours(session):
    by_hand(session, "components/inverter.toml", "Drive inverter", "By hand")
    session.follow()
    with pytest.raises(NothingToUndoError):
        session.undo()


def test_undo_keeps_what_was_edited_by_hand_in_another_file(session):
    session.apply(titled("inverter", "A"))
    by_hand(session, "components/display.toml", 'role = "display"', 'role = "display"  # seen')
    session.undo()
    assert b"# seen" in texts(session)["components/display.toml"]
    assert title_of(session, "inverter") == "Drive inverter"


def test_undo_keeps_what_was_edited_by_hand_in_the_same_file(session):
    session.apply(titled("inverter", "A"))
    by_hand(session, "components/inverter.toml", 'maker = "Vantorp"', 'maker = "Vantorp"  # by phone')
    session.undo()
    text = texts(session)["components/inverter.toml"]
    assert b"# by phone" in text
    assert b'title = "Drive inverter"' in text
    session.redo()
    text = texts(session)["components/inverter.toml"]
    assert b"# by phone" in text
    assert b'title = "A"' in text


def test_undo_of_lines_that_were_edited_by_hand_is_refused_with_both_versions(session):
    session.apply(titled("inverter", "A"))
    by_hand(session, "components/inverter.toml", 'title = "A"', 'title = "By hand"')
    before = texts(session)
    with pytest.raises(StaleWriteError) as told:
        session.undo()
    assert b'"A"' in told.value.read
    assert b'"By hand"' in told.value.found
    assert texts(session) == before
    assert session.view().undo == "name inverter"


def test_undo_that_would_leave_unreadable_text_is_refused(session):
    session.apply(edits.add_place(session.view().vehicle, "shelf", 1.0, 0.0))
    by_hand(session, "components/inverter.toml", 'place = "motor_top"', 'place = "shelf"')
    before = texts(session)
    with pytest.raises(UnreadableStepError, match="shelf"):
        session.undo()
    assert texts(session) == before


def test_both_at_once_the_later_write_is_refused_with_both_versions(session):
    base = session.revision
    by_hand(session, "components/inverter.toml", "Drive inverter", "By hand")
    before = texts(session)
    with pytest.raises(StaleChangeError) as told:
        session.apply(titled("inverter", "From the page"), base)
    (clash,) = told.value.clashes
    assert (clash.was, clash.now, clash.wanted) == ("Drive inverter", "By hand", "From the page")
    assert texts(session) == before


def test_a_page_that_is_behind_may_change_what_nobody_else_changed(session):
    base = session.revision
    by_hand(session, "components/inverter.toml", 'maker = "Vantorp"', 'maker = "Other"')
    session.apply(titled("inverter", "From the page"), base)
    inverter = session.view().vehicle.components["inverter"]
    assert (inverter.title, inverter.maker) == ("From the page", "Other")


def test_a_place_in_a_list_is_no_name(session):
    """The third stop is another one once somebody put a stop before it."""
    base = session.revision
    change = edits.set_terminated(session.view().vehicle, "body", 1, on=True)
    session.apply(edits.move_station(session.view().vehicle, "body", 0, 2))
    with pytest.raises(StaleChangeError):
        session.apply(change, base)


def test_a_page_older_than_what_is_kept_is_refused(session):
    base = session.revision
    for number in range(KEPT_REVISIONS + 1):
        session.apply(titled("display", f"Display {number}"))
    with pytest.raises(StaleChangeError):
        session.apply(titled("inverter", "From an old page"), base)


def test_while_the_text_cannot_be_read_the_last_readable_vehicle_stays(session):
    good = session.view()
    file = session.folder / "lines" / "drive.toml"
    text = file.read_bytes()
    file.write_bytes(b"title = \n" + text)
    state = session.state
    assert session.follow()
    view = session.view()
    assert (view.vehicle, view.revision) == (good.vehicle, good.revision)
    assert view.problems[0].file == "lines/drive.toml"
    assert session.state != state
    with pytest.raises(UnreadableError):
        session.apply(titled("inverter", "A"))
    with pytest.raises(UnreadableError):
        session.undo()
    file.write_bytes(text)
    assert session.follow()
    assert session.view().problems == ()
    session.apply(titled("inverter", "A"))


def test_trying_a_change_writes_nothing_and_tells_findings_before_and_after(session):
    before = texts(session)
    tried = session.try_change(Change("one off", (Edit(("lines", "drive", "stations", 0), None),)))
    assert texts(session) == before
    assert tried.before == session.view().findings
    assert {f.rule for f in tried.after if f.verdict == "broken"} >= {"two-terminations"}
    assert list(tried.texts) == ["lines/drive.toml"]


def test_a_change_that_the_files_cannot_say_is_refused_before_anything_is_written(session):
    before = texts(session)
    with pytest.raises(RefusedWriteError, match="nowhere"):
        session.apply(Change("move", (Edit(("components", "inverter", "place"), "nowhere"),)))
    assert texts(session) == before


def test_threads_take_turns(session):
    """Many pages at once: every change arrives, none is lost, undo takes back all of them."""
    before = texts(session)
    names = list(session.view().vehicle.components)[:8]
    trouble = []

    def work(name):
        try:
            for number in range(5):
                session.apply(titled(name, f"{name} {number}"))
                session.view()
        except Exception as error:
            trouble.append(error)

    threads = [threading.Thread(target=work, args=(name,)) for name in names]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert trouble == []
    assert all(title_of(session, name) == f"{name} 4" for name in names)
    for _ in range(5 * len(names)):
        session.undo()
    assert texts(session) == before


def test_a_field_is_set_from_words(session):
    path = path_of("components.inverter.ports.can.pigtail_m")
    session.apply(set_field(session.view().vehicle, path, FieldWords("45 cm", "known", "page 12")))
    text = texts(session)["components/inverter.toml"]
    assert b'pigtail = "0.45 m"' in text or b'pigtail = "45 cm"' in text
    assert b'pigtail_source = "page 12"' in text
