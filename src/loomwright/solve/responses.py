"""How late can each message be on each line, at the worst?

Lines hang together by gateways: what is passed on late comes to the next line with that much more jitter. So all lines
are answered together, again and again until nothing moves (after K. Tindell and J. Clark, "Holistic schedulability
analysis for distributed hard real-time systems", 1994, from memory). Times only grow from round to round, so where it
ends, every bound is safe.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from loomwright.engines.flows import Faults, Flows, flows_of
from loomwright.engines.response_times import UNBOUNDED, response_times
from loomwright.laws.wire_order import wire_order
from loomwright.model.speech import Medium, Speech
from loomwright.solve.load import Frame, frame_of, rates_of, unknown_of
from loomwright.solve.streams import Stream
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Unknown

TICK_S = 1e-12
"""Times are counted in whole picoseconds."""
ERROR_BITS = 31
"""Bits from an error to the next frame, where the sender is error passive: the longest case. Seen in a public course."""
LONGEST = 2**52
"""Ticks, 75 minutes: longer periods and deadlines count as this, which bounds no less; of longer jitter no bound is sought."""
MOST_PERIODS_LATE = 100_000
"""Periods by which a message may be late; what may be later yet comes in a crowd that nobody would wait for."""
MOST_ROUNDS = 60
"""Rounds after which jitter that still grows is taken to have no end."""


@dataclass(frozen=True, slots=True)
class Response:
    """One stream's times in s, from the moment it is due until it has arrived.

    ``worst_s`` is infinite where there is no bound. ``due_s``: what a gateway's line before may have cost already, which
    is in ``worst_s`` too. ``deadline_s`` counts from the same moment. ``state``: the state of the vehicle that is worst.
    """

    stream: Stream
    frame: Frame
    best_s: float
    worst_s: float
    deadline_s: float
    jitter_s: float
    due_s: float
    state: str

    @property
    def slack_s(self) -> float:
        """What is left to the deadline."""
        return self.deadline_s - self.worst_s

    @property
    def here_s(self) -> float:
        """The worst time on this line alone, from when the gateway heard it; infinite where there is no bound."""
        return self.worst_s if math.isinf(self.worst_s) else self.worst_s - self.due_s

    @property
    def wanted_s(self) -> float:
        """The deadline counted from when the gateway heard it."""
        return self.deadline_s if math.isinf(self.due_s) else self.deadline_s - self.due_s


@dataclass(frozen=True, slots=True)
class LineResponses:
    """The responses of a line's streams, in the order in which the wire prefers them."""

    line: str
    responses: tuple[Response, ...]


@dataclass(frozen=True, slots=True)
class LineFlows:
    """A line in one state as the engine takes it: flows, the streams they stand for, and the ticks of a bit.

    ``endless``: the first flow whose own jitter is beyond all bounds; neither it nor what it outranks has one.
    """

    flows: Flows
    streams: tuple[Stream, ...]
    frames: tuple[Frame, ...]
    tick_per_bit: int
    faults: Faults
    endless: int


def ticks(time_s: float) -> int:
    """Whole ticks, rounded up: a bound stays one. At most twice LONGEST."""
    return math.ceil(min(time_s / TICK_S, 2.0 * LONGEST) - 1e-3)


def _period(time_s: float) -> int:
    """Ticks of what comes again and again: at least one, at most LONGEST."""
    return max(1, min(ticks(time_s), LONGEST))


def line_flows(
    speech: Speech, line: str, streams: tuple[Stream, ...], state: str, inherited: Mapping[Path, float]
) -> Answer[LineFlows]:
    """A line's streams in one state, the highest priority first. ``inherited``: jitter in s that a forward brings along."""
    medium = speech.media[line]
    rates = rates_of(medium, line)
    unknown = unknown_of(streams, identifiers=True)
    if isinstance(rates, Blocked) or unknown:
        return Blocked((*(rates.by if isinstance(rates, Blocked) else ()), *unknown))
    rate, data_rate = rates.value
    sent = [stream for stream in streams if stream.is_sent_in(state)]
    sent.sort(key=lambda stream: wire_order(stream.identifier or 0, extended=stream.extended))
    frames = [frame_of(stream, rate, data_rate) for stream in sent]
    queues = _queues(speech, sent)
    periods = [_period(stream.period_s or 0.0) for stream in sent]
    late = [ticks(stream.jitter_s + inherited.get(stream.path, 0.0)) for stream in sent]
    beyond = [at for at, each in enumerate(late) if each > min(LONGEST, MOST_PERIODS_LATE * periods[at])]
    for at in beyond:
        late[at] = 0
    # Of a queue the first that waits in it waits for the endless one too.
    beyond += [queues.index(queues[at]) for at in beyond if queues[at] >= 0]
    flows = flows_of(
        [ticks(frame.worst_s) for frame in frames],
        periods,
        late,
        [max(1, ticks(deadline_of(stream) + inherited.get(stream.path, 0.0))) for stream in sent],
        queues,
        [ticks(frame.best_s) for frame in frames],
    )
    assumed = dict.fromkeys(path for stream in sent for path in stream.assumed)
    return Solved(
        LineFlows(
            flows,
            tuple(sent),
            tuple(frames),
            ticks(1.0 / rate),
            faults_of(medium, rate),
            min(beyond, default=len(sent)),
        ),
        (*rates.assumed, *assumed),
    )


def deadline_of(stream: Stream) -> float:
    """By when it must have arrived, in s: as stated, else before the next one is due."""
    return stream.deadline_s if stream.deadline_s is not None else stream.period_s or 0.0


