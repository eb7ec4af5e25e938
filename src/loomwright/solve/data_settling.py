"""When is every receiver sure of a bit of the data phase, counted from the edge as it arrives?

A receiver follows the edges that it sees, and nobody answers within a bit of the data phase. So the way along the cable
does not count there, nor the delay of the transceivers; what is left is how long an edge takes to settle once it is there.
"""

from dataclasses import dataclass

from loomwright.solve.round_trip import distances_m
from loomwright.solve.signal import LineSignal
from loomwright.solve.topology import LineTopology, Stop
from loomwright.terms.answer import Answer, Blocked


@dataclass(frozen=True, slots=True)
class DataSure:
    """A receiver's worst senders: time in s from the arrival of an edge until it is sure, typical and in the worst corner.

    An edge counts as there when the cable has carried its beginning, so the time is on the careful side. What a transceiver
    makes longer or shorter, and what is left of the edges before, is left out. Infinite where a bit of the nominal phase
    ends before.
    """

    receiver: str
    sender: str
    typical_s: float
    corner_sender: str
    corner_s: float


def data_sure(
    topology: LineTopology, stops: tuple[Stop, ...], delay_s_per_m: float, signal: Answer[LineSignal]
) -> tuple[DataSure, ...]:
    """Every receiver with the senders that it is sure of last; nothing where no waves were computed."""
    if isinstance(signal, Blocked):
        return ()
    tips = {stop.port: stop.tip for stop in stops}
    carried_s = {
        sender: [away_m * delay_s_per_m for away_m in distances_m(topology, tip)] for sender, tip in tips.items()
    }
    found = []
    for receiver, tip in tips.items():
        pairs = [pair for pair in signal.value.pairs if pair.receiver == receiver]
        if pairs:
            typical_s, sender = max((pair.typical_s - carried_s[pair.sender][tip], pair.sender) for pair in pairs)
            corner_s, corner = max((pair.settle_s - carried_s[pair.sender][tip], pair.sender) for pair in pairs)
            found.append(DataSure(receiver, sender, typical_s, corner, corner_s))
    return tuple(found)
