import math
from dataclasses import replace

import pytest

from loomwright.show.traffic import timing_chart
from loomwright.terms.finding import Finding, Reading, Verdict
from loomwright.terms.limit import Bound, Limit, Source, Standing
from loomwright.terms.quantity import Kind
from tests.show.sample import SVG, parsed, shapes
from tests.show.traffic.sample import example, marks, outside, overlapping, rects, scale_of, texts

LINES = [(name, line) for name in ("tipper-as-found", "minibus") for line in example(name)[1].responses]


def chart(name, line, findings=None, change=lambda row: row, **more):
    vehicle, found, judged = example(name)
    answer = found.responses[line].value
    answer = replace(answer, responses=tuple(change(row) for row in answer.responses))
    load = found.loads[line].value
    root = parsed(timing_chart(vehicle, line, answer, load, judged if findings is None else findings, **more))
    return root, answer.responses, load


def rows(root):
    """The groups of the messages, in order from the top."""
    return [each for each in shapes(root) if not each.get("data-path").startswith("lines.")]


def worst_x(row):
    """Where the firm stroke at the end of a bar stands."""
    (stroke,) = [rect for rect in rects(row, "ink-1") + _inks(row) if rect[2] == 2.0][:1]
    return stroke[0] + 1.0


def _inks(row):
    return [rect for number in range(2, 7) for rect in rects(row, f"ink-{number}")]


@pytest.mark.parametrize(("name", "line"), LINES)
def test_messages_stand_in_the_order_of_the_wire_and_bars_end_at_their_worst(name, line):
    root, responses, _ = chart(name, line)
    per_ms, zero = scale_of(root, "ms")
    assert len(rows(root)) == len(responses)
    for row, each in zip(rows(root), responses, strict=True):
        identifier = next(text.text for text in row.iter(f"{SVG}text"))
        assert int(identifier, 16) == each.stream.identifier
        assert (worst_x(row) - zero) / per_ms == pytest.approx(each.worst_s * 1e3, abs=0.05)  # ms, of an axis of tens


@pytest.mark.parametrize(("name", "line"), LINES)
def test_a_deadline_has_a_flag_at_its_time_or_an_arrow_and_always_its_figure(name, line):
    root, responses, _ = chart(name, line)
    per_ms, zero = scale_of(root, "ms")
    for row, each in zip(rows(root), responses, strict=True):
        poles = [float(pole.get("x1")) for pole in row.iter(f"{SVG}line")]
        if poles:
            assert (poles[0] - zero) / per_ms == pytest.approx(each.deadline_s * 1e3, abs=0.05)
        else:
            assert each.deadline_s > each.worst_s
        assert len([path for path in row.iter(f"{SVG}path") if path.get("class") == "solid"]) == 1
        assert any(text.endswith(("ms", "s")) for text in texts(row))


@pytest.mark.parametrize("width", [900.0, 1280.0])
@pytest.mark.parametrize(("name", "line"), LINES)
def test_nothing_is_written_over_anything_else_or_beside_the_sheet(name, line, width):
    root, _, _ = chart(name, line, width=width)
    assert outside(root) == []
    assert overlapping(root) == []


def test_only_what_came_over_another_line_is_hatched():
    root, responses, _ = chart("minibus", "drive")
    for row, each in zip(rows(root), responses, strict=True):
        hatching = [path for path in row.iter(f"{SVG}path") if "fine" in path.get("class")]
        assert bool(hatching) == (each.due_s > 0.0)
    assert any(each.due_s for each in responses)


def test_late_messages_carry_their_verdict_in_word_and_shape_and_the_others_none():
    root, responses, _ = chart("tipper-as-found", "old")
    late = [row for row, each in zip(rows(root), responses, strict=True) if each.worst_s > each.deadline_s]
    assert len(late) == 3
    for row in rows(root):
        assert marks(row) == (["mark broken"] if row in late else [])
        assert ("broken" in texts(row)) == (row in late)


def test_a_finding_about_one_part_of_a_message_is_not_told_of_the_other():
    _, found, _ = example("tipper-as-found")
    row = next(each for each in found.responses["body"].value.responses if each.stream.part == "data packets")
    limit = Limit(0.05, Bound.AT_MOST, Kind.TIME, Source("a sheet"), Standing.PRACTICE)
    reading = Reading(row.stream.path, 0.049, limit, (("part", "data packets"),), line="body")
    root, responses, _ = chart("tipper-as-found", "body", (Finding("in-time", Verdict.TIGHT, 0.001, reading),))
    tight = [each for shape, each in zip(rows(root), responses, strict=True) if marks(shape)]
    assert tight == [row]


def test_a_message_without_a_bound_runs_to_the_edge_and_says_so():
    root, responses, _ = chart("minibus", "old", change=lambda row: replace(row, worst_s=math.inf))
    assert sum("no bound" in texts(row) for row in rows(root)) == len(responses)


def test_shares_are_drawn_to_one_scale_the_mean_within_the_worst():
    root, responses, load = chart("minibus", "drive")
    most = {share.name: share.worst for state in load.states for share in state.streams}
    for row, each in zip(rows(root), responses, strict=True):
        outline = [rect for rect in rects(row, "fine") if rect[3] == 6.0]
        filled = [rect for rect in rects(row, "bar") if rect[3] == 6.0]
        assert len(outline) == 1
        assert all(rect[2] <= outline[0][2] + 0.01 for rect in filled)
        assert outline[0][2] / 80.0 == pytest.approx(most[each.stream.name] / max(most.values()), abs=0.01)


def test_a_line_that_says_nothing_says_so():
    vehicle, found, _ = example("minibus")
    empty = replace(found.responses["old"].value, responses=())
    root = parsed(timing_chart(vehicle, "old", empty, found.loads["old"].value, ()))
    assert any((text or "").startswith("Nothing is said on this line yet") for text in texts(root))


def test_a_chart_inside_a_page_brings_no_style_of_its_own_and_no_script():
    vehicle, found, judged = example("minibus")
    args = (vehicle, "drive", found.responses["drive"].value, found.loads["drive"].value, judged)
    inside, alone = timing_chart(*args, standalone=False, width=900.0), timing_chart(*args)
    assert "<style" not in inside
    assert "<style" in alone
    assert "<script" not in alone + inside
    assert " style=" not in alone + inside
    assert timing_chart(*args) == alone
