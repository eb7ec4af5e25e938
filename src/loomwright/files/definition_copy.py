"""Copies of definition files within a project, byte for byte, beside the messages that were taken over from them."""

import os
import re
from pathlib import Path

FOLDER = "definitions"
OWN_COPY = re.compile(r"definitions/[A-Za-z0-9][\w.-]*\.[A-Za-z]+", re.ASCII)
_OTHER = re.compile(r"[^A-Za-z0-9_.-]+")


def copy_name(file: str) -> str:
    """The name within the project of a definition file's copy."""
    plain = _OTHER.sub("_", file).lstrip("._-")
    return f"{FOLDER}/{plain}"


def kept_copy(folder: Path, name: str) -> bytes | None:
    """The bytes of a copy; ``None`` where there is none that can be read within the project."""
    root, path = Path(os.path.realpath(folder)), Path(os.path.realpath(folder / name))
    if not name.startswith(f"{FOLDER}/") or not path.is_relative_to(root):
        return None
    try:
        return path.read_bytes() if path.is_file() else None
    except OSError:
        return None


def kept_copies(folder: Path) -> dict[str, bytes]:
    """Every copy of a project that can be read, by its name within the folder."""
    try:
        names = sorted(entry.name for entry in (folder / FOLDER).iterdir())
    except OSError:
        return {}
    found = {name: kept_copy(folder, name) for name in map(f"{FOLDER}/{{}}".format, names) if OWN_COPY.fullmatch(name)}
    return {name: raw for name, raw in found.items() if raw is not None}
