"""Draw the vehicle plan."""

import itertools
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from loomwright.model.vehicle import Vehicle
from loomwright.show.marks import resistor, worst
from loomwright.show.plan.bends import rounded, strand_points
from loomwright.show.plan.body import front_arrow, outline, outline_segments, scale_bar
from loomwright.show.plan.cards import Card, component_cards, draw_card, end_cards
from loomwright.show.plan.legend import legend
from loomwright.show.plan.placing import Field, Placed, Wanted, place
from loomwright.show.plan.sheet import WIDTH, Sheet, sheet_for
from loomwright.show.plan.strands import Strand, slots, strands_of
from loomwright.show.quantity import fact_text
from loomwright.show.quantity import text as quantity
from loomwright.show.svg import Point, circle, drawing, group, line, tag, words
from loomwright.show.tokens import hue as hue_of
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Unknown
from loomwright.terms.finding import Finding, Verdict
from loomwright.terms.quantity import Kind

MARGIN = 10.0
HEAD = 64.0
OUT = 6.5
"""Pixels from the last ring of a trunk to the middle of its termination."""


@dataclass(frozen=True, slots=True)
class _Wires:
    """Every strand with its corners, and the spot of every stop on the sheet."""

    strands: tuple[Strand, ...]
    corners: tuple[tuple[Point, ...], ...]
    stops: dict[tuple[str, int], Point]
    tips: dict[tuple[str, int], Point]


def vehicle_plan(
    vehicle: Vehicle,
    topologies: Mapping[str, Answer[LineTopology]],
    findings: Sequence[Finding] = (),
    highlight: Collection[Path] = (),
    *,
    standalone: bool = True,
    width: float = WIDTH,
) -> str:
    """The vehicle from above, to scale, ``width`` pixels wide, as SVG. Front is to the left.

    Lines follow the runs they take; own leads of components have no way in the vehicle and are told on the line ruler.
    A line whose way is not known is named in the legend and not drawn. ``highlight`` lights up shapes by path.
    ``standalone`` carries the style; a page has it already. Every shape's ``data-path`` names what it draws; the
    ``svg`` element tells the scale as ``data-px-per-m`` and the nose as ``data-nose``.
    """
    sheet = sheet_for(vehicle, width)
    spots = {name: sheet.at(spot) for name, spot in vehicle.places.items()}
    wired = {name: answer.value for name, answer in topologies.items() if isinstance(answer, Solved)}
    hues = {name: hue_of(number)[0] for number, name in enumerate(vehicle.lines)}
    wires = _wires(wired, hues, spots)
    cards = _cards(vehicle, wired, wires, spots, hues, findings)
    ends = _terminations(wired, wires)
    field = _field(sheet, vehicle, wires, spots, [middle for middle, _ in ends.values()])
    placed = place([Wanted(card.spot, card.width, card.height) for card in cards], field)
    dashed = {name for number, name in enumerate(vehicle.lines) if hue_of(number)[1]}
    lit = set(highlight)
    shapes = [
        outline(sheet, vehicle),
        front_arrow(sheet),
        *_runs(vehicle, spots, lit),
        *_places(vehicle, spots, lit),
        *_leaders(cards, placed),
        *_strands(wires, wired, dashed, lit),
        *_stops(wired, wires, ends, hues, lit),
        *(draw_card(card, (at.x, at.y), lit) for card, at in zip(cards, placed, strict=True)),
    ]
    top = min([sheet.top, *(at.y for at in placed)])
    bottom = max([sheet.bottom, *(at.y + card.height for card, at in zip(cards, placed, strict=True))])
    down = HEAD - top + MARGIN
    foot = bottom + down + 34.0
    legend_text, legend_height = legend(vehicle, topologies, hues, dashed, findings, foot)
    height = foot + legend_height + 16.0
    head = words((28, 34), vehicle.name, "title", size=17.0) + words(
        (28, 53),
        f"seen from above · {quantity(vehicle.length_m, Kind.LENGTH)} × {quantity(vehicle.width_m, Kind.LENGTH)}",
        "muted",
    )
    moved = tag("g", *shapes, transform=f"translate(0 {down:.2f})", class_="plan", data_px_per_m=f"{sheet.scale:.4f}",
                data_nose=f"{sheet.nose[0]:.2f} {sheet.nose[1]:.2f}")  # fmt: skip
    bar = scale_bar(sheet, (width - 260, foot + 4))
    return drawing(width, height, f"{vehicle.name}: vehicle plan", head, moved, legend_text, bar, standalone=standalone)


