"""How full is a line, in each state of the vehicle?"""

from dataclasses import dataclass
from typing import NamedTuple

from loomwright.laws.frame_lengths import FrameLength, duration_s, frame_length
from loomwright.model.speech import Medium, Speech
from loomwright.solve.streams import CLASSICAL_BYTES, Stream
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Unknown, bounds_of

NEEDED = ("period_s", "minimum_gap_s")
"""Facts of a message without which there is no load: how late it is ready does not matter, and an unknown identifier
counts as long."""


@dataclass(frozen=True, slots=True)
class Share:
    """How much of a line's time one stream or one sender takes: in the mean, and at the most."""

    name: str
    mean: float
    worst: float


@dataclass(frozen=True, slots=True)
class StateLoad:
    """A line in one state of the vehicle ("" where it has none), as shares of its time.

    ``mean``: periodic messages with frames of mean length, each as often as its period may be; events are not in it,
    because nobody says how often they come. ``worst``: every frame at its longest, events as often as they can come.
    """

    state: str
    mean: float
    worst: float
    streams: tuple[Share, ...]
    senders: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class LineLoad:
    """A line's load by state, the states in the vehicle's order."""

    line: str
    states: tuple[StateLoad, ...]

    @property
    def fullest(self) -> StateLoad:
        """The state in which it is fullest in the mean."""
        return max(self.states, key=lambda load: load.mean)


@dataclass(frozen=True, slots=True)
class Frame:
    """A stream's frame on its line: shortest, mean and longest time in s, intermission included."""

    best_s: float
    mean_s: float
    worst_s: float


class Rates(NamedTuple):
    """Bit rates of a line in bit/s, that of the data phase on an FD line alone: the lowest of their ranges, and the highest."""

    rate: float
    data_rate: float | None
    highest: float
    highest_data: float | None


def rates_of(medium: Medium, line: str) -> Answer[Rates]:
    """Bit rate, and that of the data phase on an FD line."""
    facts = [("bit_rate_bit_per_s", medium.bit_rate_bit_per_s)]
    if medium.frames == "FD":
        facts.append(("data_bit_rate_bit_per_s", medium.data_bit_rate_bit_per_s))
    blocked: list[Path] = [("lines", line, field) for field, fact in facts if isinstance(fact, Unknown)]
    if blocked:
        return Blocked(tuple(blocked))
    values = [bounds_of(fact) for _, fact in facts if not isinstance(fact, Unknown)]
    assumed: list[Path] = [("lines", line, field) for field, fact in facts if isinstance(fact, Assumed)]
    data = values[1] if len(values) > 1 else (None, None, None)
    return Solved(Rates(values[0][0], data[0], values[0][2], data[2]), tuple(assumed))


def frame_of(stream: Stream, rates: Rates) -> Frame:
    """How long a stream's frame takes. A message too long for any frame is counted as the longest there is."""
    most = 64 if stream.fd else CLASSICAL_BYTES
    bits: FrameLength = frame_length(stream.extended, min(stream.length, most), fd=stream.fd)
    slow, fast = (rates.data_rate, rates.highest_data) if stream.fd else (None, None)
    return Frame(
        duration_s(bits.best_bits, rates.highest, fast),
        duration_s(bits.mean_bits, rates.rate, slow),
        duration_s(bits.worst_bits, rates.rate, slow),
    )


def unknown_of(streams: tuple[Stream, ...], needed: tuple[str, ...] = ()) -> tuple[Path, ...]:
    """Facts of a line's streams that nobody knows; where some are named, those alone."""
    return tuple(
        dict.fromkeys(path for stream in streams for path in stream.unknown if not needed or path[-1] in needed)
    )


def line_load(speech: Speech, line: str, streams: tuple[Stream, ...]) -> Answer[LineLoad]:
    """The load of a line that carries these streams."""
    rates = rates_of(speech.media[line], line)
    unknown = unknown_of(streams, NEEDED)
    if isinstance(rates, Blocked) or unknown:
        return Blocked((*(rates.by if isinstance(rates, Blocked) else ()), *unknown))
    needed = (*NEEDED, "identifiers")
    assumed = dict.fromkeys(path for stream in streams for path in stream.assumed if path[-1] in needed)
    return Solved(_counted(speech, line, streams, rates.value), (*rates.assumed, *assumed))


def least_load(speech: Speech, line: str, streams: tuple[Stream, ...]) -> tuple[StateLoad, tuple[str, ...]] | None:
    """The least that a line carries in the state in which that is most, and the messages that cannot be counted.

    ``None`` where nothing can be: no bit rate, or no message whose period is known.
    """
    rates = rates_of(speech.media[line], line)
    known = tuple(stream for stream in streams if not unknown_of((stream,), NEEDED))
    if isinstance(rates, Blocked) or not known:
        return None
    left_out = dict.fromkeys(stream.message for stream in streams if stream not in known)
    return _counted(speech, line, known, rates.value).fullest, tuple(left_out)


def _counted(speech: Speech, line: str, streams: tuple[Stream, ...], rates: Rates) -> LineLoad:
    loads = []
    for state in speech.states or ("",):
        shares = [_share(stream, frame_of(stream, rates)) for stream in streams if stream.is_sent_in(state)]
        by_sender: dict[str, list[Share]] = {}
        for stream, share in zip((each for each in streams if each.is_sent_in(state)), shares, strict=True):
            by_sender.setdefault(stream.sender, []).append(share)
        senders = (
            Share(sender, sum(each.mean for each in own), sum(each.worst for each in own))
            for sender, own in by_sender.items()
        )
        loads.append(
            StateLoad(
                state,
                sum(share.mean for share in shares),
                sum(share.worst for share in shares),
                tuple(shares),
                tuple(sorted(senders, key=lambda each: -each.worst)),
            )
        )
    return LineLoad(line, tuple(loads))


def _share(stream: Stream, frame: Frame) -> Share:
    assert stream.gap_s is not None
    per_second = stream.frames_per_message / stream.gap_s
    return Share(stream.name, 0.0 if stream.event else frame.mean_s * per_second, frame.worst_s * per_second)
