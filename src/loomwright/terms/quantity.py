"""Kinds of quantity and the closed table of units in which people may write them.

Inside the program a quantity is a float in SI whose name ends in the unit (``length_m``). The table is closed on
purpose: general unit libraries read ``1,5 mm²`` as 15 mm² and ``10 Nm`` as number times metre.
"""

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What a number measures; decides which units are accepted and how it is printed."""

    LENGTH = "length"
    AREA = "cross-section"
    RESISTANCE = "resistance"
    RESISTANCE_PER_LENGTH = "resistance per length"
    CAPACITANCE = "capacitance"
    CAPACITANCE_PER_LENGTH = "capacitance per length"
    TIME = "time"
    DELAY_PER_LENGTH = "delay per length"
    BIT_RATE = "bit rate"
    FREQUENCY = "frequency"
    TEMPERATURE = "temperature"
    VOLTAGE = "voltage"
    CURRENT = "current"
    RATIO = "ratio"
    COUNT = "count"
    IDENTIFIER = "identifier"
    NONE = "plain"


#: The ending that a field's name carries for each kind; the key in a file is the name without it.
SUFFIX: dict[Kind, str] = {
    Kind.LENGTH: "_m",
    Kind.AREA: "_m2",
    Kind.RESISTANCE: "_ohm",
    Kind.RESISTANCE_PER_LENGTH: "_ohm_per_m",
    Kind.CAPACITANCE: "_f",
    Kind.CAPACITANCE_PER_LENGTH: "_f_per_m",
    Kind.TIME: "_s",
    Kind.DELAY_PER_LENGTH: "_s_per_m",
    Kind.BIT_RATE: "_bit_per_s",
    Kind.FREQUENCY: "_hz",
    Kind.TEMPERATURE: "_k",
    Kind.VOLTAGE: "_v",
    Kind.CURRENT: "_a",
    Kind.RATIO: "",
    Kind.COUNT: "",
    Kind.IDENTIFIER: "",
    Kind.NONE: "",
}


@dataclass(frozen=True, slots=True)
class Unit:
    """One accepted spelling: ``si = number * factor + offset``."""

    symbol: str
    kind: Kind
    factor: float
    offset: float = 0.0


def _spread(kind: Kind, *pairs: tuple[str, float]) -> tuple[Unit, ...]:
    return tuple(Unit(symbol, kind, factor) for symbol, factor in pairs)


#: Every spelling a file may use. The first of a kind is the one suggested in error messages.
UNITS: tuple[Unit, ...] = (
    *_spread(Kind.LENGTH, ("m", 1.0), ("cm", 1e-2), ("mm", 1e-3)),
    *_spread(Kind.AREA, ("mm2", 1e-6), ("mm²", 1e-6), ("m2", 1.0)),
    *_spread(Kind.RESISTANCE, ("ohm", 1.0), ("Ω", 1.0), ("mohm", 1e-3), ("mΩ", 1e-3), ("kohm", 1e3), ("kΩ", 1e3)),
    *_spread(Kind.RESISTANCE, ("Mohm", 1e6), ("MΩ", 1e6)),
    *_spread(Kind.RESISTANCE_PER_LENGTH, ("mohm/m", 1e-3), ("mΩ/m", 1e-3), ("ohm/m", 1.0), ("Ω/m", 1.0)),
    *_spread(Kind.RESISTANCE_PER_LENGTH, ("ohm/km", 1e-3), ("Ω/km", 1e-3)),
    *_spread(Kind.CAPACITANCE, ("pF", 1e-12), ("nF", 1e-9), ("uF", 1e-6), ("µF", 1e-6), ("F", 1.0)),
    *_spread(Kind.CAPACITANCE_PER_LENGTH, ("pF/m", 1e-12), ("nF/km", 1e-12), ("F/m", 1.0)),
    *_spread(
        Kind.TIME, ("s", 1.0), ("ms", 1e-3), ("us", 1e-6), ("µs", 1e-6), ("ns", 1e-9), ("min", 60.0), ("h", 3600.0)
    ),
    *_spread(
        Kind.DELAY_PER_LENGTH,
        ("ns/m", 1e-9),
        ("s/m", 1.0),
    ),
    *_spread(Kind.BIT_RATE, ("kbit/s", 1e3), ("Mbit/s", 1e6), ("bit/s", 1.0)),
    *_spread(Kind.FREQUENCY, ("MHz", 1e6), ("kHz", 1e3), ("Hz", 1.0)),
    Unit("degC", Kind.TEMPERATURE, 1.0, 273.15),
    Unit("°C", Kind.TEMPERATURE, 1.0, 273.15),
    Unit("K", Kind.TEMPERATURE, 1.0),
    *_spread(Kind.VOLTAGE, ("V", 1.0), ("mV", 1e-3), ("kV", 1e3)),
    *_spread(Kind.CURRENT, ("A", 1.0), ("mA", 1e-3), ("uA", 1e-6)),
    *_spread(
        Kind.RATIO,
        ("%", 1e-2),
        ("", 1.0),
    ),
)


def units_of(kind: Kind) -> tuple[Unit, ...]:
    """Every accepted unit of a kind, the suggested one first."""
    return tuple(unit for unit in UNITS if unit.kind is kind)