def _wires(wired: Mapping[str, LineTopology], hues: Mapping[str, int], spots: Mapping[str, Point]) -> _Wires:
    strands = tuple(
        strand for name, topology in wired.items() for strand in strands_of(name, hues[name], topology, spots)
    )
    slot = slots(strands, spots)
    corners: list[tuple[Point, ...]] = []
    stops: dict[tuple[str, int], Point] = {}
    tips: dict[tuple[str, int], Point] = {}
    for number, strand in enumerate(strands):
        points, joints = strand_points(number, strand, spots, slot)
        if strand.kind == "trunk":
            stops |= {(strand.line, stop): joints[index] for stop, index in strand.stops if joints}
        elif (strand.line, strand.stop) in stops:
            points = (stops[strand.line, strand.stop], *points)
            tips[strand.line, strand.stop] = points[-1]
        corners.append(points)
    return _Wires(strands, tuple(corners), stops, tips)


def _cards(
    vehicle: Vehicle,
    wired: Mapping[str, LineTopology],
    wires: _Wires,
    spots: Mapping[str, Point],
    hues: Mapping[str, int],
    findings: Sequence[Finding],
) -> list[Card]:
    lines_on: dict[str, tuple[str, ...]] = {}
    judged: dict[str, tuple[Path, ...]] = {}
    for name, of_line in vehicle.lines.items():
        for number, station in enumerate(of_line.stations):
            component = station.port.partition(".")[0]
            if component in vehicle.components:
                lines_on[component] = tuple(dict.fromkeys((*lines_on.get(component, ()), name)))
                judged[component] = (*judged.get(component, ()), ("lines", name, "stations", number))
    cards = list(component_cards(vehicle, spots, hues, lines_on, findings, judged))
    for name, topology in wired.items():
        of_line = vehicle.lines[name]
        own = [
            finding for finding in findings if finding.reading.subject in (("lines", name), ("lines", name, "stations"))
        ]
        verdict = worst(own)
        ends = {stop.index: _end(wires, name, stop.index, spots[stop.joint_place]) for stop in topology.stops}
        shown = None if verdict is Verdict.HOLDS else verdict
        cards.extend(end_cards(name, of_line.title or name, hues[name], topology, ends, shown))
    return cards


def _end(wires: _Wires, name: str, stop: int, otherwise: Point) -> Point:
    """Where the end of a line is: the end of its trunk, for the outer stops."""
    for strand, corners in zip(wires.strands, wires.corners, strict=True):
        if strand.line == name and strand.kind == "trunk" and corners and strand.stops:
            if stop == strand.stops[0][0]:
                return corners[0]
            if stop == strand.stops[-1][0]:
                return corners[-1]
    return wires.stops.get((name, stop), otherwise)


def _field(sheet: Sheet, vehicle: Vehicle, wires: _Wires, spots: Mapping[str, Point], ends: Sequence[Point]) -> Field:
    """What labels should keep clear of: strands above all, then runs and the outline."""
    rows: list[tuple[float, float, float, float, float]] = []
    for strand, corners in zip(wires.strands, wires.corners, strict=True):
        weight = 1.4 if strand.kind == "trunk" else 1.0
        rows.extend((*a, *b, weight) for a, b in itertools.pairwise(corners))
    rows.extend((*spots[run.start], *spots[run.end], 0.08) for run in vehicle.runs.values())
    rows += [(*a, *b, 0.9) for a, b in outline_segments(sheet)]
    nose_x, nose_y = sheet.nose
    rows += [(nose_x - 52, nose_y + step, nose_x - 18, nose_y + step, 2.0) for step in range(-24, 13, 6)]  # the arrow
    table = np.array(rows, dtype=np.float64).reshape(-1, 5)
    dots = np.array([*wires.stops.values(), *wires.tips.values(), *ends, *ends], dtype=np.float64).reshape(-1, 2)
    ys = [y for _, y in spots.values()]
    return Field(
        table[:, :4], table[:, 4], dots, MARGIN, sheet.width - MARGIN, min([sheet.top, *ys]), max([sheet.bottom, *ys])
    )


