"""The findings beside a page: worst first, what governs apart from advice, what is accepted, what holds on demand."""

import hashlib
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from loomwright.app.deviations import idle
from loomwright.app.session import Tried, View
from loomwright.judge import RULES, TRAFFIC_RULES
from loomwright.judge.about import About
from loomwright.judge.changes import difference
from loomwright.model.vehicle import Deviation, Vehicle
from loomwright.show.change import difference as text_difference
from loomwright.show.gathered import gathered, more_text
from loomwright.show.problems import problem_text
from loomwright.show.words import (
    finding_cure,
    finding_sentence,
    limit_source,
    limit_text,
    margin_text,
    value_text,
    verdict_words,
)
from loomwright.terms.change import Path, path_text
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.finding import Finding, Reading, Verdict, Weight
from loomwright.terms.limit import Bound
from loomwright.terms.quantity import Kind

TRAFFIC = "traffic"
"""In a scope: everything that is said in the vehicle; ``traffic.drive`` what is said on a line."""
_OF_TRAFFIC = frozenset(rule.code for rule in TRAFFIC_RULES)
WORST_FIRST = (Verdict.BROKEN, Verdict.UNKNOWN, Verdict.TIGHT, Verdict.HOLDS)


class GoneFindingError(LoomwrightError):
    """A finding that is not there any more: something else has changed meanwhile."""


@dataclass(frozen=True, slots=True)
class Row:
    """One finding in words. ``key`` names it in forms, ``id`` in the page; ``also`` are further paths it speaks of.

    ``traffic``: it is about what is said, so the pages of messages show it, whatever its subject.
    """

    key: str
    id: str
    rule: str
    rule_title: str
    verdict: str
    subject: str
    also: str
    sentence: str
    value: str
    limit: str
    margin: str
    source: str
    cure: str
    curable: bool
    acceptable: bool
    accepted: Deviation | None
    accepted_name: str
    traffic: bool


@dataclass(frozen=True, slots=True)
class Idle:
    """An accepted deviation that covers nothing any more."""

    name: str
    rule: str
    subject: str
    measured: str
    reason: str
    by: str
    date: str


@dataclass(frozen=True, slots=True)
class Count:
    """How many findings of a page count as broken and as unknown."""

    broken: int
    unknown: int


@dataclass(frozen=True, slots=True)
class Margin:
    """The margin of a page, or of everything; ``address`` asks for the same again.

    ``bits`` says how a line's bits came out, which are judged in the middle of the page and are no part of a check.
    """

    counting: tuple[Row, ...]
    accepted: tuple[Row, ...]
    advice: tuple[Row, ...]
    holds: tuple[Row, ...]
    holding: int
    idle: tuple[Idle, ...]
    everywhere: bool
    with_holds: bool
    scope: tuple[str, ...]
    bits: str = ""

    @classmethod
    def of(
        cls, view: View, scope: tuple[str, ...], *, everywhere: bool = False, with_holds: bool = False, bits: str = ""
    ) -> "Margin":
        """The findings under ``scope``, paths as text; none at all means everything."""
        here = [f for f in view.findings if everywhere or shown_in(f, scope)]
        here.sort(key=lambda finding: WORST_FIRST.index(finding.verdict))
        governs = [f for f in here if f.reading.weight is Weight.GOVERNS and f.verdict is not Verdict.HOLDS]
        advice = [f for f in here if f.reading.weight is not Weight.GOVERNS and f.verdict is not Verdict.HOLDS]
        holding = [f for f in here if f.verdict is Verdict.HOLDS]

        def rows(findings: list[Finding]) -> tuple[Row, ...]:
            return tuple(gathered_row(finding, more, view.vehicle) for finding, more in gathered(findings))

        return cls(
            rows([f for f in governs if not f.accepted]),
            rows([f for f in governs if f.accepted]),
            rows(advice),
            rows(holding) if with_holds else (),
            len(holding),
            tuple(_idle(name, view.vehicle.deviations[name]) for name in idle(view.findings, view.vehicle)),
            everywhere,
            with_holds,
            scope,
            bits,
        )

    @property
    def address(self) -> str:
        """Asks for this margin as it is."""
        return self._address(everywhere=self.everywhere, holds=self.with_holds)

    @property
    def address_here(self) -> str:
        """Asks for the findings of the page."""
        return self._address(everywhere=False, holds=self.with_holds)

    @property
    def address_all(self) -> str:
        """Asks for all findings."""
        return self._address(everywhere=True, holds=self.with_holds)

    @property
    def address_holds(self) -> str:
        """Asks for the same with, or without, what holds."""
        return self._address(everywhere=self.everywhere, holds=not self.with_holds)

    def _address(self, *, everywhere: bool, holds: bool) -> str:
        pairs = [("scope", path) for path in self.scope]
        pairs += [("show", "all")] if everywhere else []
        pairs += [("holds", "true")] if holds else []
        return f"/margin?{urlencode(pairs)}"


