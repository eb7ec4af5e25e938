"""The bytes of a project's files, read from a folder with every trouble on the way noted as a problem."""

import os
import re
import stat
from pathlib import Path

from loomwright.files.schema import FOLDERS
from loomwright.files.text import nearest
from loomwright.terms.problem import Problem

BODY = "vehicle.toml"
LARGEST = 2_000_000
"""Bytes a file may have. A person's file stays far below; anything larger is something else and is not read."""

NAME = re.compile(r"[a-z][a-z0-9_]*")
NAME_RULE = "small letters, digits and _, beginning with a letter"


def read_files(folder: Path, problems: list[Problem]) -> dict[str, bytes | None]:
    """The bytes of every file of a project by its name within the folder.

    ``None`` stands for a file that cannot be read, and ``components/`` for a whole folder that cannot be read.
    """
    found: dict[str, bytes | None] = {}
    try:
        root = folder.resolve()
        names = [BODY, *_names_in_folders(root, found, problems)] if _is_folder(folder, problems) else []
    except (OSError, RuntimeError, ValueError) as error:
        problems.append(Problem(str(folder), 0, 0, f"cannot be read: {_reason(error)}", "a folder you may read"))
        return {}
    for name in names:
        try:
            found[name] = _bytes(root, name, problems)
        except (OSError, RuntimeError) as error:
            found[name] = None
            _note_failure(root, name, error, problems)
    return found


def _is_folder(folder: Path, problems: list[Problem]) -> bool:
    try:
        mode = folder.stat().st_mode
    except FileNotFoundError:
        problems.append(Problem(str(folder), 0, 0, "there is no such folder", f"a folder with {BODY} in it"))
        return False
    if not stat.S_ISDIR(mode):
        problems.append(Problem(str(folder), 0, 0, "is not a folder", f"a folder with {BODY} in it"))
        return False
    return True


def _names_in_folders(root: Path, found: dict[str, bytes | None], problems: list[Problem]) -> list[str]:
    names = []
    for part in FOLDERS:
        try:
            if not _inside(root, root / part):
                found[f"{part}/"] = None
                problems.append(Problem(part, 0, 0, "is a link that leads out of the project", "a folder within it"))
                continue
            entries = sorted(entry.name for entry in os.scandir(root / part))
        except FileNotFoundError:
            continue
        except (OSError, RuntimeError) as error:
            found[f"{part}/"] = None
            problems.append(Problem(part, 0, 0, f"cannot be read: {_reason(error)}", "a folder you may read"))
            continue
        names += [f"{part}/{name}" for name in entries if name.lower().endswith(".toml") and not name.startswith(".")]
    return names


def _bytes(root: Path, name: str, problems: list[Problem]) -> bytes | None:
    path = root / name
    if not _inside(root, path):
        problems.append(Problem(name, 0, 0, "is a link that leads out of the project folder", "a file within it"))
        return None
    found = path.stat()
    if not stat.S_ISREG(found.st_mode):
        problems.append(Problem(name, 0, 0, "is not a file", "a text file"))
        return None
    if found.st_size <= LARGEST:
        with path.open("rb") as stream:
            raw = stream.read(LARGEST + 1)  # it may have grown meanwhile
        if len(raw) <= LARGEST:
            return raw
    size = f"is {found.st_size / 1e6:.1f} MB large and was not read"
    problems.append(Problem(name, 0, 0, size, f"at most {LARGEST / 1e6:.0f} MB"))
    return None


def _note_failure(root: Path, name: str, error: Exception, problems: list[Problem]) -> None:
    if not isinstance(error, FileNotFoundError):
        problems.append(Problem(name, 0, 0, f"cannot be read: {_reason(error)}", "a file you may read"))
    elif (root / name).is_symlink():
        problems.append(Problem(name, 0, 0, "is a link to a file that is not there", "a file"))
    else:
        others = [entry.name for entry in os.scandir(root)]
        expected = f"a file {BODY} with format, name, length and width"
        problems.append(Problem(name, 0, 0, "is missing", expected, nearest(name, others)))


def _inside(root: Path, path: Path) -> bool:
    return path.resolve().is_relative_to(root)


def _reason(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
