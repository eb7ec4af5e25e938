"""What is different for each receiver of a line, and which findings are worse, when the line is asked with a change."""

from dataclasses import dataclass

from loomwright.solve.levels import LineLevels
from loomwright.solve.signal import LineSignal
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.finding import Finding, Verdict, Weight

_RANK = (Verdict.HOLDS, Verdict.TIGHT, Verdict.UNKNOWN, Verdict.BROKEN)
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


def _key(finding: Finding) -> tuple[str, tuple[str | int, ...], str]:
    return finding.rule, finding.reading.subject, finding.reading.rule_set
