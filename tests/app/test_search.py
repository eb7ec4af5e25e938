import pytest

from loomwright.app.project import open_project
from loomwright.app.search import search, slips
from loomwright.app.start import start_from_example


@pytest.fixture(scope="module")
def minibus(tmp_path_factory):
    folder = tmp_path_factory.mktemp("projects") / "minibus"
    start_from_example(folder, "minibus")
    return open_project(folder).vehicle


def kinds(found):
    return {hit.kind for hit in found}


def test_every_kind_of_named_thing_is_found_by_its_name(minibus):
    for table, kind in (("components", "component"), ("lines", "line"), ("places", "place"), ("runs", "run"),
                        ("cables", "cable"), ("locks", "lock")):  # fmt: skip
        for name in getattr(minibus, table):
            assert any((hit.kind, hit.name) == (kind, name) for hit in search(minibus, name)), (kind, name)
    for name, component in minibus.components.items():
        for port in component.ports:
            assert search(minibus, f"{name}.{port}")[0].name == f"{name}.{port}"
    assert any((hit.kind, hit.name) == ("rule", "branch-length") for hit in search(minibus, "branch-length"))
    assert search(minibus, "precharge")[0].kind == "term"


def test_a_whole_name_wins_then_a_beginning_then_a_word_within(minibus):
    found = [hit.title.lower() for hit in search(minibus, "drive line")]
    assert found[0] == "drive line"
    own = [
        hit.name.rpartition(".")[2] if hit.kind in ("message", "signal") else hit.name
        for hit in search(minibus, "lamp")
    ]
    ranks = [
        0 if hit.title.lower().startswith("lamp") or name.startswith("lamp") else 1
        for hit, name in zip(search(minibus, "lamp"), own, strict=True)
    ]
    assert ranks == sorted(ranks)
    assert 0 in ranks


def test_a_slip_of_the_finger_still_finds(minibus):
    for typed in ("inverrter", "invertre", "invreter", "inveter"):
        assert "inverter" in {hit.name for hit in search(minibus, typed)}, typed
    assert search(minibus, "xyzzyx") == ()
    assert search(minibus, "  ") == ()


@pytest.mark.parametrize(
    ("typed", "word", "count"),
    [("trunk", "trunk", 0), ("trnuk", "trunk", 1), ("trank", "trunk", 1), ("tunk", "trunk", 1), ("trrunk", "trunk", 1),
     ("term", "termination", 0), ("abcd", "trunk", 2)],
)  # fmt: skip
def test_slips_are_counted(typed, word, count):
    assert min(slips(typed, word, 1), 2) == count
