"""Put bytes on the disk: whole or not at all, never over somebody else's change, never outside the project's folder.

What is guaranteed. A file is only ever replaced by renaming a finished one over it, so nobody sees half a file, whatever
happens. Where a change touches several files, every new text and a copy of every old one is on the disk before the first
is renamed; an error on the way puts the old ones back by renaming. A kill or a power cut on the way is finished by
whoever opens the folder next (``journal``). So all of a change is written, or none.
"""

import contextlib
import os
import re
import secrets
import stat
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from loomwright.files import journal
from loomwright.files.change import planned, project_texts
from loomwright.files.definition_copy import OWN_COPY, kept_copies
from loomwright.files.disk import BODY, read_files
from loomwright.files.load import Loaded
from loomwright.files.schema import FOLDERS
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change
from loomwright.terms.errors import RefusedWriteError, StaleWriteError
from loomwright.terms.problem import Problem

_OWN_FILE = re.compile(rf"{re.escape(BODY)}|(?:{'|'.join(FOLDERS)})/[a-z][a-z0-9_]*\.toml|{OWN_COPY.pattern}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Written:
    """What was written: the names of the files that changed, and what ``load`` gives now."""

    files: tuple[str, ...]
    loaded: Loaded


def write(folder: Path, loaded: Loaded, change: Change) -> Written:
    """Write a change into the files of a project, as the smallest edits that say it.

    Raises ``StaleWriteError`` where a file is not as it was read, ``RefusedWriteError`` where the files cannot say the
    change or the disk refuses, ``PathError`` for a path that the vehicle does not have. See the module for what holds then.
    """
    pairs, again = planned(loaded, change)
    write_texts(folder, pairs)
    return Written(tuple(pairs), again)


def write_texts(folder: Path, pairs: Mapping[str, tuple[bytes, bytes]]) -> None:
    """Replace files that still hold the first bytes of each pair by the second; ``b""`` stands for no file.

    Raises ``StaleWriteError`` and ``RefusedWriteError``.
    """
    root = Path(os.path.realpath(folder))
    targets = {name: _target(root, name) for name in pairs}
    for name, (old, _) in pairs.items():
        _must_be(name, targets[name], old)
    temporary: list[Path] = []
    made_folders: list[Path] = []
    try:
        steps = []
        for name, (old, new) in _in_safe_order(pairs):
            target = targets[name]
            made_folders += _made_folders(target.parent)
            fresh = _beside(target, new, temporary) if new else None
            backup = _beside(target, old, temporary) if old and len(pairs) > 1 else None
            steps.append((name, target, fresh, backup))
        for name, (old, _) in pairs.items():
            _must_be(name, targets[name], old)
        if len(pairs) > 1:
            journal.begin(root, pairs, write_file)
        _rename_all(root, steps)
        made_folders.clear()
    except OSError as error:
        raise RefusedWriteError(f"nothing was written: {error.strerror or error}") from error
    finally:
        for path in temporary:
            path.unlink(missing_ok=True)
        for made in reversed(made_folders):
            with contextlib.suppress(OSError):
                made.rmdir()
    for parent in {target.parent for target in targets.values()}:
        _settle(parent)
    if len(pairs) > 1:
        journal.end(root)


def finish(folder: Path) -> tuple[str, ...]:
    """Finish a step that was cut short; returns the files that were written. A folder that refuses is left as it is."""
    try:
        return journal.finish(folder, _target, write_file)
    except (OSError, RefusedWriteError):
        return ()


def write_file(target: Path, data: bytes) -> None:
    """Write one file that is not the project's, such as a drawing, whole or not at all. Raises ``RefusedWriteError``."""
    temporary: list[Path] = []
    try:
        _beside(target, data, temporary).replace(target)
    except OSError as error:
        raise RefusedWriteError(f"{target} cannot be written: {error.strerror or error}") from error
    finally:
        for path in temporary:
            path.unlink(missing_ok=True)


def new_project(folder: Path, vehicle: Vehicle) -> None:
    """Write a whole new project. Raises ``RefusedWriteError`` where the folder holds something or cannot be made."""
    _fill(folder, project_texts(vehicle))


def copy_project(source: Path, folder: Path) -> None:
    """Copy a project's own files, byte for byte, copies of definition files too, into a new folder. Raises ``RefusedWriteError`` like ``new_project``."""
    problems: list[Problem] = []
    found = read_files(source, problems)
    if problems:
        raise RefusedWriteError(f"{source} cannot be copied: {problems[0].file} {problems[0].message}")
    _fill(folder, {name: raw for name, raw in found.items() if raw is not None} | kept_copies(source))


def _fill(folder: Path, texts: Mapping[str, bytes]) -> None:
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise RefusedWriteError(f"{folder} holds something already; choose a new or an empty folder")
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise RefusedWriteError(f"{folder} cannot be made: {getattr(error, 'strerror', None) or error}") from error
    write_texts(folder, {name: (b"", text) for name, text in texts.items()})


def _target(folder: Path, name: str) -> Path:
    """The real file that a name stands for. Refuses names that are not a project's and links that lead out of it."""
    root, target = Path(os.path.realpath(folder)), Path(os.path.realpath(folder / name))
    if not _OWN_FILE.fullmatch(name) or not target.is_relative_to(root):
        raise RefusedWriteError(f"{name} is no file of this project; nothing was written")
    if target.exists() and not os.access(target, os.W_OK):
        raise RefusedWriteError(f"{name} may not be written; nothing was written")
    return target


def _must_be(name: str, target: Path, old: bytes) -> None:
    try:
        found = target.read_bytes()
    except FileNotFoundError:
        found = b""
    except OSError as error:
        raise RefusedWriteError(f"{name} cannot be read: {error.strerror}; nothing was written") from error
    if found != old:
        raise StaleWriteError(name, old, found)


def _in_safe_order(pairs: Mapping[str, tuple[bytes, bytes]]) -> Iterator[tuple[str, tuple[bytes, bytes]]]:
    """New files first and those that go last, so that in between fewer names point at nothing."""
    yield from sorted(pairs.items(), key=lambda pair: (not pair[1][1], bool(pair[1][0]), pair[0]))


def _made_folders(folder: Path) -> list[Path]:
    """Make a folder; those that were not there before, the outermost first."""
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return missing[::-1]


def _beside(target: Path, data: bytes, temporary: list[Path]) -> Path:
    """A finished, hidden file next to a target, on the disk, with the target's mode and, where possible, owner."""
    made = target.with_name(f".{target.name[:200]}.{secrets.token_hex(4)}.new")
    handle = os.open(made, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    temporary.append(made)
    with os.fdopen(handle, "wb") as stream:
        stream.write(data)
        stream.flush()
        with contextlib.suppress(FileNotFoundError):
            like = target.stat()
            if hasattr(os, "fchown"):
                with contextlib.suppress(OSError):
                    os.fchown(stream.fileno(), like.st_uid, like.st_gid)
            made.chmod(stat.S_IMODE(like.st_mode))
        os.fsync(stream.fileno())
    return made


def _rename_all(root: Path, steps: list[tuple[str, Path, Path | None, Path | None]]) -> None:
    """Put every fresh file in its target's place; on an error put the backups back and pass the error on."""
    done: list[tuple[str, Path, Path | None]] = []
    try:
        for name, target, fresh, backup in steps:
            if fresh is None:
                target.unlink()
            else:
                fresh.replace(target)
            done.append((name, target, backup))
    except BaseException:
        left = [name for name, target, backup in reversed(done) if not _put_back(target, backup)]
        if left:  # the journal stays: the step can still be finished
            raise RefusedWriteError(
                f"the disk refused in the middle of a change; {', '.join(sorted(left))} could not be put back. The change "
                "will be finished when the folder is opened next"
            ) from None
        journal.end(root)
        raise


def _put_back(target: Path, backup: Path | None) -> bool:
    try:
        if backup is None:
            target.unlink(missing_ok=True)
        else:
            backup.replace(target)
    except OSError:
        return False
    return True


def _settle(folder: Path) -> None:
    """Make renames last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
