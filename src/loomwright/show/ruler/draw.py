"""Draw a line ruler."""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.show.handles import REACH, handle
from loomwright.show.lettering import shortened, words_px
from loomwright.show.marks import RANK, resistor, touching, verdict_mark, worst
from loomwright.show.names import component_title
from loomwright.show.quantity import bare, fact_text
from loomwright.show.quantity import text as quantity
from loomwright.show.ruler.scale import COLUMN, LEFT, WIDTH, Scale, columns, fans, is_narrow, scale_for
from loomwright.show.ruler.strips import Strip, figure_row, strip_rows
from loomwright.show.svg import Point, box, circle, drawing, group, line, polyline, words
from loomwright.show.words import finding_sentence
from loomwright.solve.ohms import LineOhms
from loomwright.solve.topology import LineTopology, Stop
from loomwright.terms.change import Path, path_text
from loomwright.terms.fact import value_of
from loomwright.terms.finding import Finding, Weight
from loomwright.terms.quantity import Kind

HEAD = 70.0
HEAD_ON_PAGE = 34.0
SIZE = 11.5
LETTERS = 34
ELBOW = 26.0
NAME_ENDS = 30.0
"""Pixels between the last slanted name and the edge of the sheet."""
TEAR = 4.0
"""Half the gap where a trunk is torn, in pixels."""
SLANT = math.sqrt(0.5)


@dataclass(frozen=True, slots=True)
class _Page:
    """Everything the parts of the drawing share."""

    name: str
    hue: int
    topology: LineTopology
    components: Table[Component]
    findings: tuple[Finding, ...]
    scale: Scale
    at: tuple[float, ...]
    aside: tuple[float, ...]
    trunk_y: float
    lit: frozenset[Path]
    handles: bool = False

    def path(self, stop: Stop) -> Path:
        """The station behind a stop."""
        return ("lines", self.name, "stations", stop.index)

    def of_stop(self, stop: Stop) -> tuple[Finding, ...]:
        """Findings about a station or about the port that stands there."""
        found = touching(self.findings, self.path(stop))
        if stop.port and not stop.repeated:
            component, _, port = stop.port.partition(".")
            found += touching(self.findings, ("components", component, "ports", port))
        return found


def line_ruler(
    name: str,
    line: Line,
    topology: LineTopology,
    ohms: LineOhms | None,
    components: Table[Component],
    findings: Sequence[Finding] = (),
    strips: Sequence[Strip] = (),
    highlight: Collection[Path] = (),
    *,
    hue: int = 1,
    standalone: bool = True,
    width: float = WIDTH,
    handles: bool = False,
    verdict_title: str = "verdict",
) -> str:
    """A line pulled straight, ``width`` pixels wide, trunk and branches to the same scale in metres, as SVG.

    Under it, in a column for each stop: its distance, its branch, the ohm-meter reading to expect (typical, lowest,
    highest), every strip, and the worst verdict. Columns of close stations are spread, each joined to its station.
    ``verdict_title`` says of which rules. With ``handles`` stations can be focused, and terminations that are switched off can be seen and reached.
    """
    scale = scale_for(topology, width)
    labels = [_label(stop, components) for stop in topology.stops]
    slants = [words_px(label, SIZE, strong=True) * SLANT for label in labels]
    # The last slanted names must end on the sheet.
    fit = [width - NAME_ENDS - slant + COLUMN * (len(slants) - 1 - index) for index, slant in enumerate(slants)]
    at = columns([scale.x(stop.distance_m) for stop in topology.stops], right=min([width - 58.0, *fit]))
    trunk_y = (HEAD_ON_PAGE if handles else HEAD) + max(slants, default=0.0) + 16.0 + ELBOW
    own = tuple(finding for finding in findings if finding.reading.line in ("", name))
    aside = fans(topology, scale)
    page = _Page(name, hue, topology, components, own, scale, at, aside, trunk_y, frozenset(highlight), handles)
    deepest = max((stop.branch_m for stop in topology.stops), default=0.0) * scale.per_m
    axis_y = page.trunk_y + max(deepest, 14.0) + 24.0
    shapes = [_guides(page, axis_y), _axis(page, axis_y), _trunk(page), *(_stop(page, stop) for stop in topology.stops)]
    shapes += [_slanted(page, stop, label) for stop, label in zip(topology.stops, labels, strict=True)]
    rows, bottom = _rows(page, ohms, strips, axis_y + 20.0 + ELBOW, verdict_title)
    if not topology.stops:
        shapes.append(
            words((LEFT, page.trunk_y - 12), "No stations yet: list the stops of this line in its file.", "muted")
        )
    title = line.title or name
    return drawing(
        width,
        bottom + 20.0,
        f"{title}: line ruler",
        _head(page, line, title, width),
        *shapes,
        rows,
        standalone=standalone,
        handles=handles,
    )


