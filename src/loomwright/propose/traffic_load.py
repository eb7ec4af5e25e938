"""How full each port would make each line that it could be on: what the planner counts.

A port brings what it sends, and a gateway's port what it passes on there now, as if all of it came from elsewhere. Forwards
that another arrangement would need anew are not in it, those that it would save are: so it is an approximation where
ports change lines, and exact where they stay.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from loomwright.judge.rules.traffic_times import J1939_LOAD, USUAL_LOAD
from loomwright.model.line import Line
from loomwright.model.speech import Medium, Speech, speech_of
from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.solve.load import line_load
from loomwright.solve.streams import Stream, streams
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path


@dataclass(frozen=True, slots=True)
class PortLoads:
    """Mean shares of a line's time by (port, line), one for each state of the vehicle, and facts left out as unknown."""

    shares: Mapping[tuple[str, str], tuple[float, ...]]
    left_aside: tuple[Path, ...]


NO_LOADS = PortLoads({}, ())


def load_limit(line: Line) -> float:
    """The mean load that a line may have: its own limit, else that of rule line-load."""
    if line.load_limit is not None:
        return line.load_limit
    return J1939_LOAD.value if line.protocol == "J1939" else USUAL_LOAD.value


def port_loads(vehicle: Vehicle, able: Mapping[str, tuple[str, ...]]) -> PortLoads:
    """The load of every port on every line that it is able to be on."""
    if not vehicle.messages:
        return NO_LOADS
    speech = speech_of(vehicle)
    shares: dict[tuple[str, str], list[float]] = {}
    aside: dict[Path, None] = {}
    for line, medium in speech.media.items():
        ports = frozenset(port for port, lines in able.items() if line in lines)
        for stream in _said(speech, line, medium, ports):
            answer = line_load(speech, line, (stream,))
            if isinstance(answer, Blocked):
                aside |= dict.fromkeys(answer.by)
                continue
            means = [state.mean for state in answer.value.states]
            before = shares.get((stream.sender, line), [0.0] * len(means))
            shares[stream.sender, line] = [a + b for a, b in zip(before, means, strict=True)]
    return PortLoads({key: tuple(share) for key, share in shares.items()}, tuple(aside))


def _said(speech: Speech, line: str, medium: Medium, ports: frozenset[str]) -> list[Stream]:
    """What ports would put on a line: what they send themselves, and what gateways' ports pass on."""
    alone = replace(speech, media=Table({line: replace(medium, ports=ports)}))
    said = [each for each in streams(alone) if not each.source_line]
    for name, voice in speech.voices.items():
        for port in dict.fromkeys(f"{name}.{forward.to}" for forward in voice.forwards.values()):
            if port in ports:
                said += _passed_on(speech, line, medium, port)
    return said


def _passed_on(speech: Speech, line: str, medium: Medium, port: str) -> list[Stream]:
    """What a gateway's port passes on to a line, if everybody else spoke on one other line."""
    everybody = frozenset(
        f"{name}.{own}" for name, voice in speech.voices.items() for own in voice.ports if f"{name}.{own}" != port
    )
    media = Table(
        {
            line: replace(medium, ports=frozenset({port})),
            f"not {line}": replace(medium, ports=everybody, protocol="raw"),
        }
    )
    return [each for each in streams(replace(speech, media=media)) if each.line == line and each.source_line]
