"""Does what happens on a line stay below what was computed, and how close does it come?

The line is played frame by frame with random phases, jitter, payloads and drifting clocks; each frame is as long as its bits
with their stuffing are. It proves nothing by
itself: an analysis covers what a play may never meet.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from loomwright.engines.arbitration import Bus, Errors, Observed, simulating
from loomwright.engines.arbitration_releases import Message, Sender, with_random_offsets
from loomwright.engines.response_times import UNBOUNDED, response_times
from loomwright.laws.frame_bits import frame_bits
from loomwright.laws.frame_lengths import duration_s
from loomwright.laws.wire_order import wire_order
from loomwright.model.speech import Speech
from loomwright.solve.load import Rates, frame_of, rates_of
from loomwright.solve.responses import ERROR_BITS, LineResponses, Response, faults_of, line_flows
from loomwright.solve.responses import TICK_S as PRECISE_S
from loomwright.solve.streams import CLASSICAL_BYTES, Stream
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.fact import Unknown

TICK_S = 1e-9
DRIFT_PPB = 100_000
"""Clocks are off by up to so much either way; common practice for crystals."""
PAYLOADS = 64
"""So many payloads are drawn for each message; a play sends them again and again, in any order."""
MOST_BURSTS = 500
"""Times that frames are disturbed in a play."""
LONGEST_S = 5e6
"""Longer periods and jitter count as this: longer than any play, and in ticks a whole number that can be reckoned with."""
EVENT_EXTRA = 4.0
"""An event comes, in the mean, so many times its least gap later than it might."""


class StoppedPlayError(LoomwrightError):
    """The play was stopped before its end."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One stream as it was observed: how often, and its longest and mean response in s, against the bound.

    ``bound_s`` is infinite where there is no bound; such a one may never have arrived.
    """

    stream: Stream
    count: int
    worst_s: float
    mean_s: float
    bound_s: float

    @property
    def closeness(self) -> float:
        """The longest one observed as a share of the bound; 1 would be the bound itself."""
        return self.worst_s / self.bound_s if self.bound_s else 0.0

    @property
    def most_s(self) -> float:
        """The bound with what drifting clocks and whole ticks may add to what is observed, in s."""
        return self.bound_s * (1 + 2e-9 * DRIFT_PPB) + TICK_S * 100


@dataclass(frozen=True, slots=True)
class LinePlay:
    """A line played for some time in one state of the vehicle."""

    line: str
    state: str
    seconds: float
    load: float
    frames: int
    backlog: int
    spoiled: int
    seen: tuple[Seen, ...]

    @property
    def above(self) -> tuple[Seen, ...]:
        """What came later than its bound. There must be none; if there is one, the program is wrong."""
        return tuple(each for each in self.seen if each.worst_s > each.most_s)


def line_play(
    speech: Speech,
    line: str,
    answer: Answer[LineResponses],
    state: str,
    seconds: float,
    seed: int,
    told: Callable[[float], bool] = lambda _done: True,
) -> Answer[LinePlay]:
    """Play a line in a state for some seconds. ``told`` hears the share done and answers whether to go on.

    What a gateway passes on is played with the jitter it may bring along, its own line before is not played.
    """
    rates = rates_of(speech.media[line], line)
    if isinstance(answer, Blocked) or isinstance(rates, Blocked):
        return Blocked(
            (*(answer.by if isinstance(answer, Blocked) else ()), *(rates.by if isinstance(rates, Blocked) else ()))
        )
    rate = rates.value.rate
    sent = [each for each in answer.value.responses if each.stream.is_sent_in(state)]
    dice = np.random.default_rng(seed)
    ports = list(dict.fromkeys(each.stream.sender for each in sent))
    senders = tuple(
        Sender(int(dice.integers(-DRIFT_PPB, DRIFT_PPB)), fifo=_first_in_first_out(speech, port)) for port in ports
    )
    sent.sort(key=lambda each: wire_order(each.stream.identifier or 0, extended=each.stream.extended))
    # Ranks are places in that order: of two frames with one identifier (a mistake, told elsewhere) one goes first here.
    messages = tuple(_message(each, at, ports, rates.value, dice) for at, each in enumerate(sent))
    bus = Bus(
        with_random_offsets(messages, dice),
        senders,
        bit=round(1 / rate / TICK_S),
        errors=_errors(speech, rate, answer.value, state, seconds, dice),
    )
    total = round(seconds / TICK_S)
    last: Observed | None = None
    for last in simulating(bus, total, dice):
        if not told(min(1.0, last.ticks / total)):
            raise StoppedPlayError("the play was stopped")
    if last is None or not sent:
        return Solved(LinePlay(line, state, seconds, 0.0, 0, 0, 0, ()))
    seen = tuple(
        Seen(
            each.stream,
            int(last.count[at]),
            float(last.worst_response[at]) * TICK_S,
            float(last.mean_response[at]) * TICK_S,
            each.worst_s,
        )
        for at, each in enumerate(sent)
        if last.count[at] or math.isinf(each.worst_s)
    )
    return Solved(
        LinePlay(line, state, seconds, last.load, int(last.count.sum()), last.backlog, last.spoiled, seen),
        answer.assumed,
    )


def _message(response: Response, rank: int, ports: list[str], rates: Rates, dice: np.random.Generator) -> Message:
    stream = response.stream
    frame = frame_of(stream, rates)
    # What comes oftener than the line could carry it fills the line as well when it comes as often as that.
    period = round(min(max(stream.period_s or 0.0, frame.best_s), LONGEST_S) / TICK_S)
    packets = stream.frames_per_message > 1 and stream.gap_s is not None
    gap = round(min(stream.gap_s or 0.0, LONGEST_S) / TICK_S / stream.frames_per_message) if packets else period
    return Message(
        rank,
        ports.index(stream.sender),
        max(period, gap),
        round(frame.best_s / TICK_S),
        round(frame.worst_s / TICK_S),
        jitter=round(min(response.jitter_s, LONGEST_S) / TICK_S),
        extra=round(EVENT_EXTRA * period) if stream.event else 0,
        lengths=tuple(_length(stream, rates, dice) for _ in range(PAYLOADS)),
    )


def _length(stream: Stream, rates: Rates, dice: np.random.Generator) -> int:
    """Ticks of a frame with a random payload, counted on its own bits."""
    data = dice.bytes(min(stream.length, 64 if stream.fd else CLASSICAL_BYTES))
    bits = frame_bits(
        stream.identifier or 0, stream.extended, data, fd=stream.fd, brs=stream.fd and rates.data_rate is not None
    )
    return round(duration_s(bits.phase_bits, rates.rate, rates.data_rate if stream.fd else None) / TICK_S)


def _errors(
    speech: Speech, rate: float, found: LineResponses, state: str, seconds: float, dice: np.random.Generator
) -> Errors:
    """The disturbed frames that the line's bounds allow for, again and again over the play.

    Where no further ones are to follow within one rush of messages, the next come when the longest rush is surely over.
    """
    medium = speech.media[found.line]
    at_once, gap = faults_of(medium, rate).burst, medium.error_gap_s
    if not at_once:
        return Errors()
    apart = 2.0 * _longest_rush_s(speech, found, state) if gap is None else gap * at_once
    at_least, now = max(apart, seconds / MOST_BURSTS), 0.0
    times: list[float] = []
    while now < seconds:
        now += at_least * dice.uniform(1.0, 1.5)
        times.append(min(now, seconds / 2) if not times else now)
    recovery = round(ERROR_BITS / rate / TICK_S)
    return Errors(recovery, bursts=tuple((round(each / TICK_S), at_once) for each in times))


def _longest_rush_s(speech: Speech, found: LineResponses, state: str) -> float:
    """The longest time for which the line can be taken without a pause, in s; infinite where it has no end."""
    streams = tuple(each.stream for each in found.responses)
    built = line_flows(speech, found.line, streams, state, found.inherited())
    if isinstance(built, Blocked) or not built.value.streams:
        return 0.0
    busy = response_times(built.value.flows, built.value.tick_per_bit, built.value.faults).busy
    endless = bool((busy == UNBOUNDED).any()) or built.value.endless < len(built.value.streams)
    return float("inf") if endless else float(busy.max()) * PRECISE_S


def _first_in_first_out(speech: Speech, port: str) -> bool:
    component, _, name = port.partition(".")
    order = speech.voices[component].ports[name].transmit_order
    return not isinstance(order, Unknown) and order.value == "first in first out"
