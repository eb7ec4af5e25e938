import os

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.app.start import start_from_example
from loomwright.files import load
from loomwright.files.load import understood
from loomwright.files.write import new_project
from tests.files.generate import vehicles

BODY = b'format = 1\nname = "x"\nlength = "4 m"\nwidth = "2 m"\n[places.a]\nx = "1 m"\ny = "0 m"\n[places.b]\nx = "2 m"\ny = "0 m"\n'
COMPONENT = b'role = "other"\nplace = "a"\n[ports.can]\n'
LINE = b'controller = "box.can"\n[[stations]]\nport = "box.can"\n'


def problems(**files):
    texts = {"vehicle.toml": BODY, "components/box.toml": COMPONENT, "lines/one.toml": LINE}
    texts |= {name.replace("__", "/") + ".toml": text for name, text in files.items()}
    return understood(texts).problems


def test_the_base_of_these_cases_is_fine():
    assert problems() == ()


CASES = {
    "malformed": ({"vehicle": BODY + b"x = \n"}, "vehicle.toml", 11, "", ""),
    "unknown key": ({"components__box": b'rule = "other"\n' + COMPONENT}, "components/box.toml", 1, "unknown key 'rule'", "role"),
    "wrong dimension": ({"vehicle": BODY.replace(b'"4 m"', b'"120 ohm"')}, "vehicle.toml", 3, "cannot read '120 ohm' as length", ""),
    "decimal comma": ({"vehicle": BODY.replace(b'"4 m"', b'"4,5 m"')}, "vehicle.toml", 3, "cannot read", ""),
    "bare number": ({"vehicle": BODY.replace(b'"4 m"', b"4.5")}, "vehicle.toml", 3, "without a unit", ""),
    "negative length": ({"vehicle": BODY.replace(b'"4 m"', b'"-4 m"')}, "vehicle.toml", 3, "is negative", ""),
    "missing key": ({"components__box": b'place = "a"\n'}, "components/box.toml", 1, "'role' is missing", ""),
    "wrong choice": ({"components__box": COMPONENT.replace(b"other", b"inverer")}, "components/box.toml", 1, "not among the choices", "inverter"),
    "wrong type": ({"components__box": b"role = 3\n" + COMPONENT[15:]}, "components/box.toml", 1, "a bare number", ""),
    "place": ({"components__box": COMPONENT.replace(b'"a"', b'"aa"')}, "components/box.toml", 2, "no place 'aa'", "a"),
    "station": ({"lines__one": LINE + b'[[stations]]\nport = "box.cam"\n'}, "lines/one.toml", 5, "no port 'box.cam'", "box.can"),
    "empty station": ({"lines__one": LINE + b"[[stations]]\n"}, "lines/one.toml", 4, "either a port or", ""),
    "terminator without place": ({"lines__one": LINE + b'[[stations]]\nterminator = "120 ohm"\n'}, "lines/one.toml", 4, "needs its place", ""),
    "via": ({"lines__one": LINE + b'via = ["a", "c"]\n'}, "lines/one.toml", 4, "no place 'c'", ""),
    "controller": ({"lines__one": LINE.replace(b'controller = "box.can"', b'controller = "bix.can"')}, "lines/one.toml", 1, "no port 'bix.can'", "box.can"),
    "cable": ({"lines__one": b'cable = "pair"\n' + LINE}, "lines/one.toml", 1, "no cable 'pair'", ""),
    "run to itself": ({"vehicle": BODY + b'[runs.r]\nfrom = "a"\nto = "a"\n'}, "vehicle.toml", 13, "to itself", ""),
    "run end": ({"vehicle": BODY + b'[runs.r]\nfrom = "a"\nto = "z"\n'}, "vehicle.toml", 13, "no place 'z'", ""),
    "name": ({"vehicle": BODY + b'[places."Dash board"]\nx = "1 m"\ny = "1 m"\n'}, "vehicle.toml", 11, "is no name", ""),
    "format": ({"vehicle": BODY.replace(b"format = 1", b"format = 9")}, "vehicle.toml", 1, "format 9", ""),
    "no format": ({"vehicle": BODY.replace(b"format = 1\n", b"")}, "vehicle.toml", 1, "'format' is missing", ""),
    "latin": ({"components__box": COMPONENT + 'maker = "Kühn"\n'.encode("latin-1")}, "components/box.toml", 4, "is not UTF-8", ""),
    "utf-16": ({"components__box": "role = 1".encode("utf-16")}, "components/box.toml", 1, "UTF-16", ""),
    "byte order mark": ({"components__box": b"\xef\xbb\xbf" + COMPONENT}, "components/box.toml", 1, "byte order mark", ""),
    "lone source": ({"components__box": COMPONENT + b'pigtail_source = "page 3"\n'}, "components/box.toml", 4, "stands alone", ""),
    "two origins": (
        {"components__box": COMPONENT + b'pigtail = "1 m"\npigtail_source = "p"\npigtail_assumed = "w"\n'},
        "components/box.toml", 6, "either assumed or", "",
    ),
    "contradicting locks": (
        {"vehicle": BODY + b'[locks.m]\nport = "box.can"\nmust = "be on line"\nline = "one"\n[locks.n]\nport = "box.can"\nmust = "be on line"\nline = "two"\n', "lines__two": LINE},
        "vehicle.toml", 15, "cannot be on line", "",
    ),
    "a table as value": ({"vehicle": BODY + b"[name2]\n"}, "vehicle.toml", 11, "unknown key 'name2'", "name"),
    "places as value": ({"vehicle": b'places = 3\nformat = 1\nname = "x"\nlength = "4 m"\nwidth = "2 m"\n'}, "vehicle.toml", 1, "is a single value", ""),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_problem_names_its_file_line_and_what_is_wrong(case):
    files, name, line, message, nearest = CASES[case]
    found = problems(**files)
    hits = [item for item in found if item.file == name and item.line == line and message in item.message]
    assert hits, found
    assert hits[0].column >= 1
    assert hits[0].nearest == nearest or not nearest


def test_all_problems_are_told_at_once():
    found = problems(
        vehicle=BODY.replace(b'"4 m"', b"4").replace(b'"2 m"\n[', b'"2 ohm"\n['),
        components__box=b"",
        lines__one=b"[[stations]]\n",
    )
    assert {item.file for item in found} == {"vehicle.toml", "components/box.toml", "lines/one.toml"}
    assert len(found) >= 5


def test_a_name_with_a_problem_does_not_make_others_dangle():
    found = problems(components__box=COMPONENT.replace(b'role = "other"', b'role = "wrong"'))
    assert [item.message for item in found] == ["'wrong' is not among the choices"]


def test_the_excerpt_and_caret_stand_under_the_culprit():
    found = problems(vehicle=BODY.replace(b'"4 m"', b'"120 ohm"'))[0]
    assert found.excerpt[found.column - 1 : found.column - 1 + found.width] == '"120 ohm"'


@pytest.fixture
def bench(tmp_path):
    start_from_example(tmp_path / "bench", "bench")
    return tmp_path / "bench"


def test_a_huge_file_is_refused_without_reading_it(bench):
    with (bench / "components" / "huge.toml").open("wb") as stream:
        stream.truncate(50_000_000)
    found = load(bench)
    assert found.vehicle is None
    assert "50 MB" in found.problems[0].message
    assert "components/huge.toml" not in found.texts


def test_a_link_that_leads_outside_is_refused(bench, tmp_path):
    outside = tmp_path / "secret.toml"
    outside.write_bytes(COMPONENT)
    (bench / "components" / "linked.toml").symlink_to(outside)
    assert "outside" in load(bench).problems[0].message


@pytest.mark.skipif(os.geteuid() == 0 and not hasattr(os, "seteuid"), reason="rights do not bind this user")
def test_a_file_without_rights_is_told(bench):
    target = bench / "vehicle.toml"
    for path in (
        bench.parent.parent.parent,
        bench.parent.parent,
        bench.parent,
        bench,
        bench / "components",
        bench / "lines",
    ):
        path.chmod(0o755)
    target.chmod(0)
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        found = load(bench)
    finally:
        if root:
            os.seteuid(0)
        target.chmod(0o644)
    assert any(item.file == "vehicle.toml" and "cannot be read" in item.message for item in found.problems), (
        found.problems
    )


def test_folders_that_are_none(tmp_path):
    assert "no such folder" in load(tmp_path / "nothing").problems[0].message
    (tmp_path / "file").write_bytes(b"")
    assert "not a folder" in load(tmp_path / "file").problems[0].message
    (tmp_path / "empty").mkdir()
    assert "is missing" in load(tmp_path / "empty").problems[0].message


def test_deep_nesting_is_a_problem_not_a_crash():
    found = problems(components__box=b"x = " + b"[" * 5000 + b"]" * 5000)
    assert found


def test_the_place_of_every_value_is_known(bench):
    loaded = load(bench)
    name = next(iter(loaded.vehicle.places))
    spot = loaded.places["places", name, "x_m"]
    line = loaded.texts[spot.file].decode().splitlines()[spot.line - 1]
    assert line.startswith("x = ")


@settings(max_examples=60, deadline=None)
@given(vehicles())
def test_a_project_written_out_loads_as_the_same_vehicle(tmp_path_factory, vehicle):
    folder = tmp_path_factory.mktemp("project") / "p"
    new_project(folder, vehicle)
    loaded = load(folder)
    assert loaded.problems == ()
    assert loaded.vehicle == vehicle


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_random_bytes_never_raise(data):
    noise = st.binary(max_size=60) | st.text(max_size=40).map(lambda text: text.encode("utf-8", "surrogatepass"))
    texts = {name: data.draw(noise) for name in ("vehicle.toml", "components/box.toml", "lines/one.toml")}
    understood(texts)


@settings(max_examples=500, deadline=None)
@given(st.data())
def test_a_valid_project_bent_anywhere_never_raises(data):
    texts = {"vehicle.toml": BODY, "components/box.toml": COMPONENT, "lines/one.toml": LINE}
    name = data.draw(st.sampled_from(sorted(texts)))
    text = texts[name]
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, min(len(text), start + 10)))
    scraps = [
        b"",
        b"\n",
        b'"',
        b"[",
        b"]",
        b"=",
        b"{}",
        b"[[stations]]",
        b"3",
        b"true",
        b"[]",
        b'"?"',
        b"\xff",
        b"x.y",
        b"{a=1}",
        b"nan",
        b'["a",1]',
        b"1979-05-27",
    ]
    understood({**texts, name: text[:start] + data.draw(st.sampled_from(scraps)) + text[end:]})


