"""The texts of a project as they stand on the disk, and a step of theirs taken backwards."""

import os
from collections.abc import Mapping
from pathlib import Path

from loomwright.app.merge import merged
from loomwright.files.schema import FOLDERS
from loomwright.terms.errors import StaleWriteError

FileTexts = Mapping[str, tuple[bytes, bytes]]
"""Old and new bytes by file name; ``b""`` stands for no file."""

Signature = dict[str, tuple[int, int, int, int]]


def signature(folder: Path) -> Signature:
    """Time stamps, size and number of every file that ``load`` would read: cheap to take, different after an edit."""
    found: Signature = {}
    for part in ("", *FOLDERS):
        try:
            with os.scandir(folder / part) as entries:
                for entry in entries:
                    if entry.name.endswith(".toml") and (part or entry.name == "vehicle.toml"):
                        found[f"{part}/{entry.name}" if part else entry.name] = _stamp(entry.path)
        except OSError:
            continue
    return found


def stamps(folder: Path, names: Mapping[str, object]) -> Signature:
    """The signature of some files; those that are not there are left out."""
    found = {name: _stamp(folder / name) for name in names}
    return {name: stamp for name, stamp in found.items() if stamp != _GONE}


_GONE = (0, 0, 0, 0)


def _stamp(path: str | Path) -> tuple[int, int, int, int]:
    try:
        state = os.stat(path)  # noqa: PTH116  (called for every file on every look)
    except OSError:
        return _GONE
    return (state.st_mtime_ns, state.st_ctime_ns, state.st_size, state.st_ino)


def differences(old: Mapping[str, bytes], new: Mapping[str, bytes]) -> dict[str, tuple[bytes, bytes]]:
    """The files that differ between two states of a project."""
    names = sorted({*old, *new})
    pairs = {name: (old.get(name, b""), new.get(name, b"")) for name in names}
    return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}


def put(texts: Mapping[str, bytes], pairs: FileTexts) -> dict[str, bytes]:
    """The texts with the new bytes of each pair; a file that is none any more is left out."""
    found = {**texts, **{name: new for name, (_, new) in pairs.items()}}
    return {name: text for name, text in found.items() if text}


def backwards(texts: Mapping[str, bytes], step: FileTexts) -> dict[str, tuple[bytes, bytes]]:
    """What to write so that a step is taken back from the texts as they are now.

    The earlier bytes where the file is as the step left it; else the step's lines alone are taken out. Raises
    ``StaleWriteError`` with both versions where the same lines were edited since.
    """
    pairs: dict[str, tuple[bytes, bytes]] = {}
    for name, (old, new) in step.items():
        now = texts.get(name, b"")
        back = old if now == new else merged(new, old, now)
        if back is None:
            raise StaleWriteError(name, new, now)
        if back != now:
            pairs[name] = (now, back)
    return pairs
