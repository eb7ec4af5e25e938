"""One open project that people work on: edits, undo and redo, and edits that come from outside.

The files stay the truth. Every change is written at once; the session only remembers how the texts were.

- **Apply** writes the smallest edit. It is refused with both versions when a value that it sets is no longer what the
  page showed (``StaleChangeError``).
- **Undo** puts the earlier bytes back where a file is still as the step left it. Where somebody edited the file since,
  the step's lines alone are taken out of the text and the hand's work stays; where both touched the same lines,
  nothing is written and both versions are carried by ``StaleWriteError``. Redo is the same, the other way.
- **An edit by hand** is seen by ``follow``. It makes a new revision and an entry in the history; it is never undone
  here, because the editor in which it was made has its own undo, and it takes no step away.
- While the text cannot be read, the last readable vehicle stays on the pages with its revision, and nothing can be
  changed from here.

Every public method may be called from any thread; one lock keeps them apart.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from loomwright.app.jobs import BusyError, Cancelled, Job, JobState, Report
from loomwright.app.project import Project, UnreadableError, open_project
from loomwright.app.stale import Clash, StaleChangeError, clashes
from loomwright.app.texts import FileTexts, Signature, backwards, differences, put, signature, stamps
from loomwright.files import Loaded, load
from loomwright.files.change import planned
from loomwright.files.load import understood
from loomwright.files.write import write_texts
from loomwright.judge.changes import as_numbered
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change
from loomwright.terms.errors import LoomwrightError, StaleWriteError
from loomwright.terms.finding import Finding
from loomwright.terms.problem import Problem

R = TypeVar("R")

KEPT_STEPS = 200
KEPT_JOBS = 32
"""Results of slow work kept by the text they were worked out for."""
KEPT_REVISIONS = 64
"""Revisions a page may be behind and still have its change compared value by value."""


class NothingToUndoError(LoomwrightError):
    """There is no step to take back or to do again."""


class UnreadableStepError(LoomwrightError):
    """Taking the step back would leave text that cannot be read; nothing was written."""


@dataclass(frozen=True, slots=True)
class Step:
    """Something that happened to the texts; ``by_hand`` in somebody's editor."""

    title: str
    texts: FileTexts
    by_hand: bool = False


@dataclass(frozen=True, slots=True)
class View:
    """What pages are made from: the last readable vehicle, its findings, and the names of the steps next to it.

    ``revision`` is that vehicle's. With ``problems`` the text on the disk is newer and cannot be read.
    """

    folder: Path
    revision: str
    vehicle: Vehicle
    findings: tuple[Finding, ...]
    problems: tuple[Problem, ...]
    undo: str
    redo: str


@dataclass(frozen=True, slots=True)
class Tried:
    """A change tried on the model: findings without and with it, stations numbered as without, and the texts it would write."""

    change: Change
    before: tuple[Finding, ...]
    after: tuple[Finding, ...]
    texts: FileTexts


