import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.files.quantity import PLAUSIBLE, Figure, QuantityError, believed, parse_quantity, parse_range
from loomwright.files.render import figure_text, quantity_text
from loomwright.terms.field import Field
from loomwright.terms.quantity import UNITS, Kind, units_of

KINDS = [kind for kind in Kind if kind not in (Kind.NONE, Kind.COUNT, Kind.IDENTIFIER)]
PINT = {
    "mm2": "mm**2", "mm²": "mm**2", "m2": "m**2", "": "dimensionless", "mohm": "mohm", "Ω": "ohm", "mΩ": "mohm",
    "kΩ": "kohm", "MΩ": "Mohm", "mΩ/m": "mohm/m", "Ω/m": "ohm/m", "Ω/km": "ohm/km", "°C": "degC", "µF": "uF",
    "µs": "us", "%": "percent",
}  # fmt: skip
SI = {
    Kind.LENGTH: "m", Kind.AREA: "m**2", Kind.RESISTANCE: "ohm", Kind.RESISTANCE_PER_LENGTH: "ohm/m", Kind.CAPACITANCE: "F",
    Kind.CAPACITANCE_PER_LENGTH: "F/m", Kind.TIME: "s", Kind.DELAY_PER_LENGTH: "s/m", Kind.BIT_RATE: "bit/s",
    Kind.FREQUENCY: "Hz", Kind.TEMPERATURE: "K", Kind.VOLTAGE: "V", Kind.CURRENT: "A", Kind.RATIO: "",
}  # fmt: skip


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: f"{unit.kind}: {unit.symbol}")
def test_every_unit_agrees_with_a_general_unit_library(unit, registry):
    theirs = registry.Quantity(3.5, PINT.get(unit.symbol, unit.symbol)).to(SI[unit.kind]).magnitude
    assert parse_quantity(f"3.5 {unit.symbol}", unit.kind) == pytest.approx(theirs, rel=1e-12)


def test_a_symbol_means_one_unit_only():
    assert len({unit.symbol for unit in UNITS}) == len(UNITS)


@pytest.mark.parametrize(
    ("text", "kind", "message", "expected"),
    [
        ("120 ohm", Kind.LENGTH, "is a resistance, not a length", "a length in m, cm, mm"),
        ("1,5 mm²", Kind.AREA, "decimal comma", 'write "1.5 mm²"'),
        ("1,500,000 ohm", Kind.RESISTANCE, "groups its digits", "without separators"),
        ("2.4", Kind.LENGTH, "has no unit", '"1.5 m"'),
        ("10 .. 20", Kind.LENGTH, "has no unit", '"1.5 m"'),
        ("", Kind.LENGTH, "does not begin with a number", "a length as number and unit"),
        ("m", Kind.LENGTH, "does not begin with a number", "a length as number and unit"),
        (".5 m", Kind.LENGTH, "does not begin with a number", "a length as number and unit"),
        ("nan m", Kind.LENGTH, "does not begin with a number", "a length as number and unit"),
        ("inf m", Kind.LENGTH, "does not begin with a number", "a length as number and unit"),
        ("10 Nm", Kind.LENGTH, "no known unit: 'Nm'", "a length in m, cm, mm"),
        ("2.4 metres", Kind.LENGTH, "no known unit: 'metres'", "a length in m, cm, mm"),
        ("250 kbps", Kind.BIT_RATE, "no known unit: 'kbps'", "kbit/s"),
        ("3 .. 2 m", Kind.LENGTH, "does not rise", "low .. high"),
        ("1 .. 3 .. 2 m", Kind.LENGTH, "does not rise", "low .. high"),
        ("1 .. 2 .. 3 .. 4 m", Kind.LENGTH, "is no length", "low .. high"),
        ("1 .. 2 ohm .. 3 m", Kind.LENGTH, "is a resistance", "a length in"),
        ("120 ohm +- 150 %", Kind.RESISTANCE, "tolerance of 150 %", "between 0 and 100"),
        ("1 .. 2 ohm +- 5 %", Kind.RESISTANCE, "both a range and a tolerance", "one of the two"),
        ("120 ohm +- 2 ohm", Kind.RESISTANCE, "is no resistance", "in percent"),
        ("2.4 m long", Kind.LENGTH, "is no length", "a length as number and unit"),
        ("1 m" + " " * 2_000_000 + "x", Kind.LENGTH, "is too long", "a length as number and unit"),
    ],
)
def test_what_is_no_quantity_is_told_with_what_was_expected(text, kind, message, expected):
    with pytest.raises(QuantityError) as error:
        parse_range(text, kind)
    assert message in error.value.message
    assert expected in error.value.expected
    assert error.value.message in str(error.value)


def test_the_nearest_unit_is_offered():
    with pytest.raises(QuantityError) as error:
        parse_quantity("5 Kohm", Kind.RESISTANCE)
    assert error.value.nearest == "kohm"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("110 .. 130 ohm", (120.0, 110.0, 130.0)),
        ("10 .. 30 .. 100 kohm", (30e3, 10e3, 100e3)),
        ("500 ohm .. 2 kohm", (1250.0, 500.0, 2000.0)),
        ("120 ohm +- 1 %", (120.0, 118.8, 121.2)),
        ("120ohm±5%", (120.0, 114.0, 126.0)),
        ("120 \N{OHM SIGN}", (120.0, None, None)),
        ("  1e3 ohm ", (1000.0, None, None)),
    ],
)
def test_ranges_and_tolerances(text, expected):
    assert parse_range(text, Kind.RESISTANCE) == expected


