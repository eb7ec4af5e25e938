"""A change to what is said is tried and judged by every rule before it is offered."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from loomwright.judge import TRAFFIC_RULES
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.solve.traffic import Traffic
from loomwright.terms.change import Change, Path, path_text
from loomwright.terms.errors import PathError
from loomwright.terms.finding import Finding, Verdict, Weight

BAD = (Verdict.BROKEN, Verdict.UNKNOWN)
OF_TRAFFIC = frozenset(rule.code for rule in TRAFFIC_RULES)
_NOTICED = 1e-9
"""A figure that moves by less, of its limit, has not moved."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A vehicle's traffic, and every finding: of traffic, lines and the whole."""

    traffic: Traffic
    findings: tuple[Finding, ...]


Ask = Callable[[Vehicle], Judged]


@dataclass(frozen=True, slots=True)
class Difference:
    """What a change cures and what it breaks: (rule, subject as text), of what governs. ``after`` is with the change.

    What is broken either way, and of traffic farther from its limit than before, counts as broken by the change.
    """

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
    breaks = (*_named(now - was), *_worse(before.findings, after.findings))
    return Difference(_named(was - now), tuple(sorted(breaks)), after)


def _worse(before: Iterable[Finding], after: Iterable[Finding]) -> Iterator[tuple[str, str]]:
    """What of traffic is broken before and after, but by more."""
    was = _broken_margins(before)
    for key, margin in _broken_margins(after).items():
        if key in was and margin < was[key] - _NOTICED * abs(was[key]):
            yield key


def _broken_margins(findings: Iterable[Finding]) -> dict[tuple[str, str], float]:
    return {
        (finding.rule, path_text(finding.reading.subject)): finding.margin
        for finding in findings
        if finding.rule in OF_TRAFFIC
        and finding.verdict is Verdict.BROKEN
        and finding.reading.weight is Weight.GOVERNS
        and finding.margin is not None
    }


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
