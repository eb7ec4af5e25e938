"""The door to files: a project folder becomes a vehicle with places and problems, a change becomes smallest edits."""

from loomwright.files.change import difference, preview
from loomwright.files.load import Loaded, load
from loomwright.files.write import new_project, write

__all__ = ["Loaded", "difference", "load", "new_project", "preview", "write"]
