"""How long from a cause to its effect, and how old is a value when it is used?

A chain is a row of stages: each message, the gateway that passes it on, and the cycle of each component on the way.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from loomwright.laws.chains import Stage, age_s, reaction_s
from loomwright.model.speech import Speech, message_at, sender_of
from loomwright.solve.hearing import HEARD, Hearing, heard_of
from loomwright.solve.layouts import bits_of, pages_between
from loomwright.solve.responses import LineResponses, Response
from loomwright.solve.streams import Stream, lines_of_ports
from loomwright.solve.transport import Transfer
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Unknown, bounds_of

Found = Mapping[str, Answer[LineResponses]]
Carried = Mapping[tuple[Path, str], Answer[Transfer]]
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


def chain_times(
    speech: Speech, name: str, streams: tuple[Stream, ...], found: Found, carried: Carried
) -> Answer[ChainTimes]:
    """Follow one chain."""
    chain = speech.chains[name]
    walk = _Walk(speech, streams, found, carried)
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


def age_of(
    speech: Speech, hearing: Hearing, streams: tuple[Stream, ...], found: Found, carried: Carried
) -> Answer[Age] | None:
    """The age of what a component needs; ``None`` where it does not hear it, or says it itself.

    It is that of a chain of this one message with the component as its effect.
    """
    heard = _from_outside(hearing)
    if not heard:
        return None
    walk = _Walk(speech, streams, found, carried)
    pages = pages_of(speech, hearing)
    hops = [hop for stream in walk.worst(heard, pages) for hop in walk.hops(stream, pages)]
    hops += walk.cycle(hearing.component)
    if walk.blocked:
        return Blocked(tuple(dict.fromkeys(walk.blocked)))
    return Solved(Age(age_s(_stages(hops)), tuple(hops)), tuple(dict.fromkeys(walk.assumed)))


def gap_of(
    speech: Speech, hearing: Hearing, streams: tuple[Stream, ...], found: Found, carried: Carried
) -> Answer[float] | None:
    """The longest time in s between two arrivals of what a component needs; ``None`` as for its age.

    How often the component looks does not matter for it. An event may never come again.
    """
    heard = _from_outside(hearing)
    if not heard:
        return None
    if any(stream.event for stream in heard):
        return Solved(math.inf)
    walk = _Walk(speech, streams, found, carried)
    pages = pages_of(speech, hearing)
    longest = 0.0
    for stream in heard:
        best_s, worst_s = walk.arrival(stream)
        longest = max(longest, pages * (stream.longest_gap_s or 0.0) + worst_s - best_s)
    if walk.blocked:
        return Blocked(tuple(dict.fromkeys(walk.blocked)))
    return Solved(longest, tuple(dict.fromkeys(walk.assumed)))


def _from_outside(hearing: Hearing) -> tuple[Stream, ...]:
    """The streams by which a need may be met: what a component says itself, it need not wait for."""
    heard = hearing.streams if hearing.outcome == HEARD else ()
    return tuple(stream for stream in heard if stream.sender.partition(".")[0] != hearing.component)


def pages_of(speech: Speech, hearing: Hearing) -> int:
    """After how many of its messages a needed value comes again, where it is on one page of several."""
    if hearing.stream is None or not hearing.signal:
        return 1
    told, sent = (message_at(speech.sets, name) for name in (hearing.message, hearing.stream.message))
    signal = told.signals.get(hearing.signal) if told is not None else None
    if told is None or sent is None or signal is None:
        return 1
    # A receiver's description may leave out pages that are sent.
    there = [name for name, each in sent.signals.items() if bits_of(each) == bits_of(signal)]
    return max((pages_between(told, hearing.signal), *(pages_between(sent, name) for name in there)))


class _Walk:
    """Looks up what a chain passes, remembering what was unknown or assumed on the way."""

    def __init__(self, speech: Speech, streams: tuple[Stream, ...], found: Found, carried: Carried) -> None:
        self.speech, self.streams, self.found, self.carried = speech, streams, found, carried
        self.blocked: list[Path] = []
        self.assumed: list[Path] = []

    def way(self, message: str, listener: str) -> list[Stream] | None:
        """The streams by which a listener hears a message, from its sender on; ``None`` where it does not."""
        lines = lines_of_ports(self.speech)
        at = {line for port in self.speech.voices[listener].ports for line in lines.get(f"{listener}.{port}", ())}
        heard = heard_of(self._whole(message), at)
        return self.worst(heard) if heard else None

    def _whole(self, message: str) -> list[Stream]:
        """The streams of a message; of one in packets those of the packets, with the last of which it is there."""
        return [each for each in self.streams if each.message == message and each.brings_message]

    def worst(self, heard: tuple[Stream, ...], pages: int = 1) -> list[Stream]:
        """The longest of the ways by which a message may be heard: nobody says which gateway's copy is listened to."""
        ways = [self.back(stream) for stream in heard]
        return ways[0] if len(ways) == 1 else max(ways, key=lambda way: self._length(way, pages))

    def _length(self, way: list[Stream], pages: int) -> float:
        """How long a way may take; what nobody can tell is the longest."""
        trial = _Walk(self.speech, self.streams, self.found, self.carried)
        length = sum(hop.whole_s for stream in way for hop in trial.hops(stream, pages))
        return math.inf if trial.blocked else length

    def back(self, stream: Stream) -> list[Stream]:
        """A stream and those that the gateways heard, from the message's own sender on."""
        way = [stream]
        while way[0].source_line:
            first = way[0]
            before = [
                each
                for each in self._whole(stream.message)
                if (each.path, each.line) == (first.heard, first.source_line)
            ]
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

    def arrival(self, stream: Stream) -> tuple[float, float]:
        """The best and the worst from when a message is due, or its gateway heard it, until it is there, in s."""
        response = self.response(stream)
        if response is None:
            return 0.0, 0.0
        if not stream.part:
            return response.best_s, response.here_s
        answer = self.carried.get((stream.path, stream.line))
        if answer is None or isinstance(answer, Blocked):
            self.blocked += answer.by if answer is not None else ()
            return 0.0, 0.0
        transfer = answer.value
        if transfer.settled_s is None:
            self.blocked.append(transfer.spacing_path)
        return transfer.alone_s, transfer.settled_s or 0.0

    def hops(self, stream: Stream, pages: int = 1) -> list[Hop]:
        """The hop over one line; a gateway's before it where it comes from another.

        A value on one of several ``pages`` waits for its turn wherever messages are sent in a period.
        """
        response = self.response(stream)
        if response is None:
            return []
        made = []
        if stream.source_line:
            gateway = stream.sender.partition(".")[0]
            made.append(Hop(GATEWAY, gateway, stream.line, pages * self._wait(stream), stream.delay_s))
        wait = pages * self._wait(stream) if not stream.source_line else 0.0
        own = self.arrival(stream)[1] - (stream.jitter_s if stream.own_cycle else 0.0)
        made.append(Hop(MESSAGE, stream.message, stream.line, wait, own))
        return made

    @staticmethod
    def _wait(stream: Stream) -> float:
        """How long until the next one is sent; what a gateway passes on when it hears it follows at once.

        An event follows at once too, but not the second within its least gap.
        """
        return 0.0 if stream.source_line and not stream.own_cycle else stream.longest_gap_s or 0.0

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
