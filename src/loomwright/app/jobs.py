"""Slow work beside the pages: a thread that tells how far it is and can be asked to stop."""

import threading
from collections.abc import Callable
from enum import StrEnum
from typing import Generic, TypeVar

from loomwright.terms.errors import LoomwrightError

T = TypeVar("T")
Report = Callable[[str, float, float], None]
Cancelled = Callable[[], bool]


class JobState(StrEnum):
    """Where a job stands."""

    RUNNING = "running"
    DONE = "done"
    CANCELLED = "cancelled"
    FAILED = "failed"


class BusyError(LoomwrightError):
    """The same work is under way already."""


class Job(Generic[T]):
    """Work begun at ``revision``. ``stage``, ``best`` and ``bound`` are what it last reported, ``result`` its answer.

    Cancelled work may still have an answer, the best until then; ``error`` is the sentence of work that failed.
    """

    def __init__(self, title: str, revision: str, work: Callable[[Report, Cancelled], T]) -> None:
        self.title, self.revision = title, revision
        self.state = JobState.RUNNING
        self.stage, self.best, self.bound = "", 0.0, 0.0
        self.result: T | None = None
        self.error = ""
        self._work = work
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=title, daemon=True)

    def start(self) -> "Job[T]":
        """Begin; returns itself."""
        self._thread.start()
        return self

    def cancel(self) -> None:
        """Ask the work to stop at its next look."""
        self._stop.set()

    def wait(self, seconds: float | None = None) -> None:
        """Wait for the end."""
        self._thread.join(seconds)

    @property
    def running(self) -> bool:
        """Whether it has not ended yet."""
        return self.state is JobState.RUNNING

    def _report(self, stage: str, best: float, bound: float) -> None:
        self.stage, self.best, self.bound = stage, best, bound

    def _run(self) -> None:
        try:
            self.result = self._work(self._report, self._stop.is_set)
            self.state = JobState.CANCELLED if self._stop.is_set() else JobState.DONE
        except LoomwrightError as error:
            self.error, self.state = str(error), JobState.FAILED
        except Exception as error:  # a thread has nobody above it who could tell
            self.error, self.state = f"{type(error).__name__}: {error}", JobState.FAILED
            raise
