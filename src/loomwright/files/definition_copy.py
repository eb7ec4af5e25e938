"""Copies of definition files within a project, byte for byte, beside the messages that were taken over from them."""

import os
import re
from pathlib import Path

FOLDER = "definitions"
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
