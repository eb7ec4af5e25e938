"""A deviation stays broken and stays told; it only stops counting, and only while the figure gets no worse."""

import pytest

from loomwright.app import edits
from loomwright.app.check import check_project, worst
from loomwright.app.deviations import DeviationError, accept, idle, subject_text, withdraw
from loomwright.app.fields import FieldWords, set_field
from loomwright.app.session import Session
from loomwright.app.start import start_from_example
from loomwright.terms.change import path_of
from loomwright.terms.finding import Verdict, Weight

LEAD = path_of("components.telematics.ports.can.pigtail_m")


@pytest.fixture
def session(tmp_path):
    start_from_example(tmp_path / "tipper", "tipper-as-found")
    return Session(tmp_path / "tipper")


def branch_of(session):
    return next(
        f for f in session.view().findings
        if f.rule == "branch-length" and f.reading.weight is Weight.GOVERNS and dict(f.reading.because).get("component") == "telematics"
    )  # fmt: skip


@pytest.fixture
def accepted(session):
    session.apply(accept(session.view().vehicle, branch_of(session), "measured clean", "M. Berger", "2025-11-25"))
    return session


def lead(session, words):
    session.apply(set_field(session.view().vehicle, LEAD, FieldWords(words, "known")))


def test_it_stays_broken_and_no_longer_counts(accepted):
    finding = branch_of(accepted)
    assert finding.verdict is Verdict.BROKEN
    assert finding.accepted == "branch_length_1"
    assert accepted.view().vehicle.deviations["branch_length_1"].measured == "4.25 m"
    assert worst((finding,)) is Verdict.HOLDS


def test_it_is_kept_in_the_files(accepted):
    again = Session(accepted.folder)
    assert branch_of(again).accepted


def test_the_exit_verdict_of_a_check_leaves_it_out(tmp_path):
    start_from_example(tmp_path / "bench", "bench")
    session = Session(tmp_path / "bench")
    before = session.ask(check_project).verdict
    session.apply(set_field(session.view().vehicle, path_of("lines.bench.rule_set"), FieldWords("SAE J1939-11")))
    while True:
        counting = [
            f for f in session.view().findings
            if f.reading.weight is Weight.GOVERNS and f.verdict is Verdict.BROKEN and not f.accepted
        ]  # fmt: skip
        if not counting:
            break
        assert session.ask(check_project).verdict is Verdict.BROKEN
        session.apply(accept(session.view().vehicle, counting[0], "only for the bench", "M. Berger", ""))
    assert session.ask(check_project).verdict is before
    assert any(f.accepted and f.verdict is Verdict.BROKEN for f in session.view().findings)


def test_a_worse_figure_is_a_new_finding(accepted):
    lead(accepted, "0.26 m")
    assert branch_of(accepted).accepted == ""
    assert idle(accepted.view().findings, accepted.view().vehicle) == ("branch_length_1",)


def test_a_better_figure_stays_accepted(accepted):
    lead(accepted, "0.10 m")
    assert branch_of(accepted).accepted


def test_accepting_again_renews_the_figure_under_the_same_name(accepted):
    lead(accepted, "0.50 m")
    accepted.apply(accept(accepted.view().vehicle, branch_of(accepted), "still clean", "M. Berger", "2025-11-26"))
    (name,) = accepted.view().vehicle.deviations
    assert name == "branch_length_1"
    assert branch_of(accepted).accepted == name


def test_it_stays_with_its_stop_when_stations_change_places(accepted):
    index = branch_of(accepted).reading.subject[3]
    vehicle = accepted.view().vehicle
    accepted.apply(edits.remove_station(vehicle, "body", 1))
    finding = branch_of(accepted)
    assert finding.reading.subject[3] == index - 1
    assert subject_text(vehicle, ("lines", "body", "stations", index)) == "lines.body.stations[telematics.can]"
    assert finding.accepted


def test_withdrawing_makes_it_count_again(accepted):
    accepted.apply(withdraw(accepted.view().vehicle, "branch_length_1"))
    assert branch_of(accepted).accepted == ""
    with pytest.raises(DeviationError):
        withdraw(accepted.view().vehicle, "branch_length_1")


@pytest.mark.parametrize(("reason", "by"), [("", "M. Berger"), ("because", " ")])
def test_it_needs_a_reason_and_a_name(session, reason, by):
    with pytest.raises(DeviationError, match="reason"):
        accept(session.view().vehicle, branch_of(session), reason, by, "")


@pytest.mark.parametrize("verdict", [Verdict.HOLDS, Verdict.UNKNOWN])
def test_only_what_is_measured_and_does_not_hold_can_be_accepted(session, verdict):
    finding = next(f for f in session.view().findings if f.verdict is verdict)
    with pytest.raises(DeviationError, match="accepted"):
        accept(session.view().vehicle, finding, "because", "M. Berger", "")