def faults_of(medium: Medium, rate: float) -> Faults:
    """The disturbed frames after which the line must still be in time."""
    gap = medium.error_gap_s
    if not medium.errors_at_once and gap is None:
        return Faults()
    return Faults(max(medium.errors_at_once, 1), None if gap is None else _period(gap), ticks(ERROR_BITS / rate))


def responses(speech: Speech, streams: tuple[Stream, ...]) -> dict[str, Answer[LineResponses]]:
    """The responses on every line, gateways and all."""
    by_line = {line: tuple(each for each in streams if each.line == line) for line in speech.media}
    inherited = {stream.path: stream.delay_s for stream in streams if stream.source_line and not stream.own_cycle}
    found: dict[str, Answer[LineResponses]] = {}
    for _ in range(MOST_ROUNDS):
        found = {line: _line_responses(speech, line, of_line, inherited) for line, of_line in by_line.items()}
        grown = _inherited(streams, found)
        if all(_same(grown[path], inherited[path]) for path in inherited):
            return _waiting_for_others(found, by_line)
        inherited = grown
    # A ring of gateways that wait for each other: what is passed on has no bound.
    return {
        line: _unbounded(_line_responses(speech, line, of_line, inherited), inherited)
        for line, of_line in by_line.items()
    }


def _line_responses(
    speech: Speech, line: str, streams: tuple[Stream, ...], inherited: Mapping[Path, float]
) -> Answer[LineResponses]:
    worst: dict[tuple[Path, str], Response] = {}
    assumed: dict[Path, None] = {}
    for state in speech.states or ("",):
        built = line_flows(speech, line, streams, state, inherited)
        if isinstance(built, Blocked):
            return built
        assumed |= dict.fromkeys(built.assumed)
        if not built.value.streams:
            continue
        flows, of_line = built.value.flows, built.value.streams
        times = response_times(flows, built.value.tick_per_bit, built.value.faults)
        for at, stream in enumerate(of_line):
            # Whose own past has no bound may come in any crowd: it leaves no bound to what it outranks either.
            bounded = times.worst[at] != UNBOUNDED and at < built.value.endless
            before_s = inherited.get(stream.path, 0.0)
            known_s = before_s if math.isfinite(before_s) else 0.0
            response = Response(
                stream,
                built.value.frames[at],
                float(times.best[at]) * TICK_S,
                float(times.worst[at]) * TICK_S if bounded else math.inf,
                deadline_of(stream) + known_s,
                stream.jitter_s + known_s,
                before_s,
                state,
            )
            before = worst.get((stream.path, stream.part))
            if before is None or response.worst_s > before.worst_s:
                worst[stream.path, stream.part] = response
    ordered = tuple(worst[each.path, each.part] for each in streams if (each.path, each.part) in worst)
    return Solved(LineResponses(line, ordered), tuple(assumed))


def _same(one: float, other: float) -> bool:
    """Whether two times are the same tick; without bound both is the same too."""
    return one == other or abs(one - other) < TICK_S


def _inherited(streams: tuple[Stream, ...], found: Mapping[str, Answer[LineResponses]]) -> dict[Path, float]:
    """What each forward's message may have lost before the gateway sends it on: its worst response and the delay."""
    heard: dict[tuple[str, str], float] = {}
    for line, answer in found.items():
        for each in answer.value.responses if isinstance(answer, Solved) else ():
            key = (line, each.stream.message)
            heard[key] = max(heard.get(key, 0.0), each.worst_s)
    return {
        stream.path: heard.get((stream.source_line, stream.message), 0.0) + stream.delay_s
        for stream in streams
        if stream.source_line and not stream.own_cycle
    }


def _waiting_for_others(
    found: Mapping[str, Answer[LineResponses]], by_line: Mapping[str, tuple[Stream, ...]]
) -> dict[str, Answer[LineResponses]]:
    """A line that is fed from a blocked one is blocked by the same facts."""
    result = dict(found)
    for _ in by_line:
        for line, of_line in by_line.items():
            sources = {each.source_line for each in of_line if each.source_line and not each.own_cycle}
            blocking = [path for source in sources if isinstance(here := result[source], Blocked) for path in here.by]
            if blocking and isinstance(result[line], Solved):
                result[line] = Blocked(tuple(dict.fromkeys(blocking)))
    return result


def _unbounded(answer: Answer[LineResponses], inherited: Mapping[Path, float]) -> Answer[LineResponses]:
    if isinstance(answer, Blocked):
        return answer
    first = next((at for at, each in enumerate(answer.value.responses) if each.stream.path in inherited), None)
    if first is None:
        return answer
    head, tail = answer.value.responses[:first], answer.value.responses[first:]
    endless = tuple(replace(each, worst_s=math.inf) for each in tail)
    return Solved(replace(answer.value, responses=(*head, *endless)), answer.assumed)


def _queues(speech: Speech, streams: list[Stream]) -> list[int]:
    """The number of the transmit queue each stream waits in, -1 where its port sends by priority.

    Frames with one identifier (two transported messages of one sender) have no rank among themselves: they queue too.
    """
    numbers: dict[str, int] = {}
    found = []
    ranks = [wire_order(each.identifier or 0, extended=each.extended) for each in streams]
    for stream, rank in zip(streams, ranks, strict=True):
        component, _, port = stream.sender.partition(".")
        order = speech.voices[component].ports[port].transmit_order
        if not isinstance(order, Unknown) and order.value == "first in first out":
            found.append(numbers.setdefault(stream.sender, len(numbers)))
        elif ranks.count(rank) > 1:
            found.append(numbers.setdefault(f"identifier {rank}", len(numbers)))
        else:
            found.append(-1)
    return found
