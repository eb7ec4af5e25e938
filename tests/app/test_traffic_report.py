"""What the command about traffic is handed, for the shipped truck."""

from importlib.resources import files
from pathlib import Path

import pytest

from loomwright.app.check import worst
from loomwright.app.project import open_project
from loomwright.app.traffic import traffic_report
from loomwright.terms.finding import Verdict


@pytest.fixture(scope="module")
def project():
    return open_project(Path(str(files("loomwright") / "examples" / "tipper")))


def test_a_play_is_judged_message_by_message(project):
    report = traffic_report(project, "old", seconds=2.0)
    (line,) = report.lines
    judged = [each for each in report.findings if each.rule == "play-in-bounds"]
    assert {each.reading.subject for each in judged} == {each.stream.path for each in line.play.value.seen}
    assert {each.verdict for each in judged} == {Verdict.HOLDS}
    assert not any(each.rule == "play-in-bounds" for each in traffic_report(project, "old").findings)


def test_a_bound_that_is_exceeded_decides_the_verdict(project, monkeypatch):
    # No right program exceeds a bound, so the bounds are made half as long as they are.
    monkeypatch.setattr("loomwright.solve.simulated.Seen.most_s", property(lambda seen: seen.bound_s / 2))
    report = traffic_report(project, "old", seconds=5.0)
    assert report.lines[0].play.value.above
    assert worst(report.findings) is Verdict.BROKEN
