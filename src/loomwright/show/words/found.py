"""What each rule found, in a sentence. A rule without one here is told from its figures."""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from loomwright.show.quantity import number
from loomwright.show.quantity import text as quantity
from loomwright.show.words.case import Case
from loomwright.show.words.found_traffic import FOUND_TRAFFIC
from loomwright.terms.quantity import Kind


def _two_terminations(case: Case) -> str:
    on = case.of("on", "")
    if not on or not case.number:
        return "No termination is on; a line needs exactly 2."
    return f"{_counted(case, 'termination')} on ({on})" + ("." if case.good else "; a line needs exactly 2.")


def _at_ends(case: Case) -> str:
    if case.good:
        return f"{case.of('stop')} terminates the {case.of('end', 'outer')} end of the trunk."
    return (
        f"{case.value} of trunk runs on past {case.of('stop')}, the outermost termination towards the "
        f"{case.of('end', 'outer')} end; nothing should."
    )


def _fixed(case: Case) -> str:
    if case.good:
        return f"{case.of('stop')}, whose termination cannot be switched off, stands at an end of the trunk."
    return f"The termination of {case.of('stop')} cannot be switched off, yet it stands {case.value} inside the trunk."


def _terminator_value(case: Case) -> str:
    return f"The termination of {case.of('stop')} has {case.value}; it should have {case.limit}."


def _line_resistance(case: Case) -> str:
    bounds = f"{case.amount('low_ohm', Kind.RESISTANCE)} to {case.amount('high_ohm', Kind.RESISTANCE)}"
    return (
        f"With everything plugged in and asleep the meter will read {case.value} ({bounds}) at {case.of('stop')}, "
        f"the connector farthest from 60 Ω; a sound line reads {case.limit}."
    )


def _covers(case: Case) -> str:
    rate = case.amount("bit_rate_bit_per_s", Kind.BIT_RATE)
    if case.good:
        return f"{case.rule_set or 'The rule set'} speaks of {rate}."
    fitting = case.of("fitting", "")
    return f"{case.rule_set or 'The rule set'} says nothing about {rate}" + (f"; {fitting} does." if fitting else ".")


def _trunk(case: Case) -> str:
    counted = ", branches counted in" if case.because.get("counted") else ""
    return f"The trunk is {case.value} long{counted}; {_set(case)} allows {case.limit}."


def _branch(case: Case) -> str:
    lead = case.because.get("lead_m")
    own = ""
    if isinstance(lead, float) and lead > 0.0:
        all_of_it = abs(lead - case.number) < 1e-9
        own = ", all of it its own lead" if all_of_it else f", {quantity(lead, Kind.LENGTH)} of it its own lead"
    return f"The branch to {case.of('component')} is {case.value} long{own}; {_set(case)} allows {case.limit}."


def _reaches(case: Case) -> str:
    name, joint = case.of("component"), case.of("joint")
    if case.good:
        return f"The branch to {name} is {case.value}; its way from {joint} needs {case.limit}."
    return f"The branch to {name} is {case.value} and cannot reach: its way along the runs from {joint} needs {case.limit}."


def _branches(case: Case) -> str:
    return f"All branches together are {case.value} long; {_set(case)} allows {case.limit}."


def _spacing(case: Case) -> str:
    before = case.of("before", "the terminator before it")
    return f"The joints of {before} and {case.of('stop')} are {case.value} apart; {_set(case)} wants {case.limit}."


def _nodes(case: Case) -> str:
    return f"{_counted(case, 'node')} on the line; {_set(case)} allows {case.limit}."


def _by_section(case: Case) -> str:
    ohm = case.amount("conductor_resistance_ohm_per_m", Kind.RESISTANCE_PER_LENGTH)
    nodes = case.of("nodes", "its")
    return f"The trunk is {case.value} long; with {ohm} of conductor and {nodes} nodes the level carries {case.limit}."


def _by_propagation(case: Case) -> str:
    segment = case.amount("propagation_segment_s", Kind.TIME)
    return (
        f"The longest branch, to {case.of('component')}, is {case.value} long; a fiftieth of the propagation segment "
        f"of {segment} allows {case.limit}."
    )


def _all_by_propagation(case: Case) -> str:
    segment = case.amount("propagation_segment_s", Kind.TIME)
    return (
        f"All branches together are {case.value} long; a tenth of the propagation segment of {segment} "
        f"allows {case.limit}."
    )


