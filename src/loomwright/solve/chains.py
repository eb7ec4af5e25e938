"""How long from a cause to its effect, and how old is a value when it is used?

A chain is a row of stages: each message, the gateway that passes it on, and the cycle of each component on the way.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from loomwright.laws.chains import Stage, age_s, reaction_s
from loomwright.laws.j1939 import PACKET_SPACING
from loomwright.model.speech import Speech, sender_of
from loomwright.solve.hearing import HEARD, Hearing
from loomwright.solve.responses import LineResponses, Response
from loomwright.solve.streams import ANNOUNCEMENT, Stream, lines_of_ports
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Unknown, bounds_of

Found = Mapping[str, Answer[LineResponses]]
MESSAGE, GATEWAY, CYCLE = "message", "gateway", "cycle"


@dataclass(frozen=True, slots=True)
class Hop:
    """One stage of a chain: what it is (MESSAGE, GATEWAY or CYCLE), where, and the most it adds, in s."""

    kind: str
    name: str
    line: str
    period_s: float
    response_s: float

    @property
    def whole_s(self) -> float:
        """Waiting and taking together."""
        return self.period_s + self.response_s


@dataclass(frozen=True, slots=True)
class ChainTimes:
    """A chain's hops in order, the longest time until its effect, and the age of the oldest value it acts on.

    ``broken_at`` names the first component that does not hear the message it should act on; then there are no times.
    """

    name: str
    hops: tuple[Hop, ...]
    reaction_s: float
    age_s: float
    broken_at: str = ""
    missing: str = ""


@dataclass(frozen=True, slots=True)
class Age:
    """How old a value may be when it has been acted on, and how long it may stay away between two arrivals, in s."""

    age_s: float
    stages: tuple[Hop, ...]


def chain_times(speech: Speech, name: str, streams: tuple[Stream, ...], found: Found) -> Answer[ChainTimes]:
    """Follow one chain."""
    chain = speech.chains[name]
    walk = _Walk(speech, streams, found)
    hops: list[Hop] = []
    listeners = [*(sender_of(speech.sets, step).partition(".")[0] for step in chain.steps[1:]), chain.effect]
    for step, listener in zip(chain.steps, listeners, strict=True):
        way = walk.way(step, listener)
        if way is None:
            return Solved(ChainTimes(name, (), math.inf, math.inf, listener, step))
        for stream in way:
            hops += walk.hops(stream)
        hops += walk.cycle(listener)
    if walk.blocked:
        return Blocked(tuple(dict.fromkeys(walk.blocked)))
    stages = _stages(hops)
    times = ChainTimes(name, tuple(hops), reaction_s(stages), age_s(stages))
    return Solved(times, tuple(dict.fromkeys(walk.assumed)))


def _stages(hops: list[Hop]) -> tuple[Stage, ...]:
    """The hops as stages, the last of which uses the value.

    A component whose cycle nobody stated uses what it has at any moment, also just before the next one arrives: it is
    a stage that neither waits nor takes time.
    """
    stages = tuple(Stage(hop.period_s, hop.response_s) for hop in hops)
    return stages if hops and hops[-1].kind == CYCLE else (*stages, Stage(0.0, 0.0))


def age_of(speech: Speech, hearing: Hearing, streams: tuple[Stream, ...], found: Found) -> Answer[Age] | None:
    """The age of what a component needs; ``None`` where it does not hear it, or says it itself.

    It is that of a chain of this one message with the component as its effect.
    """
    stream = _from_outside(hearing)
    if stream is None:
        return None
    walk = _Walk(speech, streams, found)
    way = walk.back(stream)
    hops = [hop for stream in way for hop in walk.hops(stream)]
    hops += walk.cycle(hearing.component)
    if walk.blocked:
        return Blocked(tuple(dict.fromkeys(walk.blocked)))
    return Solved(Age(age_s(_stages(hops)), tuple(hops)), tuple(dict.fromkeys(walk.assumed)))


def gap_of(speech: Speech, hearing: Hearing, streams: tuple[Stream, ...], found: Found) -> Answer[float] | None:
    """The longest time in s between two arrivals of what a component needs; ``None`` as for its age.

    How often the component looks does not matter for it.
    """
    stream = _from_outside(hearing)
    if stream is None:
        return None
    walk = _Walk(speech, streams, found)
    last = walk.response(stream)
    if last is None:
        return Blocked(tuple(dict.fromkeys(walk.blocked)))
    gap = (last.stream.longest_gap_s or 0.0) + last.worst_s - last.best_s
    return Solved(gap, tuple(dict.fromkeys(walk.assumed)))


def _from_outside(hearing: Hearing) -> Stream | None:
    """The stream by which a need is met, if by one: what a component says itself, it need not wait for."""
    stream = hearing.stream if hearing.outcome == HEARD else None
    return None if stream is None or stream.sender.partition(".")[0] == hearing.component else stream


class _Walk:
    """Looks up what a chain passes, remembering what was unknown or assumed on the way."""

    def __init__(self, speech: Speech, streams: tuple[Stream, ...], found: Found) -> None:
        self.speech, self.streams, self.found = speech, streams, found
        self.blocked: list[Path] = []
        self.assumed: list[Path] = []

    def way(self, message: str, listener: str) -> list[Stream] | None:
        """The streams by which a listener hears a message, from its sender on; ``None`` where it does not."""
        lines = lines_of_ports(self.speech)
        at = {line for port in self.speech.voices[listener].ports for line in lines.get(f"{listener}.{port}", ())}
        heard = sorted(
            (each for each in self._whole(message) if each.line in at), key=lambda each: bool(each.source_line)
        )
        return self.back(heard[0]) if heard else None

    def _whole(self, message: str) -> list[Stream]:
        """The streams of a message; of one in packets those of the packets, with the last of which it is there."""
        return [each for each in self.streams if each.message == message and each.part != ANNOUNCEMENT]

    def back(self, stream: Stream) -> list[Stream]:
        """A stream and those before it, from the message's own sender on."""
        way = [stream]
        while way[0].source_line:
            before = [each for each in self._whole(stream.message) if each.line == way[0].source_line]
            if not before or before[0] in way:
                break
            way.insert(0, before[0])
        return way

    def response(self, stream: Stream) -> Response | None:
        """What was found of a stream."""
        answer = self.found[stream.line]
        if isinstance(answer, Blocked):
            self.blocked += answer.by
            return None
        own = [each for each in answer.value.responses if each.stream.path == stream.path]
        response = next((each for each in own if each.stream.part == stream.part), None)
        self.assumed += response.assumed if response is not None else ()
        return response

    def hops(self, stream: Stream) -> list[Hop]:
        """The hop over one line; a gateway's before it where it comes from another."""
        response = self.response(stream)
        if response is None:
            return []
        made = []
        if stream.source_line:
            made.append(Hop(GATEWAY, stream.sender.partition(".")[0], stream.line, self._wait(stream), stream.delay_s))
        # A transported message takes a spacing for each of its packets.
        spaced = stream.frames_per_message * PACKET_SPACING.value
        packets = min(spaced, stream.longest_gap_s or 0.0) if stream.part else 0.0
        wait = self._wait(stream) if not stream.source_line else 0.0
        own = response.worst_s - response.due_s - (response.jitter_s if stream.own_cycle else 0.0)
        made.append(Hop(MESSAGE, stream.message, stream.line, wait, own + packets))
        return made

    @staticmethod
    def _wait(stream: Stream) -> float:
        """How long until the next one is sent; an event, and what a gateway passes on when it hears it, follow at once."""
        if stream.event or (stream.source_line and not stream.own_cycle):
            return 0.0
        return stream.longest_gap_s or 0.0

    def cycle(self, component: str) -> list[Hop]:
        """A component's own cycle: at most one until it looks, and one until it is done. None where nobody stated it."""
        fact = self.speech.voices[component].cycle_s
        path: Path = ("components", component, "cycle_s")
        if isinstance(fact, Unknown):
            self.blocked.append(path)
            return []
        if isinstance(fact, Assumed):
            self.assumed.append(path)
        if fact is None:
            return []
        cycle = bounds_of(fact)[2]
        return [Hop(CYCLE, component, "", cycle, cycle)]
