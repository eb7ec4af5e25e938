import pytest

from loomwright.laws.obd import PARAMETERS, decoded, value_of
from tests.authorities import authority

PUBLISHED = authority("obd")


@pytest.mark.parametrize("row", [*PUBLISHED["scaling"]["answer"], PUBLISHED["example"]], ids=lambda row: row["bytes"])
def test_answers_have_the_value_of_the_published_scaling(row):
    found = decoded(bytes.fromhex(row["bytes"]))
    assert found is not None
    assert found.value == pytest.approx(row["value"], abs=0.001)


def test_every_parameter_known_here_is_in_the_published_answers():
    assert {parameter.number for parameter in PARAMETERS} == {
        bytes.fromhex(row["bytes"])[1] for row in PUBLISHED["scaling"]["answer"]
    }


def test_padding_after_an_answer_is_left_out():
    assert decoded(bytes.fromhex("410D32AAAAAAAA")) == decoded(bytes.fromhex("410D32"))


def test_what_is_no_answer_or_not_known_is_nothing():
    assert decoded(bytes.fromhex("7F0112")) is None
    assert decoded(bytes.fromhex("41FE00")) is None
    assert decoded(b"\x41") is None


def test_an_answer_cut_short_is_refused():
    with pytest.raises(ValueError, match="engine speed takes 2 bytes, not 1"):
        decoded(bytes.fromhex("410C1A"))
    with pytest.raises(ValueError, match="takes 1 bytes, not 2"):
        value_of(PARAMETERS[0], bytes(2))
