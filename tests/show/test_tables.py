import io

import pytest
from rich.console import Console

from loomwright.judge.pages import PAGES
from loomwright.show import tables
from loomwright.solve.unknowns import OpenQuestion
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Source
from loomwright.terms.finding import Finding, Reading, Verdict, Weight
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind
from tests.show.sample import ohms, vehicle, wired

VAN = vehicle()
WIRED = wired(VAN)
LIMIT = Limit(3.0, Bound.AT_MOST, Kind.LENGTH, Source("SAE J1939-15", "topology"), Standing.SECONDARY)
MISSING = ("runs", "dash_floor", "length_m")


def printed(renderable, width=100):
    stream = io.StringIO()
    Console(file=stream, width=width, highlight=False).print(renderable)
    return stream.getvalue().replace("\u202f", " ")


def found(code, verdict, value=2.0, *, weight=Weight.GOVERNS, by=(), accepted="", line="body"):
    reading = Reading(("lines", line), value, LIMIT, weight=weight, blocked_by=by, line=line)
    return Finding(code, verdict, None if by else 3.0 - value, reading, accepted)


@pytest.mark.parametrize("width", [60, 80, 120])
def test_findings_come_worst_first_and_name_their_rule_whole(width):
    shown = printed(
        tables.findings_table(
            [
                found("trunk-length", Verdict.HOLDS),
                found("fixed-terminator-mid-trunk", Verdict.TIGHT, 2.9),
                found("branches-total", Verdict.BROKEN, 4.0),
            ]
        ),
        width,
    )
    assert shown.index("branches-total") < shown.index("fixed-terminator-mid-trunk")
    assert "trunk-length" not in shown
    assert "1 hold" in shown
    assert "SAE J1939-15" in shown


def test_all_shows_what_holds_with_its_margin():
    shown = printed(tables.findings_table([found("trunk-length", Verdict.HOLDS, 1.25)], every=True))
    row = next(row for row in shown.splitlines() if "trunk-length" in row)
    assert "1.25 m" in row
    assert "at most 3.00 m" in row
    assert "1.75 m" in row


def test_advice_stands_apart_and_its_passes_are_silent():
    shown = printed(
        tables.findings_table(
            [
                found("trunk-length", Verdict.BROKEN, 4.0, weight=Weight.ADVICE),
                found("branch-length", Verdict.BROKEN, 4.0),
            ]
        )
    )
    assert shown.index("branch-length") < shown.index("For information") < shown.index("trunk-length")


def test_readings_that_wait_for_named_facts_are_counted():
    shown = printed(
        tables.findings_table(
            [
                found("facts-known", Verdict.UNKNOWN, None, by=(MISSING,)),
                found("trunk-length", Verdict.UNKNOWN, None, by=(MISSING,)),
                found("branch-length", Verdict.UNKNOWN, None, by=(MISSING,)),
            ]
        )
    )
    assert "2 more wait for these facts: trunk-length, branch-length" in shown
    assert "Unknown: length of run dash_floor." in shown
    assert "Lay a string along the run" in shown


def test_square_brackets_of_a_user_are_not_markup():
    reading = Reading(("lines", "[bold]x[/bold]"), 4.0, LIMIT, line="[bold]x[/bold]")
    shown = printed(tables.findings_table([Finding("trunk-length", Verdict.BROKEN, -1.0, reading)]))
    assert "Line [bold]x[/bold]" in shown


def test_the_last_line_counts_verdicts_and_what_is_accepted():
    findings = [
        found("a", Verdict.BROKEN, 4.0),
        found("b", Verdict.BROKEN, 4.0, accepted="a_deviation"),
        found("c", Verdict.TIGHT, 2.9),
        found("d", Verdict.BROKEN, 4.0, weight=Weight.ADVICE),
        found("e", Verdict.HOLDS),
    ]
    shown = printed(tables.verdict_line(findings))
    assert "◆ 1 broken" in shown
    assert "◐ 1 tight" in shown
    assert "○ 1 holds" in shown
    assert "1 accepted" in shown
    assert "○ 0 holds" in printed(tables.verdict_line([]))


def test_a_line_is_told_stop_by_stop():
    topology = WIRED["drive"]
    readings = ohms(VAN, "drive", topology.value)
    shown = printed(tables.line_table("drive", topology, readings))
    for stop, ohm in zip(topology.value.stops, readings.value.stops, strict=True):
        row = next(row for row in shown.splitlines() if stop.port in row)
        assert f"{stop.distance_m:.2f}" in row
        assert f"{ohm.ohm:.1f}" in row
    assert "length of run dash_floor" in printed(tables.line_table("drive", Blocked((MISSING,)), Blocked((MISSING,))))
    assert "Readings wait for" in printed(tables.line_table("drive", topology, Blocked((MISSING,))))


def test_readings_with_one_thing_unplugged():
    topology = WIRED["drive"]
    shown = printed(tables.unplugged_table("drive", ohms(VAN, "drive", topology.value)))
    row = next(row for row in shown.splitlines() if "pedal.can" in row)
    assert "1: 12" in row or "1 to" in row  # one of two terminations gone: about 120 ohm
    assert "length of run" in printed(tables.unplugged_table("drive", Blocked((MISSING,))))


def test_open_questions_say_where_to_look():
    question = OpenQuestion(MISSING, "How long is it?", "tape measure", "Manual, ed. 2", ("lengths of line drive",))
    shown = printed(tables.unknowns_table((question,)))
    assert "How long is it?" in shown
    assert "tape measure" in shown
    assert "Every fact is known" in printed(tables.unknowns_table(()))


@pytest.mark.parametrize("rule", PAGES)
def test_every_rule_has_a_page(rule):
    shown = printed(tables.about_text(rule, PAGES[rule]))
    assert rule in shown
    for head in ("What it measures", "Why it matters", "Example", "What cures it", "Where the limit comes from"):
        assert head in shown