VALUES = [
    b"3",
    b"true",
    b"[]",
    b"{}",
    b'"?"',
    b'""',
    b"nan",
    b'["a", 1]',
    b"1979-05-27",
    b'{ a = "x" }',
    b'[["a"]]',
    b"[{}]",
    b'"1 m"',
    b'[ "1 kbit/s" ]',
    b'"a"',
    b"-1",
    b"inf",
]


@settings(max_examples=500, deadline=None)
@given(st.data())
def test_any_value_at_any_key_never_raises(data):
    from loomwright.files.file import TABLES
    from loomwright.model.component import Component, Port
    from loomwright.model.line import Line, Station
    from loomwright.model.vehicle import Vehicle
    from loomwright.terms.field import fields_of

    heads = {
        "vehicle.toml": [
            (b"", Vehicle),
            *((f"[{k}.n]\n".encode(), cls) for k, cls in TABLES.items()),
            (b"[[axles]]\n", Vehicle),
        ],
        "components/box.toml": [(b"", Component), (b"[ports.p]\n", Port)],
        "lines/one.toml": [(b"", Line), (b"[[stations]]\n", Station)],
    }
    name = data.draw(st.sampled_from(sorted(heads)))
    head, cls = data.draw(st.sampled_from(heads[name]))
    keys = [item.key + end for item in fields_of(cls) for end in ("", "_source", "_assumed", "_ask")]
    lines = [
        f"{key} = ".encode() + data.draw(st.sampled_from(VALUES))
        for key in data.draw(st.lists(st.sampled_from(keys), max_size=5, unique=True))
    ]
    understood(
        {"vehicle.toml": BODY, "components/box.toml": COMPONENT, "lines/one.toml": LINE, name: head + b"\n".join(lines)}
    )
