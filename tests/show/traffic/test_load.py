from dataclasses import replace

import pytest

from loomwright.show.traffic import load_bars
from loomwright.solve.load import LineLoad, Share, StateLoad
from tests.show.sample import SVG, parsed, shapes
from tests.show.traffic.sample import example, marks, outside, overlapping, rects, scale_of, texts

EXAMPLES = ["tipper-as-found", "minibus"]
LIMIT = 0.5


def bars(name, change=lambda load: load, limits=None, **more):
    vehicle, found, judged = example(name)
    loads = {line: change(answer.value) for line, answer in found.loads.items()}
    limits = dict.fromkeys(loads, LIMIT) if limits is None else limits
    return parsed(load_bars(vehicle, loads, limits, judged, **more)), loads


@pytest.mark.parametrize("name", EXAMPLES)
def test_pieces_reach_to_the_mean_and_the_outline_to_the_worst(name):
    root, loads = bars(name)
    per_percent, zero = scale_of(root, "%")
    for line, load in loads.items():
        (group,) = shapes(root, f"lines.{line}")
        rows = [each for each in group.iter(f"{SVG}g") if each is not group]
        assert len(rows) == len(load.states)
        for row, state in zip(rows, load.states, strict=True):
            filled = max((x + wide for x, _, wide, _ in rects(row, "bar")), default=zero)
            (outline,) = rects(row, "fine")
            assert (filled - zero) / per_percent == pytest.approx(state.mean * 100.0, abs=0.2)  # percent of the time
            assert (outline[0] + outline[2] - zero) / per_percent == pytest.approx(state.worst * 100.0, abs=0.2)


@pytest.mark.parametrize("width", [900.0, 1280.0])
@pytest.mark.parametrize("name", EXAMPLES)
def test_no_bar_is_written_over_itself_or_beside_the_sheet(name, width):
    root, _ = bars(name, width=width)
    assert outside(root) == []
    assert overlapping(root) == []


def test_the_limit_stands_at_its_share():
    root, _ = bars("minibus")
    per_percent, zero = scale_of(root, "%")
    (group,) = shapes(root, "lines.drive")
    poles = [float(each.get("x1")) for each in group.iter(f"{SVG}line") if each.get("class") == "rule"]
    assert [(x - zero) / per_percent for x in poles] == pytest.approx([LIMIT * 100.0], abs=0.1)


def test_a_line_without_a_limit_has_no_flag():
    root, _ = bars("minibus", limits={})
    assert not [each for each in root.iter(f"{SVG}line") if each.get("class") == "rule"]


def test_a_line_that_is_too_full_has_its_verdict_beside_its_name():
    root, _ = bars("tipper-as-found")
    told = {each.get("data-path"): marks(each) for each in shapes(root)}
    assert told["lines.old"] == ["mark broken"]
    assert told["lines.drive"] == []


def test_more_than_a_line_can_carry_runs_to_the_edge_with_its_figure():
    root, _ = bars("minibus", lambda load: replace(load, states=tuple(replace(s, worst=4.0) for s in load.states)))
    assert any("400.0" in text for text in texts(root))
    assert outside(root) == []


def test_the_senders_that_are_not_named_are_counted():
    vehicle, _, _ = example("minibus")
    shares = tuple(Share(f"sender_{number}.can", 0.05, 0.06) for number in range(7))
    load = LineLoad("drive", (StateLoad("", 0.35, 0.42, (), shares),))
    root = parsed(load_bars(vehicle, {"drive": load}, {}))
    assert "and 3 others" in texts(root)
    assert "always" in texts(root)


def test_nothing_known_is_said():
    vehicle, _, _ = example("minibus")
    assert "No line's load is known yet." in texts(parsed(load_bars(vehicle, {}, {})))
