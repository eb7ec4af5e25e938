"""Changes of a line that a rule may offer: terminate the ends, join nearer, move to an end, open a ring.

They are candidates: ``judge/proof.py`` tries each and withholds the ones that do not cure.
"""

from dataclasses import replace

from loomwright.judge.evidence import LineEvidence
from loomwright.model.line import Station
from loomwright.solve.topology import Stop, port_of
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Assumed, Known, Unknown

PLUG_IN = Known(120.0, 118.8, 121.2)
"""A plug-in terminator of 1 %, as proposed where an end has none."""

Stations = tuple[Station, ...]
Steps = tuple[str, ...]


def end_terminations(evidence: LineEvidence) -> Change | None:
    """Terminate both ends and nothing between; ``None`` where a fixed or unknown termination stands in the way."""
    return _change(evidence, terminated(evidence, evidence.line.stations))


def terminated(evidence: LineEvidence, stations: Stations) -> tuple[Stations, Steps] | None:
    """Stations with both ends terminated and nothing between, and the steps in words."""
    ports = [station for station in stations if station.port]
    kinds = [termination_kind(evidence, station.port) for station in ports]
    if len(ports) < 2 or len({station.port for station in ports}) < len(ports):
        return None
    if "unknown" in kinds or "fixed" in kinds[1:-1]:
        return None
    steps: list[str] = []
    for index in reversed(range(len(stations))):
        end = {0: kinds[0], len(stations) - 1: kinds[-1]}.get(index, "fixed")
        if not stations[index].port and end == "fixed":
            steps.append(f"take out the plug-in terminator at {stations[index].at}")
            stations = without(evidence, stations, index)
    new = list(stations)
    head, tail = bool(new[0].port), bool(new[-1].port)
    for index, station in enumerate(new):
        if station.port:
            kind = termination_kind(evidence, station.port)
            ends_line = (head and index == 0) or (tail and index == len(new) - 1)
            if kind == "switchable" and station.terminated != ends_line:
                steps.append(f"switch {'on' if ends_line else 'off'} the termination of {station.port}")
            new[index] = replace(station, terminated=kind == "switchable" and ends_line)
    for is_bare, place, position in (
        (head and kinds[0] == "none", evidence.joint_place(ports[0]), 0),
        (tail and kinds[-1] == "none", evidence.joint_place(ports[-1]), len(new) + 1),
    ):
        if is_bare:
            steps.append(f"plug in a terminator at {place}")
            new.insert(position, Station(terminator_ohm=PLUG_IN, at=place))
    return tuple(new), tuple(steps)


def right_plug_ins(evidence: LineEvidence, low_ohm: float, high_ohm: float) -> Change | None:
    """Plug in a terminator of 120 ohm wherever a plug-in one has another resistance."""
    wrong = [
        index
        for index, station in enumerate(evidence.line.stations)
        if isinstance(station.terminator_ohm, Known | Assumed)
        and not low_ohm <= station.terminator_ohm.value <= high_ohm
    ]
    if not wrong:
        return None
    edits = tuple(Edit((*evidence.station(index), "terminator_ohm"), PLUG_IN) for index in wrong)
    places = " and ".join(dict.fromkeys(evidence.line.stations[index].at for index in wrong))
    return Change(f"Plug in a terminator of 120 ohm instead at {places}", edits)


def without(evidence: LineEvidence, stations: Stations, index: int) -> Stations:
    """Stations with one taken out; between its neighbours the trunk keeps its way and its measured length."""
    before, gone, after = stations[:index], stations[index], stations[index + 1 :]
    if not after:
        return before
    if not before:
        return (replace(after[0], via=(), section_m=None), *after[1:])
    way = (*gone.via, evidence.joint_place(gone), *after[0].via)
    ends = {evidence.joint_place(before[-1]), evidence.joint_place(after[0])}
    via = tuple(place for place in way if place not in ends)
    sections = (gone.section_m, after[0].section_m)
    section_m = None if None in sections else sum(filter(None, sections))
    return (*before, replace(after[0], via=via, section_m=section_m), *after[1:])


def open_ring(evidence: LineEvidence) -> Change | None:
    """Let the trunk visit every station once, and terminate the ends that are left."""
    stations = evidence.line.stations
    for index in reversed(range(len(stations))):
        port = stations[index].port
        if port and any(station.port == port for station in stations[:index]):
            stations = without(evidence, stations, index)
    if stations == evidence.line.stations:
        return None
    then = terminated(evidence, stations)
    return _change(evidence, (then[0] if then else stations, ("cut the ring open", *(then[1] if then else ()))))


