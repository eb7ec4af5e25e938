"""A change to what is said is tried and judged by every rule before it is offered."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.solve.traffic import Traffic
from loomwright.terms.change import Change, Path, path_text
from loomwright.terms.errors import PathError
from loomwright.terms.finding import Finding, Verdict, Weight

BAD = (Verdict.BROKEN, Verdict.UNKNOWN)


@dataclass(frozen=True, slots=True)
class Judged:
    """A vehicle's traffic, and every finding: of traffic, lines and the whole."""

    traffic: Traffic
    findings: tuple[Finding, ...]


Ask = Callable[[Vehicle], Judged]


@dataclass(frozen=True, slots=True)
class Difference:
    """What a change cures and what it breaks: (rule, subject as text), of what governs. ``after`` is with the change."""

    cured: tuple[tuple[str, str], ...]
    breaks: tuple[tuple[str, str], ...]
    after: Judged


def tried(vehicle: Vehicle, change: Change, before: Judged, ask: Ask) -> Difference | None:
    """Judge the vehicle with a change; ``None`` where the change has no place in it."""
    try:
        after = ask(changed(vehicle, change))
    except PathError:
        return None
    was, now = _bad(before.findings), _bad(after.findings)
    return Difference(_named(was - now), _named(now - was), after)


def _bad(findings: Iterable[Finding]) -> Counter[tuple[str, str, Verdict]]:
    """What is broken or open. Stations are told by their line, because their numbers move; messages without one."""
    return Counter(
        (finding.rule, path_text(_subject(finding.reading.subject)), finding.verdict)
        for finding in findings
        if finding.verdict in BAD and finding.reading.weight is Weight.GOVERNS
    )


def _subject(path: Path) -> Path:
    return path[:2] if path[0] == "lines" and path[2:3] == ("stations",) else path


def _named(found: Counter[tuple[str, str, Verdict]]) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((rule, subject) for rule, subject, _ in found.elements()))
