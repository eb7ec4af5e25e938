"""Whether everybody on a line can speak together: bit rate, identifiers, frames, protocol; controller, plug, way."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.solve.topology import port_of
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Assumed, Fact, Known, Source, Unknown
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

_PRACTICE = Source("common practice", "every node of a line uses the same bit rate, frames and protocol")


def _demand(place: str, bound: Bound = Bound.EXACTLY, value: float = 1.0) -> Limit:
    return Limit(value, bound, Kind.COUNT, Source("common practice", place), Standing.PRACTICE)


ONE_RATE = _demand("all nodes of a line run at one bit rate")
ONE_WIDTH = _demand("nodes understand the identifier width in use")
ONE_FRAME = _demand("a classical node disturbs FD frames")
ONE_PROTOCOL = _demand("nodes speak the line's protocol")
A_CONTROLLER = _demand("each line has a controller or gateway on it")
A_PLUG = _demand("each line can be reached with a laptop", Bound.AT_LEAST)
A_WAY = _demand("cable can only be laid where there is a way for it")
NO_RING = Limit(
    0.0,
    Bound.EXACTLY,
    Kind.COUNT,
    Source("Analog Devices MAX33011E data sheet", "star, ring or tree should never be used"),
    Standing.SEEN,
)
NOTHING_OPEN = Limit(
    0.0, Bound.EXACTLY, Kind.COUNT, Source("this program", "no analysis guesses a fact"), Standing.COMPUTED
)


def _speakers(evidence: LineEvidence) -> Iterator[tuple[int, str]]:
    """Stations whose port says something of its own; a service plug is bare contacts."""
    seen = set()
    for index, station in enumerate(evidence.line.stations):
        if station.port and station.port not in seen:
            seen.add(station.port)
            if evidence.components[station.port.partition(".")[0]].role != "service plug":
                yield index, station.port


def _port_path(address: str, field: str) -> Path:
    component, _, port = address.partition(".")
    return ("components", component, "ports", port, field)


def _matching(
    evidence: LineEvidence,
    wanted: Fact[Any],
    field: str,
    line_field: str,
    limit: Limit,
    fits: Any,
    change: Change | None = None,
) -> Iterator[Reading]:
    """One reading a port: 1 where it fits what the line wants, 0 where not."""
    for index, address in _speakers(evidence):
        fact = getattr(port_of(evidence.components, address), field)
        blocked: list[Path] = []
        if isinstance(wanted, Unknown):
            blocked.append((*evidence.path, line_field))
        if isinstance(fact, Unknown):
            blocked.append(_port_path(address, field))
        if blocked:
            yield Reading(
                evidence.station(index),
                None,
                limit,
                (("port", address),),
                blocked_by=tuple(blocked),
                line=evidence.name,
            )
            continue
        assert not isinstance(wanted, Unknown)
        assert not isinstance(fact, Unknown)
        yield Reading(
            evidence.station(index),
            float(fits(wanted.value, fact.value)),
            limit,
            (("port", address), ("line_has", wanted.value), ("port_has", fact.value)),
            change=change,
            line=evidence.name,
            assumed=(_port_path(address, field),) if isinstance(fact, Assumed) else (),
        )


def bit_rate_match(evidence: LineEvidence) -> Iterator[Reading]:
    """See of every port whether it can run at the line's bit rate."""
    rates = [port_of(evidence.components, port).bit_rates_bit_per_s for _, port in _speakers(evidence)]
    shared = (
        set.intersection(*({*fact.value} for fact in rates if not isinstance(fact, Unknown)))
        if _all_known(rates)
        else set()
    )
    change = None
    if shared:
        rate = max(shared)
        change = Change(
            "Run the line at the bit rate all can do", (Edit((*evidence.path, "bit_rate_bit_per_s"), Known(rate)),)
        )
    return _matching(
        evidence, evidence.line.bit_rate_bit_per_s, "bit_rates_bit_per_s", "bit_rate_bit_per_s", ONE_RATE,
        lambda rate, able: rate in able, change,
    )  # fmt: skip


def _all_known(facts: list[Any]) -> bool:
    return bool(facts) and not any(isinstance(fact, Unknown) for fact in facts)


def identifier_match(evidence: LineEvidence) -> Iterator[Reading]:
    """See of every port whether it understands the identifier width in use."""
    return _matching(
        evidence, evidence.line.identifiers, "identifiers", "identifiers", ONE_WIDTH,
        lambda line, port: line == "both" or port in (line, "both"),
    )  # fmt: skip