def joined_nearer(evidence: LineEvidence, stop: Stop, limit_m: float) -> Change | None:
    """Move the branch point along the branch until the rest is within the limit; at best the trunk passes through."""
    station = evidence.line.stations[stop.index]
    for place, length_m in _along(evidence, stop):
        if length_m > limit_m or (place == stop.joint_place and station.branch_m is None):
            continue
        if place == stop.joint_place:
            return _edited(
                evidence, stop.index, (f"shorten the branch of {stop.port} to what its runs need",), branch_m=None
            )
        return _joined_at(evidence, stop, place)
    return None


def nearer_joints(evidence: LineEvidence, stop: Stop) -> list[Change]:
    """Every place along a branch to which the trunk could be led instead, the nearest to the present joint first."""
    places = [place for place, _ in _along(evidence, stop) if place != stop.joint_place]
    return [change for place in places if (change := _joined_at(evidence, stop, place)) is not None]


def _joined_at(evidence: LineEvidence, stop: Stop, place: str) -> Change | None:
    if place == evidence.components[stop.component].place:
        return joined_through(evidence, stop.index)
    step = f"lead the trunk to {place} and join {stop.port} there, nearer to it"
    return _edited(evidence, stop.index, (step,), at=place, branch_m=None, section_m=None)


def _along(evidence: LineEvidence, stop: Stop) -> list[tuple[str, float]]:
    """Places along a branch from its joint to the component, each with the branch that would be left from there."""
    if isinstance(evidence.topology, Blocked):
        return []
    pieces = evidence.topology.value.pieces
    piece = next((p for p in pieces if p.end == stop.tip and p.kind == "branch"), None)
    if piece is None:
        return []
    if not piece.runs:
        return [(evidence.components[stop.component].place, stop.lead_m)]
    left = [stop.lead_m]
    for run in reversed(piece.runs):
        fact = evidence.runs[run].length_m
        if isinstance(fact, Unknown):
            return []
        left.insert(0, left[0] + fact.value)
    return list(zip(piece.places, left, strict=True))


def joined_through(evidence: LineEvidence, index: int) -> Change | None:
    """Lead the trunk through a component."""
    step = f"lead the trunk through {evidence.line.stations[index].port} instead of branching"
    return _edited(evidence, index, (step,), at="", branch_m=None, section_m=None)


def at_an_end(evidence: LineEvidence, index: int, *, first: bool) -> Change | None:
    """Make a station the first or last of the trunk, joined through, and terminate the ends that result."""
    moved = replace(evidence.line.stations[index], at="", branch_m=None, section_m=None, via=())
    rest = without(evidence, evidence.line.stations, index)
    step = f"lead the trunk so that {moved.port} is its {'first' if first else 'last'} station"
    if first:
        rest = (replace(rest[0], section_m=None, via=()), *rest[1:])
        # A plug-in terminator that was the end stays the end only if the moved station needs one.
        if not rest[0].port:
            rest = without(evidence, rest, 0)
    elif not rest[-1].port:
        rest = rest[:-1]
    then = terminated(evidence, (moved, *rest) if first else (*rest, moved))
    return None if then is None else _change(evidence, (then[0], (step, *then[1])))


def termination_kind(evidence: LineEvidence, address: str) -> str:
    """What a port's manual says of its termination: none, fixed, switchable, or unknown."""
    fact = port_of(evidence.components, address).termination
    return "unknown" if isinstance(fact, Unknown) else str(fact.value)


def _edited(evidence: LineEvidence, index: int, steps: Steps, **values: str | None) -> Change | None:
    """One station with other values. Where its joint moves, the measured section behind it holds no more."""
    stations = list(evidence.line.stations)
    stations[index] = replace(stations[index], **values)  # type: ignore[arg-type]  # names are fields of Station
    if "at" in values and index + 1 < len(stations):
        stations[index + 1] = replace(stations[index + 1], section_m=None)
    return _change(evidence, (tuple(stations), steps))


def _change(evidence: LineEvidence, done: tuple[Stations, Steps] | None) -> Change | None:
    """The smallest edits that lead to the stations: single stations where none comes or goes."""
    if done is None or done[0] == evidence.line.stations:
        return None
    stations, steps = done
    title = "; ".join(steps)
    title = title[:1].upper() + title[1:]
    old = evidence.line.stations
    if len(old) != len(stations):
        return Change(title, (Edit((*evidence.path, "stations"), stations),))
    pairs = enumerate(zip(old, stations, strict=True))
    return Change(title, tuple(Edit(evidence.station(i), new) for i, (was, new) in pairs if was != new))