def is_traffic(finding: Finding) -> bool:
    """Whether it is about what is said, not about how the vehicle is wired."""
    return finding.rule in _OF_TRAFFIC


def shown_in(finding: Finding, scope: tuple[str, ...]) -> bool:
    """Whether a page that shows the paths of a scope shows a finding.

    What is wired belongs to its line as well as to its subject; what is said on a line belongs to the pages of messages.
    """
    subject, line = finding.reading.subject, finding.reading.line
    if not is_traffic(finding):
        return in_scope(subject, scope, line)
    about = any(in_scope(path, scope) for path in (subject, *finding.reading.also))
    # A line's answers that wait for a fact of what the page shows are its business too.
    waits = subject[:1] == ("lines",) and any(in_scope(path, scope) for path in finding.reading.blocked_by)
    return bool({TRAFFIC, f"{TRAFFIC}.{line}"} & {*scope}) or about or waits


def in_scope(subject: Path, scope: tuple[str, ...], line: str = "") -> bool:
    """Whether a subject, or the line it belongs to, lies under one of the paths of the scope."""
    text = path_text(subject)
    own_line = f"lines.{line}" if line else ""
    return not scope or any(_under(text, path) or (own_line and _under(own_line, path)) for path in scope)


def count(findings: tuple[Finding, ...], owns: tuple[str, ...]) -> Count:
    """Broken and unknown findings that govern, are not accepted, and whose subject begins with one of ``owns``.

    All that is about what is said counts as ``TRAFFIC`` and nowhere else.
    """
    own = [f for f in findings if f.reading.weight is Weight.GOVERNS and not f.accepted and f.reading.subject[:1]]
    verdicts = [f.verdict for f in own if (TRAFFIC if is_traffic(f) else f.reading.subject[0]) in owns]
    return Count(verdicts.count(Verdict.BROKEN), verdicts.count(Verdict.UNKNOWN))


def key_of(finding: Finding) -> str:
    """What names a finding as long as it is about the same thing."""
    reading = finding.reading
    parts = (finding.rule, reading.weight.value, reading.rule_set, reading.line, path_text(reading.subject))
    return "|".join((*parts, *filter(None, (part_of(finding),))))


def part_of(finding: Finding) -> str:
    """Of a message that is carried in parts the one that a finding is about; empty where it is about the whole."""
    return str(dict(finding.reading.because).get("part", ""))


def finding_named(findings: tuple[Finding, ...], key: str) -> Finding:
    """The finding of a key. Raises ``GoneFindingError``."""
    for finding in findings:
        if key_of(finding) == key:
            return finding
    raise GoneFindingError("this finding is not there any more; something else has changed meanwhile")


def gathered_row(finding: Finding, more: tuple[Finding, ...], vehicle: Vehicle) -> Row:
    """A finding in words, with how many more wait for the same facts; it is shown for them too."""
    row = row_of(finding, vehicle)
    if not more:
        return row
    also = dict.fromkeys((*row.also.split(), *(path_text(each.reading.subject) for each in more)))
    return replace(row, sentence=f"{row.sentence} {more_text(more)}.", also=" ".join(also))


def row_of(finding: Finding, vehicle: Vehicle) -> Row:
    """A finding in words."""
    reading, key = finding.reading, key_of(finding)
    return Row(
        key=key,
        id=f"finding-{hashlib.sha256(key.encode()).hexdigest()[:10]}",
        rule=finding.rule,
        rule_title=rule_title(finding.rule),
        verdict=verdict_words(finding)[1],
        subject=path_text(reading.subject),
        also=" ".join(dict.fromkeys(_also(reading, vehicle))),
        sentence=finding_sentence(finding),
        value="" if reading.value is None else value_text(reading),
        limit="" if reading.value is None else limit_text(reading.limit),
        margin=_margin_text(finding),
        source=limit_source(reading.limit),
        cure=finding_cure(finding),
        curable=reading.change is not None and finding.verdict is not Verdict.HOLDS,
        acceptable=finding.verdict in (Verdict.BROKEN, Verdict.TIGHT) and reading.weight is Weight.GOVERNS,
        accepted=vehicle.deviations.get(finding.accepted) if finding.accepted else None,
        accepted_name=finding.accepted,
        traffic=is_traffic(finding),
    )


