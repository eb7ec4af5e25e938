"""What the signs of a plan mean, below it: every line by name with its bit rate, then the verdicts."""

from collections.abc import Mapping, Sequence

from loomwright.model.vehicle import Vehicle
from loomwright.show.lettering import shortened, words_px
from loomwright.show.marks import RANK, padlock_mark, plug_mark, resistor, swatch, touching, verdict_mark, worst
from loomwright.show.quantity import fact_text
from loomwright.show.quantity import text as quantity
from loomwright.show.svg import circle, group, words
from loomwright.show.tokens import hue as hue_of
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.finding import Finding, Weight
from loomwright.terms.quantity import Kind

LEFT = 28.0
ROW = 20.0
NAME = 28


def legend(
    vehicle: Vehicle,
    topologies: Mapping[str, Answer[LineTopology]],
    hues: Mapping[str, int],
    findings: Sequence[Finding],
    top: float,
    emphasis: str = "",
) -> tuple[str, float]:
    """The legend's shapes below ``top``, and its height. With ``emphasis`` that line alone is told."""
    shapes = []
    dashed = {name for number, name in enumerate(vehicle.lines) if hue_of(number)[1]}
    told = [name for name in vehicle.lines if emphasis in ("", name)]
    for number, name in enumerate(told):
        y = top + number * ROW
        shapes.append(_line(vehicle, topologies, name, hues[name], name in dashed, findings, y))
    signs_y = top + len(told) * ROW + (8.0 if told else 0.0)
    shapes.append(_signs(vehicle, topologies, findings, signs_y))
    return "".join(shapes), signs_y + 12.0 - top


def _line(
    vehicle: Vehicle,
    topologies: Mapping[str, Answer[LineTopology]],
    name: str,
    hue: int,
    dashed: bool,
    findings: Sequence[Finding],
    y: float,
) -> str:
    of_line = vehicle.lines[name]
    facts = [fact_text(of_line.bit_rate_bit_per_s, Kind.BIT_RATE), of_line.protocol]
    answer = topologies.get(name)
    if isinstance(answer, Solved):
        wired = answer.value
        facts.append(f"{len(wired.stops)} stops, trunk {quantity(wired.trunk_m, Kind.LENGTH)}")
        facts.append(f"branches {quantity(wired.branches_m, Kind.LENGTH)}")
    elif isinstance(answer, Blocked):
        facts.append(_missing(answer))
    x = LEFT + 34
    shapes = [
        swatch(LEFT, y, hue, wide=24.0, dashed=dashed),
        words((x, y + 4), shortened(of_line.title or name, NAME), "strong"),
        words((x + 190, y + 4), "  ·  ".join(facts), "muted"),
    ]
    verdict = worst(touching(findings, ("lines", name)))
    if verdict:
        at = x + 200 + words_px("  ·  ".join(facts), 11.5)
        shapes += [verdict_mark((at + 6, y), verdict), words((at + 16, y + 4), verdict.value, verdict.value)]
    return group(("lines", name), *shapes)


def _missing(answer: Blocked) -> str:
    """Why a line cannot be drawn."""
    torn = sum(path[2:3] == ("stations",) for path in answer.by)
    if torn:
        return f"not drawn: no way along the runs to {torn} {'stop' if torn == 1 else 'stops'}"
    count = len(answer.by)
    return f"not drawn: {count} {'length is' if count == 1 else 'lengths are'} unknown"


def _signs(
    vehicle: Vehicle, topologies: Mapping[str, Answer[LineTopology]], findings: Sequence[Finding], y: float
) -> str:
    """One row: only signs that occur."""
    x, shapes = LEFT, []
    entries: list[tuple[str, str]] = []
    wired = [answer.value for answer in topologies.values() if isinstance(answer, Solved)]
    if any(wired):
        entries.append((circle((0, 0), 3.4, "stop hue-1"), "stop of a line"))
    if any(stop.termination == "on" for topology in wired for stop in topology.stops):
        entries.append((resistor((0, 0), (1, 0), 1), "termination"))
    if any(component.role == "service plug" for component in vehicle.components.values()):
        entries.append((plug_mark((0, 0)), "service plug"))
    if vehicle.locks:
        entries.append((padlock_mark((0, 0)), "lock for the planner"))
    seen = {item.verdict for item in findings if item.reading.weight is Weight.GOVERNS and not item.accepted}
    entries += [(verdict_mark((0, 0), verdict), verdict.value) for verdict in reversed(RANK) if verdict in seen]
    for shape, text in entries:
        shapes.append(f'<g transform="translate({x + 7:.2f} {y:.2f})">{shape}</g>')
        shapes.append(words((x + 20, y + 4), text, "muted"))
        x += 20 + words_px(text, 11.5) + 26
    return "".join(shapes)
