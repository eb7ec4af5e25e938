"""How long does a message in packets take, and does its sender get round to it?

A sender broadcasts one message at a time, and sends one at a time to each receiver. So each waits at the worst for all
others of its row, in whatever order they go.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from loomwright.laws.j1939 import addressee, packet_spacing_s
from loomwright.model.speech import Speech
from loomwright.solve.responses import LineResponses, Response
from loomwright.solve.streams import ANNOUNCEMENT, ANSWERS, PACKETS, Stream, address_of, port_of_address
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path

MOST_ROUNDS = 10_000
"""Rounds after which a row that still grows is taken to have no end."""


@dataclass(frozen=True, slots=True)
class Transfer:
    """A message in packets on one line, in s from when it is due, or from when its gateway heard it.

    ``packets``: how many; ``alone_s``: the shortest with nothing else on the line. Then at the worst, waiting for the
    ``others`` of its row included: ``least_s`` with the least time between packets that is allowed or stated,
    ``longest_s`` with the most. Both are infinite where the row never ends, and where nobody has the address
    ``unanswered`` that it is for. ``wanted_s``: its deadline, else the time until the next one is due.
    """

    stream: Stream
    packets: int
    alone_s: float
    least_s: float
    longest_s: float
    wanted_s: float
    others: tuple[str, ...]
    unanswered: int | None = None
    assumed: tuple[Path, ...] = ()

    @property
    def settled_s(self) -> float | None:
        """The time with whatever spacing: the longest where that is in time, the least where not even that is.

        ``None`` where it hangs on the time between packets, which nobody stated: ``spacing_path`` says of what.
        """
        if self.longest_s <= self.wanted_s or self.stream.packet_spacing_s is not None:
            return self.longest_s
        return self.least_s if self.least_s > self.wanted_s else None

    @property
    def spacing_path(self) -> Path:
        """Where the time between packets would be stated."""
        name, _, own = self.stream.message.partition(".")
        return ("messages", name, "messages", own, "packet_spacing_s")


@dataclass(frozen=True, slots=True)
class _Load:
    """A message in its row: how long it takes by itself with each spacing, how often it comes, how late it may be ready."""

    stream: Stream
    packets: int
    alone_s: float
    least_s: float
    longest_s: float
    jitter_s: float
    assumed: tuple[Path, ...]


def transfers(
    speech: Speech, streams: tuple[Stream, ...], found: Mapping[str, Answer[LineResponses]]
) -> dict[tuple[Path, str], Answer[Transfer]]:
    """Every message in packets on every line, by its path and line."""
    told: dict[tuple[Path, str], Answer[Transfer]] = {}
    for line, answer in found.items():
        wholes = tuple(each.entire for each in streams if each.line == line and each.part == PACKETS)
        if isinstance(answer, Blocked):
            told |= {(each.path, line): answer for each in wholes}
            continue
        parts: dict[Path, dict[str, Response]] = defaultdict(dict)
        for response in answer.value.responses:
            parts[response.stream.path][response.stream.part] = response
        rows: dict[tuple[str, int | None], list[_Load]] = defaultdict(list)
        for whole in wholes:
            if PACKETS not in parts[whole.path]:
                continue
            to = None if whole.identifier is None else addressee(whole.identifier)
            silent = () if to is None or ANSWERS in parts[whole.path] else _without_address(speech, line)
            if silent:
                told[whole.path, line] = Blocked(silent)
                continue
            rows[whole.sender, to].append(_load(whole, parts[whole.path], to))
        for (_, to), row in rows.items():
            nobody = to if to is not None and not port_of_address(speech, line, to) else None
            told |= {
                (each.stream.path, line): Solved(_transfer(speech, each, row, nobody), each.assumed) for each in row
            }
    return told


def _without_address(speech: Speech, line: str) -> tuple[Path, ...]:
    """Addresses of a line's ports that nobody stated: any of them may be the one that is meant."""
    ports = (port.partition(".") for port in sorted(speech.media[line].ports) if address_of(speech, port) is None)
    return tuple(("components", component, "ports", port, "address") for component, _, port in ports)


def _load(whole: Stream, parts: Mapping[str, Response], to: int | None) -> _Load:
    carried, begun, answers = parts[PACKETS], parts[ANNOUNCEMENT], parts.get(ANSWERS)
    count = carried.stream.frames_per_message
    least, longest = whole.packet_spacing_s or packet_spacing_s(to)
    frames_s = _wait_s(begun) + count * _wait_s(carried) + (count * _wait_s(answers) if answers else 0.0)
    return _Load(
        whole,
        count,
        begun.best_s + count * max(least, carried.best_s),
        frames_s + count * least,
        frames_s + count * longest,
        begun.jitter_s,
        tuple(dict.fromkeys((*begun.assumed, *carried.assumed, *(answers.assumed if answers else ())))),
    )


def _wait_s(response: Response) -> float:
    """The longest from when a frame is ready until it has arrived: of a row of frames each is ready after the one before."""
    return response.worst_s if math.isinf(response.worst_s) else response.worst_s - response.jitter_s


def _transfer(speech: Speech, own: _Load, row: list[_Load], nobody: int | None) -> Transfer:
    least = longest = math.inf
    if nobody is None:
        states = [state for state in speech.states or ("",) if own.stream.is_sent_in(state)]
        at_once = [[each for each in row if each.stream.is_sent_in(state)] for state in states]
        least = max((_row_s((each, each.least_s) for each in those) for those in at_once), default=0.0)
        longest = max((_row_s((each, each.longest_s) for each in those) for those in at_once), default=0.0)
    stream = own.stream
    return Transfer(
        stream,
        own.packets,
        own.alone_s,
        stream.jitter_s + least,
        stream.jitter_s + longest,
        stream.deadline_s if stream.deadline_s is not None else stream.gap_s or 0.0,
        tuple(each.stream.message for each in row if each is not own),
        nobody,
    )


def _row_s(row: Iterable[tuple[_Load, float]]) -> float:
    """The longest time in s for which a row is busy without a pause; every message in it is over by then."""
    loads = [(own_s, each.stream.gap_s or 0.0, each.jitter_s) for each, own_s in row]
    if any(math.isinf(own) or math.isinf(late) or not gap for own, gap, late in loads):
        return math.inf
    if sum(own / gap for own, gap, _ in loads) > 1.0 + 1e-9:
        return math.inf
    busy = sum(own for own, _, _ in loads)
    for _ in range(MOST_ROUNDS):
        # A float's last digits make no further message.
        longer = sum(max(1, math.ceil((busy + late) / gap - 1e-9)) * own for own, gap, late in loads)
        if longer <= busy * (1.0 + 1e-12):
            return busy
        busy = longer
    return math.inf
