"""The lines on the plan: strands along the runs, stops, terminations. Also drawn alone, while something is dragged."""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from loomwright.model.vehicle import Vehicle
from loomwright.show.handles import REACH, handle
from loomwright.show.marks import resistor
from loomwright.show.plan.bends import rounded, strand_points
from loomwright.show.plan.sheet import Sheet
from loomwright.show.plan.strands import Strand, slots, strands_of
from loomwright.show.quantity import text as quantity
from loomwright.show.svg import Point, circle, group, tag
from loomwright.show.tokens import hue as hue_of
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Solved
from loomwright.terms.change import Path
from loomwright.terms.quantity import Kind

OUT = 6.5
"""Pixels from the last ring of a trunk to the middle of its termination."""


@dataclass(frozen=True, slots=True)
class Wires:
    """Every strand with its corners, and the spot of every stop on the sheet."""

    strands: tuple[Strand, ...]
    corners: tuple[tuple[Point, ...], ...]
    stops: dict[tuple[str, int], Point]
    tips: dict[tuple[str, int], Point]


def plan_wires(
    vehicle: Vehicle,
    topologies: Mapping[str, Answer[LineTopology]],
    sheet: Sheet,
    highlight: Collection[Path] = (),
    emphasis: str = "",
) -> str:
    """The lines alone, to be put into a plan of that sheet. With ``emphasis`` all but that line are faint."""
    wired = {name: answer.value for name, answer in topologies.items() if isinstance(answer, Solved)}
    hues = {name: hue_of(number)[0] for number, name in enumerate(vehicle.lines)}
    wires = wires_of(wired, hues, {name: sheet.at(spot) for name, spot in vehicle.places.items()})
    return draw_wires(vehicle, wired, wires, set(highlight), emphasis)


def draw_wires(
    vehicle: Vehicle,
    wired: Mapping[str, LineTopology],
    wires: Wires,
    lit: Collection[Path],
    emphasis: str = "",
    *,
    handles: bool = False,
) -> str:
    """Strands, then stops, as one group."""
    hues = {name: hue_of(number)[0] for number, name in enumerate(vehicle.lines)}
    dashed = {name for number, name in enumerate(vehicle.lines) if hue_of(number)[1]}
    shown = {name: topology for name, topology in wired.items() if emphasis in ("", name)}
    shapes = _strands(wires, wired, dashed, lit, emphasis)
    shapes += _stops(shown, wires, terminations(shown, wires), hues, lit, handles=handles and emphasis != "")
    return tag("g", "".join(shapes), class_="wires")


def wires_of(wired: Mapping[str, LineTopology], hues: Mapping[str, int], spots: Mapping[str, Point]) -> Wires:
    """Lay every line along its runs, side by side where lines share one."""
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
    return Wires(strands, tuple(corners), stops, tips)


def end_of(wires: Wires, name: str, stop: int, otherwise: Point) -> Point:
    """Where the end of a line is: the end of its trunk, for the outer stops."""
    for strand, corners in zip(wires.strands, wires.corners, strict=True):
        if strand.line == name and strand.kind == "trunk" and corners and strand.stops:
            if stop == strand.stops[0][0]:
                return corners[0]
            if stop == strand.stops[-1][0]:
                return corners[-1]
    return wires.stops.get((name, stop), otherwise)


def _strands(
    wires: Wires,
    wired: Mapping[str, LineTopology],
    dashed: Collection[str],
    lit: Collection[Path],
    emphasis: str,
) -> list[str]:
    """Branches first, so that trunks lie over them; a line that is emphasised over all others."""
    shapes = []
    order = sorted(
        range(len(wires.strands)),
        key=lambda number: (wires.strands[number].line == emphasis, wires.strands[number].kind),
    )
    for number in order:
        strand, corners = wires.strands[number], wires.corners[number]
        trunk = strand.kind == "trunk"
        path: Path = ("lines", strand.line) if trunk else ("lines", strand.line, "stations", strand.stop)
        topology = wired[strand.line]
        length_m = topology.trunk_m if trunk else topology.stops[strand.stop].branch_m
        style = f"strand {strand.kind} hue-{strand.hue}"
        style += (" dashed" if strand.line in dashed else "") + (" lit" if path in lit else "")
        style += "" if emphasis in ("", strand.line) else " faint"
        shape = tag("path", d=rounded(corners), class_=style) if len(corners) > 1 else ""
        said = f"{strand.line}: {strand.kind}, {quantity(length_m, Kind.LENGTH)}"
        shapes.append(group(path, shape, title=said, data_kind=strand.kind))
    return shapes


def _stops(
    wired: Mapping[str, LineTopology],
    wires: Wires,
    ends: Mapping[tuple[str, int], tuple[Point, Point]],
    hues: Mapping[str, int],
    lit: Collection[Path],
    *,
    handles: bool,
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
            held = handle("stop", said) if handles and shape else {}
            if held:
                shape += circle(at, REACH, "hit")
            shapes.append(group(path, shape, title=said, data_place=stop.joint_place, **held))
    return shapes


def terminations(wired: Mapping[str, LineTopology], wires: Wires) -> dict[tuple[str, int], tuple[Point, Point]]:
    """For every termination that is on, on these lines: its middle, a little outside the trunk's end, and the trunk's direction there."""
    found = {}
    for strand, corners in zip(wires.strands, wires.corners, strict=True):
        if strand.kind != "trunk" or strand.line not in wired:
            continue
        for stop in wired[strand.line].stops:
            at = wires.tips.get((strand.line, stop.index)) or wires.stops.get((strand.line, stop.index))
            if stop.termination != "on" or at is None:
                continue
            end = end_of(wires, strand.line, stop.index, at)
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
