"""Terminations: how many, where, of which resistance, and what the meter reads."""

from collections.abc import Iterator
from dataclasses import replace

from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.model.component import Component, Port
from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.solve.topology import LineTopology, Stop, port_of, termination_of
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Known, Source, Unknown
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

_BOTH_ENDS = Source("SAE J1939-11, as quoted in an Allison installation drawing (2005)", "120 ohm at both ends")
_SERVICE = Source(
    "Mack service literature", "terminating resistors: each 110..130 ohm, both together 50..70 ohm, never more than two"
)

TWO = Limit(2.0, Bound.EXACTLY, Kind.COUNT, _SERVICE, Standing.SEEN)
AT_ENDS = Limit(0.0, Bound.AT_MOST, Kind.LENGTH, _BOTH_ENDS, Standing.SECONDARY)
EACH = Limit(110.0, Bound.BETWEEN, Kind.RESISTANCE, _SERVICE, Standing.SEEN, high=130.0)
TOGETHER = Limit(50.0, Bound.BETWEEN, Kind.RESISTANCE, _SERVICE, Standing.SEEN, high=70.0)

PLUG_IN = Known(120.0, 118.8, 121.2)
"""A plug-in terminator of 1 %, as proposed where an end has none."""


def two_terminations(evidence: LineEvidence) -> Iterator[Reading]:
    """Count the terminations that are on."""
    count, unsure = 0, []
    for station in evidence.line.stations:
        state = _state(evidence, station)
        count += state == "on"
        if state == "unknown":
            unsure.append(_port_path(station.port, "termination"))
    if not evidence.line.stations:
        return
    blocked = () if count > 2 else tuple(unsure)
    yield Reading(
        evidence.path,
        None if blocked else float(count),
        TWO,
        (("on", tuple(_name(s, i) for i, s in enumerate(evidence.line.stations) if _state(evidence, s) == "on")),),
        change=end_terminations(evidence),
        blocked_by=blocked,
        line=evidence.name,
    )


