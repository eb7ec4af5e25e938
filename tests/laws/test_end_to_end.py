import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.laws.end_to_end import Checked, IdentifierMode, Profile1, Profile2, Profile5, check, protect
from tests.authorities import authority

PUBLISHED = authority("end_to_end")

profiles = st.one_of(
    st.builds(Profile1, st.integers(0, 0xFFF), st.sampled_from(IdentifierMode)),
    st.builds(Profile2, st.lists(st.integers(0, 255), min_size=16, max_size=16).map(tuple)),
    st.builds(Profile5, st.integers(0, 0xFFFF), st.integers(0, 5)),
)


@pytest.mark.parametrize("mode", IdentifierMode, ids=lambda mode: mode.name)
def test_profile_1_as_published(mode):
    row = PUBLISHED["profile_1"]
    payload = bytes.fromhex(row["payload"])
    for count, wanted in enumerate(row[mode.name.lower()]):
        found = protect(Profile1(row["data_id"], mode), payload, count)
        assert found.hex().upper() == wanted + row["payload"][4:]


@pytest.mark.parametrize("row", PUBLISHED["profile_2"], ids=lambda row: row["protected"])
def test_profile_2_as_published(row):
    found = protect(Profile2(tuple(row["data_ids"])), bytes.fromhex(row["payload"]), row["count"])
    assert found.hex().upper() == row["protected"]


@pytest.mark.parametrize("row", PUBLISHED["profile_5"], ids=lambda row: row["protected"])
def test_profile_5_as_published(row):
    found = protect(Profile5(row["data_id"], row["offset"]), bytes.fromhex(row["payload"]), row["count"])
    assert found.hex().upper() == row["protected"]


@given(profiles, st.binary(min_size=8, max_size=24), st.data())
def test_what_is_protected_agrees_and_one_turned_bit_does_not(profile, data, draw):
    count = draw.draw(st.integers(0, profile.counts - 1))
    sent = protect(profile, data, count)
    assert check(profile, sent) == Checked(True, count)
    assert protect(profile, sent, count) == sent
    # Where the count picks what the check covers, a turned count is found in 255 of 256 cases only, not in all.
    picks = isinstance(profile, Profile2) or (
        isinstance(profile, Profile1) and profile.mode is IdentifierMode.ALTERNATING
    )
    places = [place for place in range(8 * len(sent)) if not (picks and 8 <= place < 12)]
    place = draw.draw(st.sampled_from(places))
    turned = bytearray(sent)
    turned[place // 8] ^= 1 << place % 8
    assert not check(profile, bytes(turned)).agrees


@given(st.binary(min_size=8, max_size=8), st.integers(0, 14), st.sampled_from(IdentifierMode))
def test_a_message_taken_for_another_does_not_agree(data, count, mode):
    """Low bytes that differ, so that every mode sees it; by high bytes alone the low mode cannot tell."""
    sent = protect(Profile1(0x123, mode), data, count)
    assert not check(Profile1(0x234, mode), sent).agrees
    assert check(Profile1(0x223, mode), sent).agrees == (
        mode is IdentifierMode.LOW or (mode is IdentifierMode.ALTERNATING and count % 2 == 0)
    )


def test_the_fifteenth_count_of_profile_1_is_never_sent_and_never_agrees():
    profile = Profile1(0x123)
    with pytest.raises(ValueError, match="count 15"):
        protect(profile, bytes(8), 15)
    forged = next(
        bytes([crc, 0x0F, 0, 0])
        for crc in range(256)
        if check(Profile1(0x123, counts=16), bytes([crc, 0x0F, 0, 0])).agrees
    )
    assert check(profile, forged) == Checked(False, 15)


def test_what_cannot_hold_check_and_counter_is_refused():
    with pytest.raises(ValueError, match="1 bytes cannot hold"):
        protect(Profile1(1), b"\0", 0)
    with pytest.raises(ValueError, match="4 bytes cannot hold"):
        check(Profile5(1, offset=2), bytes(4))
    with pytest.raises(ValueError, match="16 identifier bytes"):
        Profile2((1, 2))
