"""Put bytes on the disk: atomically, never over somebody else's change, never outside the project folder."""

import contextlib
import os
import re
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from loomwright.files import journal
from loomwright.files.change import preview, project_texts
from loomwright.files.load import FOLDERS, Loaded
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change
from loomwright.terms.errors import RefusedWriteError, StaleWriteError

_OWN_NAMES = re.compile(rf"vehicle\.toml|(?:{'|'.join(FOLDERS)})/[a-z][a-z0-9_]*\.toml")


def write(folder: Path, loaded: Loaded, change: Change) -> tuple[str, ...]:
    """Write a change into the project's files; returns the names of the files touched.

    Raises ``StaleWriteError`` when a file is not as it was read, ``RefusedWriteError`` when the texts cannot say the
    change or the disk refuses. Guarantee: each file is replaced whole or not at all, and an error on the way puts the
    first ones back. A change over several files that a crash or a power cut interrupts is finished by whoever opens the
    folder next (``files/journal.py``).
    """
    pairs = preview(loaded, change)
    write_texts(folder, pairs)
    return tuple(pairs)


def write_texts(folder: Path, pairs: Mapping[str, tuple[bytes, bytes]]) -> None:
    """Replace files whose bytes are still the first of each pair by the second; ``b""`` stands for no file."""
    targets = {name: _target(folder, name) for name in pairs}
    for name, (old, _) in pairs.items():
        found = _bytes(targets[name])
        if found != old:
            raise StaleWriteError(name, old, found)
    made: dict[str, Path] = {}
    done: list[str] = []
    name = ""
    try:
        for name, (_, new) in pairs.items():
            if new:
                made[name] = _temporary(targets[name], new)
        if len(pairs) > 1:
            journal.begin(folder, pairs, write_file)
        for name in pairs:
            _put(targets[name], made, name)
            done.append(name)
    except OSError as error:
        for written in done:
            _put_back(targets[written], pairs[written][0])
        journal.end(folder)
        raise RefusedWriteError(
            f"{name} cannot be written: {error.strerror or error}; the files are as they were"
        ) from error
    finally:
        for left in made.values():
            left.unlink(missing_ok=True)
    for parent in {target.parent for target in targets.values()}:
        _settle(parent)
    if len(pairs) > 1:
        journal.end(folder)


def _put(target: Path, made: dict[str, Path], name: str) -> None:
    """Move a prepared text into its place, or take the file away where none was prepared."""
    if name in made:
        made[name].replace(target)
        del made[name]
    else:
        target.unlink(missing_ok=True)


def finish(folder: Path) -> tuple[str, ...]:
    """Finish a step that was cut short; returns the files that were written. A folder that refuses is left as it is."""
    try:
        return journal.finish(folder, _target, write_file)
    except (OSError, RefusedWriteError):
        return ()


def write_file(target: Path, data: bytes) -> None:
    """Write one file of the program's own, such as a drawing, whole or not at all. Raises ``RefusedWriteError``."""
    try:
        _temporary(target, data).replace(target)
    except OSError as error:
        raise RefusedWriteError(f"{target} cannot be written: {error.strerror or error}") from error


def new_project(folder: Path, vehicle: Vehicle) -> None:
    """Write a whole new project. Raises ``RefusedWriteError`` when the folder holds something already."""
    _must_be_free(folder)
    texts = project_texts(vehicle)
    folder.mkdir(parents=True, exist_ok=True)
    write_texts(folder, {name: (b"", text.encode("utf-8")) for name, text in texts.items()})


def copy_project(source: Path, folder: Path) -> None:
    """Copy a project's own files into a new folder. Raises ``RefusedWriteError`` when it holds something already."""
    _must_be_free(folder)
    names = [source / "vehicle.toml", *(path for part in FOLDERS for path in sorted((source / part).glob("*.toml")))]
    for path in names:
        target = folder / path.relative_to(source)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)


def _must_be_free(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise RefusedWriteError(f"{folder} holds something already; choose a new or empty folder")


def _target(folder: Path, name: str) -> Path:
    """The file a name stands for; refuses names that are not the project's own and links that lead out of it."""
    target = folder / name
    if not _OWN_NAMES.fullmatch(name) or not os.path.realpath(target).startswith(os.path.realpath(folder) + os.sep):
        raise RefusedWriteError(f"{name} is not a file of this project; nothing was written")
    return target


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise RefusedWriteError(f"{path.name} cannot be read: {error.strerror}; nothing was written") from error


def _temporary(target: Path, data: bytes) -> Path:
    """Write bytes next to a file, onto the disk, with that file's mode."""
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".new", dir=target.parent)
    made = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        made.chmod(target.stat().st_mode & 0o7777 if target.exists() else 0o644)
    except OSError:
        made.unlink(missing_ok=True)
        raise
    return made


def _put_back(target: Path, old: bytes) -> None:
    with contextlib.suppress(OSError):
        if old:
            _temporary(target, old).replace(target)
        else:
            target.unlink(missing_ok=True)


def _settle(folder: Path) -> None:
    """Make the renames last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
