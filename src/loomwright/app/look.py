"""The files that give pages their look: the same tokens, drawing styles and fonts as in drawings and on paper."""

from importlib.resources import files as package_files
from pathlib import Path

STYLES = ("tokens.css", "drawing.css")


def style_file(name: str) -> Path | None:
    """One of the style files; ``None`` for any other name."""
    return _show() / name if name in STYLES else None


def font_folder() -> Path:
    """The folder of the shipped fonts and their licences."""
    return _show() / "fonts"


def _show() -> Path:
    return Path(str(package_files("loomwright.show")))
