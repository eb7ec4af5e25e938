"""Rules of the whole vehicle: ports and lines, reach, runs, locks."""

from collections.abc import Iterator, Mapping

from loomwright.judge.evidence import LineEvidence, VehicleEvidence
from loomwright.judge.rule import Rule
from loomwright.model.vehicle import Lock
from loomwright.solve.ways import straight_m
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Source, Unknown
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


def port_on_a_line(evidence: VehicleEvidence) -> Iterator[Reading]:
    """Count the lines that each needed port is on."""
    for address, lines in evidence.reach.on_lines:
        component, _, port = address.partition(".")
        if evidence.vehicle.components[component].ports[port].needed:
            subject: Path = ("components", component, "ports", port)
            yield Reading(subject, float(len(lines)), ON_A_LINE, (("port", address), ("lines", lines)))


def port_on_one_line(evidence: VehicleEvidence) -> Iterator[Reading]:
    """Count the lines of each port that is on any."""
    for address, lines in evidence.reach.on_lines:
        if lines:
            component, _, port = address.partition(".")
            subject: Path = ("components", component, "ports", port)
            yield Reading(subject, float(len(lines)), ON_ONE_LINE, (("port", address), ("lines", lines)))


def controller_reached(evidence: VehicleEvidence) -> Iterator[Reading]:
    """See of every component that is on a line whether a vehicle controller hears it."""
    on_some = {address.partition(".")[0] for address, lines in evidence.reach.on_lines if lines}
    for name in sorted(on_some):
        reached = name not in evidence.reach.unreached
        yield Reading(
            ("components", name), float(reached), HEARD, (("component", name), ("dark", evidence.reach.dark_lines))
        )


def run_length(evidence: VehicleEvidence) -> Iterator[Reading]:
    """Hold every run's length against the straight distance of its places."""
    for name, run in evidence.vehicle.runs.items():
        if isinstance(run.length_m, Unknown):
            continue
        straight = straight_m(evidence.vehicle.places[run.start], evidence.vehicle.places[run.end])
        limit = Limit(
            straight,
            Bound.AT_LEAST,
            Kind.LENGTH,
            Source("geometry", "no cable is shorter than a straight line"),
            Standing.COMPUTED,
        )
        path: Path = ("runs", name, "length_m")
        yield Reading(
            ("runs", name),
            run.length_m.value,
            limit,
            (("from", run.start), ("to", run.end)),
            assumed=(path,) if isinstance(run.length_m, Assumed) else (),
        )


def lock_kept(evidence: VehicleEvidence) -> Iterator[Reading]:
    """See of every lock whether the lines as they are keep it."""
    on_lines = dict(evidence.reach.on_lines)
    by_name = {line.name: line for line in evidence.lines}
    for name, lock in evidence.vehicle.locks.items():
        kept = _kept(lock, on_lines, by_name)
        because = (
            ("port", lock.port),
            ("must", lock.must),
            ("line", lock.line),
            ("other", lock.other),
            ("why", lock.why),
        )
        yield Reading(("locks", name), float(kept), KEPT, because)


def _kept(lock: Lock, on_lines: Mapping[str, tuple[str, ...]], lines: Mapping[str, LineEvidence]) -> bool:
    own = on_lines.get(lock.port, ())
    if lock.must == "be on line":
        return lock.line in own
    if lock.must == "share a line with":
        return bool({*own} & {*on_lines.get(lock.other, ())})
    if lock.must == "not share a line with":
        return not {*own} & {*on_lines.get(lock.other, ())}
    return bool(own) and all(_stands(lock, lines[name]) for name in own)


def _stands(lock: Lock, evidence: LineEvidence) -> bool:
    """Whether the port is at an end of the line, or joined through, as its lock demands."""
    ports = [station.port for station in evidence.line.stations if station.port]
    if lock.must == "be at an end":
        return lock.port in (ports[0], ports[-1])
    if isinstance(evidence.topology, Blocked):
        return False
    return all(stop.joint_place == stop.place for stop in evidence.topology.value.stops if stop.port == lock.port)


RULES = (
    Rule("port-on-a-line", "Every needed port is on a line", port_on_a_line),
    Rule("port-on-one-line", "No port is on two lines", port_on_one_line),
    Rule("controller-reached", "A vehicle controller hears every component", controller_reached),
    Rule("run-length", "No run is shorter than a straight line", run_length, tight_share=0.0),
    Rule("lock-kept", "Every lock is kept", lock_kept),
)
