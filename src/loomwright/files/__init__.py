"""The door to files: a project folder becomes a vehicle with places and problems, a change becomes smallest edits."""

from loomwright.files.load import Loaded, load

__all__ = ["Loaded", "load"]
