"""Two of the shipped vehicles with what was found out about their traffic, and ways to read a drawing back."""

import re
from functools import cache
from importlib.resources import as_file, files

from loomwright.files.load import load
from loomwright.judge.evidence import TrafficEvidence
from loomwright.judge.rule import judge
from loomwright.judge.rules.traffic_times import RULES
from loomwright.model.speech import speech_of
from loomwright.solve.traffic import traffic
from tests.show.sample import SVG

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@cache
def example(name):
    """Vehicle, traffic and findings of a shipped example."""
    with as_file(files("loomwright") / "examples" / name) as folder:
        vehicle = load(folder).vehicle
    speech = speech_of(vehicle)
    found = traffic(speech)
    return vehicle, found, judge(RULES, TrafficEvidence(speech, found))


def rects(group, kind):
    """Rectangles of a group with a word in their class: x, y, width, height."""
    return [
        tuple(float(rect.get(key)) for key in ("x", "y", "width", "height"))
        for rect in group.iter(f"{SVG}rect")
        if kind in rect.get("class").split()
    ]


def texts(root):
    return [text.text for text in root.iter(f"{SVG}text")]


def marks(group):
    """The signs of verdicts in a group."""
    return [each.get("class") for each in group.iter() if "mark" in (each.get("class") or "").split()]


def outside(root):
    """Texts that do not end on the sheet."""
    width, height = float(root.get("width")), float(root.get("height"))
    found = []
    for text in root.iter(f"{SVG}text"):
        x, y = float(text.get("x")), float(text.get("y"))
        wide = float(text.get("textLength") or 8.0)
        if (turned := text.get("transform")) is not None:
            assert turned.startswith("rotate(-45")
            inside = x + wide * 0.7072 <= width and y - wide * 0.7072 >= 0.0
        else:
            start = x - {"end": wide, "middle": wide / 2}.get(text.get("text-anchor"), 0.0)
            inside = start >= 0.0 and start + wide <= width and 8.0 <= y <= height
        if not inside:
            found.append(text.text)
    return found


def overlapping(root):
    """Pairs of level texts of which one is written over the other."""
    boxes = []
    for text in root.iter(f"{SVG}text"):
        if text.get("transform"):
            continue
        x, y, wide = float(text.get("x")), float(text.get("y")), float(text.get("textLength") or 6.0)
        start = x - {"end": wide, "middle": wide / 2}.get(text.get("text-anchor"), 0.0)
        boxes.append((start, start + wide, y, text.text))
    return [
        (one[3], two[3])
        for index, one in enumerate(boxes)
        for two in boxes[index + 1 :]
        if abs(one[2] - two[2]) < 8.0 and one[0] < two[1] - 0.5 and two[0] < one[1] - 0.5
    ]


def scale_of(root, unit):
    """Pixels for one unit of a drawing's axis, and where zero is, read from the figures on it."""
    row = {}
    for text in root.iter(f"{SVG}text"):
        figure = (text.text or "").replace("\u00a0", "").removesuffix(unit).strip()
        if text.get("text-anchor") == "middle" and "muted" in text.get("class") and NUMBER.fullmatch(figure):
            row.setdefault(text.get("y"), []).append((float(figure), float(text.get("x"))))
    axis = max(row.values(), key=len)
    (first, at), (last, end) = min(axis), max(axis)
    return (end - at) / (last - first), at - first * (end - at) / (last - first)
