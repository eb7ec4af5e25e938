"""The page of every rule there is, by its code."""

from collections.abc import Mapping
from types import MappingProxyType

from loomwright.judge.about import ABOUT, About
from loomwright.judge.about_signal import SIGNAL_ABOUT
from loomwright.judge.about_traffic import TRAFFIC_ABOUT

PAGES: Mapping[str, About] = MappingProxyType({**ABOUT, **TRAFFIC_ABOUT, **SIGNAL_ABOUT})
