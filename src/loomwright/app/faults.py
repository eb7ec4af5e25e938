"""A line with a fault, named by a short text: which there are, and the line as wired then."""

import re
from dataclasses import dataclass, replace

from loomwright.app.project import Project
from loomwright.app.words import UnreadableWordError, read_length
from loomwright.judge.evidence import components_on
from loomwright.model.fault import Fault, FaultKind, halves, with_fault
from loomwright.model.line import Line
from loomwright.model.vehicle import Vehicle
from loomwright.show.fault_words import (
    caller,
    fault_sentence,
    fault_text,
    fault_title,
    open_end_title,
    station_names,
    station_titles,
)
from loomwright.show.words import path_words
from loomwright.solve.faults import parted_at_m, possible_faults
from loomwright.solve.topology import LineTopology, torn
from loomwright.terms.answer import Blocked
from loomwright.terms.errors import LoomwrightError

LONGEST_STUB_M = 50.0
"""A forgotten lead longer than this is a slip of the unit."""
LIST = "list"
"""What is asked for instead of a fault by whoever wants to know which there are."""
_STUB = re.compile(r"stub (?P<length>\S+(?: \S+)?) at (?P<at>.+)")
_WORDS = {
    FaultKind.NO_TERMINATOR: "a termination that is missing or broken",
    FaultKind.OPEN_BRANCH: "a branch torn off where it leaves the trunk",
    FaultKind.UNPLUGGED: "a connector that is off, its branch hanging open",
    FaultKind.OPEN_TRUNK: "the trunk torn half-way between two stops",
    FaultKind.STUB: "a forgotten lead that hangs open; any length",
}


class NoSuchFaultError(LoomwrightError):
    """A fault that the line cannot have; the message lists those that it can."""


@dataclass(frozen=True, slots=True)
class LinePart:
    """What is left of a line in one piece, as a line of its own.

    ``stations`` are the numbers that its stations have in the line as drawn, ``None`` for what stands where something is
    gone or left behind; ``open_end`` is the number of that one here.
    """

    vehicle: Vehicle
    topology: LineTopology
    stations: tuple[int | None, ...]
    open_end: int | None


@dataclass(frozen=True, slots=True)
class FaultyLine:
    """A line with a fault. ``sound`` is the line as drawn; ``vehicle`` and ``topology`` are those of the fault.

    ``parts`` are to be judged: the line itself, or its two halves where it is torn apart.
    """

    name: str
    fault: Fault
    text: str
    sentence: str
    vehicle: Vehicle
    topology: LineTopology
    sound: LineTopology
    parts: tuple[LinePart, ...]

    @property
    def is_parted(self) -> bool:
        """Whether it is in two halves."""
        return len(self.parts) > 1


@dataclass(frozen=True, slots=True)
class FaultChoices:
    """Faults of one kind that a line can have; ``words`` says what the kind is, ``faults`` are texts with titles."""

    kind: FaultKind
    words: str
    faults: tuple[tuple[str, str], ...]


def fault_choices(project: Project, name: str) -> tuple[FaultChoices, ...]:
    """All faults of a line by kind, each as the text that names it and in words; none where the line cannot be wired."""
    vehicle, line = project.vehicle, project.vehicle.lines[name]
    found: dict[FaultKind, list[tuple[str, str]]] = {}
    for fault in _possible(project, name):
        found.setdefault(fault.kind, []).append((fault_text(fault, line), fault_title(fault, vehicle, line)))
    return tuple(FaultChoices(kind, _WORDS[kind], tuple(faults)) for kind, faults in found.items())


def station_choices(project: Project, name: str) -> tuple[tuple[str, str], ...]:
    """The stations of a line as a fault names them, with their titles."""
    vehicle, line = project.vehicle, project.vehicle.lines[name]
    return tuple(dict(zip(station_names(line), station_titles(vehicle, line), strict=True)).items())


def faults_of(project: Project, only: str = "") -> tuple[tuple[str, tuple[FaultChoices, ...]], ...]:
    """All faults, line by line. Raises ``NoSuchFaultError`` for a line that is not there."""
    _must_be_there(project, only)
    names = [name for name in project.vehicle.lines if only in ("", name)]
    return tuple((name, fault_choices(project, name)) for name in names)


def faulty_line(project: Project, name: str, text: str) -> FaultyLine:
    """The line with the fault that the text names. Raises ``NoSuchFaultError`` or ``UnreadableWordError``."""
    _must_be_there(project, name)
    vehicle, answers = project.vehicle, project.answers
    line, wired = vehicle.lines[name], answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        raise NoSuchFaultError(f"line {name} cannot be wired yet: {', '.join(path_words(path) for path in wired.by)}")
    fault = _named(project, name, text)
    faulty = _titled(with_fault(vehicle, name, fault), fault, vehicle)
    after = answers.topology(faulty, name)
    assert not isinstance(after, Blocked), "a fault asks for no fact that the sound line does not"
    topology = torn(wired.value, fault.station) if fault.kind is FaultKind.OPEN_TRUNK else after.value
    sentence = fault_sentence(fault, line, caller(vehicle, line), wired.value)
    parts = _halves(project, name, fault, wired.value) or (_whole(faulty, fault, topology, vehicle),)
    return FaultyLine(name, fault, fault_text(fault, line), sentence, faulty, topology, wired.value, parts)


