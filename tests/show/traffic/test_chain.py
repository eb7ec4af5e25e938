import math
from dataclasses import replace

import pytest

from loomwright.show.traffic import chain_strip
from loomwright.solve.chains import ChainTimes
from loomwright.terms.answer import Solved
from loomwright.terms.fact import value_of
from tests.show.sample import SVG, parsed, shapes
from tests.show.traffic.sample import example, marks, outside, overlapping, rects, scale_of, texts

CHAINS = [
    (name, chain)
    for name in ("tipper-as-found", "minibus")
    for chain, answer in example(name)[1].chains.items()
    if isinstance(answer, Solved)
]


def strip(name, chain, change=lambda times: times, within=None, **more):
    vehicle, found, judged = example(name)
    times = change(found.chains[chain].value)
    within_s = value_of(vehicle.chains[chain].within_s) if within is None else within
    return parsed(chain_strip(vehicle, times, within_s, judged, **more)), times, within_s


def spans(root, times):
    """Left and right end of every hop, in order."""
    groups = [each for each in shapes(root) if not each.get("data-path").startswith("chains.")]
    assert len(groups) == len(times.hops)
    found = []
    for group in groups:
        boxes = [
            rect
            for kind in ("fine", "leader", "solid", *(f"ink-{n}" for n in range(1, 7)))
            for rect in rects(group, kind)
        ]
        found.append((min(x for x, *_ in boxes), max(x + wide for x, _, wide, _ in boxes)))
    return found


@pytest.mark.parametrize(("name", "chain"), CHAINS)
def test_hops_follow_each_other_to_scale_in_time(name, chain):
    root, times, _ = strip(name, chain)
    if times.broken_at:
        assert any(f"does not hear {times.missing}" in text for text in texts(root))
        return
    per_ms, zero = scale_of(root, "ms")
    at_ms = 0.0
    for hop, (left, right) in zip(times.hops, spans(root, times), strict=True):
        assert (left - zero) / per_ms == pytest.approx(at_ms, abs=0.1)
        at_ms += hop.whole_s * 1e3
        thin = 1.6 / per_ms  # nothing is drawn thinner than a pixel and a half
        assert (right - zero) / per_ms == pytest.approx(at_ms, abs=max(0.1, thin))
    assert at_ms == pytest.approx(times.reaction_s * 1e3, abs=1e-6)


@pytest.mark.parametrize("width", [900.0, 1280.0])
@pytest.mark.parametrize(("name", "chain"), CHAINS)
def test_no_strip_is_written_over_itself_or_beside_the_sheet(name, chain, width):
    root, _, _ = strip(name, chain, width=width)
    assert outside(root) == []
    assert overlapping(root) == []


@pytest.mark.parametrize(("name", "chain"), CHAINS)
def test_the_age_is_drawn_from_the_left_as_long_as_it_is_and_tells_from_when_it_counts(name, chain):
    root, times, _ = strip(name, chain)
    if times.broken_at:
        return
    per_ms, zero = scale_of(root, "ms")
    level = [
        each for each in root.iter(f"{SVG}line") if each.get("class") == "rule" and each.get("y1") == each.get("y2")
    ]
    spans_px = [(float(each.get("x1")), float(each.get("x2"))) for each in level[-2:]]
    for (left, right), value_s in zip(spans_px, (times.reaction_s, times.age_s), strict=True):
        assert left == pytest.approx(zero, abs=0.1)
        assert (right - left) / per_ms == pytest.approx(value_s * 1e3, abs=0.1)
    (told,) = [text for text in texts(root) if text.startswith("age: since what is acted on was read")]
    assert ("the last wait" in told) == (times.age_s < times.reaction_s)


def test_the_time_allowed_has_its_flag_on_the_axis():
    root, _, within_s = strip("minibus", "door_to_torque_off")
    per_ms, zero = scale_of(root, "ms")
    titled = [each for each in shapes(root, "chains.door_to_torque_off") if each.find(f"{SVG}title") is not None]
    (flag,) = [each for each in titled if "allowed" in each.find(f"{SVG}title").text]
    pole = flag.find(f"{SVG}line")
    assert (float(pole.get("x1")) - zero) / per_ms == pytest.approx(within_s * 1e3, abs=0.1)


def test_a_time_allowed_far_away_is_told_at_the_edge():
    root, times, _ = strip("minibus", "door_to_torque_off", within=60.0)
    assert any("60" in (text or "") and "allowed" in text for text in texts(root))
    spread = spans(root, times)
    assert spread[-1][1] - spread[0][0] > 900.0


def test_a_chain_that_takes_too_long_has_its_verdict_in_word_and_shape():
    root, times, within_s = strip("tipper-as-found", "plug_to_charging")
    assert times.reaction_s > within_s
    assert "broken" in texts(root)
    assert marks(root) == ["mark broken"]


def test_a_hop_without_a_bound_is_torn_and_the_axis_ends_before_it():
    def endless(times):
        hops = (*times.hops[:2], replace(times.hops[2], response_s=math.inf), *times.hops[3:])
        return replace(times, hops=hops, reaction_s=math.inf, age_s=math.inf)

    root, times, _ = strip("tipper-as-found", "plug_to_charging", endless)
    assert texts(root).count("no bound") == 2
    assert "∞" in texts(root)
    per_ms, zero = scale_of(root, "ms")
    hops = spans(root, times)
    assert hops[2][0] < hops[2][1] == pytest.approx(hops[3][0], abs=0.1)
    ends = [float(each.get("x2")) for each in root.iter(f"{SVG}line") if float(each.get("x1")) == zero]
    assert zero + per_ms * sum(hop.whole_s for hop in times.hops[:2]) * 1e3 in [pytest.approx(x, abs=0.1) for x in ends]


def test_a_chain_that_nobody_hears_through_is_torn_before_the_one_who_does_not():
    def torn(times):
        return ChainTimes(times.name, (), math.inf, math.inf, "battery_manager", "controller_drive.pack_request")

    vehicle, _, _ = example("tipper-as-found")
    root, _, _ = strip("tipper-as-found", "plug_to_charging", torn)
    steps = vehicle.chains["plug_to_charging"].steps
    assert {step.partition(".")[2] for step in steps} <= set(texts(root))
    assert any("does not hear controller_drive.pack_request" in text for text in texts(root))
    solid = [
        each for each in root.iter(f"{SVG}line") if each.get("class") == "rule" and each.get("y1") == each.get("y2")
    ]
    assert len(solid) == steps.index("controller_drive.pack_request") + 1
    assert outside(root) == []