def _impedance(case: Case) -> str:
    return f"Cable {case.of('cable', 'of the line')} has an impedance of {case.value}; bus cable has {case.limit}."


def _clearance(case: Case) -> str:
    return f"Run {case.of('run')} keeps {case.value} from high-voltage cable; {case.limit} is asked."


def _way(case: Case) -> str:
    if case.good:
        return "Runs join every station and every branch."
    at = case.of("at", "")
    return f"No way along the runs leads to {case.of('stop')}" + (f" at {at}." if at else ".")


def _once(case: Case) -> str:
    if case.good:
        return "The trunk visits every station once."
    return f"The trunk comes back to {case.of('ports')}: that closes a ring, and a ring has no ends to terminate."


def _rate(case: Case) -> str:
    return _has(case, "runs at", "the line at", Kind.BIT_RATE)


def _data_rate(case: Case) -> str:
    return _has(case, "runs its data phase at", "the line at", Kind.BIT_RATE)


def _identifiers(case: Case) -> str:
    return _has(case, "uses identifiers of", "the line of", Kind.NONE)


def _frames(case: Case) -> str:
    return _has(case, "takes frames:", "the line:", Kind.NONE)


def _protocol(case: Case) -> str:
    return _has(case, "speaks", "the line", Kind.NONE)


def _has(case: Case, verb: str, line: str, kind: Kind) -> str:
    has, wants = (_listed(case.because.get(name), kind) for name in ("port_has", "line_has"))
    return f"{case.of('port')} {verb} {has}, {line} {wants}."


def _controller(case: Case) -> str:
    if case.good:
        return f"{case.of('controller')} masters the line."
    named = case.of("controller", "")
    return f"{named} is named as the controller but is no station." if named else "No controller is named for the line."


def _plug(case: Case) -> str:
    return "No service plug is on the line." if not case.good else f"{_counted(case, 'service plug')} on the line."


def _facts(case: Case) -> str:
    return "Every fact that is needed is known." if case.good else "A fact is missing."


def _on_a_line(case: Case) -> str:
    return f"{case.of('port')} is on {case.of('lines')}." if case.good else f"{case.of('port')} is on no line."


def _on_one(case: Case) -> str:
    if case.good:
        return f"{case.of('port')} is on {case.of('lines')} alone."
    return f"{case.of('port')} is claimed by {case.of('lines')} at once; one pair of pins is one line."


def _reached(case: Case) -> str:
    if case.good:
        return f"A vehicle controller hears {case.of('component')}."
    dark = case.of("dark", "")
    return f"No vehicle controller hears {case.of('component')}" + (
        f"; no gateway leads on from {dark}." if dark else "."
    )


def _run(case: Case) -> str:
    ends = f"{case.of('from')} to {case.of('to')}"
    return f"The run from {ends} is {case.value} long; a straight line between its places needs {case.limit}."


def _lock(case: Case) -> str:
    other = case.of("other", "") or case.of("line", "")
    demand = f"{case.of('port')} must {case.of('must')}" + (f" {other}" if other else "")
    why = case.of("why", "")
    return f"{demand}: {'kept' if case.good else 'not kept'}." + (f" Its reason: {why.rstrip('.')}." if why else "")


def _settling(case: Case) -> str:
    return (
        f"{case.of('port')} is sure of {_sent(case)} {case.value} after the edge, transceivers included; "
        f"until its sample point it has {case.limit}."
    )


def _sent(case: Case) -> str:
    """A sender checks its own bits too."""
    return "its own bits" if case.of("sender") == case.of("port") else f"what {case.of('sender')} sends"


def _level(case: Case) -> str:
    return f"{case.of('port')} sees at least {case.value} in a dominant bit, from {case.of('sender')}; it has to see {case.limit}."


def _there_and_back(case: Case) -> str:
    length = case.amount("length_m", Kind.LENGTH)
    return f"Over {length} of cable and back a bit takes {case.value}, transceivers included; until the sample point there is {case.limit}."


def _grounds(case: Case) -> str:
    unstated = case.of("unstated", "")
    rest = f" No ground is stated for {unstated}." if unstated else ""
    alone = "" if case.of("controller", "") else " The line names no controller: only what is stated was compared."
    between = " and ".join(case.because.get("between", ()))
    return f"The grounds of {between} lie up to {case.value} apart; {case.limit} may be between them.{alone}{rest}"


