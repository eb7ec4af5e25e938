"""A step over several files is written whole even if the program dies in the middle of it.

Before the first file is replaced, the new texts of all of them stand in one file in the project folder; it goes when
the last is in its place. Whoever opens the folder next and finds it finishes the step. A file that somebody edited in
the meantime is left as it is.
"""

import base64
import contextlib
import hashlib
import json
import os
import re
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from loomwright.files.schema import FOLDERS
from loomwright.terms.errors import RefusedWriteError

NAME = ".loomwright-step"
LEFT_OVER_S = 60.0
"""Age in seconds from which a temporary text counts as left behind by a program that died."""

WriteFile = Callable[[Path, bytes], None]


def begin(folder: Path, pairs: Mapping[str, tuple[bytes, bytes]], write_file: WriteFile) -> None:
    """Put the whole step on the disk."""
    entries = [
        {"file": name, "old": _digest(old), "new": base64.b64encode(new).decode("ascii")}
        for name, (old, new) in pairs.items()
    ]
    write_file(folder / NAME, json.dumps({"step": entries}).encode("ascii"))


def end(folder: Path) -> None:
    """The step is done."""
    (folder / NAME).unlink(missing_ok=True)


def finish(folder: Path, target_of: Callable[[Path, str], Path], write_file: WriteFile) -> tuple[str, ...]:
    """Finish a step that was cut short; returns the files that were written. Nothing to do is the usual case."""
    _sweep(folder)
    try:
        entries = json.loads((folder / NAME).read_bytes())["step"]
        steps = [(target_of(folder, e["file"]), e["file"], e["old"], base64.b64decode(e["new"])) for e in entries]
    except (OSError, ValueError, KeyError, TypeError, RefusedWriteError):
        return ()  # none there, or none of ours: a torn one was never begun
    written = []
    for target, name, old, new in steps:
        found = target.read_bytes() if target.exists() else b""
        if _digest(found) == old and found != new:
            if new:
                write_file(target, new)
            else:
                target.unlink(missing_ok=True)
            written.append(name)
    end(folder)
    return tuple(written)


_OWN_TEXT = re.compile(r"\.(toml|dbc|kcd|sym|arxml)\.", re.IGNORECASE)


def _digest(text: bytes) -> str:
    return hashlib.sha256(text).hexdigest()


def _sweep(folder: Path) -> None:
    """Take out temporary texts that a program left behind when it died."""
    for part in (folder, *(folder / name for name in (*FOLDERS, "definitions"))):
        with contextlib.suppress(OSError), os.scandir(part) as entries:
            for entry in entries:
                ours = entry.name.startswith(".") and entry.name.endswith(".new") and _OWN_TEXT.search(entry.name)
                if ours and time.time() - entry.stat(follow_symlinks=False).st_mtime > LEFT_OVER_S:
                    os.unlink(entry.path)  # noqa: PTH108  (a DirEntry)
