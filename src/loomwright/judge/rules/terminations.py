"""Terminations: how many, where, of which resistance, and what the meter reads."""

from collections.abc import Iterator

from loomwright.judge.cures import PLUG_IN, at_an_end, end_terminations, right_plug_ins, termination_kind
from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.judge.rules.governing import facts_only
from loomwright.model.line import Station
from loomwright.solve.topology import LineTopology, Stop, port_of, termination_of
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Assumed, Source, Unknown
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

OPEN_OHM = 1e9
"""What stands for an open circuit: beyond every meter's range."""


def two_terminations(evidence: LineEvidence) -> Iterator[Reading]:
    """Count the terminations that are on; one that the trunk comes back to is counted once."""
    states: dict[str, str] = {}
    for index, station in enumerate(evidence.line.stations):
        name = _name(station, index)
        states[name] = "on" if states.get(name) == "on" else _state(evidence, station)
    if not states:
        return
    on = tuple(name for name, state in states.items() if state == "on")
    unsure = tuple(evidence.port_fact(name, "termination") for name, state in states.items() if state == "unknown")
    blocked = () if len(on) > TWO.value else unsure
    yield Reading(
        evidence.path,
        None if blocked else float(len(on)),
        TWO,
        (("on", on),),
        change=end_terminations(evidence),
        blocked_by=blocked,
        line=evidence.name,
        assumed=tuple(path for station in evidence.line.stations for path in _assumed_state(evidence, station)),
    )


def terminations_at_ends(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure the trunk cable that runs on past the outermost terminations."""
    if isinstance(evidence.topology, Blocked):
        yield from _waiting(evidence)
        return
    wired = evidence.topology.value
    if _is_ring(wired):
        return
    on = [stop for stop in wired.stops if stop.termination == "on"]
    ends = []
    if len(on) >= 2:
        ends = [(on[0], "first"), (on[-1], "last")]
    elif on:
        nearer = "first" if beyond_m(wired, on[0], "first") <= beyond_m(wired, on[0], "last") else "last"
        ends = [(on[0], nearer)]
    for stop, end in ends:
        outside = wired.stops[: stop.index] if end == "first" else wired.stops[stop.index + 1 :]
        unsure = tuple(evidence.port_fact(o.port, "termination") for o in outside if o.termination == "unknown")
        yield Reading(
            evidence.station(stop.index),
            None if unsure else beyond_m(wired, stop, end),
            AT_ENDS,
            (
                ("stop", _name(evidence.line.stations[stop.index], stop.index)),
                ("end", end),
                ("place", stop.joint_place),
            ),
            change=end_terminations(evidence) or _moved_to(evidence, stop, end),
            blocked_by=unsure,
            line=evidence.name,
            assumed=evidence.topology.assumed,
        )


def fixed_terminator_mid_trunk(evidence: LineEvidence) -> Iterator[Reading]:
    """Measure how far each termination that cannot be switched off stands from the nearer end of the trunk."""
    if isinstance(evidence.topology, Blocked):
        return
    wired = evidence.topology.value
    for stop in () if _is_ring(wired) else wired.stops:
        if not stop.port or termination_kind(evidence, stop.port) != "fixed":
            continue
        first_m, last_m = (beyond_m(wired, stop, end) for end in ("first", "last"))
        yield Reading(
            evidence.station(stop.index),
            min(first_m, last_m),
            AT_ENDS,
            (("stop", stop.port), ("place", stop.joint_place)),
            change=at_an_end(evidence, stop.index, first=first_m <= last_m),
            line=evidence.name,
            assumed=evidence.topology.assumed,
        )


def terminator_value(evidence: LineEvidence) -> Iterator[Reading]:
    """Read the resistance of every termination that is on."""
    for index, station in enumerate(evidence.line.stations):
        again = station.port and any(other.port == station.port for other in evidence.line.stations[:index])
        state, ohm = termination_of(station, port_of(evidence.components, station.port) if station.port else None)
        if state != "on" or ohm is None or again:
            continue
        where: Path = (*evidence.station(index), "terminator_ohm")
        change = None
        if station.port:
            where = evidence.port_fact(station.port, "termination_ohm")
        else:
            change = Change(f"Plug in a terminator of 120 ohm instead at {station.at}", (Edit(where, PLUG_IN),))
        unknown = isinstance(ohm, Unknown)
        yield Reading(
            evidence.station(index),
            None if isinstance(ohm, Unknown) else ohm.value,
            EACH,
            (("stop", _name(station, index)),),
            change=change,
            blocked_by=(where,) if unknown else (),
            line=evidence.name,
            assumed=(where,) if isinstance(ohm, Assumed) else (),
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
        min(worst.ohm, OPEN_OHM),
        TOGETHER,
        (
            ("stop", _name(evidence.line.stations[worst.stop], worst.stop)),
            ("low_ohm", min(worst.low_ohm, OPEN_OHM)),
            ("high_ohm", min(worst.high_ohm, OPEN_OHM)),
        ),
        change=end_terminations(evidence) or right_plug_ins(evidence, EACH.value, EACH.high or EACH.value),
        line=evidence.name,
        assumed=evidence.ohms.assumed,
    )


def beyond_m(wired: LineTopology, stop: Stop, end: str) -> float:
    """Trunk cable between a stop and one end of the trunk, in metres; 0 at an end station itself."""
    return stop.distance_m if end == "first" else max(wired.trunk_m - stop.distance_m, 0.0)


def _waiting(evidence: LineEvidence) -> Iterator[Reading]:
    """Say that the ends cannot be judged, unless both are certain without a single length."""
    assert isinstance(evidence.topology, Blocked)
    facts = facts_only(evidence.topology.by)
    stations = evidence.line.stations
    if facts and not all(_state(evidence, station) == "on" for station in (stations[0], stations[-1])):
        yield Reading(evidence.path, None, AT_ENDS, blocked_by=facts, line=evidence.name)


def _moved_to(evidence: LineEvidence, stop: Stop, end: str) -> Change | None:
    """Lead the trunk so that a fixed termination comes to stand at its end."""
    fixed = stop.port and termination_kind(evidence, stop.port) == "fixed"
    return at_an_end(evidence, stop.index, first=end == "first") if fixed else None


def _is_ring(wired: LineTopology) -> bool:
    """A ring has no ends to speak of; the rule station-once tells it."""
    return any(stop.repeated for stop in wired.stops)


def _name(station: Station, index: int) -> str:
    return station.port or f"plug-in terminator {index + 1}"


def _state(evidence: LineEvidence, station: Station) -> str:
    return termination_of(station, port_of(evidence.components, station.port) if station.port else None)[0]


def _assumed_state(evidence: LineEvidence, station: Station) -> tuple[Path, ...]:
    """The port's termination, where it is only assumed."""
    if not station.port or not isinstance(port_of(evidence.components, station.port).termination, Assumed):
        return ()
    return (evidence.port_fact(station.port, "termination"),)


RULES = (
    Rule("two-terminations", "Exactly two terminations", two_terminations),
    Rule("terminations-at-ends", "Terminations at the ends of the trunk", terminations_at_ends),
    Rule("fixed-terminator-mid-trunk", "No fixed termination inside the trunk", fixed_terminator_mid_trunk),
    Rule("terminator-value", "Resistance of each termination", terminator_value),
    Rule("line-resistance", "Ohm-meter reading between the wires", line_resistance),
)
