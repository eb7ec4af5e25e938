"""The cable itself: its impedance, and its distance from high-voltage cable."""

from collections.abc import Iterator

from loomwright.judge.evidence import LineEvidence
from loomwright.judge.rule import Rule
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Source, Unknown, bounds_of
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

IMPEDANCE = Limit(
    108.0,
    Bound.BETWEEN,
    Kind.RESISTANCE,
    Source(
        "ISO 11898:1993, as quoted in National Instruments' CANopen cabling guide", "line impedance 108 / 120 / 132 ohm"
    ),
    Standing.SECONDARY,
    high=132.0,
)
CLEARANCE = Limit(
    0.1,
    Bound.AT_LEAST,
    Kind.LENGTH,
    Source("common practice", "signal cable beside high-voltage cable; the makers' manuals and local rules go first"),
    Standing.MEMORY,
)


def cable_impedance(evidence: LineEvidence) -> Iterator[Reading]:
    """Read the cable's characteristic impedance."""
    fact = evidence.cable.impedance_ohm
    path = evidence.cable_fact("impedance_ohm")
    yield Reading(
        evidence.path,
        None if isinstance(fact, Unknown) else fact.value,
        IMPEDANCE,
        (("cable", evidence.line.cable),),
        blocked_by=(path,) if isinstance(fact, Unknown) else (),
        assumed=(path,) if isinstance(fact, Assumed) else (),
        line=evidence.name,
    )


def high_voltage_clearance(evidence: LineEvidence) -> Iterator[Reading]:
    """Read the least clearance of every run that the line lies in and that has high voltage near it."""
    if isinstance(evidence.topology, Blocked):
        return
    used = dict.fromkeys(run for piece in evidence.topology.value.pieces for run in piece.runs)
    for name in used:
        fact = evidence.runs[name].high_voltage_clearance_m
        if fact is None:
            continue
        path: Path = ("runs", name, "high_voltage_clearance_m")
        yield Reading(
            ("runs", name),
            None if isinstance(fact, Unknown) else bounds_of(fact)[0],
            CLEARANCE,
            (("run", name),),
            blocked_by=(path,) if isinstance(fact, Unknown) else (),
            assumed=(path,) if isinstance(fact, Assumed) else (),
            line=evidence.name,
        )


RULES = (
    Rule("cable-impedance", "Impedance of the bus cable", cable_impedance),
    Rule("high-voltage-clearance", "Distance to high-voltage cable", high_voltage_clearance),
)