class Session:
    """A project folder, open for work. Raises ``UnreadableError`` when it cannot be read to begin with."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.RLock()
        self._signature: Signature = signature(folder)
        self._project = open_project(folder)
        self._disk: Loaded = self._project.loaded
        self._seen: OrderedDict[str, Vehicle] = OrderedDict()
        self._undo: list[Step] = []
        self._redo: list[Step] = []
        self._history: list[Step] = []
        self._listeners: list[Callable[[], None]] = []
        self._seen[self._project.revision] = self._project.vehicle
        self._job: Job[Any] | None = None
        self._latest: dict[str, Job[Any]] = {}
        self._answered: dict[str, Job[Any]] = {}
        self._by_text: OrderedDict[tuple[str, str], Job[Any]] = OrderedDict()
        self._judged: tuple[Vehicle | None, tuple[Finding, ...]] = (None, ())

    @property
    def revision(self) -> str:
        """Digest of the readable text that pages show."""
        with self._lock:
            return self._project.revision

    @property
    def state(self) -> str:
        """Another word for every state that pages can show: the revision, and whether newer text is unreadable."""
        with self._lock:
            return self._project.revision + (f"+{hash(self._disk.problems):x}" if self._disk.problems else "")

    def view(self) -> View:
        """The state that a page shows."""
        with self._lock:
            vehicle = self._project.vehicle
            undo, redo = (steps[-1].title if steps else "" for steps in (self._undo, self._redo))
            if self._judged[0] is not vehicle:
                self._judged = (vehicle, self._project.answers.findings(vehicle))
            return View(self.folder, self._project.revision, vehicle, self._judged[1], self._disk.problems, undo, redo)

    def unjudged(self) -> View:
        """The same without findings, for a page that must be shown although they cannot be worked out."""
        with self._lock:
            undo, redo = (steps[-1].title if steps else "" for steps in (self._undo, self._redo))
            project = self._project
            return View(self.folder, project.revision, project.vehicle, (), self._disk.problems, undo, redo)

    def ask(self, question: Callable[[Project], R]) -> R:
        """Hand the open project to a function, alone."""
        with self._lock:
            return question(self._project)

    def history(self) -> tuple[Step, ...]:
        """What happened since the session began, the newest last."""
        with self._lock:
            return tuple(self._history)

    def listen(self, listener: Callable[[], None]) -> Callable[[], None]:
        """Have a function called after everything that pages should show, from any thread; returns how to stop it."""
        with self._lock:
            self._listeners.append(listener)

        def stop() -> None:
            with self._lock:
                if listener in self._listeners:
                    self._listeners.remove(listener)

        return stop

    def begin(self, title: str, work: Callable[[Project, Report, Cancelled], R]) -> Job[R]:
        """Slow work on the vehicle as it is now, in a thread of its own. One at a time: raises ``BusyError``.

        It gets a copy of the project with answers of its own, so that pages go on meanwhile.
        """
        with self._lock:
            self._must_be_readable()
            if self._job is not None and self._job.running:
                raise BusyError(f"{self._job.title} is under way; wait for it or stop it")
            copy = Project(self.folder, self._project.loaded)
            job = Job(title, self._project.revision, lambda report, cancelled: work(copy, report, cancelled))
            self._job = job
            before = self._latest.get(title)
            if before is not None and before.state is JobState.DONE:
                self._answered[title] = before
            self._latest[title] = job
            self._by_text[title, job.revision] = job
            self._by_text.move_to_end((title, job.revision))
            while len(self._by_text) > KEPT_JOBS:
                self._by_text.popitem(last=False)
            return job.start()

    def latest(self, title: str) -> Job[Any] | None:
        """The last work of that title, whatever was begun since."""
        return self._latest.get(title)

    def known(self, title: str) -> Job[Any] | None:
        """Work of that title that came to its end on the very text there is now, be it again after an undo."""
        with self._lock:
            job = self._by_text.get((title, self._project.revision))
            return job if job is not None and job.state is JobState.DONE else None

    def answered(self, title: str) -> Job[Any] | None:
        """The last work of that title that came to its end: its answer stays to be shown as an old one."""
        job = self._latest.get(title)
        return job if job is not None and job.state is JobState.DONE else self._answered.get(title)

    @property
    def job(self) -> Job[Any] | None:
        """The slow work that was begun last, whether it still runs or not."""
        return self._job

    def forget_job(self) -> None:
        """Put the result of work away that has ended."""
        with self._lock:
            if self._job is not None and not self._job.running:
                self._job = None

    def close(self) -> None:
        """Ask work that is under way to stop; files are as they are."""
        if self._job is not None:
            self._job.cancel()

    def follow(self, *, surely: bool = False) -> bool:
        """Take in what was edited outside; whether there was something. ``surely`` reads whatever the clocks say."""
        with self._lock:
            now = signature(self.folder)
            if now == self._signature and not surely:
                return False
            self._signature = now
            loaded = load(self.folder)
            if (loaded.texts, loaded.problems) == (self._disk.texts, self._disk.problems):
                return False
            texts = differences(self._disk.texts, loaded.texts)
            self._note(Step(f"edited outside: {', '.join(texts) or 'nothing'}", texts, by_hand=True))
            self._take(loaded)
            return True

    def apply(self, change: Change, base: str = "") -> Step:
        """Write a change. ``base`` is the revision its author saw; empty: whatever is there now.

        Raises ``StaleChangeError``, ``UnreadableError``, or what ``files.write`` raises. A change that changes no text
        gives a step without texts and leaves undo and redo alone.
        """
        with self._lock:
            self.follow()
            try:
                return self._apply(change, base)
            except StaleWriteError:  # edited in the instant since: look again, compare again
                self.follow(surely=True)
                return self._apply(change, base)

    def try_change(self, change: Change) -> Tried:
        """What a change would do, without writing it. Raises ``RefusedWriteError`` where it cannot be written."""
        with self._lock:
            self._must_be_readable()
            vehicle = self._project.vehicle
            pairs, loaded = planned(self._project.loaded, change)
            assert loaded.vehicle is not None
            findings = self._project.answers.findings
            after = as_numbered(findings(loaded.vehicle), loaded.vehicle, vehicle)
            return Tried(change, findings(vehicle), after, pairs)

    def what_if(self, change: Change) -> tuple[Vehicle, tuple[Finding, ...]]:
        """The vehicle with a change and its findings, quickly and without texts: for dragging."""
        with self._lock:
            vehicle = changed(self._project.vehicle, change)
            return vehicle, self._project.answers.findings(vehicle)

    def undo(self) -> Step:
        """Take the last step back; see the module's words for what an edit by hand does to it."""
        return self._back(self._undo, self._redo, "undone")

    def redo(self) -> Step:
        """Do the step again that was taken back last."""
        return self._back(self._redo, self._undo, "done again")

    def _apply(self, change: Change, base: str) -> Step:
        self._must_be_readable()
        if base and base != self._project.revision:
            self._refuse_stale(change, base)
        pairs, loaded = planned(self._project.loaded, change)
        step = Step(change.title, pairs)
        if pairs:
            self._write(pairs, loaded)
            self._undo.append(step)
            del self._undo[:-KEPT_STEPS]
            self._redo.clear()
            self._note(step)
        return step

    def _refuse_stale(self, change: Change, base: str) -> None:
        was = self._seen.get(base)
        if was is None:  # older than anything kept: all of it counts as changed
            raise StaleChangeError(change, tuple(Clash(edit.path, None, None, edit.value) for edit in change.edits))
        found = clashes(change, was, self._project.vehicle)
        if found:
            raise StaleChangeError(change, found)

    def _back(self, steps: list[Step], others: list[Step], word: str) -> Step:
        with self._lock:
            self.follow()
            self._must_be_readable()
            if not steps:
                raise NothingToUndoError(f"no step can be {word}")
            step = steps[-1]
            pairs = backwards(self._project.loaded.texts, step.texts)
            loaded = understood(put(self._project.loaded.texts, pairs))
            if loaded.problems:
                raise UnreadableStepError(
                    f"{step.title} cannot be {word} alone, because what was edited since leans on it: "
                    f"{loaded.problems[0].message}; nothing was written"
                )
            self._write(pairs, loaded)
            steps.pop()
            others.append(Step(step.title, pairs))
            self._note(Step(f"{word}: {step.title}", pairs))
            return step

    def _must_be_readable(self) -> None:
        if self._disk.problems:
            raise UnreadableError(self._disk.problems)

    def _write(self, pairs: FileTexts, loaded: Loaded) -> None:
        write_texts(self.folder, pairs)
        gone = set(pairs)
        kept = {name: stamp for name, stamp in self._signature.items() if name not in gone}
        self._signature = {**kept, **stamps(self.folder, pairs)}
        self._take(loaded)

    def _take(self, loaded: Loaded) -> None:
        """Make freshly read text the state that is shown, unless it cannot be read."""
        self._disk = loaded
        if not loaded.problems:
            self._project.loaded = loaded
            self._seen[self._project.revision] = self._project.vehicle
            self._seen.move_to_end(self._project.revision)
            while len(self._seen) > KEPT_REVISIONS:
                self._seen.popitem(last=False)
        for listener in tuple(self._listeners):
            listener()

    def _note(self, step: Step) -> None:
        self._history.append(step)
        del self._history[:-KEPT_STEPS]
