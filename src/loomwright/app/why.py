"""Why a figure is what it is: its formula in words, its inputs with their sources, what it assumes and leaves out.

A figure is named by a path: ``lines.drive.trunk_m``, ``lines.drive.stations[3].branch_m``, ``.ohm``, ``.distance_m``;
any fact or plain field by its own path; a finding by ``finding:`` and its key.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from loomwright.app.margin import finding_named, rule_title
from loomwright.app.project import Project
from loomwright.app.why_inputs import Input, fact_input, length_inputs, plain_input, resistance_inputs, section_inputs
from loomwright.judge.pages import PAGES
from loomwright.model.line import Line
from loomwright.model.variant import value_at
from loomwright.model.vehicle import Vehicle
from loomwright.show.change import kind_of
from loomwright.show.names import component_title, spoken
from loomwright.show.quantity import fact_text, span
from loomwright.show.quantity import text as quantity
from loomwright.show.words import finding_sentence, limit_source, limit_text, margin_text, path_words, value_text
from loomwright.show.words.formula import Formula
from loomwright.show.words.formulas import FIGURES, RULES
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.change import Path, path_of, path_text
from loomwright.terms.errors import LoomwrightError, PathError
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.finding import Finding
from loomwright.terms.quantity import Kind

OF_LINE = ("trunk_m", "branches_m", "cable_m", "ohm")
OF_STOP = ("distance_m", "branch_m", "ohm")
_NAMES = {
    "trunk_m": "Length of the trunk",
    "branches_m": "Length of all branches",
    "cable_m": "Cable of the line",
    "distance_m": "Distance along the trunk",
    "branch_m": "Length of the branch",
    "ohm": "Meter reading",
}


class NoSuchFigureError(LoomwrightError):
    """Nothing is computed or known under this path."""


@dataclass(frozen=True, slots=True)
class Why:
    """The way to a figure. ``limit`` and ``source`` are empty where nothing is compared; ``waits_for`` are paths."""

    title: str
    subject: str
    formula: str
    inputs: tuple[Input, ...]
    result: str
    told: str = ""
    limit: str = ""
    margin: str = ""
    source: str = ""
    assumptions: tuple[Input, ...] = ()
    waits_for: tuple[Input, ...] = ()
    left_out: tuple[str, ...] = ()
    rule: str = ""
    reason: str = ""


def why(project: Project, of: str) -> Why:
    """Why the figure of a path, or of ``finding:KEY``, is what it is. Raises ``NoSuchFigureError``."""
    if of.startswith("finding:"):
        return _of_finding(
            project, finding_named(project.answers.findings(project.vehicle), of.removeprefix("finding:"))
        )
    try:
        path = path_of(of)
    except ValueError as error:
        raise NoSuchFigureError(str(error)) from error
    if len(path) == 3 and path[0] == "lines" and path[2] in OF_LINE and path[1] in project.vehicle.lines:
        return _of_line(project, str(path[1]), str(path[2]))
    if len(path) == 5 and path[0] == "lines" and path[2] == "stations" and path[4] in OF_STOP:
        return _of_stop(project, path)
    return _of_fact(project.vehicle, path)


def _of_line(project: Project, name: str, figure: str) -> Why:
    vehicle, line = project.vehicle, project.vehicle.lines[name]
    title = f"{_NAMES[figure]}, {line.title or spoken(name)}"
    if figure == "ohm":
        ohms = project.answers.ohms(vehicle, name)
        if isinstance(ohms, Blocked) or not ohms.value.stops:
            return _waiting(vehicle, title, f"lines.{name}", FIGURES["ohm"], ohms)
        worst = max(ohms.value.stops, key=lambda stop: stop.ohm)
        found = _of_stop(project, ("lines", name, "stations", worst.stop, "ohm"))
        return replace(found, told=f"The highest of the line, at {_stop_title(vehicle, line, worst.stop)}.")
    wired = project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        return _waiting(vehicle, title, f"lines.{name}", FIGURES[figure], wired)
    kinds = {"trunk_m": ("trunk",), "branches_m": ("branch",), "cable_m": ("trunk", "branch")}[figure]
    inputs = length_inputs(vehicle, line, wired.value, kinds)
    return Why(
        title,
        f"lines.{name}",
        FIGURES[figure].words,
        inputs,
        quantity(getattr(wired.value, figure), Kind.LENGTH),
        assumptions=_facts(vehicle, wired.assumed),
        left_out=FIGURES[figure].left_out,
    )


def _of_stop(project: Project, path: Path) -> Why:
    vehicle = project.vehicle
    name, index, figure = str(path[1]), path[3], str(path[4])
    line = vehicle.lines.get(name)
    if line is None or not isinstance(index, int) or not 0 <= index < len(line.stations):
        raise NoSuchFigureError(f"there is no stop {path_text(path[:4])}")
    title = f"{_NAMES[figure]}, {_stop_title(vehicle, line, index)}"
    subject, formula = path_text(path[:4]), FIGURES[figure]
    wired, ohms = project.answers.topology(vehicle, name), project.answers.ohms(vehicle, name)
    if isinstance(wired, Blocked):
        return _waiting(vehicle, title, subject, formula, wired)
    stop = next(stop for stop in wired.value.stops if stop.index == index)
    if figure == "ohm":
        if isinstance(ohms, Blocked):
            return _waiting(vehicle, title, subject, formula, ohms)
        read = next(found for found in ohms.value.stops if found.stop == index)
        return Why(
            title,
            subject,
            formula.words,
            resistance_inputs(vehicle, line, wired.value),
            f"{quantity(read.ohm, Kind.RESISTANCE)} ({span(read.low_ohm, read.high_ohm, Kind.RESISTANCE)})",
            assumptions=_facts(vehicle, ohms.assumed),
            left_out=formula.left_out,
        )
    if figure == "distance_m":
        inputs = section_inputs(vehicle, line, wired.value, index)
    else:
        pieces = replace(wired.value, pieces=tuple(piece for piece in wired.value.pieces if piece.stop == index))
        inputs = length_inputs(vehicle, line, pieces, ("branch",))
    result = quantity(getattr(stop, figure), Kind.LENGTH)
    used = {entry.path for entry in inputs}
    assumed = tuple(entry for entry in _facts(vehicle, wired.assumed) if entry.path in used)
    return Why(title, subject, formula.words, inputs, result, assumptions=assumed, left_out=formula.left_out)


def _of_finding(project: Project, finding: Finding) -> Why:
    vehicle, reading = project.vehicle, finding.reading
    formula = RULES.get(finding.rule, Formula(""))
    about = PAGES.get(finding.rule)
    inputs = _finding_inputs(project, finding)
    return Why(
        rule_title(finding.rule),
        path_text(reading.subject),
        formula.words or (about.measures if about else ""),
        inputs,
        "?" if reading.value is None or reading.blocked_by else value_text(reading),
        finding_sentence(finding),
        limit_text(reading.limit),
        "" if finding.margin is None else margin_text(finding),
        limit_source(reading.limit),
        _facts(vehicle, reading.assumed),
        _facts(vehicle, reading.blocked_by),
        formula.left_out,
        finding.rule,
        about.why if about else "",
    )


_FIGURE_OF = {
    "trunk-length": "trunk_m",
    "branches-total": "branches_m",
    "length-by-cross-section": "trunk_m",
    "branches-by-propagation": "branches_m",
    "line-resistance": "ohm",
    "branch-length": "branch_m",
    "branch-by-propagation": "branch_m",
}


def _finding_inputs(project: Project, finding: Finding) -> tuple[Input, ...]:
    """The inputs of the figure that the rule measures, then what the rule itself added."""
    reading = finding.reading
    figure = _FIGURE_OF.get(finding.rule)
    below: tuple[Input, ...] = ()
    if figure and reading.value is not None and not reading.blocked_by:
        below = why(project, f"{path_text(reading.subject)}.{figure}").inputs
        if finding.rule == "trunk-length" and dict(reading.because).get("counted"):
            below = why(project, f"{path_text(reading.subject)}.cable_m").inputs
    below = (*below, *_compared(project.vehicle, finding))
    added = tuple(
        plain_input(name, value)
        for name, value in reading.because
        if not (below and name in _SAID)
        and isinstance(value, (int, float, str, tuple))
        and value not in ("", ())
        and name not in _NOT_SHOWN
    )
    return (*below, *added)


_FACTS_OF = {
    "bit-rate-match": ("bit_rate_bit_per_s", "bit_rates_bit_per_s"),
    "data-bit-rate-match": ("data_bit_rate_bit_per_s", "data_bit_rates_bit_per_s"),
    "identifier-match": ("identifiers", "identifiers"),
    "frames-match": ("frames", "frames"),
    "protocol-match": ("protocol", "protocols"),
}
"""For rules that hold a port against its line: the field of the line and the fact of the port."""


def _compared(vehicle: Vehicle, finding: Finding) -> tuple[Input, ...]:
    """The very facts that a rule compares as they are written, with their sources."""
    reading = finding.reading
    port = str(dict(reading.because).get("port", ""))
    component, _, own = port.partition(".")
    if finding.rule in _FACTS_OF and reading.line and own:
        of_line, of_port = _FACTS_OF[finding.rule]
        paths: tuple[Path, ...] = (("lines", reading.line, of_line), ("components", component, "ports", own, of_port))
        return tuple(fact_input(vehicle, path) for path in paths)
    if finding.rule == "run-length":
        return (fact_input(vehicle, (*reading.subject[:2], "length_m")),)
    return ()


_NOT_SHOWN = frozenset(("fact", "counted", "lead_m", "low_ohm", "high_ohm"))
_SAID = frozenset(("port", "line_has", "port_has", "trunk_m", "branches_m", "component"))
"""Said by inputs that stand there already."""


def _of_fact(vehicle: Vehicle, path: Path) -> Why:
    try:
        value = value_at(vehicle, path)
    except (PathError, TypeError, IndexError, KeyError) as error:
        raise NoSuchFigureError(f"nothing is computed or known under {path_text(path)}") from error
    if not isinstance(value, (Known, Assumed, Unknown, str, float, int, bool)):
        raise NoSuchFigureError(f"{path_text(path)} is no single figure")
    entry = fact_input(vehicle, path)
    words = {
        "known": "It is not computed: it stands in the project as it was read or measured.",
        "assumed": "It is not computed: it stands in until somebody looks it up.",
        "unknown": "Nobody has looked it up yet. What needs it waits; nothing is guessed.",
    }[entry.status]
    kind = kind_of(str(path[-1]))
    return Why(
        path_words(path)[:1].upper() + path_words(path)[1:],
        path_text(path),
        words,
        (entry,),
        fact_text(value, kind),
        assumptions=(entry,) if entry.status == "assumed" else (),
        waits_for=(entry,) if entry.status == "unknown" else (),
    )


def _waiting(vehicle: Vehicle, title: str, subject: str, formula: Formula, answer: Answer[Any]) -> Why:
    by = answer.by if isinstance(answer, Blocked) else ()
    return Why(title, subject, formula.words, (), "?", waits_for=_facts(vehicle, by), left_out=formula.left_out)


def _facts(vehicle: Vehicle, paths: Iterable[Path]) -> tuple[Input, ...]:
    return tuple(fact_input(vehicle, path) for path in dict.fromkeys(paths))


def _stop_title(vehicle: Vehicle, line: Line, index: int) -> str:
    station = line.stations[index]
    component = station.port.partition(".")[0]
    return (
        component_title(component, vehicle.components.get(component))
        if component
        else f"terminator at {spoken(station.at)}"
    )