def _label(stop: Stop, components: Table[Component]) -> str:
    title = component_title(stop.component, components.get(stop.component)) if stop.port else "Plug-in terminator"
    title = shortened(title, LETTERS)
    if stop.repeated:
        return f"{title} (again)"
    if stop.termination == "on":
        return f"{title} · {quantity(value_of(stop.termination_ohm), Kind.RESISTANCE)}"
    return f"{title} · terminated?" if stop.termination == "unknown" else title


def _head(page: _Page, line: Line, title: str, width: float) -> str:
    """Title, facts of the line, and how many findings there are of each verdict."""
    wired = page.topology
    facts = [
        fact_text(line.bit_rate_bit_per_s, Kind.BIT_RATE),
        line.protocol,
        f"{len(wired.stops)} stops",
        f"trunk {quantity(wired.trunk_m, Kind.LENGTH)}",
        f"branches {quantity(wired.branches_m, Kind.LENGTH)}",
    ]
    # On a page the title stands above the drawing.
    y = 20.0 if page.handles else 34.0
    told = " · ".join(facts)
    if page.handles:
        shapes = [box(28, 10, 5, 14, f"ink-{page.hue}"), words((42, y), told, "muted")]
    else:
        shapes = [box(28, 22, 5, 34, f"ink-{page.hue}"), words((42, y), title, "title", size=17.0)]
        shapes.append(words((42, 53), told, "muted"))
    x = width - 28.0
    for verdict in reversed(RANK):
        count = sum(
            finding.verdict is verdict
            and finding.reading.weight is Weight.GOVERNS
            and finding.reading.line == page.name
            for finding in page.findings
        )
        if count:
            text = f"{count} {verdict.value}"
            x -= words_px(text, SIZE)
            shapes += [words((x, y), text, verdict.value), verdict_mark((x - 10, y - 4), verdict)]
            x -= 34.0
    return group(("lines", page.name), *shapes)


def _axis(page: _Page, y: float) -> str:
    """Metres from the first end."""
    end = page.scale.x(page.topology.trunk_m)
    shapes = [line((LEFT, y), (end, y), "rule")]
    step = page.scale.tick_m
    for number in range(int(page.topology.trunk_m / step + 1e-9) + 1):
        x = page.scale.x(number * step)
        shapes.append(line((x, y - 4), (x, y + 4), "rule"))
        shapes.append(words((x, y + 15), f"{number * step:g}", "figure small muted halo", size=10.0, anchor="middle"))
    shapes.append(words((LEFT - 26, y + 4), "metres", "muted", anchor="end"))
    return "".join(shapes)


def _trunk(page: _Page) -> str:
    """The trunk; own leads that are its ends are drawn as leads."""
    wired, y, x = page.topology, page.trunk_y, page.scale.x
    stops = wired.stops
    first = stops[0].lead_m if stops and _is_end(stops[0]) else 0.0
    last = stops[-1].lead_m if len(stops) > 1 and _is_end(stops[-1]) else 0.0
    style = f"hue-{page.hue}" + (" lit" if ("lines", page.name) in page.lit else "")
    first_x, last_x = x(first), x(max(wired.trunk_m - last, first))
    shapes, start_x = [], first_x
    for tear_x in (x(tear_m) for tear_m in _tears(wired)):
        shapes.append(line((start_x, y), (tear_x - TEAR, y), f"strand {style}"))
        start_x = tear_x + TEAR
        ends = (tear_x - TEAR, start_x)
        shapes += [line((end_x - 2.0, y + 7.0), (end_x + 2.0, y - 7.0), f"strand {style}") for end_x in ends]
    shapes.append(line((start_x, y), (last_x, y), f"strand {style}"))
    for lead_m, start, end in ((first, x(0.0), first_x), (last, last_x, x(wired.trunk_m))):
        if lead_m > 0.0:
            joint = end if start == x(0.0) else start
            shapes += [line((start, y), (end, y), f"strand lead {style}"), _connector((joint, y), page.hue)]
    said = f"trunk, {quantity(wired.trunk_m, Kind.LENGTH)}"
    return group(("lines", page.name), *shapes, title=said, data_kind="trunk")


