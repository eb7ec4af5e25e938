import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.files.quantity import QuantityError, parse_quantity, parse_range
from loomwright.files.render import quantity_text
from loomwright.terms.quantity import UNITS, Kind, units_of

PINT = {
    "mm2": "mm**2",
    "mm²": "mm**2",
    "m2": "m**2",
    "": "dimensionless",
    "mohm": "mohm",
    "Ω": "ohm",
    "mΩ": "mohm",
    "kΩ": "kohm",
    "MΩ": "Mohm",
    "mohm/m": "mohm/m",
    "mΩ/m": "mohm/m",
    "Ω/m": "ohm/m",
    "Ω/km": "ohm/km",
    "degC": "degC",
    "°C": "degC",
    "µF": "uF",
    "µs": "us",
    "%": "percent",
}
SI = {
    Kind.LENGTH: "m", Kind.AREA: "m**2", Kind.RESISTANCE: "ohm", Kind.RESISTANCE_PER_LENGTH: "ohm/m", Kind.CAPACITANCE: "F",
    Kind.CAPACITANCE_PER_LENGTH: "F/m", Kind.TIME: "s", Kind.DELAY_PER_LENGTH: "s/m", Kind.BIT_RATE: "bit/s",
    Kind.FREQUENCY: "Hz", Kind.TEMPERATURE: "K", Kind.VOLTAGE: "V", Kind.CURRENT: "A", Kind.RATIO: "",
}  # fmt: skip


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: f"{unit.kind}: {unit.symbol}")
def test_every_unit_agrees_with_a_general_unit_library(unit):
    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    theirs = registry.Quantity(3.5, PINT.get(unit.symbol, unit.symbol)).to(SI[unit.kind]).magnitude
    assert parse_quantity(f"3.5 {unit.symbol}", unit.kind) == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "hint"),
    [
        ("120 ohm", Kind.LENGTH, "length"),
        ("1,5 mm²", Kind.AREA, "1.5 mm²"),
        ("2.4", Kind.LENGTH, "with its unit"),
        ("", Kind.LENGTH, "with its unit"),
        ("m", Kind.LENGTH, "with its unit"),
        ("10 Nm", Kind.LENGTH, "with its unit"),
        ("1e400 m", Kind.LENGTH, "believable"),
        ("3 .. 2 m", Kind.LENGTH, "rises"),
        ("1 .. 2 .. 3 .. 4 m", Kind.LENGTH, "low .. high"),
        ("120 ohm +- 150 %", Kind.RESISTANCE, "between 0 and 100"),
        ("nan m", Kind.LENGTH, "with its unit"),
    ],
)
def test_what_is_no_quantity_is_told_with_what_was_expected(text, kind, hint):
    with pytest.raises(QuantityError, match=hint.replace(".", r"\.")):
        parse_range(text, kind)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("110 .. 130 ohm", (120.0, 110.0, 130.0)),
        ("10 .. 30 .. 100 kohm", (30e3, 10e3, 100e3)),
        ("500 ohm .. 2 kohm", (1250.0, 500.0, 2000.0)),
        ("120 ohm +- 1 %", (120.0, 118.8, 121.2)),
        ("120 ohm ± 5 %", (120.0, 114.0, 126.0)),
        ("120 Ω", (120.0, None, None)),
    ],
)
def test_ranges_and_tolerances(text, expected):
    assert parse_range(text, Kind.RESISTANCE) == pytest.approx(expected)


@given(st.sampled_from([k for k in Kind if k not in (Kind.NONE, Kind.COUNT)]), st.floats(-1e6, 1e6), st.data())
def test_what_is_written_reads_back_as_the_same_float(kind, value, data):
    old = data.draw(st.sampled_from(["", *(f'"1 {unit.symbol}"' for unit in units_of(kind))]))
    assert parse_quantity(quantity_text(value, kind, old), kind) == value


def test_a_person_would_write_it_so():
    assert quantity_text(2.4, Kind.LENGTH) == "2.4 m"
    assert quantity_text(250e3, Kind.BIT_RATE) == "250 kbit/s"
    assert quantity_text(1e6, Kind.BIT_RATE) == "1 Mbit/s"
    assert quantity_text(0.5e-6, Kind.AREA) == "0.5 mm2"
    assert quantity_text(333.15, Kind.TEMPERATURE) == "60 degC"
    assert quantity_text(0.3, Kind.LENGTH, '"350 mm"') == "300 mm"