def _bit_timing(case: Case) -> str:
    point = case.because.get("sample_point")
    if case.rule_set == "CiA":
        return f"The common sample point is {case.value}; CiA recommends {case.limit}."
    untold = case.of("untold", "")
    rest = f" Nothing is told of {untold}: set them to the same sample point." if untold else ""
    rest += _exact(case)
    if case.good and isinstance(point, float):
        return f"One bit timing suits all nodes whose clock or sample point is told: sampled at {number(100.0 * point, 1)} %.{rest}"
    told = "; ".join(f"{' and '.join(nodes)}: {what}" for what, nodes, _, _ in case.because.get("obstacles", ()))
    return f"No bit timing suits all nodes. {told}.{rest}"


def _exact(case: Case) -> str:
    """What is assumed of oscillators."""
    exact = case.of("exact", "")
    return f" No tolerance is told for the oscillator of {exact}: taken as exact." if exact else ""


def _data_timing(case: Case) -> str:
    nodes = case.of("nodes", "")
    if case.rule_set == "equal quanta":
        if case.good:
            return "Both phases count in the same time quanta at every node that can be set."
        return f"The two phases count in unlike time quanta at {nodes}; each switch of bit rates costs phase."
    if case.rule_set == "compensation":
        if case.good:
            return "Every node that can be set is fine enough to compensate its own delay."
        return f"The data phase counts too coarsely to compensate its own delay at {nodes}."
    untold = case.of("untold", "")
    rest = f" Nothing is told of the data phase of {untold}: set them to the same sample point." if untold else ""
    rest += _exact(case)
    point = case.because.get("sample_point")
    if case.good and isinstance(point, float):
        return f"One timing of the data phase suits all nodes that tell of it: sampled at {number(100.0 * point, 1)} %.{rest}"
    told = "; ".join(f"{' and '.join(own)}: {what}" for what, own, _, _ in case.because.get("obstacles", ()))
    return f"No timing of the data phase suits all nodes. {told}.{rest}"


def _data_settling(case: Case) -> str:
    return (
        f"In the data phase {case.of('port')} is sure of {_sent(case)} {case.value} after the edge is "
        f"there; until its sample point it has {case.limit}."
    )


def _set(case: Case) -> str:
    return case.rule_set or "the rule set"


def _counted(case: Case, what: str) -> str:
    return f"1 {what} is" if case.number == 1.0 else f"{case.value} {what}s are"


def _listed(found: Any, kind: Kind) -> str:
    if isinstance(found, (tuple, list, frozenset)):
        return " or ".join(_listed(item, kind) for item in found) or "nothing"
    return quantity(float(found), kind) if isinstance(found, (int, float)) and kind is not Kind.NONE else str(found)


FOUND: Mapping[str, Callable[[Case], str]] = MappingProxyType(
    {
        "two-terminations": _two_terminations,
        "terminations-at-ends": _at_ends,
        "fixed-terminator-mid-trunk": _fixed,
        "terminator-value": _terminator_value,
        "line-resistance": _line_resistance,
        "rule-set-covers-rate": _covers,
        "trunk-length": _trunk,
        "branch-length": _branch,
        "branch-reaches": _reaches,
        "branches-total": _branches,
        "station-spacing": _spacing,
        "node-count": _nodes,
        "length-by-cross-section": _by_section,
        "branch-by-propagation": _by_propagation,
        "branches-by-propagation": _all_by_propagation,
        "cable-impedance": _impedance,
        "high-voltage-clearance": _clearance,
        "way-exists": _way,
        "station-once": _once,
        "bit-rate-match": _rate,
        "data-bit-rate-match": _data_rate,
        "identifier-match": _identifiers,
        "frames-match": _frames,
        "protocol-match": _protocol,
        "line-has-controller": _controller,
        "service-plug": _plug,
        "facts-known": _facts,
        "port-on-a-line": _on_a_line,
        "port-on-one-line": _on_one,
        "controller-reached": _reached,
        "run-length": _run,
        "lock-kept": _lock,
        "signal-settling": _settling,
        "signal-level": _level,
        "there-and-back": _there_and_back,
        "bit-timing": _bit_timing,
        "data-timing": _data_timing,
        "data-settling": _data_settling,
        "ground-offset": _grounds,
        **FOUND_TRAFFIC,
    }
)
