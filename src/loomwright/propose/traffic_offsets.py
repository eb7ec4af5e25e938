"""When each message of a sender should begin, so that they do not all want to be sent at once.

Plain advice: the model knows no offsets, and response times do not count on any, for two senders share no clock. What it
takes away are the bursts of one sender, and with them most of the waiting in practice.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from loomwright.engines.flows import Integers
from loomwright.engines.release_offsets import flattened_offsets
from loomwright.model.speech import Speech
from loomwright.solve.load import NEEDED, frame_of, rates_of, unknown_of
from loomwright.solve.streams import Stream
from loomwright.terms.answer import Answer, Blocked, Solved

Told = Callable[[int, int], bool]

TICK_S = 1e-6
"""Offsets are counted in microseconds; frames are rounded up to them."""
STEP_S = 1e-3
"""Offsets are whole milliseconds where periods are, as a sender's task has them; common practice."""


@dataclass(frozen=True, slots=True)
class Offset:
    """A message and when it should be sent first, in s after its sender's start."""

    message: str
    period_s: float
    offset_s: float


@dataclass(frozen=True, slots=True)
class SenderOffsets:
    """The offsets of one sender on one line.

    ``before_s`` and ``after_s``: the longest time on the line that waits in the sender at once, with its own frames alone:
    if all begin together, and with the offsets. ``whole``: whether the pattern was followed until it repeats. ``in_own_hands``: whether some of
    its messages can be programmed; others' offsets have to be asked of their makers.
    """

    line: str
    sender: str
    offsets: tuple[Offset, ...]
    before_s: float
    after_s: float
    whole: bool
    in_own_hands: bool


def offsets(
    speech: Speech, line: str, streams: tuple[Stream, ...], told: Told = lambda _done, _all: True
) -> Answer[tuple[SenderOffsets, ...]]:
    """Offsets for every sender of a line that sends several periodic messages, where they make its bursts smaller.

    States of the vehicle are not told apart: all that a sender ever sends periodically is spread. What gateways pass on when
    they hear it, events and the packets of transported messages have no release of their own to shift. Raises
    StoppedError if ``told`` answers no.
    """
    rates = rates_of(speech.media[line], line)
    free = tuple(
        each for each in streams if not each.event and not each.part and (not each.source_line or each.own_cycle)
    )
    unknown = unknown_of(free, NEEDED)
    if isinstance(rates, Blocked) or unknown:
        return Blocked((*(rates.by if isinstance(rates, Blocked) else ()), *unknown))
    by_sender: dict[str, list[Stream]] = {}
    for each in free:
        if each.period_s:
            by_sender.setdefault(each.sender, []).append(each)
    senders = {name: own for name, own in by_sender.items() if len(own) > 1}
    spread = [(number, each) for number, own in enumerate(senders.values()) for each in own]
    if not spread:
        return Solved(())
    periods = np.array([max(1, round((each.period_s or 0.0) / TICK_S)) for _, each in spread], dtype=np.int64)
    works = np.array([_ticks(frame_of(each, rates.value).worst_s) for _, each in spread], dtype=np.int64)
    found = flattened_offsets(periods, works, [number for number, _ in spread], step=_step(periods), told=told)
    made = []
    for place, (name, own) in enumerate(senders.items()):
        at = [index for index, (number, _) in enumerate(spread) if number == place]
        made.append(
            SenderOffsets(
                line,
                name,
                tuple(
                    Offset(each.name, float(periods[index]) * TICK_S, float(found.offset[index]) * TICK_S)
                    for index, each in zip(at, own, strict=True)
                ),
                found.before[place] * TICK_S,
                found.after[place] * TICK_S,
                found.whole[place],
                any(each.programmable for each in own),
            )
        )
    return Solved(tuple(each for each in made if each.after_s < each.before_s), rates.assumed)


def _ticks(time_s: float) -> int:
    return int(np.ceil(time_s / TICK_S - 1e-6))


def _step(periods: Integers) -> int | None:
    """Whole milliseconds where every period is a whole number of them, else as the engine likes."""
    step = round(STEP_S / TICK_S)
    return step if not (periods % step).any() else None