def _tears(wired: LineTopology) -> list[float]:
    """Where the trunk is torn, in metres from its first end."""
    joined = {node for stop in wired.stops for node in (stop.joint, stop.tip)}
    found, along_m = [], 0.0
    for piece in wired.pieces:
        if piece.kind == "trunk":
            along_m += piece.length_m
            if piece.end not in joined:
                found.append(along_m)
    return found


def _is_end(stop: Stop) -> bool:
    return stop.termination == "on" and stop.branch_m == 0.0 and stop.tip != stop.joint


def _connector(at: Point, hue: int) -> str:
    return box(at[0] - 2.5, at[1] - 2.5, 5, 5, f"stop hue-{hue}")


def _stop(page: _Page, stop: Stop) -> str:
    """The station's ring on the trunk, its branch with connector and own lead below it, its termination."""
    x, y = page.scale.x(stop.distance_m), page.trunk_y
    path = page.path(stop)
    style = f"hue-{page.hue}" + (" lit" if path in page.lit else "")
    shapes, tip = [], (x, y)
    if stop.branch_m > 0.0 and not stop.repeated:
        aside = x + page.aside[stop.index]
        tip = (aside, y + stop.branch_m * page.scale.per_m)
        plug = (aside, y + max(stop.branch_m - stop.lead_m, 0.0) * page.scale.per_m)
        shapes.append(polyline(((x, y), (aside, min(y + 7.0, plug[1])), plug), f"strand branch {style}"))
        if stop.lead_m > 0.0:
            shapes.append(line(plug, tip, f"strand lead {style}"))
        shapes.append(_connector(plug, page.hue))
    shapes.append(circle((x, y), 4.0, f"stop {style}"))
    if page.handles:
        shapes.append(circle((x, y), REACH, "hit"))
    if stop.termination == "on" and not stop.repeated:
        outer = stop.index in (page.topology.stops[0].index, page.topology.stops[-1].index) and tip == (x, y)
        side = -9.0 if stop.index == page.topology.stops[0].index else 9.0
        at = (x + side, y) if outer else (tip[0], tip[1] + 4.0)
        shapes.append(_switch(page, stop, resistor(at, (1.0, 0.0) if outer else (0.0, 1.0), page.hue), at))
    elif page.handles and stop.termination == "off" and stop.termination_ohm is not None and not stop.repeated:
        at = (tip[0], tip[1] + 10.0)
        shapes.append(_switch(page, stop, box(at[0] - 6.5, at[1] - 3.0, 13.0, 6.0, "end off"), at))
    said = f"stop {stop.index + 1} at {quantity(stop.distance_m, Kind.LENGTH)}: {stop.port or 'plug-in terminator'}"
    if stop.branch_m > 0.0:
        said += f", branch {quantity(stop.branch_m, Kind.LENGTH)}"
        said += f" of which own lead {quantity(stop.lead_m, Kind.LENGTH)}" if stop.lead_m else ""
    more = {"data_index": str(stop.index), "data_x": f"{x:.2f}"} if page.handles else {}
    return group(
        path,
        *shapes,
        title=said,
        **more,
        data_distance_m=f"{stop.distance_m:.6g}",
        data_branch_m=f"{stop.branch_m:.6g}",
    )


def _switch(page: _Page, stop: Stop, mark: str, at: Point) -> str:
    """A termination's mark; on a page an area around it that switches it where it can be switched."""
    if not page.handles or page.components.get(stop.component) is None:
        return mark
    kind = page.components[stop.component].ports[stop.port.partition(".")[2]].termination
    if value_of(kind) != "switchable":
        return mark
    said = (
        f"Termination of {stop.port}, {quantity(value_of(stop.termination_ohm), Kind.RESISTANCE)}: {stop.termination}"
    )
    held = handle("termination", f"{said}. Switch it {'off' if stop.termination == 'on' else 'on'}.")
    held |= {"data_index": str(stop.index), "data_to": "false" if stop.termination == "on" else "true"}
    return group(page.path(stop), circle(at, REACH, "hit"), mark, title=said, **held)


