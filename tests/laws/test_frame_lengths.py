import random
from itertools import pairwise, product
from statistics import fmean, stdev

import pytest

from loomwright.laws.frame_bits import frame_bits
from loomwright.laws.frame_lengths import FD_LENGTHS, PhaseBits, duration_s, fd_length, frame_length
from tests.authorities import authority
from tests.laws.plain_frames import classical_header, fd_header, payload_repeated, repeated

PUBLISHED = authority("frame_lengths")
KINDS = [pytest.param(False, id="11 bits"), pytest.param(True, id="29 bits")]


def near_worst_identifiers(extended):
    """Identifiers that repeat the level before them, with every ending of four bits (of both halves, if extended)."""
    endings = [format(end, "04b") for end in range(16)]
    bases = [repeated("0", 7) + end for end in endings]
    if extended:
        bases = [base + repeated("0" + base + "11", 14) + end for base in bases for end in endings]
    return [int(base, 2) for base in bases]


@pytest.mark.parametrize("extended", KINDS)
def test_classical_worst_and_shortest_are_the_published_formulas(extended):
    row = PUBLISHED["classical"]
    kind = "extended" if extended else "base"
    for length in range(9):
        found = frame_length(extended, length)
        assert found.worst_bits == PhaseBits(row["worst"][kind] + row["worst"]["per_byte"] * length)
        without = row["without_stuffing"]
        assert found.best_bits == PhaseBits(without[kind] + without["per_byte"] * length)


def test_no_classical_frame_full_of_stuffing_exceeds_the_formula_and_some_come_near():
    for extended, length in product((False, True), range(9)):
        most = 0
        for identifier in near_worst_identifiers(extended):
            data = payload_repeated(classical_header(identifier, extended, length), length)
            most = max(most, frame_bits(identifier, extended, data).total_bits)
        worst = frame_length(extended, length).worst_bits.total
        assert worst - 6 <= most <= worst


@pytest.mark.parametrize("extended", KINDS)
def test_longest_fd_frames_are_those_of_a_computation_made_apart(extended):
    row = PUBLISHED["fd_worst"]
    found = [frame_length(extended, length, fd=True).worst_bits.total for length in row["bytes"]]
    assert found == row["extended" if extended else "base"]
    either = [
        max(frame_length(extended, length, fd=True, brs=brs).worst_bits.total for brs in (False, True))
        for length in row["bytes"]
    ]
    assert found == either


@pytest.mark.parametrize("brs", [False, True])
@pytest.mark.parametrize("extended", KINDS)
def test_the_longest_fd_frame_exists_at_every_length_and_is_the_longest_in_both_phases_at_once(extended, brs):
    for length in FD_LENGTHS:
        worst = frame_length(extended, length, fd=True, brs=brs).worst_bits
        assert any(
            frame.phase_bits == worst
            for identifier, passive in product(near_worst_identifiers(extended), (False, True))
            for frame in [full_of_stuffing(identifier, extended, length, brs, passive)]
        ), length


def full_of_stuffing(identifier, extended, length, brs, passive):
    data = payload_repeated(fd_header(identifier, extended, length, brs, passive), length)
    return frame_bits(identifier, extended, data, fd=True, brs=brs, error_passive=passive)


@pytest.mark.parametrize("brs", [False, True])
def test_every_empty_fd_frame_tried_gives_mean_and_worst_exactly(brs):
    active = [frame_bits(identifier, False, b"", fd=True, brs=brs) for identifier in range(2048)]
    passive = [frame_bits(identifier, False, b"", fd=True, brs=brs, error_passive=True) for identifier in range(2048)]
    length = frame_length(False, 0, fd=True, brs=brs)
    assert max(frame.arbitration_bits for frame in active + passive) == length.worst_bits.arbitration
    assert max(frame.data_bits for frame in active + passive) == length.worst_bits.data
    assert fmean(frame.arbitration_bits for frame in active) == pytest.approx(length.mean_bits.arbitration, abs=1e-9)
    assert fmean(frame.data_bits for frame in active) == pytest.approx(length.mean_bits.data, abs=1e-9)


@pytest.mark.parametrize(
    ("extended", "length", "fd"),
    [(False, 0, False), (False, 8, False), (True, 3, False), (True, 8, False), (True, 12, True), (False, 64, True)],
)
def test_mean_is_that_of_random_frames_with_their_real_crc(extended, length, fd):
    draw = random.Random(20261125)
    found = [
        frame_bits(draw.getrandbits(29 if extended else 11), extended, draw.randbytes(length), fd=fd, brs=fd).total_bits
        for _ in range(3000)
    ]
    error = stdev(found) / len(found) ** 0.5
    assert frame_length(extended, length, fd=fd).mean_bits.total == pytest.approx(fmean(found), abs=4.0 * error)


def test_the_mean_takes_the_crc_as_random_and_is_right_to_a_hundredth_of_a_bit_over_all_empty_frames():
    found = fmean(frame_bits(identifier, False, b"").total_bits for identifier in range(2048))
    assert frame_length(False, 0).mean_bits.total == pytest.approx(found, abs=0.01)


def test_the_data_phase_of_64_bytes_is_the_published_one_and_what_iso_added():
    row = PUBLISHED["data_phase_before_iso"]
    assert frame_length(False, row["bytes"], fd=True).worst_bits.data == row["bits"] + row["iso_adds"]


@pytest.mark.parametrize("extended", KINDS)
def test_longer_payloads_take_longer_and_padding_costs_as_much_as_payload(extended):
    for one, next_one in pairwise(FD_LENGTHS):
        shorter, longer = (frame_length(extended, length, fd=True) for length in (one, next_one))
        for get in (lambda one: one.best_bits, lambda one: one.mean_bits, lambda one: one.worst_bits):
            assert get(shorter).total < get(longer).total
        assert frame_length(extended, one + 1, fd=True) == longer


def test_best_mean_worst_stand_in_order():
    for extended, length in product((False, True), FD_LENGTHS):
        for fd, brs in ((True, None), (True, True), (True, False), *([(False, None)] if length <= 8 else [])):
            found = frame_length(extended, length, fd=fd, brs=brs)
            assert found.best_bits.total < found.mean_bits.total < found.worst_bits.total


def test_duration_takes_each_phase_at_its_rate():
    assert duration_s(PhaseBits(135), 500e3) == pytest.approx(270e-6, abs=1e-12)
    assert duration_s(PhaseBits(32, 678), 500e3, 2e6) == pytest.approx(64e-6 + 339e-6, abs=1e-12)
    assert duration_s(PhaseBits(32, 678), 500e3) == pytest.approx(1420e-6, abs=1e-12)


def test_both_bits_that_change_rate_sum_to_one_of_each_at_any_sample_points():
    """Why the switch may be counted whole into one phase and the CRC delimiter whole into the other."""
    slow_s, fast_s = 2e-6, 0.25e-6
    for nominal, data in product((0.7, 0.8, 0.875), (0.6, 0.7, 0.8)):
        switch_s = nominal * slow_s + (1.0 - data) * fast_s
        delimiter_s = data * fast_s + (1.0 - nominal) * slow_s
        assert switch_s + delimiter_s == pytest.approx(slow_s + fast_s, abs=1e-15)


@pytest.mark.parametrize(("length", "fd"), [(9, False), (-1, False), (65, True), (-1, True)])
def test_a_payload_that_no_frame_holds_is_refused(length, fd):
    with pytest.raises(ValueError, match="do not fit"):
        frame_length(False, length, fd=fd)
    if fd:
        with pytest.raises(ValueError, match="do not fit"):
            fd_length(length)
