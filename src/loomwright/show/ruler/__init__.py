"""The line ruler: a line pulled straight, to scale, with what the meter must read under it."""

from loomwright.show.ruler.draw import line_ruler
from loomwright.show.ruler.strips import Strip

__all__ = ["Strip", "line_ruler"]
