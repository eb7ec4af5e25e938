"""The inner loop of the arbitration, compiled on first use and kept in numba's cache on disk like that of the waves.

It is given what is going to be queued and which instants are disturbed, both complete below ``until``, and takes the
bus there from wherever the last call left it. It throws no dice, so a call ends at any ``until`` without a trace in
the result.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loomwright.engines.wave_kernels import compiled, inlined

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]

IDLE, RECOVERING = -1, -2
"""What stands in place of a message's number while none is on the wire."""
ON_WIRE, START, END, BUSY_SINCE, INSTANT, BURST, ASKING, WAITING, BUSY, LONGEST, BACKLOG, SPOILED, TRACED = range(13)
"""Places in the state: what is on the wire, since when, until when; since when the bus has not been free; next instant
and next burst; how many messages and how many frames wait, the one on the wire among them; ticks busy, longest busy
stretch, longest backlog, frames spoiled, rows traced."""
STATES = 13
TRACE_COLUMNS = 6


class Wire(NamedTuple):
    """Who may speak: rank, sender and way of waiting of each message, and which senders are a queue."""

    rank: Integers
    sender: Integers
    overwrite: Flags
    fifo: Flags
    bit: int
    aligned: bool


class Queued(NamedTuple):
    """What is queued when, message after message in order of time, and the order of time over all messages."""

    queue: Integers
    release: Integers
    length: Integers
    message: Integers
    order: Integers


class Waiting(NamedTuple):
    """What waits: of each message the first record not done with, and the first that has not come.

    ``asking`` lists the messages that have something waiting (seldom many) in no order, ``place`` where in it each is;
    ``heads`` is the winner's paper, -1 for each sender.
    """

    sent: Integers
    came: Integers
    asking: Integers
    place: Integers
    heads: Integers


class Trouble(NamedTuple):
    """Disturbed instants, in order; bursts: from when, and how many frames are left to spoil; ticks to recover."""

    instants: Integers
    burst_at: Integers
    burst_left: Integers
    recovery: int


class Tally(NamedTuple):
    """What is remembered of each message; ``histogram`` (messages, edges + 1)."""

    frames: Integers
    lost: Integers
    best: Integers
    worst: Integers
    worst_release: Integers
    total: Floats
    edges: Integers
    histogram: Integers


@inlined
def admit(last: int, at: int, wire: Wire, queued: Queued, waiting: Waiting, state: Integers, tally: Tally) -> int:
    """Take in what is queued up to and with the tick ``last``; returns how far the order of time is used up.

    Where a newer instance replaces a waiting one, its record moves into the place of the old one, whose place in the
    sender's queue it keeps. The frame on the wire cannot be replaced: it is moved up beside the newer one
    (but for its length, which it will not need again: should it fail, it is lost to the newer one).
    """
    while at < queued.order.size and queued.queue[queued.order[at]] <= last:
        new = queued.order[at]
        message = queued.message[new]
        on_wire = 1 if state[ON_WIRE] == message else 0
        waiting.came[message] += 1
        state[WAITING] += 1
        now = waiting.came[message] - waiting.sent[message]
        if now == 1:
            waiting.asking[state[ASKING]] = message
            waiting.place[message] = state[ASKING]
            state[ASKING] += 1
        if wire.overwrite[message] and now - on_wire > 1:
            old = new - 1
            queued.queue[new] = queued.queue[old]
            if on_wire:
                queued.queue[old] = queued.queue[old - 1]
                queued.release[old] = queued.release[old - 1]
            waiting.sent[message] += 1
            state[WAITING] -= 1
            tally.lost[message] += 1
        at += 1
    state[BACKLOG] = max(state[BACKLOG], state[WAITING])
    return at


@inlined
def beginning(until: int, at: int, wire: Wire, queued: Queued, state: Integers) -> int:
    """When the next frame starts on the free wire, as far as is known before ``until``."""
    start = int(state[END])
    if state[WAITING] == 0:
        first = queued.queue[queued.order[at]] if at < queued.order.size else until
        late = max(0, first - start)
        start += (late + wire.bit - 1) // wire.bit * wire.bit if wire.aligned else late
    return start


@inlined
def winner(wire: Wire, queued: Queued, waiting: Waiting, state: Integers) -> int:
    """The message that wins: of those that their senders offer, the one of lowest rank."""
    for message in waiting.asking[: state[ASKING]]:
        sender = wire.sender[message]
        if wire.fifo[sender]:
            head = waiting.heads[sender]
            earlier = 0 if head < 0 else queued.queue[waiting.sent[message]] - queued.queue[waiting.sent[head]]
            if head < 0 or earlier < 0 or (earlier == 0 and message < head):
                waiting.heads[sender] = message
    won = -1
    for message in waiting.asking[: state[ASKING]]:
        sender = wire.sender[message]
        offered = not wire.fifo[sender] or waiting.heads[sender] == message
        if offered and (won < 0 or wire.rank[message] < wire.rank[won]):
            won = message
    for message in waiting.asking[: state[ASKING]]:
        waiting.heads[wire.sender[message]] = -1
    return won


@inlined
def leave(message: int, waiting: Waiting, state: Integers) -> None:
    """A frame is sent: its message asks no longer, if it was the last one."""
    waiting.sent[message] += 1
    state[WAITING] -= 1
    if waiting.came[message] == waiting.sent[message]:
        state[ASKING] -= 1
        last = waiting.asking[state[ASKING]]
        waiting.asking[waiting.place[message]] = last
        waiting.place[last] = waiting.place[message]


