"""The same bus in plain Python, written apart from the engine: one heap of events, lists of waiting frames.

It is given the arrivals and throws no dice. It is the judge of the compiled loop in tests and its peer in speed.
"""

import heapq
from dataclasses import dataclass, field

END, ARRIVAL, DECISION, DISTURBANCE = range(4)
"""Kinds of events, in the order in which they happen within a tick."""


@dataclass(slots=True, eq=False)
class Frame:
    """One instance of a message."""

    message: int
    release: int
    length: int


@dataclass
class Log:
    """Rows (start, end, message or -1, release, response or -1), and what else was seen."""

    rows: list = field(default_factory=list)
    lost: list = field(default_factory=list)
    unsent: list = field(default_factory=list)
    most_waiting: int = 0


class Loop:
    """One run. ``arrivals`` yields (tick, message, release, length), ticks rising, messages rising within a tick."""

    def __init__(self, bus, arrivals, instants=()):
        self.bus, self.arrivals = bus, iter(arrivals)
        self.waiting = [[] for _ in bus.senders]
        self.bursts = [list(burst) for burst in sorted(bus.errors.bursts)]
        self.events = [(tick, DISTURBANCE, 0, None) for tick in instants]
        heapq.heapify(self.events)
        self.frame, self.on_wire, self.start, self.end, self.cut = None, False, 0, 0, False
        self.turn = 0
        self.log = Log(lost=[0] * len(bus.messages))

    def run(self, until):
        self._next_arrival()
        while self.events and self.events[0][0] <= until:
            tick, kind, turn, frame = heapq.heappop(self.events)
            if kind == END and turn == self.turn:
                self._end()
            elif kind == ARRIVAL:
                self._arrive(tick, frame)
                self._next_arrival()
            elif kind == DECISION and not self.on_wire and tick < until:
                self._decide(tick)
            elif kind == DISTURBANCE and self.on_wire and self.start <= tick < self.end and not self.cut:
                self.cut = True
                bits = (tick - self.start) // self.bus.bit + 1
                self._take(self.start, min(self.end, self.start + bits * self.bus.bit))
        left = [frame.message for queue in self.waiting for frame in queue]
        left += [self.frame.message] if self.frame else []
        self.log.unsent = [left.count(number) for number in range(len(self.bus.messages))]
        return self.log

    def _next_arrival(self):
        arrival = next(self.arrivals, None)
        if arrival:
            tick, message, release, length = arrival
            heapq.heappush(self.events, (tick, ARRIVAL, message, Frame(message, release, length)))

    def _take(self, start, end):
        self.on_wire, self.start, self.end = True, start, end
        self.turn += 1
        heapq.heappush(self.events, (end, END, self.turn, None))

    def _arrive(self, tick, new):
        queue = self.waiting[self.bus.messages[new.message].sender]
        same = [place for place, old in enumerate(queue) if old.message == new.message]
        if same and self.bus.messages[new.message].overwrite:
            queue[same[0]] = new
            self.log.lost[new.message] += 1
        else:
            queue.append(new)
        waiting = sum(map(len, self.waiting)) + (self.frame is not None)
        self.log.most_waiting = max(self.log.most_waiting, waiting)
        if not self.on_wire:
            late = -(tick - self.end) % self.bus.bit if self.bus.aligned else 0
            heapq.heappush(self.events, (tick + late, DECISION, 0, None))

    def _decide(self, tick):
        offers = []
        for sender, queue in zip(self.bus.senders, self.waiting, strict=True):
            if queue:
                offers.append(queue[0] if sender.fifo else min(queue, key=self._rank))
        if offers:
            self.frame = min(offers, key=self._rank)
            waiting = self.waiting[self.bus.messages[self.frame.message].sender]
            waiting.remove(self.frame)
            self._take(tick, tick + self.frame.length)

    def _rank(self, frame):
        return self.bus.messages[frame.message].rank

    def _end(self):
        frame, cut = self.frame, self.cut
        self.frame, self.on_wire, self.cut = None, False, False
        if not frame:
            self.log.rows.append((self.start, self.end, -1, -1, -1))
        elif cut or self._burst():
            self.log.rows.append((self.start, self.end, frame.message, frame.release, -1))
            self._again(frame)
            cut = True
        else:
            self.log.rows.append((self.start, self.end, frame.message, frame.release, self.end - frame.release))
        if cut:
            self._take(self.end, self.end + self.bus.errors.recovery)
        else:
            heapq.heappush(self.events, (self.end, DECISION, 0, None))

    def _burst(self):
        for burst in self.bursts:
            if burst[1] > 0:
                if burst[0] < self.end:
                    burst[1] -= 1
                    return True
                return False
        return False

    def _again(self, frame):
        queue = self.waiting[self.bus.messages[frame.message].sender]
        newer = [other for other in queue if other.message == frame.message]
        if newer and self.bus.messages[frame.message].overwrite:
            queue.remove(newer[0])
            self.log.lost[frame.message] += 1
            frame = newer[0]
        queue.insert(0, frame)
