"""Drawings of what is said: times of a line's messages, bits of a frame, a chain's hops, and how full lines are."""

from loomwright.show.traffic.chain import chain_strip
from loomwright.show.traffic.layout import frame_layout
from loomwright.show.traffic.load import load_bars
from loomwright.show.traffic.timing import timing_chart

__all__ = ["chain_strip", "frame_layout", "load_bars", "timing_chart"]