@inlined
def disturbed(trouble: Trouble, state: Integers, bit: int) -> int:
    """When what is on the wire breaks off: after the bit that the next instant falls into, or -1 if it does not."""
    while state[INSTANT] < trouble.instants.size and trouble.instants[state[INSTANT]] < state[START]:
        state[INSTANT] += 1
    cut = -1
    if state[INSTANT] < trouble.instants.size and trouble.instants[state[INSTANT]] < state[END]:
        since = trouble.instants[state[INSTANT]] - state[START]
        cut = min(state[END], state[START] + (since // bit + 1) * bit)
    return cut


@inlined
def struck(trouble: Trouble, state: Integers) -> bool:
    """Whether a burst spoils the frame that is about to end."""
    while state[BURST] < trouble.burst_at.size and trouble.burst_left[state[BURST]] == 0:
        state[BURST] += 1
    hit = bool(state[BURST] < trouble.burst_at.size and trouble.burst_at[state[BURST]] < state[END])
    if hit:
        trouble.burst_left[state[BURST]] -= 1
    return hit


@inlined
def give_back(wire: Wire, queued: Queued, waiting: Waiting, state: Integers, tally: Tally) -> None:
    """A spoiled frame waits again, in its old place; where a newer instance may replace it, it now does."""
    message = state[ON_WIRE]
    state[SPOILED] += 1
    first = waiting.sent[message]
    if wire.overwrite[message] and waiting.came[message] - first > 1:
        queued.queue[first + 1] = queued.queue[first]
        waiting.sent[message] += 1
        state[WAITING] -= 1
        tally.lost[message] += 1


@inlined
def count(message: int, response: int, release: int, tally: Tally) -> None:
    """Write down one response; edge i is the first value that falls into bin i + 1."""
    if tally.frames[message] == 0 or response < tally.best[message]:
        tally.best[message] = response
    if tally.frames[message] == 0 or response > tally.worst[message]:
        tally.worst[message] = response
        tally.worst_release[message] = release
    tally.frames[message] += 1
    tally.total[message] += response
    low, high = 0, tally.edges.size
    while low < high:
        middle = (low + high) // 2
        if response < tally.edges[middle]:
            high = middle
        else:
            low = middle + 1
    tally.histogram[message, low] += 1


@inlined
def occupied(
    ended: int, response: int, release: int, since: int, state: Integers, trace: Integers, trace_from: int
) -> None:
    """Write down that the wire was taken until ``ended``; ``release`` and ``since`` tell of the frame, if it was one."""
    state[BUSY] += ended - state[START]
    state[LONGEST] = max(state[LONGEST], ended - state[BUSY_SINCE])
    if state[TRACED] < trace.shape[0] and state[START] >= trace_from:
        row = trace[state[TRACED]]
        row[0], row[1], row[2] = state[START], ended, max(-1, state[ON_WIRE])
        row[3], row[4], row[5] = release, since, response
        state[TRACED] += 1


@compiled
def arbitrate(
    until: int, wire: Wire, queued: Queued, trouble: Trouble, state: Integers, tally: Tally, sent: Integers,
    trace: Integers, trace_from: int,
) -> int:  # fmt: skip
    """Run the bus up to ``until``: frames that end by then are counted, none starts at or after it.

    ``sent`` is left at the first record of each message that is not done with. Returns how many records came.
    """
    waiting = Waiting(
        sent, sent.copy(), np.zeros(sent.size, np.int64), np.zeros(sent.size, np.int64), np.full(wire.fifo.size, -1)
    )
    state[ASKING] = state[WAITING] = 0
    at = 0
    while True:
        if state[ON_WIRE] == IDLE:
            start = beginning(until, at, wire, queued, state)
            if start >= until:
                break
            at = admit(start, at, wire, queued, waiting, state, tally)
            if start > state[END]:
                state[BUSY_SINCE] = start
            message = winner(wire, queued, waiting, state)
            state[ON_WIRE], state[START], state[END] = message, start, start + queued.length[sent[message]]
            continue
        cut = disturbed(trouble, state, wire.bit)
        ended = cut if cut >= 0 else state[END]
        if ended > until:
            break
        at = admit(ended - 1, at, wire, queued, waiting, state, tally)
        message = state[ON_WIRE]
        if message == RECOVERING:
            occupied(ended, -1, -1, -1, state, trace, trace_from)
            if cut < 0:
                state[ON_WIRE] = IDLE
        else:
            release, since = queued.release[sent[message]], queued.queue[sent[message]]
            if cut >= 0 or struck(trouble, state):
                cut = ended
                occupied(ended, -1, release, since, state, trace, trace_from)
                give_back(wire, queued, waiting, state, tally)
                state[ON_WIRE] = RECOVERING
            else:
                occupied(ended, ended - release, release, since, state, trace, trace_from)
                count(message, ended - release, release, tally)
                leave(message, waiting, state)
                state[ON_WIRE] = IDLE
        state[START] = ended
        state[END] = ended + (trouble.recovery if cut >= 0 else 0)
    return int(admit(until - 1, at, wire, queued, waiting, state, tally))