def _titled(faulty: Vehicle, fault: Fault, sound: Vehicle) -> Vehicle:
    """The faulty vehicle, with a name over what stands where something is gone or left behind."""
    end = _open_end(faulty, sound)
    if not end:
        return faulty
    named = replace(faulty.components[end], title=open_end_title(fault))
    return replace(faulty, components=faulty.components.put(end, named))


def _open_end(faulty: Vehicle, sound: Vehicle) -> str:
    """The component that stands where something is gone or left behind; empty where nothing does."""
    return next((name for name in faulty.components if name not in sound.components), "")


def _whole(faulty: Vehicle, fault: Fault, topology: LineTopology, sound: Vehicle) -> LinePart:
    end = _open_end(faulty, sound)
    at = next((stop.index for stop in topology.stops if end and stop.component == end), None)
    numbers: list[int | None] = list(range(len(topology.stops)))
    if fault.kind is FaultKind.STUB and at is not None:  # the forgotten lead is a station of its own
        numbers = [*range(at), None, *range(at, len(numbers) - 1)]
    return LinePart(faulty, topology, tuple(numbers), at)


def _halves(project: Project, name: str, fault: Fault, sound: LineTopology) -> tuple[LinePart, ...]:
    """The two halves of a torn line; none where it is not torn apart."""
    half_m = parted_at_m(sound, fault.station) if fault.kind is FaultKind.OPEN_TRUNK else None
    if half_m is None:
        return ()
    found = []
    for first, vehicle in zip((True, False), halves(project.vehicle, name, fault, half_m), strict=True):
        side = _titled(vehicle, fault, project.vehicle)
        wired = project.answers.topology(side, name)
        assert not isinstance(wired, Blocked), "half a line asks for no fact that the whole does not"
        own = range(fault.station) if first else range(fault.station, len(sound.stops))
        stations = (*own, None) if first else (None, *own)
        found.append(LinePart(side, wired.value, stations, len(own) if first else 0))
    return tuple(found)


def line_with(project: Project, text: str) -> str:
    """The one line that can have this fault. Raises ``NoSuchFaultError`` where it is none, or more than one."""
    names = list(project.vehicle.lines)
    if len(names) == 1:
        return names[0]
    able = [name for name in names if not isinstance(_found(project, name, text), str)]
    if len(able) == 1:
        return able[0]
    which = f"lines {' and '.join(able)} can" if able else f"no line can; there are {', '.join(names)}"
    raise NoSuchFaultError(
        f"which line shall have the fault {text!r}: {which}. Say it with --line, and --fault list shows all"
    )


def _must_be_there(project: Project, name: str) -> None:
    if name and name not in project.vehicle.lines:
        raise NoSuchFaultError(f"there is no line {name!r}; there are {', '.join(project.vehicle.lines)}")


def _possible(project: Project, name: str) -> tuple[Fault, ...]:
    vehicle = project.vehicle
    wired = project.answers.topology(vehicle, name)
    return (
        () if isinstance(wired, Blocked) else possible_faults(wired.value, components_on(vehicle, vehicle.lines[name]))
    )


def _named(project: Project, name: str, text: str) -> Fault:
    found = _found(project, name, text)
    if isinstance(found, str):
        raise NoSuchFaultError(found)
    return found


def _found(project: Project, name: str, text: str) -> Fault | str:
    """The fault of that text, or why there is none."""
    line, words = project.vehicle.lines[name], " ".join(text.split())
    possible = _possible(project, name)
    told = {fault_text(fault, line).lower(): fault for fault in possible if fault.kind is not FaultKind.STUB}
    if words.lower() in told:
        return told[words.lower()]
    match = _STUB.fullmatch(words)
    if match is None:
        return f"line {name} has no fault {words!r}; {_all(possible, line)}"
    at = {station_names(line)[fault.station].lower(): fault for fault in possible if fault.kind is FaultKind.STUB}
    stub = at.get(match["at"].lower())
    if stub is None:
        return f"line {name} has no station {match['at']!r} for a stub; there are {', '.join(at)}"
    try:
        length_m = read_length(match["length"])
    except UnreadableWordError as error:
        return f"the stub's length: {error}"
    if not 0.0 < length_m <= LONGEST_STUB_M:
        return f"a stub is longer than nothing and at most {LONGEST_STUB_M:g} m, not {match['length']!r}"
    return replace(stub, length_m=length_m)


def _all(possible: tuple[Fault, ...], line: Line) -> str:
    """The faults of a line in one sentence, stations gathered by kind."""
    names, parts = station_names(line), []
    for kind in dict.fromkeys(fault.kind for fault in possible):
        stations = [fault.station for fault in possible if fault.kind is kind]
        if kind is FaultKind.OPEN_TRUNK:
            parts.append(f"{kind.value} between {', '.join(f'{names[at - 1]} and {names[at]}' for at in stations)}")
        else:
            long = " LENGTH" if kind is FaultKind.STUB else ""
            parts.append(f"{kind.value}{long} at {', '.join(names[at] for at in stations)}")
    return f"possible are: {'; '.join(parts)}" if parts else "it cannot be wired yet"
