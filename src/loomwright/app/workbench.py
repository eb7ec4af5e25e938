"""The place where one project at a time is open, inside one base folder of the user's choice."""

import os
import threading
from collections.abc import Callable
from pathlib import Path

from loomwright.app.session import Session
from loomwright.app.start import examples, start, start_from_example
from loomwright.app.watch import Watch
from loomwright.app.words import read_length
from loomwright.terms.errors import LoomwrightError

LISTED = 200
"""Projects listed on the first page."""


class RefusedFolderError(LoomwrightError):
    """A folder outside the base folder, or none that can hold a project."""


class Workbench:
    """Opens, starts and closes projects below ``base``. At most one is open; its files are watched."""

    def __init__(self, base: Path) -> None:
        self.base = Path(os.path.realpath(base))
        self._lock = threading.RLock()
        self._session: Session | None = None
        self._watch: Watch | None = None
        self._listeners: list[Callable[[], None]] = []

    @property
    def session(self) -> Session | None:
        """The open project, if there is one."""
        return self._session

    def listen(self, listener: Callable[[], None]) -> None:
        """Have a function called after everything that pages should show, whichever project is open."""
        self._listeners.append(listener)

    def projects(self) -> tuple[str, ...]:
        """Project folders directly inside the base folder, and the base folder itself if it is one."""
        found = ["."] if (self.base / "vehicle.toml").is_file() else []
        try:
            inner = sorted(entry.name for entry in self.base.iterdir() if (entry / "vehicle.toml").is_file())
        except OSError:
            inner = []
        return tuple(found + inner)[:LISTED]

    def open_folder(self, words: str) -> Session:
        """Open a project by its folder, as typed. Raises ``RefusedFolderError`` or ``UnreadableError``."""
        folder = self._inside(words)
        if not (folder / "vehicle.toml").is_file():
            raise RefusedFolderError(f"{words!r} has no vehicle.toml in it; a project folder has")
        session = Session(folder)
        with self._lock:
            self.close()
            session.listen(self._tell)
            self._session = session
            self._watch = Watch(session).start()
        self._tell()
        return session

    def open_example(self, example: str, words: str) -> Session:
        """Copy a shipped example into a new folder and open the copy."""
        if example not in examples():
            raise RefusedFolderError(f"there is no example {example!r}; shipped are {', '.join(examples())}")
        folder = self._inside(words or self.free_name(example))
        start_from_example(folder, example)
        return self.open_folder(str(folder))

    def start_vehicle(self, words: str, name: str, length: str, width: str, axles: str) -> Session:
        """Start a vehicle from four answers and open it. Lengths are words such as ``4.60 m``."""
        axles_m = tuple(read_length(part.strip()) for part in axles.split(",") if part.strip())
        folder = self._inside(words or self.free_name(_folder_name(name)))
        start(folder, name.strip() or "Conversion", read_length(length), read_length(width), axles_m)
        return self.open_folder(str(folder))

    def free_name(self, wanted: str) -> str:
        """A folder name below the base that is not taken yet."""
        for number in range(1, 1000):
            name = wanted if number == 1 else f"{wanted}-{number}"
            if not (self.base / name).exists():
                return name
        raise RefusedFolderError(f"{wanted} and its numbered copies are all taken")

    def close(self) -> None:
        """Close the open project; its files are as they are."""
        with self._lock:
            if self._watch is not None:
                self._watch.stop()
            if self._session is not None:
                self._session.close()
            self._session = self._watch = None

    def _inside(self, words: str) -> Path:
        """The folder that a person typed, below the base whatever links and dots are in it."""
        if not words.strip() or "\0" in words:
            raise RefusedFolderError("a folder's name is needed")
        folder = Path(os.path.realpath(self.base / Path(words.strip()).expanduser()))
        if folder != self.base and self.base not in folder.parents:
            raise RefusedFolderError(f"{words!r} is outside {self.base}, the folder that this workbench was started in")
        return folder

    def _tell(self) -> None:
        for listener in tuple(self._listeners):
            listener()


def _folder_name(name: str) -> str:
    """A plain folder name for a vehicle's name."""
    kept = "".join(letter if letter.isascii() and letter.isalnum() else " " for letter in name.lower())
    return "-".join(kept.split()) or "vehicle"
