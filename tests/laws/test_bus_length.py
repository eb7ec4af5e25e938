import pytest

from loomwright.laws.bus_length import (
    TABLE_CROSS_SECTIONS,
    longest_by_delay,
    longest_by_voltage,
    there_and_back_s,
)
from tests.authorities import authority

PUBLISHED = authority("bus_length")
RESISTANCE = {round(area * 1e6, 2): ohm for area, ohm in TABLE_CROSS_SECTIONS}


def cells(table):
    return [
        pytest.param(row["cross_section_mm2"], nodes, length, id=f"{row['cross_section_mm2']} mm2, {nodes} nodes")
        for row in table["row"]
        for nodes, length in zip(table["nodes"], row["length_m"], strict=True)
    ]


@pytest.mark.parametrize(("area", "nodes", "length"), cells(PUBLISHED["cross_section_table"]))
def test_cia_303_1_length_by_cross_section_all_nine_cells(area, nodes, length):
    found = longest_by_voltage(RESISTANCE[area], nodes)
    assert round(found, -1) == length, f"{found:.1f} m"


@pytest.mark.parametrize(("area", "nodes", "length"), cells(PUBLISHED["cross_section_table_ksm_01"]))
def test_an96116_table_for_the_smaller_safety_share_from_memory(area, nodes, length):
    found = longest_by_voltage(RESISTANCE[area], nodes, safety_share=0.1)
    assert found == pytest.approx(length, abs=10.0)


def test_siemens_6se6400_worked_example_all_eight_lengths():
    example = PUBLISHED["delay_example"]
    for rate, length in zip(example["rate_kbit_per_s"], example["length_m"], strict=True):
        found = longest_by_delay(rate * 1e3, example["electronics_ns"] * 1e-9)
        assert found == pytest.approx(length, abs=1.0), rate


def test_40_m_there_and_back_takes_910_ns():
    row = PUBLISHED["there_and_back"]
    found = there_and_back_s(row["length_m"], row["delay_ns_per_m"] * 1e-9, row["transceiver_ns"] * 1e-9)
    assert found == pytest.approx(row["total_ns"] * 1e-9, abs=0.1e-9)
