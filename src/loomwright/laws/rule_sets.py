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


#: Highest bit rate in bit/s that a row is for, with its length in metres. A rate between rows uses the next faster one.
CIA_LENGTHS: tuple[tuple[float, float], ...] = (
    (10e3, 5000.0), (20e3, 2500.0), (50e3, 1000.0), (100e3, 650.0), (125e3, 500.0), (250e3, 250.0), (500e3, 100.0),
    (800e3, 50.0), (1e6, 25.0),
)  # fmt: skip
#: The same for a single drop and the sum of all drops, in metres.
CIA_DROPS: tuple[tuple[float, float, float], ...] = (
    (50e3, 55.0, 275.0), (125e3, 22.0, 110.0), (250e3, 11.0, 55.0), (500e3, 5.5, 27.5), (800e3, 2.5, 12.5),
    (1e6, 1.5, 7.5),
)  # fmt: skip

#: Highest bit rate in bit/s that each rule set speaks of.
FASTEST_BIT_PER_S: Mapping[str, float] = MappingProxyType(
    {"ISO 11898-2": 1e6, "SAE J1939-11": 250e3, "SAE J1939-15": 250e3, "CiA 303-1": 1e6}
)


def _can_in_automation(bit_rate_bit_per_s: float) -> RuleSetLimits:
    trunk_m = next(length for rate, length in CIA_LENGTHS if rate >= bit_rate_bit_per_s)
    branch_m, branches_m = next((one, all_) for rate, one, all_ in CIA_DROPS if rate >= bit_rate_bit_per_s)
    return RuleSetLimits(
        _length(trunk_m, _LENGTHS), _length(branch_m, _DROPS, Standing.SEEN), _length(branches_m, _DROPS, Standing.SEEN)
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
    SAE J1939-11 and -15 are for 250 kbit/s; they are applied at or below it and say nothing above (J1939-14 is the set
    for 500 kbit/s; no text of it could be relied on).
    """
    if rule_set not in FASTEST_BIT_PER_S:
        raise ValueError(f"there is no rule set {rule_set!r}")
    if bit_rate_bit_per_s > FASTEST_BIT_PER_S[rule_set]:
        return NOTHING
    if rule_set == "ISO 11898-2":
        return _ISO if bit_rate_bit_per_s > 500e3 else NOTHING
    if rule_set == "CiA 303-1":
        return _can_in_automation(bit_rate_bit_per_s)
    return _J1939_11 if rule_set == "SAE J1939-11" else _J1939_15