def frames_match(evidence: LineEvidence) -> Iterator[Reading]:
    """See of every port whether it bears the line's frames."""
    return _matching(
        evidence, Known(evidence.line.frames), "frames", "frames", ONE_FRAME, lambda line, port: port in (line, "both")
    )


def protocol_match(evidence: LineEvidence) -> Iterator[Reading]:
    """See of every port whether it speaks the line's protocol."""
    return _matching(
        evidence, Known(evidence.line.protocol), "protocols", "protocol", ONE_PROTOCOL, lambda line, port: line in port
    )


def station_once(evidence: LineEvidence) -> Iterator[Reading]:
    """Count the times the trunk returns to a station it has already visited."""
    ports = [station.port for station in evidence.line.stations]
    again = [index for index, port in enumerate(ports) if port and port in ports[:index]]
    kept = tuple(station for index, station in enumerate(evidence.line.stations) if index not in again)
    cut = Change("Cut the ring open", (Edit((*evidence.path, "stations"), kept),)) if again else None
    subject = evidence.station(again[0]) if again else evidence.path
    yield Reading(
        subject,
        float(len(again)),
        NO_RING,
        (("ports", tuple(ports[i] for i in again)),),
        change=cut,
        line=evidence.name,
    )


def line_has_controller(evidence: LineEvidence) -> Iterator[Reading]:
    """See whether the line names a controller port and that port is one of its stations."""
    on_it = evidence.line.controller in {station.port for station in evidence.line.stations if station.port}
    yield Reading(
        evidence.path, float(on_it), A_CONTROLLER, (("controller", evidence.line.controller),), line=evidence.name
    )


def service_plug(evidence: LineEvidence) -> Iterator[Reading]:
    """Count the service plugs on the line."""
    plugs = {
        station.port
        for station in evidence.line.stations
        if station.port and evidence.components[station.port.partition(".")[0]].role == "service plug"
    }
    yield Reading(evidence.path, float(len(plugs)), A_PLUG, line=evidence.name)


def way_exists(evidence: LineEvidence) -> Iterator[Reading]:
    """See whether runs join every station to the one before it and every branch to its component."""
    blocked = evidence.topology.by if isinstance(evidence.topology, Blocked) else ()
    torn = [path for path in blocked if path[2:3] == ("stations",)]
    for path in torn:
        station = evidence.line.stations[int(path[3])]
        because = (("stop", station.port or "plug-in terminator"), ("at", station.at))
        shorter = replace(station, via=())
        change = Change("Let the trunk take the shortest way", (Edit(path, shorter),)) if station.via else None
        yield Reading(path, 0.0, A_WAY, because, change=change, line=evidence.name)
    if not torn:
        yield Reading(evidence.path, 1.0, A_WAY, line=evidence.name)


def facts_known(evidence: LineEvidence) -> Iterator[Reading]:
    """List every fact that keeps this line from being judged in full."""
    own = ("bit_rate_bit_per_s", "identifiers")
    open_paths: list[Path] = [
        (*evidence.path, field) for field in own if isinstance(getattr(evidence.line, field), Unknown)
    ]
    for _, address in _speakers(evidence):
        port = port_of(evidence.components, address)
        open_paths += [
            _port_path(address, field)
            for field in ("bit_rates_bit_per_s", "identifiers", "frames", "protocols", "termination")
            if isinstance(getattr(port, field), Unknown)
        ]
    for answer in (evidence.topology, evidence.ohms):
        if isinstance(answer, Blocked):
            open_paths += [path for path in answer.by if path[2:3] != ("stations",)]
    for path in dict.fromkeys(open_paths):
        yield Reading(path, None, NOTHING_OPEN, (("fact", path),), blocked_by=(path,), line=evidence.name)
    if not open_paths:
        yield Reading(evidence.path, 0.0, NOTHING_OPEN, line=evidence.name)


RULES = (
    Rule("way-exists", "A way along the runs for every piece", way_exists),
    Rule("station-once", "No ring", station_once),
    Rule("bit-rate-match", "Every port can run at the line's bit rate", bit_rate_match),
    Rule("identifier-match", "Every port understands the identifier width", identifier_match),
    Rule("frames-match", "Every port bears the line's frames", frames_match),
    Rule("protocol-match", "Every port speaks the line's protocol", protocol_match),
    Rule("line-has-controller", "A controller or gateway on the line", line_has_controller),
    Rule("service-plug", "A service plug on the line", service_plug),
    Rule("facts-known", "Every fact that is needed is known", facts_known),
)
