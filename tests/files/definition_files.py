"""Definition files written by others, as two packages from the index carry them; each is read once in a session."""

from functools import cache
from importlib.resources import files
from pathlib import Path

from loomwright.files.definition import read_definition

PACKAGES = ("opendbc", "canmatrix")
PORT = "gateway.can"


def definition_files() -> list[Path]:
    """Every definition file of the packages."""
    found = [path for package in PACKAGES for path in Path(str(files(package))).rglob("*")]
    return sorted(path for path in found if path.suffix.lower() in (".dbc", ".kcd", ".arxml", ".sym"))


@cache
def read(path):
    """The bytes of a file, and what is read from them with one port for all."""
    raw = path.read_bytes()
    return raw, read_definition(raw, path.name, {"": PORT})
