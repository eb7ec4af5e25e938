"""Slow work on a line's waves and the revisions it belongs to."""

import pytest

from loomwright.app.session import KEPT_JOBS, Session
from loomwright.app.signal_jobs import stand, title_of
from loomwright.app.start import start_from_example
from loomwright.terms.change import Change, Edit

TITLE = title_of("draws", "drive")


@pytest.fixture
def session(tmp_path):
    start_from_example(tmp_path / "t", "tipper")
    return Session(tmp_path / "t")


def work(session, answer):
    session.begin(TITLE, lambda project, report, cancelled: answer).wait(60.0)


def titled(session, title):
    session.apply(Change("Name it", (Edit(("lines", "drive", "title"), title),)))


def shown(session):
    now = stand(session, "draws", "drive")
    return now.answer, now.old, now.wanted


def test_after_an_undo_the_result_for_that_text_is_shown_and_not_called_old(session):
    work(session, "of the first text")
    titled(session, "Other")
    assert shown(session) == ("of the first text", True, True)
    work(session, "of the second text")
    assert shown(session) == ("of the second text", False, False)
    session.undo()
    assert shown(session) == ("of the first text", False, False)
    session.redo()
    assert shown(session) == ("of the second text", False, False)


def test_of_a_text_without_a_result_the_last_one_is_shown_as_old(session):
    work(session, "of the first text")
    titled(session, "Other")
    work(session, "of the second text")
    titled(session, "Third")
    assert shown(session) == ("of the second text", True, True)


def test_results_are_not_kept_for_ever(session):
    work(session, "of the first text")
    for number in range(KEPT_JOBS):
        session.begin(f"other work {number}", lambda project, report, cancelled: None).wait(60.0)
    titled(session, "Other")
    work(session, "of the second text")
    session.undo()
    assert shown(session)[0] == "of the second text"
