"""The planning of all lines as the page tells it: how far it is, and what it would change."""

from dataclasses import dataclass

from loomwright.app.arrange import TITLE, Proposed, apply_proposed
from loomwright.app.drags import Was
from loomwright.app.jobs import Job, JobState
from loomwright.app.margin import TriedRows, tried_rows
from loomwright.app.project import Project
from loomwright.app.session import Session, Step, Tried
from loomwright.show.arranged import headline, remarks
from loomwright.show.quantity import bare, number
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Solved
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.quantity import Kind

RULES = "fewest broken rules"


class NoPlanError(LoomwrightError):
    """The plan was put away, or there never was one."""


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """A line as it would be, beside what it is; metres."""

    title: str
    path: str
    cable: Was
    trunk: Was
    branches: Was
    longest: str
    limit: str
    terminators: int


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan in words. ``older``: the vehicle was changed since it was begun. ``nothing``: there is nothing to write."""

    headline: str
    proved: bool
    lines: tuple[PlannedLine, ...]
    remarks: tuple[str, ...]
    tried: TriedRows
    older: bool
    nothing: bool


@dataclass(frozen=True, slots=True)
class Arranging:
    """Where planning stands: ``state`` is "", "running", or how it ended; ``progress`` is the last thing it told."""

    state: str
    progress: str
    error: str
    plan: Plan | None
    prices: tuple[tuple[str, str], ...]


def arranging(session: Session) -> Arranging:
    """The planning of the open project."""
    job = session.job
    if job is None or job.title != TITLE:
        return Arranging("", "", "", None, ())
    if job.running:
        return Arranging("running", progress_words(job), "", None, ())
    proposed = job.result
    if not isinstance(proposed, Proposed):
        error = job.error or ("It was stopped before there was a plan." if job.state is JobState.CANCELLED else "")
        return Arranging(job.state.value, "", error, None, ())
    plan = session.ask(lambda project: _plan(project, job, proposed))
    return Arranging(job.state.value, "", "", plan, _prices(proposed))


def apply_plan(session: Session) -> Step:
    """Write the plan as one step and put it away. Raises ``StaleChangeError`` where its lines were changed since."""
    step = apply_proposed(session, _job(session))
    session.forget_job()
    return step


def stop(session: Session) -> None:
    """Ask the planner to end with what it has."""
    _job(session).cancel()


def put_away(session: Session) -> None:
    """Let go of the plan."""
    _job(session)
    session.forget_job()


def _job(session: Session) -> Job[Proposed]:
    job = session.job
    if job is None or job.title != TITLE:
        raise NoPlanError("there is no plan any more")
    return job


def progress_words(job: Job[Proposed]) -> str:
    """Stage, best and bound as last told."""
    if not job.stage:
        return "setting up"
    unit = "" if job.stage == RULES else " m"
    digits = 0 if job.stage == RULES else 2
    found = "nothing found yet" if job.best == float("inf") else f"best so far {number(job.best, digits)}{unit}"
    return f"{job.stage}: {found}, none can go below {number(job.bound, digits)}{unit}"


def _plan(project: Project, job: Job[Proposed], proposed: Proposed) -> Plan:
    plan, vehicle = proposed.arrangement, project.vehicle
    lines = []
    for line in plan.lines:
        topology = project.answers.topology(vehicle, line.line) if line.line in vehicle.lines else None
        title = vehicle.lines[line.line].title if line.line in vehicle.lines else ""
        lines.append(
            PlannedLine(
                title or line.line,
                f"lines.{line.line}",
                Was(_now(topology, "cable_m"), bare(line.cable_m, Kind.LENGTH, "m")),
                Was(_now(topology, "trunk_m"), bare(line.trunk_m, Kind.LENGTH, "m")),
                Was(_now(topology, "branches_m"), bare(line.branches_m, Kind.LENGTH, "m")),
                bare(line.longest_branch_m, Kind.LENGTH, "m"),
                "" if line.limits.branch_m is None else bare(line.limits.branch_m, Kind.LENGTH, "m"),
                line.terminators,
            )
        )
    texts = {name: (old, new) for name, old, new in proposed.texts}
    tried = tried_rows(Tried(plan.change, proposed.before, proposed.after, texts), vehicle)
    return Plan(
        headline(plan),
        plan.gap == 0.0,
        tuple(lines),
        tuple(remarks(plan)),
        tried,
        job.revision != project.revision,
        not proposed.texts,
    )


def _now(topology: Answer[LineTopology] | None, figure: str) -> str:
    return bare(getattr(topology.value, figure), Kind.LENGTH, "m") if isinstance(topology, Solved) else "?"


def _prices(proposed: Proposed) -> tuple[tuple[str, str], ...]:
    """What each lock costs in metres of cable, "about" where that is not proved."""
    return tuple(
        (price.lock, ("" if price.proved else "about ") + bare(price.cable_m, Kind.LENGTH, "m"))
        for price in proposed.arrangement.lock_prices
    )
