"""Published rule sets for the shape of a line: trunk, branches, nodes, spacing, by bit rate."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from loomwright.terms.fact import Source
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind


@dataclass(frozen=True, slots=True)
class RuleSetLimits:
    """What one rule set says at one bit rate; ``None`` where it says nothing (or nothing we could read).

    ``trunk_counts_branches``: the trunk limit is for trunk and branches together.
    """

    trunk_m: Limit | None = None
    branch_m: Limit | None = None
    branches_m: Limit | None = None
    nodes: Limit | None = None
    spacing_m: Limit | None = None
    trunk_counts_branches: bool = False


NOTHING = RuleSetLimits()

_NI = Source("National Instruments, CAN cabling guide, quoting ISO 11898", "cable lengths")
_J11 = Source(
    "SAE J1939-11, as quoted in an Allison installation drawing (2005) and Perkins 1200F manual p. 235", "topology"
)
_J15 = Source("SAE J1939-15, as quoted in an Allison installation drawing (2005)", "topology")
_LENGTHS = Source("CiA recommendation (07/95), as printed in esd C.3034.21 manual p. 40", "bit rate and bus length")
_DROPS = Source("CANopen drop table, Motortech manual rev 03/2019 p. 50", "bus, stub and sum of stubs")


def _length(value_m: float, source: Source, standing: Standing = Standing.SECONDARY) -> Limit:
    return Limit(value_m, Bound.AT_MOST, Kind.LENGTH, source, standing)


def _count(value: int, source: Source) -> Limit:
    return Limit(float(value), Bound.AT_MOST, Kind.COUNT, source, Standing.SECONDARY)


def _apart(source: Source) -> Limit:
    return Limit(0.1, Bound.AT_LEAST, Kind.LENGTH, source, Standing.SECONDARY)


def _can_in_automation(trunk_m: float, branch_m: float, branches_m: float) -> RuleSetLimits:
    return RuleSetLimits(
        _length(trunk_m, _LENGTHS), _length(branch_m, _DROPS, Standing.SEEN), _length(branches_m, _DROPS, Standing.SEEN)
    )


#: Highest bit rate in bit/s that a row is for -> the row. A rate between two rows uses the next faster one.
CIA_ROWS: Mapping[float, RuleSetLimits] = MappingProxyType(
    {
        1e6: _can_in_automation(25.0, 1.5, 7.5),
        800e3: _can_in_automation(50.0, 2.5, 12.5),
        500e3: _can_in_automation(100.0, 5.5, 27.5),
        250e3: _can_in_automation(250.0, 11.0, 55.0),
        125e3: _can_in_automation(500.0, 22.0, 110.0),
        50e3: _can_in_automation(1000.0, 55.0, 275.0),
    }
)

_ISO = RuleSetLimits(trunk_m=_length(40.0, _NI), branch_m=_length(0.3, _NI))
_J1939_11 = RuleSetLimits(
    trunk_m=_length(40.0, _J11), branch_m=_length(1.0, _J11), nodes=_count(30, _J11), spacing_m=_apart(_J11)
)
_J1939_15 = RuleSetLimits(
    trunk_m=_length(40.0, _J15), branch_m=_length(3.0, _J15), spacing_m=_apart(_J15), trunk_counts_branches=True
)
"""The limit of 10 nodes was lifted in 2014-05 (SAE abstract J1939/15_201405), so none is given."""


def limits_of(rule_set: str, bit_rate_bit_per_s: float) -> RuleSetLimits:
    """Limits of a rule set at a bit rate; every field ``None`` where the set does not cover that rate.

    ISO 11898-2's 40 m and 0.3 m are stated for 1 Mbit/s; they are applied above 500 kbit/s and say nothing below.
    SAE J1939-11 and -15 are for 250 kbit/s; they are applied at or below it and say nothing above.
    """
    if rule_set == "ISO 11898-2":
        return _ISO if 500e3 < bit_rate_bit_per_s <= 1e6 else NOTHING
    if rule_set in ("SAE J1939-11", "SAE J1939-15"):
        if bit_rate_bit_per_s > 250e3:
            return NOTHING
        return _J1939_11 if rule_set == "SAE J1939-11" else _J1939_15
    if rule_set == "CiA 303-1":
        fitting = [rate for rate in CIA_ROWS if rate >= bit_rate_bit_per_s]
        return CIA_ROWS[min(fitting)] if fitting else NOTHING
    raise ValueError(f"there is no rule set {rule_set!r}")
