"""Command: propose lines, judge the proposal, show it as a difference, write it when asked."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from loomwright.app.check import worst
from loomwright.app.jobs import Cancelled, Job, Report
from loomwright.app.project import Project
from loomwright.app.session import Session, Step
from loomwright.app.settle import settled
from loomwright.files import preview, write
from loomwright.model.variant import changed
from loomwright.propose import Arrangement, arrange
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.finding import Finding, Verdict

TITLE = "arrange the lines"


@dataclass(frozen=True, slots=True)
class Proposed:
    """A plan, the findings with it, those without it, and what it would change in the text."""

    arrangement: Arrangement
    before: tuple[Finding, ...]
    after: tuple[Finding, ...]
    texts: tuple[tuple[str, bytes, bytes], ...]

    @property
    def verdict(self) -> Verdict:
        """The worst that would govern with the plan applied."""
        return worst(self.after)


def propose_lines(
    project: Project,
    *,
    seconds: float = 10.0,
    keep_lines: bool = False,
    compare: bool = True,
    progress: Callable[[str, float, float], None] | None = None,
    cancel: Callable[[], bool] | None = None,
) -> Proposed:
    """Plan every line anew. ``compare`` also prices the locks and looks for the second-best plan."""
    vehicle = project.vehicle
    plan = arrange(
        vehicle,
        seconds=seconds,
        keep_lines=keep_lines,
        lock_prices=compare,
        second_best=compare,
        progress=progress,
        cancel=cancel,
    )
    plan = replace(plan, change=settled(plan.change, vehicle))
    after = project.answers.findings(changed(vehicle, plan.change))
    texts = preview(project.loaded, plan.change)
    pairs = tuple((name, old, new) for name, (old, new) in sorted(texts.items()))
    return Proposed(plan, project.answers.findings(vehicle), after, pairs)


def begin_arranging(
    session: Session, *, seconds: float = 10.0, keep_lines: bool = False, compare: bool = True
) -> Job[Proposed]:
    """Plan beside the pages. The job tells stage, best and bound, and can be stopped; then ``apply_proposed``."""

    def work(project: Project, report: Report, cancelled: Cancelled) -> Proposed:
        return propose_lines(
            project, seconds=seconds, keep_lines=keep_lines, compare=compare, progress=report, cancel=cancelled
        )

    return session.begin(TITLE, work)


def apply_proposed(session: Session, job: Job[Proposed]) -> Step:
    """Write a plan that was begun here, unless what it changes was changed since. Raises ``StaleChangeError``."""
    if job.result is None:
        raise LoomwrightError(job.error or "there is no plan yet")
    return session.apply(job.result.arrangement.change, job.revision)


def apply(project: Project, proposed: Proposed) -> None:
    """Write a proposal into the project's files. Raises ``StaleWriteError`` when they changed meanwhile."""
    write(project.folder, project.loaded, proposed.arrangement.change)
    project.reload()
