"""Published values, raw, as they lie in authorities/."""

import tomllib
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "authorities"


def authority(name):
    """One file of published values."""
    return tomllib.loads((FOLDER / f"{name}.toml").read_text("utf-8"))
