"""Rules of the whole vehicle: ports and lines, reach, runs, locks."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from loomwright.judge.cures import at_an_end, joined_through
from loomwright.judge.evidence import LineEvidence, VehicleEvidence
from loomwright.judge.placing import put_on_a_line, take_off_a_line
from loomwright.judge.rule import Rule
from loomwright.model.vehicle import Lock
from loomwright.solve.topology import port_of
from loomwright.solve.ways import run_ways, straight_m
from loomwright.terms.change import Change, Path
from loomwright.terms.fact import Assumed, Source, Unknown, bounds_of
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

_PRACTICE = "common practice"
ON_A_LINE = Limit(
    1.0, Bound.AT_LEAST, Kind.COUNT, Source(_PRACTICE, "a port that is needed is on a line"), Standing.PRACTICE
)
ON_ONE_LINE = Limit(
    1.0, Bound.AT_MOST, Kind.COUNT, Source(_PRACTICE, "one port cannot join two lines"), Standing.PRACTICE
)
HEARD = Limit(
    1.0, Bound.AT_LEAST, Kind.COUNT, Source(_PRACTICE, "a vehicle controller hears every component"), Standing.PRACTICE
)
KEPT = Limit(1.0, Bound.AT_LEAST, Kind.COUNT, Source("this project's locks", "decisions to keep"), Standing.PRACTICE)


MOST_LEFT_OUT = 3
"""With more ports on no line the vehicle is not wired yet: that is for the planner, not for a cure port by port."""
ROUNDING_M = 0.01
"""Places and lengths are written to the centimetre."""


def port_on_a_line(evidence: VehicleEvidence) -> Iterator[Reading]:
    """Count the lines that each needed port is on."""
    needed = [
        (address, lines)
        for address, lines in evidence.reach.on_lines
        if port_of(evidence.vehicle.components, address).needed
    ]
    left_out = [address for address, lines in needed if not lines]
    net = run_ways(evidence.vehicle.places, evidence.vehicle.runs) if 0 < len(left_out) <= MOST_LEFT_OUT else None
    for address, lines in needed:
        change = put_on_a_line(evidence, address, net) if net is not None and not lines else None
        yield Reading(
            _port(address), float(len(lines)), ON_A_LINE, (("port", address), ("lines", lines)), change=change
        )


def port_on_one_line(evidence: VehicleEvidence) -> Iterator[Reading]:
    """Count the lines of each port that is on any."""
    for address, lines in evidence.reach.on_lines:
        if lines:
            because = (("port", address), ("lines", lines))
            yield Reading(
                _port(address),
                float(len(lines)),
                ON_ONE_LINE,
                because,
                change=take_off_a_line(evidence, address, lines),
            )


def controller_reached(evidence: VehicleEvidence) -> Iterator[Reading]:
    """See of every component that is on a line whether a vehicle controller hears it."""
    on_some = {address.partition(".")[0] for address, lines in evidence.reach.on_lines if lines}
    for name in sorted(on_some):
        reached = name not in evidence.reach.unreached
        yield Reading(
            ("components", name), float(reached), HEARD, (("component", name), ("dark", evidence.reach.dark_lines))
        )


def run_length(evidence: VehicleEvidence) -> Iterator[Reading]:
    """Hold every run's length against the straight distance of its places.

    A place at height 0 gives no height: nothing is mounted on the ground. Then the distance is the one seen from above.
    """
    for name, run in evidence.vehicle.runs.items():
        if isinstance(run.length_m, Unknown):
            continue
        start, end = evidence.vehicle.places[run.start], evidence.vehicle.places[run.end]
        if 0.0 in (start.z_m, end.z_m):
            start, end = replace(start, z_m=0.0), replace(end, z_m=0.0)
        limit = Limit(
            max(straight_m(start, end) - ROUNDING_M, 0.0),
            Bound.AT_LEAST,
            Kind.LENGTH,
            Source("geometry", "no cable is shorter than a straight line; a centimetre allowed for rounding"),
            Standing.COMPUTED,
        )
        _, _, longest_m = bounds_of(run.length_m)
        path: Path = ("runs", name, "length_m")
        yield Reading(
            ("runs", name),
            longest_m,
            limit,
            (("from", run.start), ("to", run.end)),
            assumed=(path,) if isinstance(run.length_m, Assumed) else (),
        )


def lock_kept(evidence: VehicleEvidence) -> Iterator[Reading]:
    """See of every lock whether the lines as they are keep it. A port on no line keeps all but those that ask for one."""
    on_lines = dict(evidence.reach.on_lines)
    by_name = {line.name: line for line in evidence.lines}
    for name, lock in evidence.vehicle.locks.items():
        own = [by_name[line] for line in on_lines.get(lock.port, ())]
        kept = _kept(lock, own, on_lines)
        because = (
            ("port", lock.port),
            ("must", lock.must),
            ("line", lock.line),
            ("other", lock.other),
            ("why", lock.why),
        )
        change = None if kept or len(own) != 1 else _keep(lock, own[0])
        yield Reading(("locks", name), float(kept), KEPT, because, change=change)


def _kept(lock: Lock, own: list[LineEvidence], on_lines: Mapping[str, tuple[str, ...]]) -> bool:
    names = {line.name for line in own}
    if lock.must == "be on line":
        return lock.line in names
    if lock.must == "share a line with":
        return bool(names & {*on_lines.get(lock.other, ())})
    if lock.must == "not share a line with":
        return not names & {*on_lines.get(lock.other, ())}
    return all(_stands(lock, line) for line in own)


def _stands(lock: Lock, evidence: LineEvidence) -> bool:
    """Whether the port is at an end of the line, or joined through, as its lock demands."""
    if lock.must == "be at an end":
        ports = [station.port for station in evidence.line.stations if station.port]
        return lock.port in (ports[0], ports[-1])
    place = evidence.components[lock.port.partition(".")[0]].place
    return all(
        evidence.joint_place(station) == place for station in evidence.line.stations if station.port == lock.port
    )


def _keep(lock: Lock, evidence: LineEvidence) -> Change | None:
    """The edit that keeps a lock on the line where its port is."""
    index = next(i for i, station in enumerate(evidence.line.stations) if station.port == lock.port)
    if lock.must == "be joined through":
        return joined_through(evidence, index)
    if lock.must == "be at an end":
        return at_an_end(evidence, index, first=index < len(evidence.line.stations) / 2)
    return None


def _port(address: str) -> Path:
    component, _, port = address.partition(".")
    return ("components", component, "ports", port)


RULES = (
    Rule("port-on-a-line", "Every needed port is on a line", port_on_a_line),
    Rule("port-on-one-line", "No port is on two lines", port_on_one_line),
    Rule("controller-reached", "A vehicle controller hears every component", controller_reached),
    Rule("run-length", "No run is shorter than a straight line", run_length, tight_share=0.0),
    Rule("lock-kept", "Every lock is kept", lock_kept),
)
