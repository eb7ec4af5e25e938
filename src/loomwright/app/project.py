"""An open project: its folder, what was read from it, its remembered answers."""

import hashlib
from dataclasses import dataclass, field
from pathlib import Path

from loomwright.app.questions import Answers
from loomwright.files import Loaded, load
from loomwright.files.write import finish
from loomwright.model.vehicle import Vehicle
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.problem import Problem


class UnreadableError(LoomwrightError):
    """The folder's text cannot be read; every problem is carried."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__(f"{len(problems)} problems keep the project from being read")
        self.problems = problems


@dataclass(slots=True)
class Project:
    """One folder, as read at one moment. ``reload`` reads again and keeps the answers that still hold."""

    folder: Path
    loaded: Loaded
    answers: Answers = field(default_factory=Answers)

    @property
    def vehicle(self) -> Vehicle:
        """The vehicle. Raises ``UnreadableError`` while there are problems."""
        if self.loaded.vehicle is None or self.loaded.problems:
            raise UnreadableError(self.loaded.problems)
        return self.loaded.vehicle

    @property
    def revision(self) -> str:
        """Short digest of the exact bytes that were read."""
        digest = hashlib.sha256()
        for name, text in sorted(self.loaded.texts.items()):
            digest.update(f"{name}\0{len(text)}\0".encode())
            digest.update(text)
        return digest.hexdigest()[:12]

    def reload(self) -> None:
        """Read the folder again."""
        self.loaded = load(self.folder)


def open_project(folder: Path) -> Project:
    """Read a project folder, a step that was cut short finished first. Problems are in ``Project.loaded``, not raised."""
    finish(folder)
    return Project(folder, load(folder))
