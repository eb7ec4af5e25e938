"""Whether everybody on a line can speak together: bit rates, identifier width, frames, protocol."""

from collections.abc import Callable, Iterator
from typing import Any

from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.laws.rule_sets import NOTHING, limits_of
from loomwright.model.component import FRAMES, IDENTIFIERS, PROTOCOLS, Component, Port
from loomwright.model.line import Line
from loomwright.solve.topology import port_of
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.fact import Assumed, Fact, Known, Source, Unknown
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

FD = FRAMES[1]
PASSIVE = "service plug"
"""Role of a component that is bare contacts: it says nothing of its own, so everything matches it."""


def _demand(place: str) -> Limit:
    return Limit(1.0, Bound.EXACTLY, Kind.COUNT, Source("common practice", place), Standing.PRACTICE)


ONE_RATE = _demand("all nodes of a line run at one bit rate")
ONE_DATA_RATE = _demand("all nodes of an FD line run its data phase at one bit rate")
ONE_WIDTH = _demand("nodes understand the identifier width in use")
ONE_FRAME = _demand("a classical node disturbs FD frames")
ONE_PROTOCOL = _demand("nodes speak the line's protocol")


def rate_fits(line: float, port: tuple[float, ...]) -> bool:
    """Whether a port can run at the line's bit rate."""
    return line in port


def width_fits(line: str, port: str) -> bool:
    """Whether a port's identifiers are of a width that the line uses."""
    return line == "both" or port in (line, "both")


def frames_fit(line: str, port: str) -> bool:
    """Whether a port can take part in the line's frames."""
    return port in (line, "both")


def protocol_fits(line: str, port: tuple[str, ...]) -> bool:
    """Whether a port speaks the line's protocol."""
    return line in port


def suits(line: Line, component: Component, port: Port) -> bool:
    """Whether a port can be put on a line, as far as these go.

    An open fact counts as no. On a service plug it counts as yes, for bare contacts suit any line; what is written of
    them tells which line they are kept for.
    """
    open_fits = component.role == PASSIVE
    pairs: tuple[tuple[Fact[Any], Fact[Any], Callable[[Any, Any], bool]], ...] = (
        (line.bit_rate_bit_per_s, port.bit_rates_bit_per_s, rate_fits),
        (line.identifiers, port.identifiers, width_fits),
        (Known(line.frames), port.frames, frames_fit),
        (Known(line.protocol), port.protocols, protocol_fits),
    )
    if line.frames == FD:
        pairs = (*pairs, (line.data_bit_rate_bit_per_s, port.data_bit_rates_bit_per_s or Unknown(), rate_fits))
    return all(
        open_fits if isinstance(wanted, Unknown) or isinstance(able, Unknown) else fits(wanted.value, able.value)
        for wanted, able, fits in pairs
    )


def speakers(evidence: LineEvidence) -> Iterator[tuple[int, str]]:
    """Stations whose port says something of its own, each once."""
    seen = set()
    for index, station in enumerate(evidence.line.stations):
        if station.port and station.port not in seen:
            seen.add(station.port)
            if evidence.components[station.port.partition(".")[0]].role != PASSIVE:
                yield index, station.port


def _matching(
    evidence: LineEvidence,
    wanted: Fact[Any],
    fields: tuple[str, str],
    limit: Limit,
    fits: Callable[[Any, Any], bool],
    change: Change | None,
    among: Callable[[LineEvidence], Iterator[tuple[int, str]]] = speakers,
) -> Iterator[Reading]:
    """One reading a port: 1 where it fits what the line wants, 0 where not. ``fields`` are the line's and the port's."""
    line_fact, field = (*evidence.path, fields[0]), fields[1]
    for index, address in among(evidence):
        fact: Fact[Any] = getattr(port_of(evidence.components, address), field) or Unknown()
        pairs = ((wanted, line_fact), (fact, evidence.port_fact(address, field)))
        blocked: tuple[Path, ...] = tuple(path for item, path in pairs if isinstance(item, Unknown))
        because: tuple[tuple[str, Any], ...] = (("port", address),)
        if not blocked:
            assert not isinstance(wanted, Unknown)
            assert not isinstance(fact, Unknown)
            because = (*because, ("line_has", wanted.value), ("port_has", fact.value))
        yield Reading(
            evidence.station(index),
            None if isinstance(wanted, Unknown) or isinstance(fact, Unknown) else float(fits(wanted.value, fact.value)),
            limit,
            because,
            change=change,
            blocked_by=blocked,
            line=evidence.name,
            assumed=tuple(path for item, path in pairs if isinstance(item, Assumed)),
        )