def test_the_same_length_is_the_same_float_in_every_unit():
    assert parse_quantity("300 mm", Kind.LENGTH) == parse_quantity("30 cm", Kind.LENGTH) == 0.3
    assert parse_quantity("1375 ns", Kind.TIME) == 1375e-9
    assert parse_quantity("-20 degC", Kind.TEMPERATURE) == 253.15
    assert parse_quantity("\N{MINUS SIGN}0.5 m", Kind.LENGTH) == -0.5


@pytest.mark.parametrize("kind", KINDS)
def test_what_no_vehicle_has_is_not_believed(kind):
    low, high = PLAUSIBLE[kind]
    field = Field("", kind)
    assert believed(Figure(high), field, "", "") == Figure(high)
    for value in (high * 1.001, low - 0.001 * high):
        with pytest.raises(QuantityError, match=r"believable|negative"):
            believed(Figure(value), field, "it", "")
    assert believed(Figure(-high), Field("", kind, signed=True), "", "") == Figure(-high)


def test_what_cannot_be_nothing_is_told_so_with_what_to_write_instead():
    period = Field("", Kind.TIME, zero=False, instead="leave it out for an event")
    for text in ("0 ms", "-0 s", "1e-999 s"):
        with pytest.raises(
            QuantityError, match="is no minimum gap; expected a time above 0; leave it out for an event"
        ):
            believed(parse_range(text, Kind.TIME), period, text, "minimum_gap")
    with pytest.raises(QuantityError, match="begins with nothing"):
        believed(parse_range("0 .. 5 ms", Kind.TIME), period, "0 .. 5 ms", "period")
    with pytest.raises(QuantityError, match="is negative"):
        believed(parse_range("-1 ms", Kind.TIME), period, "-1 ms", "period")
    assert believed(parse_range("1e-12 s", Kind.TIME), period, "", "") == Figure(1e-12)
    with pytest.raises(QuantityError, match="too much; expected at most 100 %"):
        believed(parse_range("101 %", Kind.RATIO), Field("", Kind.RATIO, most=1.0), "101 %", "sample_point")


@given(st.sampled_from(KINDS), st.floats(-1e6, 1e6), st.data())
def test_what_is_written_reads_back_as_the_same_float(kind, value, data):
    before = data.draw(st.sampled_from(["", *(f'"1 {unit.symbol}"' for unit in units_of(kind))]))
    assert parse_quantity(quantity_text(value, kind, before), kind) == value


@given(st.sampled_from(KINDS), st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=3))
def test_a_range_reads_back_as_the_same_floats(kind, values):
    low, value, high = sorted(values)
    figure = Figure(value, low, high)
    assert parse_range(figure_text(figure, kind), kind) == figure


@pytest.mark.parametrize(
    ("value", "kind", "before", "text"),
    [
        (2.4, Kind.LENGTH, "", "2.4 m"),
        (1375e-9, Kind.TIME, '"9 ns"', "1375 ns"),
        (1 / 3, Kind.LENGTH, "", "0.3333333333333333 m"),
        (0.3, Kind.LENGTH, '"350 mm"', "300 mm"),
        (2.1, Kind.LENGTH, '"1.400 m"', "2.100 m"),
        (2.1, Kind.LENGTH, '"3 m"', "2.1 m"),
        (250e3, Kind.BIT_RATE, "", "250 kbit/s"),
        (1e6, Kind.BIT_RATE, "", "1 Mbit/s"),
        (0.5e-6, Kind.AREA, "", "0.5 mm2"),
        (0.037, Kind.RESISTANCE_PER_LENGTH, "", "37 mohm/m"),
        (47e-12, Kind.CAPACITANCE, "", "47 pF"),
        (30e3, Kind.RESISTANCE, "", "30 kohm"),
        (120.0, Kind.RESISTANCE, '"60 Ω"', "120 Ω"),
        (333.15, Kind.TEMPERATURE, "", "60 degC"),
        (20.0, Kind.TIME, '"7 min"', "20 s"),
        (0.0, Kind.LENGTH, "", "0 m"),
    ],
)
def test_a_person_would_write_it_so(value, kind, before, text):
    assert quantity_text(value, kind, before) == text


def test_a_range_is_written_short_where_the_middle_is_typical():
    assert figure_text(Figure(120.0, 110.0, 130.0), Kind.RESISTANCE) == "110 .. 130 ohm"
    assert figure_text(Figure(30e3, 10e3, 100e3), Kind.RESISTANCE) == "10 .. 30 .. 100 kohm"
    assert figure_text(Figure(120.0, 118.8, 121.2), Kind.RESISTANCE) == "120 ohm +- 1 %"
    assert figure_text(Figure(120.0, 118.8, 121.2), Kind.RESISTANCE, '"110 .. 130 ohm"') == "118.8 .. 121.2 ohm"
    assert figure_text(Figure(120.0, 119.0, 121.0), Kind.RESISTANCE, '"120 ohm +- 1 %"') == "119 .. 121 ohm"
