"""Who needs a message, how old it is there, and who passes it on."""

import math
from dataclasses import dataclass

from loomwright.app.cells import Cell, cell
from loomwright.app.check import worst
from loomwright.app.messages_page import Judged
from loomwright.app.messages_words import line_title
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title
from loomwright.show.quantity import bare
from loomwright.solve.hearing import HEARD, Hearing
from loomwright.solve.traffic import Traffic
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path, path_text
from loomwright.terms.quantity import Kind


@dataclass(frozen=True, slots=True)
class NeedRow:
    """Something that a component must hear of the message. Ages and gaps in ms; ``fresh`` and ``time_out`` may be typed."""

    path: str
    also: str
    component: str
    title: str
    signal: str
    what_for: str
    outcome: str
    heard: bool
    line: str
    line_title: str
    age: str
    why_age: str
    fresh: Cell
    gap: str
    why_gap: str
    time_out: Cell
    verdict: str


@dataclass(frozen=True, slots=True)
class Forwarded:
    """A gateway that passes the message on to another line."""

    path: str
    component: str
    title: str
    to: str
    lines: tuple[tuple[str, str], ...]
    identifier: Cell
    period: Cell
    delay: Cell


def need_rows(vehicle: Vehicle, traffic: Traffic, full: str, judged: Judged) -> tuple[NeedRow, ...]:
    """Every need that this message meets, or would meet."""
    sent_as = {each.message: each.sent for each in traffic.expectations if each.sent}
    rows = []
    for need, answer, apart in zip(traffic.hearings.needs, traffic.ages, traffic.gaps, strict=True):
        said = need.stream.message if need.stream is not None else sent_as.get(need.message, need.message)
        if full not in (said, need.message):
            continue
        age = gap = ""
        if answer is not None:
            age = "?" if isinstance(answer, Blocked) else _ms(answer.value.age_s)
        if apart is not None:
            gap = "?" if isinstance(apart, Blocked) else _ms(apart.value)
        rows.append(_need_row(vehicle, need, age, "" if _is_event(need) else gap, judged))
    return tuple(rows)


def forwarded_rows(vehicle: Vehicle, full: str) -> tuple[Forwarded, ...]:
    """Every gateway's forward of this message."""
    rows = []
    for name, component in vehicle.components.items():
        for key, forward in component.forwards.items():
            if forward.message != full:
                continue
            path: Path = ("components", name, "forwards", key)
            title, port = component_title(name, component), f"{name}.{forward.to}"
            on = [n for n, line in vehicle.lines.items() if any(stop.port == port for stop in line.stations)]
            rows.append(
                Forwarded(
                    path_text(path),
                    name,
                    title,
                    forward.to,
                    tuple((line, line_title(vehicle, line)) for line in on),
                    cell(vehicle, (*path, "identifier"), f"Identifier after {title}"),
                    cell(vehicle, (*path, "period_s"), f"Period after {title}", "ms"),
                    cell(vehicle, (*path, "delay_s"), f"Delay in {title}", "ms"),
                )
            )
    return tuple(rows)


def _need_row(vehicle: Vehicle, need: Hearing, age: str, gap: str, judged: Judged) -> NeedRow:
    owner = vehicle.components[need.component]
    title, stated = component_title(need.component, owner), owner.needs[str(need.path[-1])]
    line = need.stream.line if need.stream is not None else ""
    fresh, time_out = (*need.path, "fresh_s"), (*need.path, "time_out_s")
    own = tuple(finding for finding in judged.all if finding.reading.subject[:4] == need.path)
    return NeedRow(
        path_text(need.path),
        f"components.{need.component}",
        need.component,
        title,
        need.signal,
        stated.what_for,
        need.outcome,
        need.outcome == HEARD,
        line,
        line_title(vehicle, line) if line else "",
        age,
        judged.key("fresh", fresh, line),
        cell(vehicle, fresh, f"How old it may be for {title}", "ms"),
        gap,
        judged.key("in-time-out", time_out, line),
        cell(vehicle, time_out, f"Time-out of {title}", "ms"),
        worst(own).value,
    )


def _is_event(need: Hearing) -> bool:
    return need.stream is not None and need.stream.event


def _ms(value_s: float) -> str:
    return bare(value_s, Kind.TIME, "ms") if math.isfinite(value_s) else "∞"
