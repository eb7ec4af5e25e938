"""What senders ask of a bus, and when: releases by each sender's own clock, delays until queued, lengths drawn.

Each instance of a message takes three numbers from the message's own stream, whatever they are used for. So a seed gives
the same releases however they are asked for piece by piece, and whatever the rules of the bus.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

BILLION = 1_000_000_000
BLOCK = 64


@dataclass(frozen=True, slots=True)
class Message:
    """One kind of frame, times in ticks; ``rank`` decides, lower wins, and ``sender`` is a place in the bus's senders.

    Instance k is released nominally at ``offset + k period`` of the sender's clock and queued up to ``jitter`` later,
    each delay as likely, never before its predecessor. With ``extra`` it is an event: ``period`` is the least gap, an
    exponentially distributed one of that mean comes on top. A frame keeps the bus for a length that is drawn: one of
    ``lengths``, each as likely, or in whole bits from ``best`` to ``worst``. ``overwrite``: an instance that still
    waits is lost to the next one, which takes its place; otherwise both wait.
    """

    rank: int
    sender: int
    period: int
    best: int
    worst: int
    jitter: int = 0
    offset: int = 0
    extra: int = 0
    overwrite: bool = False
    lengths: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Sender:
    """One clock: what it calls a second takes ``1 + drift_ppb / 1e9`` seconds of the bus, and it reads 0 at ``start``.

    ``fifo``: it offers what it queued first (in the order of the messages where that was in the same tick), otherwise
    the lowest rank it has.
    """

    drift_ppb: int = 0
    start: int = 0
    fifo: bool = False


def with_random_offsets(messages: tuple[Message, ...], dice: np.random.Generator) -> tuple[Message, ...]:
    """The messages, each with an offset drawn below its period."""
    return tuple(replace(message, offset=int(dice.integers(message.period))) for message in messages)


@dataclass(slots=True, eq=False)
class Records:
    """Instances of one message in order: when queued, when released, how long. ``Releases`` adds and drops."""

    queue: Integers
    release: Integers
    length: Integers


class Releases:
    """The instances of one message, drawn as far as they are asked for. ``records`` holds those not done with yet."""

    def __init__(self, message: Message, sender: Sender, bit: int, dice: np.random.Generator, *, longest: bool) -> None:
        self._message, self._sender, self._bit, self._dice = message, sender, bit, dice
        self._lengths = np.array(message.lengths or (0,), dtype=np.int64)
        self._longest = longest
        self._clock = message.offset
        self._released = self._queued = -1
        nothing = np.zeros(0, dtype=np.int64)
        self.records = Records(nothing, nothing, nothing)

    def until(self, tick: int) -> Records:
        """Draw on until everything queued before ``tick`` is among the records; return the records."""
        message = self._message
        while self._released < tick:
            left = max(0, tick - self._released) // (message.period + message.extra)
            new = self._draw(min(left + 2, 1 << 20))
            old = self.records
            self.records = Records(
                np.concatenate((old.queue, new.queue)),
                np.concatenate((old.release, new.release)),
                np.concatenate((old.length, new.length)),
            )
        return self.records

    def done(self, count: int, records: Records) -> None:
        """Keep ``records``, as they have become, from the one numbered ``count`` on."""
        self.records = Records(
            records.queue[count:].copy(), records.release[count:].copy(), records.length[count:].copy()
        )

    def _draw(self, count: int) -> Records:
        message = self._message
        share = self._dice.random((count, 3))
        gap = np.full(count, message.period)
        if message.extra:
            gap += np.floor(-message.extra * np.log1p(-share[:, 2])).astype(np.int64)
        after = self._clock + np.cumsum(gap)
        release = self._on_bus(after - gap)
        queue = np.maximum.accumulate(release + _upto(message.jitter, share[:, 0]))
        queue = np.maximum(queue, self._queued)
        self._clock, self._released, self._queued = int(after[-1]), int(release[-1]), int(queue[-1])
        return Records(queue, release, self._length(share[:, 1]))

    def _on_bus(self, clock: Integers) -> Integers:
        """When the bus reads what the sender's clock reads, rounded down; exact, without a product that overflows."""
        drift = self._sender.drift_ppb
        return self._sender.start + clock + clock // BILLION * drift + clock % BILLION * drift // BILLION

    def _length(self, share: Floats) -> Integers:
        message = self._message
        if self._longest:
            return np.full(share.size, message.worst)
        if message.lengths:
            return self._lengths[_upto(self._lengths.size - 1, share)]
        return message.best + self._bit * _upto((message.worst - message.best) // self._bit, share)


def _upto(most: int, share: Floats) -> Integers:
    """Whole numbers from 0 to ``most``, each as likely, from numbers drawn evenly from [0, 1)."""
    return np.floor(share * (most + 1)).astype(np.int64)
