import crccheck
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.laws.checksums import (
    CHECKS,
    CRC_8_AUTOSAR,
    CRC_8_SAE_J1850,
    crc_of,
    crc_of_bits,
    folded_sum_3_bits,
    folded_sum_4_bits,
    missed,
    next_count,
)
from loomwright.terms.limit import Standing
from tests.authorities import authority

PUBLISHED = authority("checksums")
LISTED = {row["name"]: row["value"] for row in PUBLISHED["catalogue"]["check"]}
PEERS = {
    "CRC-15/CAN": crccheck.crc.Crc15Can,
    "CRC-17/CAN-FD": crccheck.crc.Crc17CanFd,
    "CRC-21/CAN-FD": crccheck.crc.Crc21CanFd,
    "CRC-8/SAE-J1850": crccheck.crc.Crc8SaeJ1850,
    "CRC-8/AUTOSAR": crccheck.crc.Crc8Autosar,
    "CRC-16/IBM-3740": crccheck.crc.Crc16Ibm3740,
    "CRC-32/AUTOSAR": crccheck.crc.Crc32Autosar,
    "CRC-64/XZ": crccheck.crc.Crc64Xz,
}


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.name)
def test_check_value_of_the_catalogue(check):
    wanted = LISTED[check.name]
    wanted = int(wanted, 16) if isinstance(wanted, str) else wanted
    assert crc_of(check, PUBLISHED["catalogue"]["text"].encode()) == wanted


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.name)
def test_parameters_are_those_of_another_library(check):
    peer = PEERS[check.name]
    parameters = (check.width, check.polynomial, check.start, check.reflected, check.reflected, check.final)
    # The library hides these names from typing, not from use: width, polynomial, start, reflections, final.
    assert parameters == (
        peer._width, peer._poly, peer._initvalue, peer._reflect_input, peer._reflect_output, peer._xor_output,
    )  # fmt: skip


@given(st.binary(max_size=70), st.sampled_from(CHECKS))
def test_any_message_has_the_check_that_another_library_gives(data, check):
    assert crc_of(check, data) == PEERS[check.name].calc(data)


@pytest.mark.parametrize("row", PUBLISHED["vectors"]["message"], ids=lambda row: row["data"])
def test_published_single_messages(row):
    data = bytes.fromhex(row["data"])
    assert crc_of(CRC_8_SAE_J1850, data) == row["sae_j1850"]
    assert crc_of(CRC_8_AUTOSAR, data) == row["autosar"]


@given(st.binary(min_size=1, max_size=20), st.sampled_from(CHECKS))
def test_bytes_are_their_bits_in_the_order_sent(data, check):
    order = [f"{byte:08b}"[:: -1 if check.reflected else 1] for byte in data]
    assert crc_of_bits(check, [bit == "1" for bit in "".join(order)]) == crc_of(check, data)


def test_every_check_tells_how_it_is_known():
    assert {check.standing for check in CHECKS} == {Standing.SECONDARY}
    assert all(check.source.document for check in CHECKS)


def test_a_running_counter_goes_round_and_shows_what_is_missing():
    assert [next_count(count, 15) for count in (0, 13, 14)] == [1, 14, 0]
    assert missed(3, 4, 16) == 0
    assert missed(14, 1, 15) == 1
    assert missed(15, 2, 16) == 2
    assert missed(7, 7, 16) is None


@given(st.integers(0, 255), st.integers(0, 254))
def test_missing_messages_are_counted_up_to_one_round(start, lost):
    count = start
    for _ in range(lost + 1):
        count = next_count(count, 256)
    assert missed(start, count, 256) == lost


def test_folded_sums_worked_by_hand():
    """No printed example was found: 0x0C000003 sums to 15, bytes 1..7 to 28, count 5: 48 = 0b110000."""
    data = bytes([1, 2, 3, 4, 5, 6, 7, 0xFF])
    assert folded_sum_4_bits(0x0C000003, data, 5) == (3 + 48) % 16
    assert folded_sum_3_bits(0x0C000003, data, 5) == (0 + 6 + 48) % 8


@given(st.integers(0, (1 << 29) - 1), st.binary(min_size=8, max_size=8), st.integers(0, 15), st.integers(0, 7))
def test_folded_sums_leave_out_the_last_byte_which_holds_them(identifier, data, count, other):
    changed = data[:7] + bytes([other])
    assert folded_sum_4_bits(identifier, changed, count) == folded_sum_4_bits(identifier, data, count) < 16
    assert folded_sum_3_bits(identifier, changed, count) == folded_sum_3_bits(identifier, data, count) < 8
