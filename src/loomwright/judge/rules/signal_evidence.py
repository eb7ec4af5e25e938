"""What the rules of the physical layer may look at."""

from dataclasses import dataclass

from loomwright.solve.bit_timing import LineTiming
from loomwright.solve.grounds import LineGrounds
from loomwright.solve.levels import LineLevels
from loomwright.solve.signal import LineSignal
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Blocked

_NOT_ASKED = Blocked(())


@dataclass(frozen=True, slots=True)
class SignalEvidence:
    """One line's answers of the physical layer. ``delay_s_per_m`` is the slowest that the cable may be."""

    name: str
    delay_s_per_m: float | None
    topology: Answer[LineTopology]
    signal: Answer[LineSignal]
    levels: Answer[LineLevels]
    timing: Answer[LineTiming] = _NOT_ASKED
    grounds: Answer[LineGrounds] = _NOT_ASKED
