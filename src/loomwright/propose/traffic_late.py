"""Which ports cannot share a line, because then something on it would be late: what the planner learns after planning.

A plan is asked for its response times. Where a message is late, ports of its line are left out one by one as long as it
stays late: those that remain may not meet again. What gateways bring along counts as late as it is in that plan.
"""

from dataclasses import dataclass

from loomwright.engines.response_times import UNBOUNDED, response_times
from loomwright.model.speech import Speech, speech_of
from loomwright.model.vehicle import Vehicle
from loomwright.solve.responses import LineResponses, Response, line_flows, responses
from loomwright.solve.streams import Stream, streams
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path

MOST_A_LINE = 8
"""So many late messages of a line are followed in one round, the latest first."""


@dataclass(frozen=True, slots=True)
class LateSet:
    """Ports that make a message late when all of them are on a line."""

    line: str
    ports: frozenset[str]


@dataclass(frozen=True, slots=True)
class Timing:
    """What a plan's response times say: the sets that make messages late, and the facts that some lines wait for."""

    late: tuple[LateSet, ...]
    blocked_by: tuple[Path, ...]


def timing(vehicle: Vehicle) -> Timing:
    """Ask a vehicle as planned what is late on its lines, and because of whom."""
    speech = speech_of(vehicle)
    said = streams(speech)
    late: dict[LateSet, None] = {}
    blocked: dict[Path, None] = {}
    for line, answer in responses(speech, said).items():
        if isinstance(answer, Blocked):
            blocked |= dict.fromkeys(answer.by)
            continue
        missed = sorted((each for each in answer.value.responses if each.slack_s < 0.0), key=lambda each: each.slack_s)
        for each in missed[:MOST_A_LINE]:
            late[_smallest(speech, line, tuple(one for one in said if one.line == line), answer.value, each)] = None
    return Timing(tuple(late), tuple(blocked))


def _smallest(speech: Speech, line: str, said: tuple[Stream, ...], found: LineResponses, late: Response) -> LateSet:
    """No port of it can be left out: the message would be in time."""
    inherited = found.inherited()
    ports = dict.fromkeys(each.sender for each in said)
    if any(due == float("inf") for due in inherited.values()):
        return LateSet(line, frozenset(ports))
    kept = set(ports)
    for port in ports:
        fewer = tuple(each for each in said if each.sender in kept - {port})
        if port != late.stream.sender and _is_late(speech, line, fewer, late.stream, inherited):
            kept.remove(port)
    return LateSet(line, frozenset(kept))


def _is_late(speech: Speech, line: str, said: tuple[Stream, ...], stream: Stream, inherited: dict[Path, float]) -> bool:
    for state in speech.states or ("",):
        built = line_flows(speech, line, said, state, inherited)
        if isinstance(built, Blocked) or stream not in built.value.streams:
            continue
        at = built.value.streams.index(stream)
        flows = built.value.flows
        worst = response_times(flows, built.value.tick_per_bit, built.value.faults).worst[at]
        if worst == UNBOUNDED or worst > flows.deadline[at] or at >= built.value.endless:
            return True
    return False
