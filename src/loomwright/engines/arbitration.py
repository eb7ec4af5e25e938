"""Arbitration on a priority bus, event by event: who waits how long, with drifting clocks, jitter and errors.

The bus is free or taken; where it becomes free, the lowest rank offered at that very tick takes it for its whole length,
and nothing stops it but an error. Time is counted in whole ticks, whatever the caller makes of them (nanoseconds,
bits), so nothing is rounded between events. A frame starts the tick the one before it ends; on a free bus, at once:
its first bit sets the boundaries of all that follow. What is queued later than that tick waits, even if by less than
a bit. Not in it: the extra room an analysis leaves for a rank that joins within the first bit, error counters that
silence a sender, a transmit buffer whose choice cannot be taken back.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.arbitration_releases import BILLION, BLOCK, Message, Records, Releases, Sender

if TYPE_CHECKING:
    from loomwright.engines.arbitration_kernels import Queued, Tally, Wire

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

SLICE = 32_768
"""About so many frames are simulated between two looks at progress: some hundredths of a second."""
BINS_PER_DECADE = 20


@dataclass(frozen=True, slots=True)
class Errors:
    """What spoils frames, in ticks. A spoiled frame is sent again, from arbitration on.

    ``per_tick``: instants at random, so many a tick in the mean. ``instants``: given ones. An instant on the wire breaks
    the frame off after the bit it falls into; recovery follows for ``recovery`` ticks, and begins anew if an instant
    falls into it. An instant on a free bus is without effect. ``bursts``: from a tick on, the next so many frames that
    end are each spoiled in their last bit, the dearest place; recovery as above.
    """

    recovery: int = 0
    per_tick: float = 0.0
    instants: tuple[int, ...] = ()
    bursts: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Bus:
    """Who sends what. ``bit`` is the ticks of a bit: errors cut and lengths vary by whole ones.

    ``longest``: every frame takes its worst length. ``aligned``: on a free bus too a frame starts at a whole number
    of bits after the end of the last one, so up to a bit late; an analysis must then count one bit of blocking for
    those that nothing blocks.
    """

    messages: tuple[Message, ...]
    senders: tuple[Sender, ...]
    bit: int = 1
    longest: bool = False
    aligned: bool = False
    errors: Errors = Errors()


@dataclass(frozen=True, slots=True)
class Show:
    """What to keep beside the sums: responses at which a bin of the histogram ends, the first frames from a tick on.

    Without edges there are twenty bins a decade. ``rows`` counts frames, spoiled frames and recoveries.
    """

    edges: tuple[int, ...] = ()
    rows: int = 0
    since: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """What the wire carried, a row each, in ticks; ``message`` is -1 while it recovers from an error.

    ``queue`` is since when the frame waited (with overwriting: its place), ``response`` is -1 where it was spoiled.
    """

    start: Integers
    end: Integers
    message: Integers
    release: Integers
    queue: Integers
    response: Integers


@dataclass(frozen=True, slots=True, eq=False)
class Observed:
    """What was seen in the first ``ticks``, by message in the order given.

    A response counts from the nominal release, before jitter, to the end of the frame's length (with the intermission
    if the lengths have it), as response-time analysis does. Where ``count`` is 0 the others are 0, the mean not a
    number. ``worst_release`` is the nominal release of the worst instance: the same seed with a trace from there
    shows it. ``lost`` were overwritten, ``unsent`` were queued or on the wire at the end, the oldest of them released
    ``waited`` ticks before: where that exceeds ``worst_response``, the worst is not over yet. ``histogram[m, i]`` counts
    responses from ``edges[i - 1]`` to below ``edges[i]``. ``load`` is the share of time the wire was taken, errors
    included; ``backlog`` the most frames that were ever queued or on the wire, ``longest_busy`` the longest time
    without a free tick.
    """

    ticks: int
    count: Integers
    lost: Integers
    unsent: Integers
    waited: Integers
    best_response: Integers
    worst_response: Integers
    worst_release: Integers
    mean_response: Floats
    edges: Integers
    histogram: Integers
    load: float
    backlog: int
    longest_busy: int
    spoiled: int
    trace: Trace


def simulate(bus: Bus, ticks: int, dice: np.random.Generator, show: Show | None = None) -> Observed:
    """The bus over so many ticks. The same dice give the same answer."""
    *_, last = simulating(bus, ticks, dice, show)
    return last


def simulating(bus: Bus, ticks: int, dice: np.random.Generator, show: Show | None = None) -> Iterator[Observed]:
    """The same slice by slice: what was seen so far, each time. ``ticks`` of it tells of progress; leave it to cancel.

    Raises ``ValueError`` for a bus that cannot be.
    """
    _refuse(bus, ticks)
    return _slices(bus, ticks, dice, show or Show())


def _slices(bus: Bus, ticks: int, dice: np.random.Generator, show: Show) -> Iterator[Observed]:
    from loomwright.engines import arbitration_kernels as kernels

    *streams, error_dice = dice.spawn(len(bus.messages) + 1)
    releases = [
        Releases(message, bus.senders[message.sender], bus.bit, stream, longest=bus.longest)
        for message, stream in zip(bus.messages, streams, strict=True)
    ]
    instants = _Instants(bus.errors, error_dice)
    wire = _wire(bus)
    tally = _tally(bus, show)
    state = np.zeros(kernels.STATES, dtype=np.int64)
    state[kernels.ON_WIRE] = kernels.IDLE
    trace = np.zeros((show.rows, kernels.TRACE_COLUMNS), dtype=np.int64)
    burst_at, burst_left = np.array(sorted(bus.errors.bursts), dtype=np.int64).reshape(-1, 2).T.copy()
    rate = sum(1.0 / (message.period + message.extra) for message in bus.messages)
    step = max(1, int(SLICE / rate))
    for until in [*range(step, ticks, step), ticks]:
        queued, first = _queued([each.until(until) for each in releases])
        disturbed = instants.until(until, int(state[kernels.START]))
        trouble = kernels.Trouble(disturbed, burst_at, burst_left, bus.errors.recovery)
        state[kernels.INSTANT] = 0
        sent = first[:-1].copy()
        kernels.arbitrate(until, wire, queued, trouble, state, tally, sent, trace, show.since)
        for each, begin, end, done in zip(releases, first[:-1], first[1:], sent, strict=True):
            part = slice(begin, end)
            each.done(int(done - begin), Records(queued.queue[part], queued.release[part], queued.length[part]))
        yield _observed(until, state, tally, [each.records for each in releases], trace)


def _refuse(bus: Bus, ticks: int) -> None:
    """Say what cannot be simulated."""
    if ticks < 1 or bus.bit < 1 or not bus.messages:
        raise ValueError("a simulation needs a message, at least one tick, and bits of at least one tick")
    if len({message.rank for message in bus.messages}) < len(bus.messages):
        raise ValueError("two messages have the same rank: arbitration would not end")
    for number, message in enumerate(bus.messages):
        shortest = min((message.best, *message.lengths))
        if not 0 <= message.sender < len(bus.senders):
            raise ValueError(f"message {number}: there is no sender {message.sender}")
        if message.period < 1 or shortest < 1 or message.worst < max((message.best, *message.lengths)):
            raise ValueError(f"message {number}: period and lengths must be positive, no length above the worst")
        if min(message.jitter, message.offset, message.extra) < 0:
            raise ValueError(f"message {number}: jitter, offset and extra must not be negative")
    for number, sender in enumerate(bus.senders):
        if sender.start < 0 or abs(sender.drift_ppb) >= BILLION:
            raise ValueError(f"sender {number}: its clock must begin at 0 or later, and run forward")
    errors = bus.errors
    if errors.recovery < 0 or not 0.0 <= errors.per_tick <= 1.0 or any(count < 0 for _, count in errors.bursts):
        raise ValueError("errors: recovery and counts must not be negative, and at most one error a tick in the mean")


class _Instants:
    """Disturbed instants, given and drawn, as far as they are asked for."""

    def __init__(self, errors: Errors, dice: np.random.Generator) -> None:
        self._mean = 1.0 / errors.per_tick if errors.per_tick else 0.0
        self._dice = dice
        self._last = 0
        self._drawn = np.zeros(0, dtype=np.int64)
        self._given = np.array(sorted(errors.instants), dtype=np.int64)

    def until(self, tick: int, from_tick: int) -> Integers:
        """All instants from one tick to below another, and perhaps some later ones, in order."""
        while self._mean and self._last < tick:
            gaps = np.floor(-self._mean * np.log1p(-self._dice.random(BLOCK))).astype(np.int64)
            new = self._last + np.cumsum(gaps)
            self._last = int(new[-1])
            self._drawn = np.concatenate((self._drawn, new))
        self._drawn = self._drawn[np.searchsorted(self._drawn, from_tick) :]
        return np.sort(np.concatenate((self._drawn, self._given)))


def _wire(bus: Bus) -> "Wire":
    from loomwright.engines.arbitration_kernels import Wire

    return Wire(
        np.array([message.rank for message in bus.messages], dtype=np.int64),
        np.array([message.sender for message in bus.messages], dtype=np.int64),
        np.array([message.overwrite for message in bus.messages]),
        np.array([sender.fifo for sender in bus.senders]),
        bus.bit,
        bus.aligned,
    )


def _tally(bus: Bus, show: Show) -> "Tally":
    from loomwright.engines.arbitration_kernels import Tally

    edges = np.unique(np.array(show.edges, dtype=np.int64)) if show.edges else _usual_edges(bus)
    messages = len(bus.messages)
    frames, lost, best, worst, worst_release = np.zeros((5, messages), dtype=np.int64)
    histogram = np.zeros((messages, edges.size + 1), dtype=np.int64)
    return Tally(frames, lost, best, worst, worst_release, np.zeros(messages), edges, histogram)


def _usual_edges(bus: Bus) -> Integers:
    """Twenty bins a decade, from the shortest frame to four times the longest a message may take to come round again."""
    low = min(min((message.best, *message.lengths)) for message in bus.messages)
    high = 4 * max(message.period + message.jitter + message.worst for message in bus.messages)
    decades = np.log10(high / low)
    return np.unique(np.geomspace(low, high, int(BINS_PER_DECADE * decades) + 2).round().astype(np.int64))


def _queued(records: list[Records]) -> "tuple[Queued, Integers]":
    """All records as the inner loop takes them, and where each message begins and the last one ends."""
    from loomwright.engines.arbitration_kernels import Queued

    sizes = [each.queue.size for each in records]
    queue = np.concatenate([each.queue for each in records])
    return Queued(
        queue,
        np.concatenate([each.release for each in records]),
        np.concatenate([each.length for each in records]),
        np.repeat(np.arange(len(records)), sizes),
        np.argsort(queue, kind="stable"),
    ), np.concatenate((np.zeros(1, dtype=np.int64), np.cumsum(sizes)))


def _observed(until: int, state: Integers, tally: "Tally", left: list[Records], trace: Integers) -> Observed:
    """What is known after a slice; arrays are copies, for the next slice writes on in the tally's."""
    from loomwright.engines import arbitration_kernels as kernels

    on_wire = until - state[kernels.START] if state[kernels.ON_WIRE] != kernels.IDLE else 0
    busy_since = int(until - state[kernels.BUSY_SINCE]) if on_wire else 0
    unsent = np.array([np.searchsorted(each.queue, until) for each in left], dtype=np.int64)
    waited = [until - each.release[0] if count else 0 for each, count in zip(left, unsent, strict=True)]
    rows = trace[: state[kernels.TRACED]].copy()
    with np.errstate(invalid="ignore"):
        mean = tally.total / tally.frames
    return Observed(
        until,
        tally.frames.copy(),
        tally.lost.copy(),
        unsent,
        np.array(waited, dtype=np.int64),
        tally.best.copy(),
        tally.worst.copy(),
        tally.worst_release.copy(),
        mean,
        tally.edges,
        tally.histogram.copy(),
        float((state[kernels.BUSY] + on_wire) / until),
        int(state[kernels.BACKLOG]),
        max(int(state[kernels.LONGEST]), busy_since),
        int(state[kernels.SPOILED]),
        Trace(*rows.T),
    )
