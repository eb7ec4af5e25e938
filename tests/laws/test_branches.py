import pytest

from loomwright.laws.branches import (
    least_spacing_m,
    line_capacitance_f_per_m,
    loaded_impedance_ohm,
    longest_branch,
    longest_branches,
    usual_propagation_segment_s,
)
from loomwright.laws.rule_sets import FASTEST_BIT_PER_S, NOTHING, limits_of
from loomwright.model.vehicle import RULE_SETS
from tests.authorities import authority

PUBLISHED = authority("branches")


@pytest.mark.parametrize("row", PUBLISHED["propagation"], ids=lambda row: f"{row['segment_ns']} ns")
def test_an96116_a_fiftieth_and_a_tenth_of_the_propagation_segment(row):
    segment = row["segment_ns"] * 1e-9
    assert longest_branch(segment) == pytest.approx(row["single_m"], abs=0.001)
    assert longest_branches(segment) == pytest.approx(row["together_m"], abs=0.001)


def test_the_canopen_drop_table_is_the_an96116_rule_with_the_usual_segment():
    table = PUBLISHED["drop_table"]
    for rate, single, together in zip(table["rate_kbit_per_s"], table["branch_m"], table["branches_m"], strict=True):
        segment = usual_propagation_segment_s(rate * 1e3)
        assert longest_branch(segment) == pytest.approx(single, abs=0.05 if rate > 50 else 0.5), rate
        assert longest_branches(segment) == pytest.approx(together, abs=0.05 if rate > 50 else 0.5), rate


@pytest.mark.parametrize("column", ["branch_m", "branches_m", "trunk_m"])
def test_cia_rows_are_the_printed_ones(column):
    table = PUBLISHED["drop_table"]
    for rate, printed in zip(table["rate_kbit_per_s"], table[column], strict=True):
        limit = getattr(limits_of("CiA 303-1", rate * 1e3), column)
        assert limit.value == pytest.approx(printed, abs=1e-9)
        assert limit.source.document


def test_cia_recommended_lengths():
    table = PUBLISHED["recommended_lengths"]
    for rate, printed in zip(table["rate_kbit_per_s"], table["trunk_m"], strict=True):
        assert limits_of("CiA 303-1", rate * 1e3).trunk_m.value == pytest.approx(printed, abs=1e-9)


def test_a_rate_between_two_rows_uses_the_next_faster_one():
    assert limits_of("CiA 303-1", 300e3) == limits_of("CiA 303-1", 500e3)
    assert limits_of("CiA 303-1", 250e3 + 1) == limits_of("CiA 303-1", 500e3)
    assert limits_of("CiA 303-1", 10e3).branch_m == limits_of("CiA 303-1", 50e3).branch_m
    assert limits_of("CiA 303-1", 2e6) == NOTHING


@pytest.mark.parametrize(("name", "key"), [("SAE J1939-11", "j1939_11"), ("SAE J1939-15", "j1939_15")])
def test_sae_vehicle_limits_at_250_kbit_per_s_and_nothing_above(name, key):
    limits = limits_of(name, 250e3)
    for column, printed in PUBLISHED["vehicle"][key].items():
        assert getattr(limits, column).value == pytest.approx(printed, abs=1e-9)
    assert limits.trunk_counts_branches == (name == "SAE J1939-15")
    assert limits_of(name, 250e3 + 1) == NOTHING


def test_iso_11898_speaks_of_1_mbit_per_s():
    limits = limits_of("ISO 11898-2", 1e6)
    assert limits.trunk_m.value == pytest.approx(PUBLISHED["iso"]["trunk_m"], abs=1e-9)
    assert limits.branch_m.value == pytest.approx(PUBLISHED["iso"]["branch_m"], abs=1e-9)
    assert limits_of("ISO 11898-2", 500e3) == NOTHING
    assert limits_of("ISO 11898-2", 1e6 + 1) == NOTHING


@pytest.mark.parametrize("name", RULE_SETS)
def test_the_fastest_rate_of_a_rule_set_is_the_last_it_speaks_of(name):
    assert limits_of(name, FASTEST_BIT_PER_S[name]) != NOTHING
    assert limits_of(name, FASTEST_BIT_PER_S[name] + 1) == NOTHING


def test_sources_and_standing_are_told_for_every_limit():
    for name in RULE_SETS:
        for rate in (50e3, 125e3, 250e3, 500e3, 1e6):
            limits = limits_of(name, rate)
            for field in ("trunk_m", "branch_m", "branches_m", "nodes", "spacing_m"):
                limit = getattr(limits, field)
                assert limit is None or (limit.source.document and limit.standing)


def test_an_unknown_rule_set_is_refused():
    with pytest.raises(ValueError, match="no rule set"):
        limits_of("house rules", 250e3)


def test_slla279a_spacing_of_lumped_loads():
    row = PUBLISHED["spacing"]
    line = line_capacitance_f_per_m(120.0, 5e-9)
    for load, spacing in zip(row["load_pf"], row["spacing_m"], strict=True):
        found = least_spacing_m(load * 1e-12, line)
        assert found == pytest.approx(spacing, abs=0.01)
        share = loaded_impedance_ohm(120.0, load * 1e-12, found, line) / 120.0
        assert share == pytest.approx(row["loaded_share_of_impedance"], abs=0.001)
