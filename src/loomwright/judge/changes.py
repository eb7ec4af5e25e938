"""What is different for each receiver of a line, and which findings are worse, when the line is asked with a change."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from loomwright.model.line import Line
from loomwright.model.vehicle import Vehicle
from loomwright.solve.levels import LineLevels
from loomwright.solve.signal import LineSignal
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.change import Path
from loomwright.terms.finding import Finding, Verdict, Weight

NOTEWORTHY = 0.05
"""A margin that moves by a lesser share than this counts as unmoved."""
OF_A_LIMIT = 0.01
"""Nor one that moves by a lesser share of its limit than this."""
_RANK = (Verdict.HOLDS, Verdict.TIGHT, Verdict.UNKNOWN, Verdict.BROKEN)
_Key = tuple[str, str, Path, str, str]
OF_A_RECEIVER = ("signal-settling", "signal-level")
"""Rules that are asked of every receiver."""


@dataclass(frozen=True, slots=True)
class Judged:
    """The answers for one line and what was made of them."""

    signal: Answer[LineSignal]
    levels: Answer[LineLevels]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class AtReceiver:
    """A receiver with its worst sender at typical values: left before it looks, in s; the lowest dominant level in V."""

    sender: str
    left_s: float
    lowest_v: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class ReceiverChange:
    """A receiver of the line as it is, and with the change; ``after`` is ``None`` where it is not on the line any more."""

    port: str
    before: AtReceiver
    after: AtReceiver | None


@dataclass(frozen=True, slots=True)
class Difference:
    """What a change does to what counts. ``cured`` is told as it was before, all else as it is with the change.

    ``eased``: of what is cured, what is only tight then. ``narrowed``: tight, and it was not before. ``broken``: broken or
    unknown, and it was not so bad before. ``worse``: broken as before, and farther from its limit than before.
    """

    cured: tuple[Finding, ...]
    broken: tuple[Finding, ...]
    eased: tuple[Finding, ...] = ()
    narrowed: tuple[Finding, ...] = ()
    worse: tuple[Finding, ...] = ()


def difference(before: Iterable[Finding], after: Iterable[Finding]) -> Difference:
    """Compare findings of two vehicles, both told in one numbering of stations (``as_numbered``).

    Cured: it counted, and now holds, is only tight where it was worse, or is not there to be judged. Broken: it is broken,
    or nobody can tell any more, and that is worse than before.
    """
    was, now = _worst_by_key(before), _worst_by_key(after)
    rank = _RANK.index

    def verdict(found: dict[_Key, Finding], key: _Key) -> int:
        return rank(found[key].verdict) if key in found else 0

    tight = rank(Verdict.TIGHT)
    cured = [own for key, own in was.items() if rank(own.verdict) > verdict(now, key) <= tight]
    broken = [own for key, own in now.items() if rank(own.verdict) > max(verdict(was, key), tight)]
    eased = [own for key, own in now.items() if rank(own.verdict) == tight < verdict(was, key)]
    narrowed = [own for key, own in now.items() if rank(own.verdict) == tight > verdict(was, key)]
    worse = [own for key, own in now.items() if key in was and _farther_out(was[key], own)]
    return Difference(tuple(cured), tuple(broken), tuple(eased), tuple(narrowed), tuple(worse))


def _farther_out(before: Finding, after: Finding) -> bool:
    if before.verdict is not Verdict.BROKEN or after.verdict is not Verdict.BROKEN:
        return False
    if before.margin is None or after.margin is None or before.margin == after.margin:
        return False
    limit = after.reading.limit
    noteworthy = max(NOTEWORTHY * abs(before.margin), OF_A_LIMIT * max(abs(limit.value), abs(limit.high or 0.0)))
    return after.margin < before.margin - noteworthy


def as_numbered(findings: Iterable[Finding], after: Vehicle, before: Vehicle) -> tuple[Finding, ...]:
    """The findings of the vehicle ``after`` a change, their stations told by the numbers that ``before`` gives them.

    A station is known by its port, a plug-in terminator by its place. One that ``before`` does not have goes behind all others.
    """
    numbers = {
        name: _numbers(line, before.lines[name])
        for name, line in after.lines.items()
        if name in before.lines and line.stations != before.lines[name].stations
    }

    def told(finding: Finding) -> Finding:
        subject = finding.reading.subject
        if len(subject) < 4 or subject[0] != "lines" or subject[2] != "stations" or subject[1] not in numbers:
            return finding
        number = numbers[str(subject[1])][int(subject[3])]
        renamed = (*subject[:3], number, *subject[4:])
        return finding if renamed == subject else replace(finding, reading=replace(finding.reading, subject=renamed))

    return tuple(told(finding) for finding in findings)


def _numbers(line: Line, before: Line) -> list[int]:
    known = {thing: index for index, thing in enumerate(_things(before))}
    return [known.get(thing, len(known) + index) for index, thing in enumerate(_things(line))]


def _things(line: Line) -> list[tuple[str, str, int]]:
    """Port or place of each station, and which of those it is: a trunk that comes back to a port has it twice."""
    seen: Counter[tuple[str, str]] = Counter()
    found = []
    for station in line.stations:
        thing = ("port", station.port) if station.port else ("place", station.at)
        found.append((*thing, seen[thing]))
        seen[thing] += 1
    return found


def receiver_changes(before: Judged, after: Judged) -> tuple[ReceiverChange, ...]:
    """Every receiver of the line as it is, in trunk order; none where it cannot be computed."""
    was, now = _receivers(before), _receivers(after)
    return tuple(ReceiverChange(port, own, now.get(port)) for port, own in was.items())


def worse_findings(before: Judged, after: Judged) -> tuple[Finding, ...]:
    """What counts and is worse than before, the worst first."""
    was = {_key(finding): _RANK.index(finding.verdict) for finding in before.findings if _counts(finding)}
    worse = [
        finding
        for finding in after.findings
        if _counts(finding) and _RANK.index(finding.verdict) > was.get(_key(finding), 0)
    ]
    return tuple(sorted(worse, key=lambda finding: -_RANK.index(finding.verdict)))


def _receivers(judged: Judged) -> dict[str, AtReceiver]:
    if isinstance(judged.signal, Blocked) or isinstance(judged.levels, Blocked):
        return {}
    signal = judged.signal.value
    lowest = {receiver.port: receiver.low_v for receiver in judged.levels.value.receivers}
    worst: dict[str, Verdict] = {}
    for finding in judged.findings:
        port = dict(finding.reading.because).get("port")
        if _counts(finding) and finding.rule in OF_A_RECEIVER and isinstance(port, str):
            worst[port] = max(finding.verdict, worst.get(port, Verdict.HOLDS), key=_RANK.index)
    found = {}
    for port in dict.fromkeys(pair.receiver for pair in signal.pairs):
        pair = max((pair for pair in signal.pairs if pair.receiver == port), key=lambda pair: pair.typical_s)
        left_s = signal.sample_s - signal.electronics_s - pair.typical_s
        found[port] = AtReceiver(pair.sender, left_s, lowest[port], worst.get(port, Verdict.HOLDS))
    return found


def _counts(finding: Finding) -> bool:
    return finding.reading.weight is Weight.GOVERNS


def _worst_by_key(findings: Iterable[Finding]) -> dict[_Key, Finding]:
    """The worst finding of each thing, of those that count and are not accepted."""
    found: dict[_Key, Finding] = {}
    for finding in findings:
        if not _counts(finding) or finding.accepted:
            continue
        key = _key(finding)
        if key not in found or _RANK.index(finding.verdict) > _RANK.index(found[key].verdict):
            found[key] = finding
    return found


def _key(finding: Finding) -> _Key:
    reading = finding.reading
    part = str(dict(reading.because).get("part", ""))  # a message that is carried in parts is judged part by part
    return finding.rule, reading.line, reading.subject, reading.rule_set, part