def terminations_at_ends(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure the trunk cable that runs on past the outermost terminations."""
    if isinstance(evidence.topology, Blocked):
        return
    wired = evidence.topology.value
    if _is_ring(wired):
        return
    on = [stop for stop in wired.stops if stop.termination == "on"]
    ends = []
    if len(on) >= 2:
        ends = [(on[0], "first"), (on[-1], "last")]
    elif len(on) == 1 and len(wired.stops) > 1:
        nearer = "first" if beyond_m(wired, on[0], "first") <= beyond_m(wired, on[0], "last") else "last"
        ends = [(on[0], nearer)]
    for stop, end in ends:
        yield Reading(
            evidence.station(stop.index),
            beyond_m(wired, stop, end),
            AT_ENDS,
            (("stop", stop_name(stop)), ("end", end), ("place", stop.joint_place)),
            change=end_terminations(evidence),
            line=evidence.name,
            assumed=evidence.topology.assumed,
        )


def fixed_terminator_mid_trunk(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure how far each termination that cannot be switched off stands from the nearer end of the trunk."""
    if isinstance(evidence.topology, Blocked):
        return
    wired = evidence.topology.value
    for stop in () if _is_ring(wired) else wired.stops:
        if not stop.port or stop.termination != "on" or not _is_fixed(evidence.components, stop.port):
            continue
        yield Reading(
            evidence.station(stop.index),
            min(beyond_m(wired, stop, "first"), beyond_m(wired, stop, "last")),
            AT_ENDS,
            (("stop", stop_name(stop)), ("place", stop.joint_place)),
            line=evidence.name,
            assumed=evidence.topology.assumed,
        )


def terminator_value(evidence: LineEvidence) -> Iterator[Reading]:
    """Read the resistance of every termination that is on."""
    for index, station in enumerate(evidence.line.stations):
        port = _port(evidence, station)
        state, ohm = termination_of(station, port)
        if state != "on" or ohm is None:
            continue
        where = (
            _port_path(station.port, "termination_ohm")
            if station.port
            else (*evidence.station(index), "terminator_ohm")
        )
        unknown = isinstance(ohm, Unknown)
        yield Reading(
            evidence.station(index),
            None if isinstance(ohm, Unknown) else ohm.value,
            EACH,
            (("stop", _name(station, index)),),
            blocked_by=(where,) if unknown else (),
            line=evidence.name,
        )


def line_resistance(evidence: LineEvidence) -> Iterator[Reading]:
    """Find the connector whose expected ohm-meter reading lies farthest out."""
    if not evidence.line.stations:
        return
    if isinstance(evidence.ohms, Blocked):
        yield Reading(evidence.path, None, TOGETHER, blocked_by=evidence.ohms.by, line=evidence.name)
        return
    middle = (TOGETHER.value + (TOGETHER.high or 0.0)) / 2.0
    worst = max(evidence.ohms.value.stops, key=lambda stop: abs(stop.ohm - middle))
    yield Reading(
        evidence.path,
        worst.ohm,
        TOGETHER,
        (
            ("stop", _name(evidence.line.stations[worst.stop], worst.stop)),
            ("low_ohm", worst.low_ohm),
            ("high_ohm", worst.high_ohm),
        ),
        change=end_terminations(evidence),
        line=evidence.name,
        assumed=evidence.ohms.assumed,
    )


def beyond_m(wired: LineTopology, stop: Stop, end: str) -> float:
    """Trunk cable between a stop and one end of the trunk, in metres; 0 at an end station itself."""
    last = max(other.index for other in wired.stops)
    if (end == "first" and stop.index == 0) or (end == "last" and stop.index == last):
        return 0.0
    return stop.distance_m if end == "first" else max(wired.trunk_m - stop.distance_m, 0.0)


def end_terminations(evidence: LineEvidence) -> Change | None:
    """The edit that terminates both ends and nothing between; ``None`` where a fixed one stands in the way."""
    stations = [station for station in evidence.line.stations if station.port]
    if len({station.port for station in stations}) != len(stations) or len(stations) < 2:
        return None
    states = [_termination_kind(evidence, station) for station in stations]
    if "unknown" in states or "fixed" in states[1:-1]:
        return None
    new = [replace(station, terminated=False) for station in stations]
    for end in (0, -1):
        if states[end] == "switchable":
            new[end] = replace(new[end], terminated=True)
    if states[0] == "none":
        new.insert(0, Station(terminator_ohm=PLUG_IN, at=_joint_place(evidence, stations[0])))
    if states[-1] == "none":
        new.append(Station(terminator_ohm=PLUG_IN, at=_joint_place(evidence, stations[-1])))
    if tuple(new) == evidence.line.stations:
        return None
    return Change(
        "Terminate both ends of the trunk and nothing between", (Edit((*evidence.path, "stations"), tuple(new)),)
    )


def _is_ring(wired: LineTopology) -> bool:
    """A ring has no ends; the rule about rings speaks, those about ends keep silent."""
    return any(stop.repeated for stop in wired.stops)


def stop_name(stop: Stop) -> str:
    """What people call a stop."""
    return stop.port or f"plug-in terminator {stop.index + 1}"


def _name(station: Station, index: int) -> str:
    return station.port or f"plug-in terminator {index + 1}"


def _port(evidence: LineEvidence, station: Station) -> Port | None:
    return port_of(evidence.components, station.port) if station.port else None


def _state(evidence: LineEvidence, station: Station) -> str:
    return termination_of(station, _port(evidence, station))[0]


def _termination_kind(evidence: LineEvidence, station: Station) -> str:
    fact = port_of(evidence.components, station.port).termination
    return "unknown" if isinstance(fact, Unknown) else str(fact.value)


def _is_fixed(components: Table[Component], address: str) -> bool:
    fact = port_of(components, address).termination
    return not isinstance(fact, Unknown) and fact.value == "fixed"


def _joint_place(evidence: LineEvidence, station: Station) -> str:
    return station.at or evidence.components[station.port.partition(".")[0]].place


def _port_path(address: str, field: str) -> Path:
    component, _, port = address.partition(".")
    return ("components", component, "ports", port, field)


RULES = (
    Rule("two-terminations", "Exactly two terminations", two_terminations),
    Rule("terminations-at-ends", "Terminations at the ends of the trunk", terminations_at_ends),
    Rule("fixed-terminator-mid-trunk", "No fixed termination inside the trunk", fixed_terminator_mid_trunk),
    Rule("terminator-value", "Resistance of each termination", terminator_value),
    Rule("line-resistance", "Ohm-meter reading between the wires", line_resistance),
)
