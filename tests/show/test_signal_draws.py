"""The tolerance draws of a line in a terminal."""

import math

import pytest
from rich.console import Console

from loomwright.show.signal import draws_text
from loomwright.solve.signal_draws import DrawnPair, SignalDraws


@pytest.mark.parametrize(("slowest_s", "never"), [(math.inf, 0.02), (1.2e-6, 0.0)])
def test_a_bit_that_never_settles_is_called_so(slowest_s, never):
    pair = DrawnPair("a.can", "b.can", 200e-9, 300e-9, 400e-9, slowest_s, never, never)
    console = Console(width=120, record=True)
    console.print(draws_text(SignalDraws("drive", 100, 1, never, never, (pair,))))
    told = console.export_text()
    assert "∞" not in told
    assert ("never: not within the bit" in told) == (never > 0.0)
    (row,) = [line for line in told.splitlines() if "b.can" in line]
    assert ("never" in row) == (never > 0.0)