def _slanted(page: _Page, stop: Stop, label: str) -> str:
    """The station's name, slanted above its column, with an elbow down to its ring."""
    column, x, y = page.at[stop.index], page.scale.x(stop.distance_m), page.trunk_y
    top = y - ELBOW
    leader = polyline(((column, top), (column, top + 5), (x, y - 12), (x, y - 5)), "leader")
    place = (column + 3.0, top - 5.0)
    style = "strong" if stop.termination == "on" else ""
    turned = words(place, label, style, size=SIZE, transform=f"rotate(-45 {place[0]:.2f} {place[1]:.2f})")
    path: Path = ("components", stop.component) if stop.port else page.path(stop)
    if page.handles:
        held = handle("station", f"Stop {stop.index + 1}: {label}")
        return leader + group(
            page.path(stop), turned, class_="label", data_index=stop.index, data_also=path_text(path), **held
        )
    return leader + group(path, turned, class_="label")


def _guides(page: _Page, axis_y: float) -> str:
    """Hairlines from each station through the axis to its column of figures."""
    shapes = []
    for stop, column in zip(page.topology.stops, page.at, strict=True):
        x = page.scale.x(stop.distance_m) + page.aside[stop.index]
        start = page.trunk_y + (stop.branch_m * page.scale.per_m if not stop.repeated else 0.0)
        corners = ((x, start), (x, axis_y + 20), (column, axis_y + 15 + ELBOW), (column, axis_y + 20 + ELBOW))
        shapes.append(polyline(corners, "fine"))
    return "".join(shapes)


def _rows(
    page: _Page, ohms: LineOhms | None, strips: Sequence[Strip], top: float, verdict_title: str
) -> tuple[str, float]:
    """All rows of figures; returns shapes and the lower edge."""
    stops, at = page.topology.stops, page.at
    shapes: list[str] = []
    y = top + 4.0
    if stops:
        distances = [bare(stop.distance_m, Kind.LENGTH, "m") for stop in stops]
        branches = ["–" if stop.branch_m == 0.0 else bare(stop.branch_m, Kind.LENGTH, "m") for stop in stops]
        y = _add(shapes, figure_row("distance, m", distances, at, y), y)
        y = _add(shapes, figure_row("branch, m", branches, at, y), y) + 6.0
    if ohms is not None and stops:
        read = {item.stop: item for item in ohms.stops}
        for title, pick, strong in (
            ("meter reads, Ω", "ohm", True),
            ("lowest, Ω", "low_ohm", False),
            ("highest, Ω", "high_ohm", False),
        ):
            texts = [bare(getattr(read.get(stop.index), pick, None), Kind.RESISTANCE, "Ω") for stop in stops]
            y = _add(shapes, figure_row(title, texts, at, y, strong=strong), y)
        y += 6.0
    elif stops:
        shapes.append(words((LEFT - 26, y + 12), "meter reads, Ω", "muted", anchor="end"))
        shapes.append(words((LEFT, y + 12), "? (facts are missing; the findings name them)", "muted"))
        y += 24.0
    for strip in strips:
        y = _add(shapes, strip_rows(strip, at, y, page.hue), y) + 6.0
    if any(page.of_stop(stop) for stop in stops):
        y = _add(shapes, _verdicts(page, y, verdict_title), y)
    return "".join(shapes), y


def _add(shapes: list[str], row: tuple[str, float], y: float) -> float:
    shapes.append(row[0])
    return y + row[1]


def _verdicts(page: _Page, top: float, title: str) -> tuple[str, float]:
    """The worst verdict of each station: its shape and its word."""
    narrow = is_narrow(page.at)
    shapes = [words((LEFT - 26, top + 13), title, "muted", anchor="end")]
    for stop, x in zip(page.topology.stops, page.at, strict=True):
        findings = page.of_stop(stop)
        verdict = worst(findings)
        if verdict is None:
            continue
        if narrow:
            place = (x + 3.4, top + 62.0)
            turn = f"rotate(-90 {place[0]:.2f} {place[1]:.2f})"
            word = words(place, verdict.value, f"small {verdict.value}", size=9.5, transform=turn)
        else:
            word = words((x, top + 24), verdict.value, f"small {verdict.value}", size=9.5, anchor="middle")
        said = "\n".join(finding_sentence(item) for item in findings if item.verdict is verdict)
        shapes.append(group(page.path(stop), verdict_mark((x, top + 9), verdict), word, title=said, class_="verdict"))
    return "".join(shapes), 68.0 if narrow else 30.0
