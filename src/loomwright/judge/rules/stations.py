"""Who is on a line, whether the trunk can get to them, and whether enough is known of them."""

from collections.abc import Iterator
from dataclasses import replace

from loomwright.judge.cures import open_ring
from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.judge.rules.governing import facts_only
from loomwright.judge.rules.matching import FD, PASSIVE, data_speakers, speakers
from loomwright.solve.reach import FORWARDING_ROLES
from loomwright.solve.topology import port_of
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Source, Unknown
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind


def _demand(place: str, bound: Bound = Bound.EXACTLY) -> Limit:
    return Limit(1.0, bound, Kind.COUNT, Source("common practice", place), Standing.PRACTICE)


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
ASKED_OF_LINE = ("bit_rate_bit_per_s", "identifiers")
ASKED_OF_PORT = ("bit_rates_bit_per_s", "identifiers", "frames", "protocols", "termination")


def way_exists(evidence: LineEvidence) -> Iterator[Reading]:
    """See whether runs join every station to the one before it and every branch to its component."""
    blocked = evidence.topology.by if isinstance(evidence.topology, Blocked) else ()
    torn = [path for path in blocked if not facts_only((path,))]
    for path in torn:
        station = evidence.line.stations[int(path[3])]
        because = (("stop", station.port or "plug-in terminator"), ("at", station.at))
        shorter = replace(station, via=())
        change = Change("Let the trunk take the shortest way", (Edit(path, shorter),)) if station.via else None
        yield Reading(path, 0.0, A_WAY, because, change=change, line=evidence.name)
    if not torn:
        yield Reading(evidence.path, 1.0, A_WAY, line=evidence.name)


def station_once(evidence: LineEvidence) -> Iterator[Reading]:
    """Count the times the trunk returns to a station it has already visited."""
    ports = [station.port for station in evidence.line.stations]
    again = [index for index, port in enumerate(ports) if port and port in ports[:index]]
    yield Reading(
        evidence.station(again[0]) if again else evidence.path,
        float(len(again)),
        NO_RING,
        (("ports", tuple(ports[i] for i in again)),),
        change=open_ring(evidence),
        line=evidence.name,
    )


def line_has_controller(evidence: LineEvidence) -> Iterator[Reading]:
    """See whether the line names a controller port and that port is one of its stations."""
    on_it = {station.port: station.port.partition(".")[0] for station in evidence.line.stations if station.port}
    able = [port for port, name in on_it.items() if evidence.components[name].role in FORWARDING_ROLES]
    change = None
    if len(able) == 1:
        change = Change(f"Name {able[0]} as its controller", (Edit((*evidence.path, "controller"), able[0]),))
    yield Reading(
        evidence.path,
        float(evidence.line.controller in on_it),
        A_CONTROLLER,
        (("controller", evidence.line.controller),),
        change=change,
        line=evidence.name,
    )


def service_plug(evidence: LineEvidence) -> Iterator[Reading]:
    """Count the service plugs on the line."""
    plugs = {
        station.port
        for station in evidence.line.stations
        if station.port and evidence.components[station.port.partition(".")[0]].role == PASSIVE
    }
    yield Reading(evidence.path, float(len(plugs)), A_PLUG, line=evidence.name)


def facts_known(evidence: LineEvidence) -> Iterator[Reading]:
    """List every fact that keeps this line from being judged in full, one reading each."""
    line = evidence.line
    waited: list[Path] = [
        (*evidence.path, field) for field in ASKED_OF_LINE if isinstance(getattr(line, field), Unknown)
    ]
    for _, address in speakers(evidence):
        port = port_of(evidence.components, address)
        waited += [
            evidence.port_fact(address, field) for field in ASKED_OF_PORT if isinstance(getattr(port, field), Unknown)
        ]
    waited += _data_phase(evidence)
    for answer in (evidence.topology, evidence.ohms):
        if isinstance(answer, Blocked):
            waited += facts_only(answer.by)
    for path in dict.fromkeys(waited):
        yield Reading(path, None, NOTHING_OPEN, (("fact", path),), blocked_by=(path,), line=evidence.name)
    if not waited:
        yield Reading(evidence.path, 0.0, NOTHING_OPEN, line=evidence.name)


def _data_phase(evidence: LineEvidence) -> Iterator[Path]:
    """What is open of the data phase; a classical line has none, and nobody is asked for it."""
    if evidence.line.frames == FD and isinstance(evidence.line.data_bit_rate_bit_per_s, Unknown):
        yield (*evidence.path, "data_bit_rate_bit_per_s")
    for _, address in data_speakers(evidence):
        if isinstance(port_of(evidence.components, address).data_bit_rates_bit_per_s or Unknown(), Unknown):
            yield evidence.port_fact(address, "data_bit_rates_bit_per_s")


RULES = (
    Rule("way-exists", "A way along the runs for every piece", way_exists),
    Rule("station-once", "No ring", station_once),
    Rule("line-has-controller", "A controller or gateway on the line", line_has_controller),
    Rule("service-plug", "A service plug on the line", service_plug),
    Rule("facts-known", "Every fact that is needed is known", facts_known),
)
