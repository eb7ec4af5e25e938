import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.laws.j1939 import (
    BROADCAST_ANNOUNCEMENT,
    EVERYBODY,
    PACKET_BYTES,
    PACKET_SPACING,
    TRANSPORT_CONTROL_GROUP,
    TRANSPORT_DATA_GROUP,
    TRANSPORTED_BYTES_MOST,
    Parts,
    broadcast_s,
    identifier_of,
    is_addressed,
    packets,
    parameter,
    parts_of,
)
from tests.authorities import authority

PUBLISHED = authority("j1939")


@pytest.mark.parametrize("row", PUBLISHED["identifier"], ids=lambda row: f"{row['identifier']:08X}")
def test_published_identifiers_come_apart(row):
    wanted = Parts(row["priority"], row["group"], row["address"], row.get("destination"))
    assert parts_of(row["identifier"]) == wanted
    assert identifier_of(wanted) == row["identifier"]
    assert is_addressed(row["group"]) == ("destination" in row)


@given(st.integers(0, (1 << 29) - 1))
def test_every_identifier_comes_together_again(identifier):
    assert identifier_of(parts_of(identifier)) == identifier


def test_published_engine_speed():
    row = PUBLISHED["engine_speed"]
    assert parts_of(row["identifier"]).group == row["group"]
    found = parameter(bytes.fromhex(row["data"]), row["first_byte"], 2, row["rpm_per_bit"])
    assert found == pytest.approx(row["rpm"], abs=row["rpm_per_bit"] / 2)


def test_figures_of_the_transport_protocol():
    row = PUBLISHED["transport"]
    assert (row["control_group"], row["data_group"]) == (TRANSPORT_CONTROL_GROUP, TRANSPORT_DATA_GROUP)
    assert (row["announcement"], row["packet_bytes"]) == (BROADCAST_ANNOUNCEMENT, PACKET_BYTES)
    assert row["most_bytes"] == TRANSPORTED_BYTES_MOST
    assert PACKET_SPACING.value == pytest.approx(row["least_spacing_ms"] * 1e-3, abs=1e-9)
    assert packets(row["most_bytes"]) == 255
    assert is_addressed(TRANSPORT_CONTROL_GROUP)
    assert is_addressed(TRANSPORT_DATA_GROUP)


def test_packets_of_seven_bytes_from_nine_bytes_on():
    assert [packets(length) for length in (0, 8, 9, 14, 15, 1785)] == [0, 0, 2, 2, 3, 255]
    with pytest.raises(ValueError, match="cannot be transported"):
        packets(1786)


def test_a_broadcast_lasts_one_spacing_for_each_packet_and_one_frame():
    assert broadcast_s(39, 250e3) == pytest.approx(6 * 0.050 + 160 / 250e3, abs=1e-9)
    assert broadcast_s(39, 250e3, spacing_s=0.200) == pytest.approx(6 * 0.200 + 160 / 250e3, abs=1e-9)
    assert broadcast_s(8, 250e3) == pytest.approx(160 / 250e3, abs=1e-9)
    assert broadcast_s(3, 500e3) == pytest.approx(110 / 500e3, abs=1e-9)


@pytest.mark.parametrize(
    "parts",
    [
        Parts(8, 61444, 0),
        Parts(3, 1 << 18, 0),
        Parts(3, 61444, 256),
        Parts(3, 61444, 0, destination=EVERYBODY),
        Parts(3, 61184, 0),
        Parts(3, 61184, 0, destination=256),
        Parts(3, 61184 + 1, 0, destination=EVERYBODY),
    ],
)
def test_parts_that_make_no_identifier_are_refused(parts):
    with pytest.raises(ValueError, match=r"fit|destination"):
        identifier_of(parts)


def test_numbers_outside_are_refused():
    with pytest.raises(ValueError, match="29 bits"):
        parts_of(1 << 29)
    with pytest.raises(ValueError, match="bytes 8 to 9"):
        parameter(bytes(8), 8, 2, 1.0)
    with pytest.raises(ValueError, match="bytes 0 to 0"):
        parameter(bytes(8), 0, 1, 1.0)
