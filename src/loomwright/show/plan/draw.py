"""Draw the vehicle plan."""

import itertools
from collections.abc import Collection, Mapping, Sequence

import numpy as np

from loomwright.model.vehicle import Vehicle
from loomwright.show.marks import worst
from loomwright.show.plan.body import front_arrow, outline, outline_segments, scale_bar
from loomwright.show.plan.cards import Card, component_cards, draw_card, end_cards
from loomwright.show.plan.legend import legend
from loomwright.show.plan.placing import Field, Placed, Wanted, place
from loomwright.show.plan.sheet import WIDTH, Sheet, sheet_for
from loomwright.show.plan.spots import place_handles
from loomwright.show.plan.wires import Wires, draw_wires, end_of, terminations, wires_of
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
HEAD_ON_PAGE = 34.0


def vehicle_plan(
    vehicle: Vehicle,
    topologies: Mapping[str, Answer[LineTopology]],
    findings: Sequence[Finding] = (),
    highlight: Collection[Path] = (),
    *,
    standalone: bool = True,
    width: float = WIDTH,
    emphasis: str = "",
    handles: bool = False,
) -> str:
    """The vehicle from above, to scale, ``width`` pixels wide, as SVG. Front is to the left.

    Lines follow the runs they take; own leads of components have no way in the vehicle and are told on the line ruler.
    A line whose way is not known is named in the legend and not drawn. ``highlight`` lights up shapes by path.
    ``standalone`` carries the style; a page has it already. Every shape's ``data-path`` names what it draws; the
    ``svg`` element tells the scale as ``data-px-per-m`` and the nose as ``data-nose``.

    ``emphasis`` names a line: only its components are labelled, and other lines are faint. ``handles`` is for a page on
    which one works: places and components can be focused and are told apart as ``data-handle``, the name stands above.
    """
    sheet = sheet_for(vehicle, width)
    spots = {name: sheet.at(spot) for name, spot in vehicle.places.items()}
    wired = {name: answer.value for name, answer in topologies.items() if isinstance(answer, Solved)}
    hues = {name: hue_of(number)[0] for number, name in enumerate(vehicle.lines)}
    wires = wires_of(wired, hues, spots)
    shown = {name: topology for name, topology in wired.items() if emphasis in ("", name)}
    cards = _cards(vehicle, shown, wires, spots, hues, findings, emphasis)
    ends = [middle for middle, _ in terminations(shown, wires).values()]
    field = _field(sheet, vehicle, wires, spots, ends)
    placed = place([Wanted(card.spot, card.width, card.height) for card in cards], field)
    lit = set(highlight)
    shapes = [
        outline(sheet, vehicle),
        front_arrow(sheet),
        *_runs(vehicle, spots, lit),
        *_places(vehicle, spots, lit),
        *_leaders(cards, placed),
        draw_wires(vehicle, wired, wires, lit, emphasis, handles=handles),
        *(place_handles(vehicle, spots) if handles and not emphasis else ()),
        *(draw_card(card, (at.x, at.y), lit, handles=handles) for card, at in zip(cards, placed, strict=True)),
    ]
    top = min([sheet.top, *(at.y for at in placed)])
    bottom = max([sheet.bottom, *(at.y + card.height for card, at in zip(cards, placed, strict=True))])
    down = (HEAD_ON_PAGE if handles else HEAD) - top + MARGIN
    foot = bottom + down + 34.0
    legend_text, legend_height = legend(vehicle, topologies, hues, findings, foot, emphasis)
    moved = tag("g", *shapes, transform=f"translate(0 {down:.2f})", class_="plan", data_px_per_m=f"{sheet.scale:.4f}",
                data_nose=f"{sheet.nose[0]:.2f} {sheet.nose[1]:.2f}")  # fmt: skip
    bar = scale_bar(sheet, (width - 40, 14) if handles else (width - 60, foot + 4))
    head = _head(vehicle, bare=handles)
    return drawing(width, foot + legend_height + 16.0, f"{vehicle.name}: vehicle plan", head, moved, legend_text, bar,
                   standalone=standalone, handles=handles)  # fmt: skip


def _head(vehicle: Vehicle, *, bare: bool) -> str:
    """The vehicle's name and size; ``bare`` where the name stands above the drawing."""
    size = f"{quantity(vehicle.length_m, Kind.LENGTH)} × {quantity(vehicle.width_m, Kind.LENGTH)}"
    told = words((28, 20 if bare else 53), f"seen from above · {size}", "muted")
    return told if bare else words((28, 34), vehicle.name, "title", size=17.0) + told


def _cards(
    vehicle: Vehicle,
    wired: Mapping[str, LineTopology],
    wires: Wires,
    spots: Mapping[str, Point],
    hues: Mapping[str, int],
    findings: Sequence[Finding],
    emphasis: str,
) -> list[Card]:
    lines_on: dict[str, tuple[str, ...]] = {}
    judged: dict[str, tuple[Path, ...]] = {}
    for name, of_line in vehicle.lines.items():
        for number, station in enumerate(of_line.stations):
            component = station.port.partition(".")[0]
            if component in vehicle.components:
                lines_on[component] = tuple(dict.fromkeys((*lines_on.get(component, ()), name)))
                judged[component] = (*judged.get(component, ()), ("lines", name, "stations", number))
    cards = list(component_cards(vehicle, spots, hues, lines_on, findings, judged, emphasis))
    for name, topology in wired.items():
        of_line = vehicle.lines[name]
        own = [
            finding for finding in findings if finding.reading.subject in (("lines", name), ("lines", name, "stations"))
        ]
        verdict = worst(own)
        ends = {stop.index: end_of(wires, name, stop.index, spots[stop.joint_place]) for stop in topology.stops}
        shown = None if verdict is Verdict.HOLDS else verdict
        cards.extend(end_cards(name, of_line.title or name, hues[name], topology, ends, shown))
    return cards


def _field(sheet: Sheet, vehicle: Vehicle, wires: Wires, spots: Mapping[str, Point], ends: Sequence[Point]) -> Field:
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
        drawn = line(spots[run.start], spots[run.end], style)
        shapes.append(group(path, drawn, title=said, data_from=run.start, data_to=run.end))
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
