"""Command: read a project, answer everything, judge everything."""

from dataclasses import dataclass
from pathlib import Path

from loomwright.app.project import Project, open_project
from loomwright.solve.ohms import LineOhms
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer
from loomwright.terms.finding import Finding, Verdict, Weight
from loomwright.terms.problem import Problem

WORST_LAST = (Verdict.HOLDS, Verdict.TIGHT, Verdict.UNKNOWN, Verdict.BROKEN)


@dataclass(frozen=True, slots=True)
class LineAnswers:
    """What was computed of one line."""

    name: str
    topology: Answer[LineTopology]
    ohms: Answer[LineOhms]


@dataclass(frozen=True, slots=True)
class Checked:
    """A whole check. ``verdict`` is the worst that governs; ``None`` where the text could not be read."""

    project: str
    revision: str
    problems: tuple[Problem, ...]
    findings: tuple[Finding, ...]
    lines: tuple[LineAnswers, ...]
    verdict: Verdict | None


def worst(findings: tuple[Finding, ...]) -> Verdict:
    """The worst verdict among the findings that govern and that nobody has accepted with a reason."""
    counting = (item for item in findings if item.reading.weight is Weight.GOVERNS and not item.accepted)
    ranks = [WORST_LAST.index(item.verdict) for item in counting]
    return WORST_LAST[max(ranks, default=0)]


def check_project(project: Project) -> Checked:
    """Check an open project; answers that still hold are not worked out again."""
    loaded = project.loaded
    if loaded.vehicle is None or loaded.problems:
        return Checked(str(project.folder), project.revision, loaded.problems, (), (), None)
    vehicle, answers = project.vehicle, project.answers
    findings = answers.findings(vehicle)
    lines = tuple(
        LineAnswers(name, answers.topology(vehicle, name), answers.ohms(vehicle, name)) for name in vehicle.lines
    )
    return Checked(str(project.folder), project.revision, (), findings, lines, worst(findings))


def check(folder: Path) -> Checked:
    """Open a folder and check it."""
    return check_project(open_project(folder))
