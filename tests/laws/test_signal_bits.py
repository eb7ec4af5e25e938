"""Bits of signals: where they lie, held against drawings of the numbering and against a search bit by bit."""

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.laws.signal_bits import BIG_ENDIAN, LITTLE_ENDIAN, bytes_needed, number_of, positions, raw_bits, scaled

ORDERS = st.sampled_from([BIG_ENDIAN, LITTLE_ENDIAN])


def test_a_little_endian_signal_goes_on_to_higher_numbers():
    assert positions(2, 9, LITTLE_ENDIAN) == (2, 3, 4, 5, 6, 7, 8, 9, 10)


def test_a_big_endian_signal_goes_down_its_byte_and_on_at_the_top_of_the_next():
    assert positions(2, 5, BIG_ENDIAN) == (14, 15, 0, 1, 2)
    assert positions(7, 16, BIG_ENDIAN) == (*range(8, 16), *range(8))


@given(st.binary(min_size=1, max_size=64), st.integers(0, 511), st.integers(1, 64), ORDERS)
def test_raw_bits_are_those_at_the_positions(payload, start, bits, order):
    if bytes_needed(start, bits, order) > len(payload):
        with pytest.raises(ValueError, match="do not lie within"):
            raw_bits(payload, start, bits, order)
        return
    one_by_one = sum(
        (payload[at // 8] >> at % 8 & 1) << weight for weight, at in enumerate(positions(start, bits, order))
    )
    assert raw_bits(payload, start, bits, order) == one_by_one


@given(st.integers(0, 511), st.integers(1, 64), ORDERS)
def test_bytes_needed_reach_to_the_farthest_position(start, bits, order):
    found = positions(start, bits, order)
    assert len(set(found)) == bits
    assert bytes_needed(start, bits, order) == max(found) // 8 + 1


@given(st.integers(2, 64), st.data())
def test_signed_numbers_are_twos_complement(bits, data):
    value = data.draw(st.integers(-(1 << bits - 1), (1 << bits - 1) - 1))
    assert number_of(value & (1 << bits) - 1, bits, "signed") == value


@pytest.mark.parametrize(("bits", "code"), [(16, ">e"), (32, ">f"), (64, ">d")])
def test_floats_are_those_of_ieee_754(bits, code):
    (raw,) = struct.unpack(f">{'_HI_Q'[bits // 16]}", struct.pack(code, -0.15625))
    assert number_of(raw, bits, "float") == -0.15625


def test_what_is_no_signal_is_refused():
    for wrong in [(-1, 4, LITTLE_ENDIAN), (0, 0, BIG_ENDIAN), (0, 8, "middle endian")]:
        with pytest.raises(ValueError, match="there is no"):
            positions(*wrong)
    with pytest.raises(ValueError, match="no float number of 24 bits"):
        number_of(0, 24, "float")


def test_an_engine_speed_is_scaled_as_its_standard_says():
    payload = bytes.fromhex("FF7D7DE015FFF0FF")
    raw = raw_bits(payload, 24, 16, LITTLE_ENDIAN)
    assert scaled(number_of(raw, 16, "unsigned"), 0.125, 0.0) == 700.0  # rpm; the recorded frame of a manual
