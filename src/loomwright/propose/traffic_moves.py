"""Which component to move to another line, where a line is too full or messages on it are late.

Every component of the line is tried on every other line that suits one of its ports, the one in use or a free one. Its
station goes where it takes least cable, the gateways pass on what would not be heard any more, and the whole is judged
by all rules. Where stations end up is a first answer; `loomwright arrange` may lay the lines better afterwards.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from loomwright.judge.evidence import TrafficEvidence
from loomwright.judge.rules.matching import PASSIVE, suits
from loomwright.judge.traffic_cures import forward_it
from loomwright.model.line import Line, Station
from loomwright.model.speech import speech_of
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.propose.traffic_judged import OF_TRAFFIC, Ask, Judged, tried
from loomwright.solve.hearing import UNHEARD
from loomwright.solve.traffic import Traffic, traffic
from loomwright.solve.ways import RunWays, run_ways
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Known

Told = Callable[[int, int], bool]

MOST_FORWARDS = 6
"""A move that takes more new forwards than this is not tried to the end."""
MOST_TRIES = 200
TERMINATOR_OHM = 120.0


@dataclass(frozen=True, slots=True)
class Move:
    """A component on another line, and what that does.

    ``forwards`` are the messages that gateways pass on anew, ``idle`` forwards that are no more needed and go. Loads are the
    mean ones of the fullest line of the two, and slack the least of both lines over its deadline, before and after. ``cured`` and
    ``breaks`` are (rule, subject).
    """

    component: str
    port: str
    onto_port: str
    line: str
    onto: str
    change: Change
    forwards: tuple[str, ...]
    idle: tuple[str, ...]
    load: tuple[float, float]
    least_share: tuple[float, float]
    cured: tuple[tuple[str, str], ...]
    breaks: tuple[tuple[str, str], ...]

    @property
    def offered(self) -> bool:
        """Whether it cures something of traffic, and more than it breaks."""
        return any(rule in OF_TRAFFIC for rule, _ in self.cured) and len(self.cured) > len(self.breaks)


@dataclass(frozen=True, slots=True)
class Moves:
    """Every move of a line that could be judged, the best first. ``tried`` counts those looked at, ``whole`` if that were all."""

    line: str
    found: tuple[Move, ...]
    tried: int
    whole: bool
    stopped: bool = False

    @property
    def offered(self) -> tuple[Move, ...]:
        """Those that do more good than harm."""
        return tuple(move for move in self.found if move.offered)


def is_pressed(found: Traffic, before: Judged, line: str) -> bool:
    """Whether a line is too full, or something on it late, so that a move is worth looking for."""
    wanted = ("line-load", "line-overload", "in-time")
    return any(
        finding.rule in wanted and finding.reading.line == line and finding.verdict.value == "broken"
        for finding in before.findings
    ) and bool(found.on(line))


def moves(vehicle: Vehicle, line: str, before: Judged, ask: Ask, told: Told = lambda _done, _all: True) -> Moves:
    """Try every component of a line on every other line; stops where ``told`` answers no, with what was found so far."""
    ways = run_ways(vehicle.places, vehicle.runs)
    ideas = list(_ideas(vehicle, line))
    found: list[Move] = []
    for number, (port, onto_port, onto) in enumerate(ideas[:MOST_TRIES]):
        if not told(number, min(len(ideas), MOST_TRIES)):
            return Moves(line, _ranked(found), number, whole=False, stopped=True)
        move = _moved(vehicle, line, port, onto_port, onto, before, ask, ways)
        if move is not None:
            found.append(move)
    return Moves(line, _ranked(found), min(len(ideas), MOST_TRIES), whole=len(ideas) <= MOST_TRIES)


def _ranked(found: list[Move]) -> tuple[Move, ...]:
    def rank(move: Move) -> tuple[bool, int, float, float]:
        return not move.offered, len(move.breaks) - len(move.cured), move.load[1], -move.least_share[1]

    return tuple(sorted(found, key=rank))


def _ideas(vehicle: Vehicle, line: str) -> Iterator[tuple[str, str, str]]:
    """(port now, port then, line then): not the line's own controller, no bare contacts, nothing that a lock holds."""
    on = {station.port for each in vehicle.lines.values() for station in each.stations if station.port}
    locked = {lock.port for lock in vehicle.locks.values() if lock.must == "be on line"}
    for address in dict.fromkeys(station.port for station in vehicle.lines[line].stations if station.port):
        name, _, own = address.partition(".")
        component = vehicle.components[name]
        if component.role == PASSIVE or address == vehicle.lines[line].controller or address in locked:
            continue
        free = [own, *(port for port in component.ports if f"{name}.{port}" not in on)]
        for onto, other in vehicle.lines.items():
            if onto == line or any(station.port.partition(".")[0] == name for station in other.stations):
                continue
            for port in free:
                if suits(other, component, component.ports[port]):
                    yield address, f"{name}.{port}", onto
                    break


