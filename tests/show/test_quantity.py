import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.show.quantity import bare, fact_text, span, text
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.quantity import Kind

THIN = "\u202f"

SHOWN = [
    (2.4, Kind.LENGTH, "2.40 m"),
    (0.05, Kind.LENGTH, "0.05 m"),
    (0.004, Kind.LENGTH, "4 mm"),
    (-0.4, Kind.LENGTH, "\u22120.40 m"),
    (0.0, Kind.LENGTH, "0.00 m"),
    (544.51, Kind.LENGTH, "544.5 m"),
    (58.8325, Kind.RESISTANCE, "58.8 Ω"),
    (120.0, Kind.RESISTANCE, "120 Ω"),
    (60.0, Kind.RESISTANCE, "60.0 Ω"),
    (9.996, Kind.RESISTANCE, "10.0 Ω"),
    (30e3, Kind.RESISTANCE, "30.0 kΩ"),
    (math.inf, Kind.RESISTANCE, "open"),
    (0.037, Kind.RESISTANCE_PER_LENGTH, "37 mΩ/m"),
    (0.5e-6, Kind.AREA, "0.5 mm²"),
    (0.75e-6, Kind.AREA, "0.75 mm²"),
    (250e3, Kind.BIT_RATE, "250 kbit/s"),
    (83_333.0, Kind.BIT_RATE, "83.33 kbit/s"),
    (1e6, Kind.BIT_RATE, "1 Mbit/s"),
    (318.15, Kind.TEMPERATURE, "45 °C"),
    (253.15, Kind.TEMPERATURE, "\u221220 °C"),
    (5e-9, Kind.DELAY_PER_LENGTH, "5.0 ns/m"),
    (5.25e-9, Kind.DELAY_PER_LENGTH, "5.25 ns/m"),
    (1.375e-6, Kind.TIME, "1.38 µs"),
    (220e-12, Kind.CAPACITANCE, "220 pF"),
    (0.8, Kind.RATIO, "80 %"),
    (0.004, Kind.RATIO, "0.4 %"),
    (3.0, Kind.COUNT, "3"),
    (None, Kind.LENGTH, "?"),
    (math.nan, Kind.LENGTH, "?"),
]


@pytest.mark.parametrize(("value", "kind", "shown"), SHOWN)
def test_a_quantity_has_the_digits_people_expect(value, kind, shown):
    assert text(value, kind) == shown.replace(" ", THIN)


@pytest.mark.parametrize(
    ("tolerance", "shown"), [(5.0, "59 Ω"), (0.5, "58.8 Ω"), (0.02, "58.83 Ω"), (30.0, "59 Ω"), (0.0, "58.8 Ω")]
)
def test_the_tolerance_decides_the_last_digit(tolerance, shown):
    assert text(58.8325, Kind.RESISTANCE, tolerance) == shown.replace(" ", THIN)


def test_large_figures_are_grouped_with_thin_spaces():
    assert text(123_456.0, Kind.COUNT) == f"123{THIN}456"
    assert text(1234.0, Kind.COUNT) == "1234"


def test_a_range_names_its_unit_once():
    assert span(110.0, 130.0, Kind.RESISTANCE) == "110 … 130 Ω".replace(" ", THIN)
    assert span(900.0, 1100.0, Kind.RESISTANCE) == "900 Ω … 1.10 kΩ".replace(" ", THIN)
    assert span(0.5, 0.5, Kind.LENGTH) == "0.50 m".replace(" ", THIN)


def test_a_bare_figure_is_in_the_unit_of_its_column():
    assert bare(0.4, Kind.LENGTH, "mm") == "400"
    assert bare(12.345, Kind.LENGTH, "m") == "12.35"
    assert bare(1234.0, Kind.RESISTANCE, "Ω") == "1234"


def test_a_fact_says_how_it_is_known():
    assert fact_text(Known(120.0), Kind.RESISTANCE) == f"120{THIN}Ω"
    assert fact_text(Assumed(0.3, "photograph"), Kind.LENGTH) == f"0.30{THIN}m (assumed)"
    assert fact_text(Unknown("how long?"), Kind.LENGTH) == "?"
    assert fact_text(Known(120.0, 118.8, 121.2), Kind.RESISTANCE) == "120 Ω (119 … 121 Ω)".replace(
        " Ω", f"{THIN}Ω"
    ).replace(" … ", f"{THIN}…{THIN}")
    assert fact_text(Known((250e3, 500e3)), Kind.BIT_RATE) == "250 kbit/s, 500 kbit/s".replace(" k", f"{THIN}k")
    assert fact_text(Known("fixed")) == "fixed"


@given(st.floats(allow_nan=True, allow_infinity=True), st.sampled_from(list(Kind)))
def test_any_number_of_any_kind_can_be_shown(value, kind):
    assert text(value, kind)


@given(st.floats(1e-3, 9e5), st.sampled_from([Kind.RESISTANCE, Kind.VOLTAGE, Kind.CURRENT]))
def test_what_is_shown_is_within_half_of_the_last_digit(value, kind):
    from loomwright.files.quantity import parse_quantity

    shown = text(value, kind).replace(THIN, " ").replace("\u2212", "-")
    figure, _, unit = shown.rpartition(" ")
    read = parse_quantity(f"{figure.replace(' ', '')} {unit.replace('µ', 'u')}", kind)
    assert abs(read - value) <= 0.00501 * value  # three significant figures