@dataclass(frozen=True, slots=True)
class FileDifference:
    """The lines of one file's difference, each with its kind: "in", "out", "at" or ""."""

    name: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class TriedRows:
    """What a tried change would do, in words."""

    title: str
    cured: tuple[Row, ...]
    new: tuple[Row, ...]
    changed: tuple[str, ...]
    balance: str
    files: tuple[FileDifference, ...]


def tried_rows(tried: Tried, vehicle: Vehicle) -> TriedRows:
    """Findings that a change would cure and those it would bring, and the text it would write."""
    before, after = ({key_of(f): f for f in part} for part in (tried.before, tried.after))
    found = difference(tried.before, tried.after)
    eased, worse = ({key_of(f) for f in part} for part in (found.eased, found.worse))
    cured = [f for f in found.cured if key_of(f) not in eased]
    new = (*found.broken, *found.narrowed)
    changed = [
        f"{'Worse: ' if key in worse else ''}{rule_title(f.rule)}: "
        f"{_from_to(f.verdict.value, after[key].verdict.value)}, {_figures(f, after[key])}"
        for key, f in before.items()
        if _counts(f) and key in after and _counts(after[key]) and f.reading.value != after[key].reading.value
    ]
    counts = [sum(_counts(f) for f in part.values()) for part in (before, after)]
    return TriedRows(
        tried.change.title,
        tuple(row_of(f, vehicle) for f in cured),
        tuple(row_of(f, vehicle) for f in new),
        tuple(changed),
        f"{_counted(counts[0])} now, {counts[1]} with this change.",
        tuple(file_difference(name, *pair) for name, pair in sorted(tried.texts.items())),
    )


def _counted(count: int) -> str:
    return "1 finding counts" if count == 1 else f"{count} findings count"


def _from_to(before: str, after: str) -> str:
    return before if before == after else f"{before} becomes {after}"


def _figures(before: Finding, after: Finding) -> str:
    """The figure before and after, where both have one."""
    if before.reading.value is None or after.reading.value is None:
        return "waits for a fact"
    return f"{value_text(before.reading)} becomes {value_text(after.reading)}, {limit_text(after.reading.limit)}"


def file_difference(name: str, old: bytes, new: bytes) -> FileDifference:
    """A difference line by line."""
    kinds = {"+": "in", "-": "out", "@": "at"}
    text = text_difference(name, old, new)
    return FileDifference(name, tuple((kinds.get(line[:1], ""), line) for line in text.splitlines()))


@dataclass(frozen=True, slots=True)
class RulePage:
    """What a rule means, under headings."""

    title: str
    parts: tuple[tuple[str, str], ...]


def rule_page(code: str, about: About) -> RulePage:
    """A rule's page."""
    headings = ("What is measured", "Why it matters", "An example", "What cures it", "Where the limit comes from")
    texts = (about.measures, about.why, about.example, about.cure, about.source)
    return RulePage(rule_title(code), tuple(zip(headings, texts, strict=True)))


def rule_title(code: str) -> str:
    """A rule's short title."""
    return next((rule.title for rule in RULES if rule.code == code), code)


def problem_texts(view: View) -> tuple[str, ...]:
    """Every problem with its place, as in the terminal."""
    return tuple(problem_text(problem) for problem in view.problems)


def _counts(finding: Finding) -> bool:
    return finding.reading.weight is Weight.GOVERNS and finding.verdict is not Verdict.HOLDS and not finding.accepted


def _margin_text(finding: Finding) -> str:
    """The margin with its unit; a demand that is met or not, or a count, has none worth telling."""
    limit = finding.reading.limit
    if finding.margin is None or limit.bound is Bound.EXACTLY or limit.kind in (Kind.COUNT, Kind.NONE):
        return ""
    return f"margin {margin_text(finding)}"


def _under(text: str, path: str) -> bool:
    return text == path or text.startswith((f"{path}.", f"{path}["))


def _also(reading: Reading, vehicle: Vehicle) -> list[str]:
    """What else it is about, the facts that are missing, and the component behind a station."""
    subject = reading.subject
    found = [path_text(path) for path in (*reading.also, *reading.blocked_by)]
    if len(subject) > 3 and subject[2] == "stations" and subject[1] in vehicle.lines and isinstance(subject[3], int):
        stations = vehicle.lines[str(subject[1])].stations
        if subject[3] < len(stations) and stations[subject[3]].port:
            found.append(f"components.{stations[subject[3]].port.partition('.')[0]}")
    return found


def _idle(name: str, deviation: Deviation) -> Idle:
    d = deviation
    return Idle(name, d.rule, d.subject, d.measured, d.reason, d.by, d.date)