def _runs(vehicle: Vehicle, spots: Mapping[str, Point], lit: Collection[Path]) -> list[str]:
    shapes = []
    for name, run in vehicle.runs.items():
        path: Path = ("runs", name)
        style = "run" + (" open" if isinstance(run.length_m, Unknown) else "") + (" lit" if path in lit else "")
        said = f"{run.start} to {run.end}: {fact_text(run.length_m, Kind.LENGTH)}"
        shapes.append(group(path, line(spots[run.start], spots[run.end], style), title=said))
    return shapes


def _places(vehicle: Vehicle, spots: Mapping[str, Point], lit: Collection[Path]) -> list[str]:
    return [
        group(
            ("places", name),
            circle(spots[name], 2.25, "place lit" if ("places", name) in lit else "place"),
            title=spot.title or name,
        )
        for name, spot in vehicle.places.items()
    ]


def _leaders(cards: Sequence[Card], placed: Sequence[Placed]) -> list[str]:
    return [line(card.spot, at.foot, "leader") for card, at in zip(cards, placed, strict=True)]


def _strands(
    wires: _Wires, wired: Mapping[str, LineTopology], dashed: Collection[str], lit: Collection[Path]
) -> list[str]:
    """Branches first, so that trunks lie over them."""
    shapes = []
    order = sorted(range(len(wires.strands)), key=lambda number: wires.strands[number].kind)
    for number in order:
        strand, corners = wires.strands[number], wires.corners[number]
        trunk = strand.kind == "trunk"
        path: Path = ("lines", strand.line) if trunk else ("lines", strand.line, "stations", strand.stop)
        topology = wired[strand.line]
        length_m = topology.trunk_m if trunk else topology.stops[strand.stop].branch_m
        style = f"strand {strand.kind} hue-{strand.hue}"
        style += (" dashed" if strand.line in dashed else "") + (" lit" if path in lit else "")
        shape = tag("path", d=rounded(corners), class_=style) if len(corners) > 1 else ""
        said = f"{strand.line}: {strand.kind}, {quantity(length_m, Kind.LENGTH)}"
        shapes.append(group(path, shape, title=said, data_kind=strand.kind))
    return shapes


def _stops(
    wired: Mapping[str, LineTopology],
    wires: _Wires,
    ends: Mapping[tuple[str, int], tuple[Point, Point]],
    hues: Mapping[str, int],
    lit: Collection[Path],
) -> list[str]:
    """A ring at every stop, a small one where a branch ends, a resistor where a termination is on."""
    shapes = []
    for name, topology in wired.items():
        hue = hues[name]
        for stop in topology.stops:
            path: Path = ("lines", name, "stations", stop.index)
            at = wires.stops.get((name, stop.index))
            if at is None:
                continue
            shape = ""
            style = f"stop hue-{hue}" + (" lit" if path in lit else "")
            if stop.port and not stop.repeated:
                shape += circle(at, 3.4, style)
            tip = wires.tips.get((name, stop.index))
            if tip is not None:
                shape += circle(tip, 2.2, style)
            if (name, stop.index) in ends:
                shape += resistor(*ends[name, stop.index], hue)
            said = f"{name}, stop {stop.index + 1}: {stop.port or 'plug-in terminator'}"
            shapes.append(group(path, shape, title=said))
    return shapes


def _terminations(wired: Mapping[str, LineTopology], wires: _Wires) -> dict[tuple[str, int], tuple[Point, Point]]:
    """For every termination that is on: its middle, a little outside the trunk's end, and the trunk's direction there."""
    found = {}
    for strand, corners in zip(wires.strands, wires.corners, strict=True):
        if strand.kind != "trunk":
            continue
        for stop in wired[strand.line].stops:
            at = wires.tips.get((strand.line, stop.index)) or wires.stops.get((strand.line, stop.index))
            if stop.termination != "on" or at is None:
                continue
            end = _end(wires, strand.line, stop.index, at)
            along = _outward(corners, end)
            found[strand.line, stop.index] = ((end[0] + along[0] * OUT, end[1] + along[1] * OUT), along)
    return found


def _outward(corners: tuple[Point, ...], end: Point) -> Point:
    """The direction in which a trunk leaves its end; to the right where it has none."""
    if len(corners) < 2 or end not in (corners[0], corners[-1]):
        return (1.0, 0.0)
    inner = corners[1] if end == corners[0] else corners[-2]
    long = max(math.dist(end, inner), 1e-9)
    return (end[0] - inner[0]) / long, (end[1] - inner[1]) / long
