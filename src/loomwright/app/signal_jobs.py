"""The waves of a line as slow work beside the pages: look at it, build it a thousand times, try changes on it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from loomwright.app.jobs import Cancelled, Job, Report
from loomwright.app.project import Project
from loomwright.app.session import Session
from loomwright.app.signal import LinePhysics, drawn, signals
from loomwright.app.signal_advice import SignalAdvice, advice
from loomwright.app.signal_fault import fault_look
from loomwright.app.signal_remarks import spots_of
from loomwright.solve.echoes import Mismatch
from loomwright.solve.signal_draws import DRAWS, SEED, SignalDraws
from loomwright.terms.answer import Answer, Solved


@dataclass(frozen=True, slots=True)
class Look:
    """A line looked at: answers, findings, and where its edges come back from."""

    physics: LinePhysics
    spots: tuple[Mismatch, ...]


KINDS = ("look", "draws", "advice", "fault")


def title_of(kind: str, name: str, fault: str = "") -> str:
    """The title under which the session keeps the work."""
    words = {
        "look": "waves of line",
        "draws": "tolerance draws of line",
        "advice": "advice on line",
        "fault": "a fault of line",
    }
    return f"{words[kind]} {name}" + (f": {fault}" if fault else "")


def begin(session: Session, kind: str, name: str, fault: str = "") -> Job[Any]:
    """Begin one of ``KINDS``; ``fault`` names the fault of that kind. Raises ``BusyError`` while other slow work is under way."""
    if kind == "fault":
        return session.begin(
            title_of(kind, name, fault),
            lambda project, report, cancelled: fault_look(project, name, fault, _told(report, cancelled, "sending")),
        )
    works: dict[str, Callable[[Project, str, Report, Cancelled], Any]] = {
        "look": _look,
        "draws": _draws,
        "advice": _advice,
    }
    work = works[kind]
    return session.begin(
        title_of(kind, name), lambda project, report, cancelled: work(project, name, report, cancelled)
    )


def stop(session: Session) -> None:
    """Ask what is under way to stop."""
    if session.job is not None:
        session.job.cancel()


@dataclass(frozen=True, slots=True)
class Stand:
    """Where work of one kind stands. ``answer`` is the last one there is, ``old`` if the vehicle was changed since.

    ``wanted``: there is no answer for the present revision, and nobody stopped or failed to find one.
    """

    running: bool
    progress: str
    done: float
    answer: Any
    old: bool
    error: str
    wanted: bool


def stand(session: Session, kind: str, name: str, fault: str = "") -> Stand:
    """Where the last work of that kind on a line stands."""
    title, now = title_of(kind, name, fault), session.revision
    job, answered = session.latest(title), session.known(title) or session.answered(title)
    if job is not None and not job.running and answered is not None and answered.revision == now:
        job = answered
    answer = answered.result if answered is not None else None
    old = answered is not None and answered.revision != now
    if job is None:
        return Stand(False, "", 0.0, answer, old, "", True)
    done = min(1.0, job.best / max(job.bound, 1.0))
    ended_here = job.revision == now and not job.running
    return Stand(job.running, job.stage, done, answer, old, job.error if ended_here else "", not ended_here)


def _told(report: Report, cancelled: Cancelled, what: str) -> Callable[[str, int, int], bool]:
    def progress(part: str, done: int, whole: int) -> bool:
        report(f"{what}: {part}, {done} of {whole}", float(done), float(whole))
        return not cancelled()

    return progress


def _look(project: Project, name: str, report: Report, cancelled: Cancelled) -> Look:
    (physics,) = signals(project, name, _told(report, cancelled, "sending from every node"))
    return Look(physics, spots_of(project, name))


def _draws(project: Project, name: str, report: Report, cancelled: Cancelled) -> SignalDraws | None:
    found: Answer[SignalDraws] = drawn(project, name, DRAWS, SEED, _told(report, cancelled, "building"))
    return found.value if isinstance(found, Solved) else None


def _advice(project: Project, name: str, report: Report, cancelled: Cancelled) -> SignalAdvice:
    return advice(project, name, _told(report, cancelled, "trying"))
