"""Deviations that somebody answers for: which findings they cover, and how one is accepted or withdrawn."""

from dataclasses import replace

from loomwright.files.quantity import QuantityError, parse_quantity
from loomwright.files.render import quantity_text
from loomwright.judge import RULES
from loomwright.judge.rule import compare
from loomwright.model.vehicle import Deviation, Vehicle
from loomwright.terms.change import Change, Edit, Path, path_text
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.finding import Finding, Verdict, Weight
from loomwright.terms.quantity import Kind, units_of

ROUNDING = 1e-3
"""Share by which a figure may be worse than the accepted one: that is kept with four figures."""


class DeviationError(LoomwrightError):
    """A finding that cannot be accepted, or an acceptance that lacks its reason or name."""


def marked(findings: tuple[Finding, ...], vehicle: Vehicle) -> tuple[Finding, ...]:
    """The findings, those that a deviation of the vehicle covers marked with its name."""
    if not vehicle.deviations:
        return findings
    by_subject = {(item.rule, item.subject): name for name, item in vehicle.deviations.items()}
    return tuple(_marked(finding, vehicle, by_subject) for finding in findings)


def idle(findings: tuple[Finding, ...], vehicle: Vehicle) -> tuple[str, ...]:
    """Names of deviations that cover nothing any more: cured, worse than accepted, or about something that is gone."""
    used = {finding.accepted for finding in findings}
    return tuple(name for name in vehicle.deviations if name not in used)


def accept(vehicle: Vehicle, finding: Finding, reason: str, by: str, date: str) -> Change:
    """The change that accepts a finding. Raises ``DeviationError`` without a reason or a name."""
    if finding.verdict not in (Verdict.BROKEN, Verdict.TIGHT) or finding.reading.value is None:
        raise DeviationError(
            "only a figure that is broken or tight can be accepted; an unknown one has to be looked up"
        )
    if not reason.strip() or not by.strip():
        raise DeviationError("a deviation needs a reason and the name of whoever answers for it")
    subject = subject_text(vehicle, finding.reading.subject)
    stem = finding.rule.replace("-", "_")
    twin = next((n for n, d in vehicle.deviations.items() if (d.rule, d.subject) == (finding.rule, subject)), None)
    name = twin or next(name for n in range(1, 10_000) if (name := f"{stem}_{n}") not in vehicle.deviations)
    measured = _measured_text(finding.reading.value, finding.reading.limit.kind)
    deviation = Deviation(finding.rule, subject, measured, reason.strip(), by.strip(), date)
    return Change(f"accept {finding.rule} on {subject}", (Edit(("deviations", name), deviation),))


def withdraw(vehicle: Vehicle, name: str) -> Change:
    """The change that takes an acceptance back."""
    if name not in vehicle.deviations:
        raise DeviationError(f"there is no accepted deviation {name!r}")
    return Change(f"withdraw the accepted {vehicle.deviations[name].rule}", (Edit(("deviations", name), None),))


def subject_text(vehicle: Vehicle, path: Path) -> str:
    """A subject that stays the same when stations change places: by the port's name, not the number in the list."""
    if len(path) > 3 and path[0] == "lines" and path[2] == "stations" and path[1] in vehicle.lines:
        stations, index = vehicle.lines[str(path[1])].stations, path[3]
        if isinstance(index, int) and 0 <= index < len(stations):
            station = stations[index]
            rest = path_text(path[4:])
            named = f"lines.{path[1]}.stations[{station.port or f'terminator at {station.at}'}]"
            return f"{named}.{rest}" if rest else named
    return path_text(path)


def _marked(finding: Finding, vehicle: Vehicle, by_subject: dict[tuple[str, str], str]) -> Finding:
    if finding.verdict not in (Verdict.BROKEN, Verdict.TIGHT) or finding.reading.weight is not Weight.GOVERNS:
        return finding
    name = by_subject.get((finding.rule, subject_text(vehicle, finding.reading.subject)))
    if name is None or not _no_worse(finding, vehicle.deviations[name]):
        return finding
    return replace(finding, accepted=name)


def _no_worse(finding: Finding, deviation: Deviation) -> bool:
    """Whether the figure is as good as the one that was accepted, by the same comparison that the judge makes."""
    reading, rule = finding.reading, next((rule for rule in RULES if rule.code == finding.rule), None)
    accepted = _measured_value(deviation.measured, reading.limit.kind)
    if rule is None or accepted is None or finding.margin is None:
        return False
    then = compare(rule, replace(reading, value=accepted)).margin
    return then is not None and finding.margin >= then - ROUNDING * abs(accepted)


def _measured_text(value: float, kind: Kind) -> str:
    rounded = float(f"{value:.4g}")
    return quantity_text(rounded, kind) if units_of(kind) else f"{rounded:g}"


def _measured_value(words: str, kind: Kind) -> float | None:
    try:
        return parse_quantity(words, kind) if units_of(kind) else float(words)
    except (QuantityError, ValueError):
        return None