def _moved(
    vehicle: Vehicle, line: str, port: str, onto_port: str, onto: str, before: Judged, ask: Ask, ways: RunWays
) -> Move | None:
    name = port.partition(".")[0]
    here = _without(vehicle.lines[line], port, vehicle.components[name].place)
    there = _with(vehicle, vehicle.lines[onto], onto_port, ways)
    edits: list[Edit] = [
        Edit(("lines", line, "stations"), here),
        Edit(("lines", onto, "stations"), there),
        *_same_sender(vehicle, port, onto_port),
    ]
    idle: list[str] = []
    for path, message in _idle_forwards(vehicle, edits, before.traffic):
        edits.append(Edit(path, None))
        idle.append(message)
    forwards = _new_forwards(vehicle, edits, before)
    if forwards is None:
        return None
    as_port = "" if port == onto_port else f" by its port {onto_port.partition('.')[2]}"
    change = Change(f"Move {name} from line {line} to line {onto}{as_port}", tuple(edits))
    difference = tried(vehicle, change, before, ask)
    if difference is None:
        return None
    return Move(
        name, port, onto_port, line, onto, change, forwards, tuple(idle),
        (_load(before.traffic, (line, onto)), _load(difference.after.traffic, (line, onto))),
        (_share(before.traffic, (line, onto)), _share(difference.after.traffic, (line, onto))),
        difference.cured, difference.breaks,
    )  # fmt: skip


def _without(line: Line, port: str, place: str) -> tuple[Station, ...]:
    """The stations less a port; where its own termination ended the trunk, a plug-in one takes its place."""
    stations: list[Station] = []
    last = len(line.stations) - 1
    for number, station in enumerate(line.stations):
        if station.port != port:
            stations.append(station)
        elif station.terminated and number in (0, last):
            stations.append(Station(terminator_ohm=Known(TERMINATOR_OHM), at=station.at or place))
    # The trunk on the far side of a stop that is gone was measured to that stop.
    return tuple(
        replace(station, section_m=None, via=()) if _followed(line, port, station) else station for station in stations
    )


def _followed(line: Line, port: str, station: Station) -> bool:
    number = next((at for at, each in enumerate(line.stations) if each is station), 0)
    return (
        number > 0 and line.stations[number - 1].port == port and (station.section_m is not None or bool(station.via))
    )


def _with(vehicle: Vehicle, line: Line, port: str, ways: RunWays) -> tuple[Station, ...]:
    """The stations and one more, between the two neighbours where the trunk grows least; ends stay ends."""
    place = vehicle.components[port.partition(".")[0]].place
    stops = [station.at or vehicle.components[station.port.partition(".")[0]].place for station in line.stations]
    if len(stops) < 2:
        return (*line.stations, Station(port))

    def growth(at: int) -> float:
        legs = ways.ways.length
        return legs(stops[at - 1], place) + legs(place, stops[at]) - legs(stops[at - 1], stops[at])

    at = min(range(1, len(stops)), key=growth)
    after = line.stations[at]
    if after.section_m is not None or after.via:
        after = replace(after, section_m=None, via=())
    return (*line.stations[:at], Station(port), after, *line.stations[at + 1 :])


def _same_sender(vehicle: Vehicle, port: str, onto_port: str) -> Iterator[Edit]:
    """What the old port sends, expects, needs and passes on, the new one does; nothing where it is the same port."""
    if port == onto_port:
        return
    for set_name, messages in vehicle.messages.items():
        if messages.sender == port:
            yield Edit(("messages", set_name, "sender"), onto_port)
        for name, message in messages.messages.items():
            for field in ("sender", "expected_by"):
                if getattr(message, field) == port:
                    yield Edit(("messages", set_name, "messages", name, field), onto_port)
    component, _, own = port.partition(".")
    new = onto_port.partition(".")[2]
    for name, need in vehicle.components[component].needs.items():
        if need.port == own:
            yield Edit(("components", component, "needs", name, "port"), new)
    for name, forward in vehicle.components[component].forwards.items():
        if forward.to == own:
            yield Edit(("components", component, "forwards", name, "to"), new)


def _idle_forwards(vehicle: Vehicle, edits: list[Edit], before: Traffic) -> Iterator[tuple[Path, str]]:
    """Forwards that carried something and carry nothing any more, because the message is on the other line by itself."""
    after = {each.path for each in traffic(speech_of(changed(vehicle, Change("", tuple(edits))))).streams}
    seen = set()
    for each in before.streams:
        if each.source_line and each.path not in after and each.path not in seen:
            seen.add(each.path)
            yield each.path, each.message


def _new_forwards(vehicle: Vehicle, edits: list[Edit], before: Judged) -> tuple[str, ...] | None:
    """Add the forwards by which everything is heard that was heard before; ``None`` where that takes too many, or none can."""
    unheard = {need.path for need in before.traffic.hearings.needs if need.outcome == UNHEARD}
    added: list[str] = []
    for _ in range(MOST_FORWARDS):
        speech = speech_of(changed(vehicle, Change("", tuple(edits))))
        now = traffic(speech)
        missing = [need for need in now.hearings.needs if need.outcome == UNHEARD and need.path not in unheard]
        if not missing:
            return tuple(added)
        change = forward_it(TrafficEvidence(speech, now), missing[0])
        if change is None:
            return None
        edits += change.edits
        added.append(missing[0].message)
    return None


def _load(found: Traffic, lines: tuple[str, str]) -> float:
    answers = [found.loads[line] for line in lines]
    return max((0.0 if isinstance(answer, Blocked) else answer.value.fullest.mean for answer in answers), default=0.0)


def _share(found: Traffic, lines: tuple[str, str]) -> float:
    answers = [found.responses[line] for line in lines]
    return min(
        (
            each.slack_s / each.deadline_s
            for answer in answers
            if not isinstance(answer, Blocked)
            for each in answer.value.responses
            if each.deadline_s
        ),
        default=1.0,
    )