def bit_rate_match(evidence: LineEvidence) -> Iterator[Reading]:
    """See of every port whether it can run at the line's bit rate."""
    fields = ("bit_rate_bit_per_s", "bit_rates_bit_per_s")
    able = _known(evidence, fields[1])
    rates = sorted({rate for one in able for rate in one}, reverse=True)
    # The rule set has to speak of the rate, or the cure would only trade one finding for another.
    covered = [rate for rate in rates if limits_of(evidence.rule_set, rate) != NOTHING]
    change = _settle(evidence, fields, tuple(covered or rates), rate_fits, "Run the line at the bit rate all can do")
    return _matching(evidence, evidence.line.bit_rate_bit_per_s, fields, ONE_RATE, rate_fits, change)


def data_speakers(evidence: LineEvidence) -> Iterator[tuple[int, str]]:
    """Stations of an FD line whose port is known to take FD frames; none of a classical line."""
    for index, address in speakers(evidence) if evidence.line.frames == FD else ():
        frames = port_of(evidence.components, address).frames
        if not isinstance(frames, Unknown) and frames_fit(FD, frames.value):
            yield index, address


def data_bit_rate_match(evidence: LineEvidence) -> Iterator[Reading]:
    """See of every port of an FD line whether its data phase can run at the line's data bit rate."""
    fields = ("data_bit_rate_bit_per_s", "data_bit_rates_bit_per_s")
    rates = sorted({rate for one in _known(evidence, fields[1], data_speakers) for rate in one}, reverse=True)
    title = "Run the data phase at the bit rate all can do"
    change = _settle(evidence, fields, tuple(rates), rate_fits, title, among=data_speakers)
    wanted = evidence.line.data_bit_rate_bit_per_s
    return _matching(evidence, wanted, fields, ONE_DATA_RATE, rate_fits, change, data_speakers)


def identifier_match(evidence: LineEvidence) -> Iterator[Reading]:
    """See of every port whether it understands the identifier width in use."""
    fields = ("identifiers", "identifiers")
    change = _settle(evidence, fields, IDENTIFIERS[:2], width_fits, "Use the identifier width all ports use")
    return _matching(evidence, evidence.line.identifiers, fields, ONE_WIDTH, width_fits, change)


def frames_match(evidence: LineEvidence) -> Iterator[Reading]:
    """See of every port whether it bears the line's frames."""
    fields = ("frames", "frames")
    change = _settle(evidence, fields, FRAMES[:2], frames_fit, "Use frames that every port bears", fact=False)
    return _matching(evidence, Known(evidence.line.frames), fields, ONE_FRAME, frames_fit, change)


def protocol_match(evidence: LineEvidence) -> Iterator[Reading]:
    """See of every port whether it speaks the line's protocol."""
    fields = ("protocol", "protocols")
    change = _settle(evidence, fields, PROTOCOLS, protocol_fits, "Speak the protocol that every port knows", fact=False)
    return _matching(evidence, Known(evidence.line.protocol), fields, ONE_PROTOCOL, protocol_fits, change)


def _known(
    evidence: LineEvidence, field: str, among: Callable[[LineEvidence], Iterator[tuple[int, str]]] = speakers
) -> list[Any]:
    """What every port can do, as far as it is known."""
    facts = [getattr(port_of(evidence.components, address), field) for _, address in among(evidence)]
    return [fact.value for fact in facts if isinstance(fact, (Known, Assumed))]


def _settle(
    evidence: LineEvidence,
    fields: tuple[str, str],
    choices: tuple[Any, ...],
    fits: Callable[[Any, Any], bool],
    title: str,
    *,
    fact: bool = True,
    among: Callable[[LineEvidence], Iterator[tuple[int, str]]] = speakers,
) -> Change | None:
    """Set the line to the first choice that every port surely fits; ``None`` where there is none."""
    able = _known(evidence, fields[1], among)
    if len(able) < sum(1 for _ in among(evidence)):
        return None
    for choice in choices:
        if all(fits(choice, one) for one in able):
            return Change(title, (Edit((*evidence.path, fields[0]), Known(choice) if fact else choice),))
    return None


RULES = (
    Rule("bit-rate-match", "Every port can run at the line's bit rate", bit_rate_match),
    Rule("data-bit-rate-match", "Every port can run at the line's data bit rate", data_bit_rate_match),
    Rule("identifier-match", "Every port understands the identifier width", identifier_match),
    Rule("frames-match", "Every port bears the line's frames", frames_match),
    Rule("protocol-match", "Every port speaks the line's protocol", protocol_match),
)
