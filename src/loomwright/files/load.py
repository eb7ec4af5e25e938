"""Read a project folder into a vehicle. Never raises for what a user wrote; tells every problem at once."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path as FilePath
from typing import Any

from loomwright.files.file import NAME, FileRead, decoded, read_file
from loomwright.files.read import Spot, near
from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Path
from loomwright.terms.problem import Problem

LARGEST = 2_000_000
"""Bytes a file may have; a person's file stays far below, and anything larger is something else."""

FOLDERS = ("components", "lines")


@dataclass(frozen=True, slots=True)
class Loaded:
    """What was read. ``vehicle`` is there whenever nothing is wrong; with problems it is ``None``.

    ``places`` tells where each value stands, ``texts`` holds the exact bytes by file name relative to the folder.
    """

    vehicle: Vehicle | None
    problems: tuple[Problem, ...]
    places: Mapping[Path, Spot] = field(default_factory=dict)
    texts: Mapping[str, bytes] = field(default_factory=dict)


def load(folder: FilePath) -> Loaded:
    """Read a folder."""
    problems: list[Problem] = []
    texts = read_texts(folder, problems)
    return understood(texts, problems)


def understood(texts: Mapping[str, bytes], problems: list[Problem] | None = None) -> Loaded:
    """Make a vehicle of the bytes of a project's files."""
    found = [] if problems is None else problems
    reads = {name: read_file(name, raw) for name, raw in texts.items()}
    for read in reads.values():
        found.extend(read.problems)
    components, lines = (_named(part, reads, found) for part in FOLDERS)
    _check_references(texts, reads, found)
    ordered = tuple(sorted(set(found)))
    spots: dict[Path, Spot] = {}
    for read in reads.values():
        spots.update(read.spots)
    body = reads["vehicle.toml"].value if "vehicle.toml" in reads else None
    vehicle = replace(body, components=components, lines=lines) if isinstance(body, Vehicle) and not ordered else None
    return Loaded(vehicle, ordered, spots, dict(texts))


def read_texts(folder: FilePath, problems: list[Problem]) -> dict[str, bytes]:
    """The bytes of every file that belongs to the project; trouble with the disk is noted as problems."""
    texts: dict[str, bytes] = {}

    def trouble(name: str, message: str, wanted: str = "") -> None:
        problems.append(Problem(name, 0, 0, message, wanted))

    if not folder.is_dir():
        trouble(
            str(folder),
            "is not a folder" if folder.exists() else "there is no such folder",
            "a folder with vehicle.toml in it",
        )
        return texts
    names = ["vehicle.toml"]
    for part in FOLDERS:
        inner = folder / part
        try:
            if inner.is_dir():
                names += [f"{part}/{entry.name}" for entry in sorted(inner.iterdir()) if entry.suffix == ".toml"]
        except OSError as error:
            trouble(part, f"cannot be read: {error.strerror}", "a folder you may read")
    root = os.path.realpath(folder)
    for name in names:
        path = folder / name
        try:
            if not os.path.realpath(path).startswith(root + os.sep):
                trouble(name, "leads outside the project folder", "a file inside it")
            elif path.stat().st_size > LARGEST:
                trouble(name, f"is {path.stat().st_size / 1e6:.0f} MB large", f"at most {LARGEST / 1e6:.0f} MB")
            else:
                texts[name] = path.read_bytes()
        except FileNotFoundError:
            trouble(name, "is missing", "every project has a vehicle.toml with format, name, length and width")
        except OSError as error:
            trouble(name, f"cannot be read: {error.strerror}", "a file you may read")
    return texts


def _named(part: str, reads: Mapping[str, FileRead], problems: list[Problem]) -> Table[Any]:
    """The values of one folder by the names of their files."""
    found = {}
    for file, read in reads.items():
        folder, _, leaf = file.partition("/")
        if folder != part:
            continue
        name = leaf.removesuffix(".toml")
        if not NAME.fullmatch(name):
            problems.append(
                Problem(file, 0, 0, f"{name!r} is no name", "small letters, digits and _, beginning with a letter")
            )
        elif read.value is not None:
            found[name] = read.value
    return Table(found)


def _check_references(texts: Mapping[str, bytes], reads: Mapping[str, FileRead], problems: list[Problem]) -> None:
    """Look every reference up among what all files declare; a line is declared by its file's name."""
    known: dict[str, set[str]] = {"place": set(), "port": set(), "line": set(), "cable": set()}
    for file, read in reads.items():
        for what, name in read.declares:
            known.setdefault(what, set()).add(name)
        if file.startswith("lines/"):
            known["line"].add(file.removeprefix("lines/").removesuffix(".toml"))
    for file, read in reads.items():
        dangling = [reference for reference in read.references if reference.name not in known[reference.what]]
        if not dangling:
            continue
        text = decoded(file, texts[file], problems)
        assert text is not None, "what has references was read"
        for reference in dangling:
            what, name = reference.what, reference.name
            wanted = "a port written component.port" if what == "port" else f"a {what} of this project"
            text.problem(reference.at, f"there is no {what} {name!r}", wanted, near(name, known[what]))
