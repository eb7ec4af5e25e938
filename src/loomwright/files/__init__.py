"""The door to files: a project folder becomes a vehicle with places and problems, a change becomes smallest edits.

``load`` never raises for what a user wrote. ``preview`` tells what ``write`` would do; ``difference`` shows it.
"""

from loomwright.files.change import difference, preview
from loomwright.files.load import Loaded, load, spot_of
from loomwright.files.text import Spot
from loomwright.files.write import Written, copy_project, new_project, write, write_file

__all__ = [
    "Loaded", "Spot", "Written", "copy_project", "difference", "load", "new_project", "preview", "spot_of", "write",
    "write_file",
]  # fmt: skip
