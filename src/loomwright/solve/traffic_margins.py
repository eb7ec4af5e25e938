"""How slow could a line be, and how much later could each message be ready, with all deadlines still met?"""

import math
from dataclasses import dataclass

from loomwright.engines.response_margins import breakdown, jitter_room
from loomwright.engines.response_times import Told
from loomwright.model.speech import Speech
from loomwright.solve.load import rates_of
from loomwright.solve.responses import TICK_S, LineResponses, line_flows
from loomwright.solve.streams import Stream
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path


@dataclass(frozen=True, slots=True)
class LineMargins:
    """How much a line has left.

    ``slowest_bit_per_s``: the lowest bit rate at which every deadline holds (more than the present one where one is
    missed now, infinite where no rate serves; the data phase of FD frames changes with it). ``room_s``: by stream what
    its jitter alone may grow by, ``None`` where a deadline is missed already.
    """

    line: str
    slowest_bit_per_s: float
    room_s: tuple[tuple[Stream, float | None], ...]


def line_margins(
    speech: Speech,
    line: str,
    streams: tuple[Stream, ...],
    answer: Answer[LineResponses],
    told: Told = lambda _done, _all: True,
) -> Answer[LineMargins]:
    """The margins of a line whose responses are known, over all states of the vehicle."""
    if isinstance(answer, Blocked):
        return answer
    inherited = answer.value.inherited()
    rates = rates_of(speech.media[line], line)
    if isinstance(rates, Blocked):
        return rates
    slowest, room = 0.0, dict[tuple[Path, str], tuple[Stream, float | None]]()
    for state in speech.states or ("",):
        built = line_flows(speech, line, streams, state, inherited)
        if isinstance(built, Blocked):
            return built
        flows, tick, faults = built.value.flows, built.value.tick_per_bit, built.value.faults
        if not built.value.streams:
            continue
        if built.value.endless < len(built.value.streams):  # what comes from another line has no bound at any rate
            slowest = math.inf
            room |= {(stream.path, stream.part): (stream, None) for stream in built.value.streams}
            continue
        holds = breakdown(flows, tick, faults, told=told).holds
        slowest = max(slowest, rates.value.rate / holds if holds else math.inf)
        for stream, ticks in zip(built.value.streams, jitter_room(flows, tick, faults, told=told), strict=True):
            key = (stream.path, stream.part)
            before = room[key][1] if key in room else math.inf
            time = None if ticks < 0 or before is None else min(float(ticks) * TICK_S, before)
            room[key] = (stream, time)
    return Solved(LineMargins(line, slowest, tuple(room.values())), answer.assumed)
