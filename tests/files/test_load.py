"""A folder becomes a vehicle; nothing in it makes ``load`` raise, hang or read what it should not."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.app.start import examples, start_from_example
from loomwright.files import Loaded, load, new_project, spot_of
from loomwright.files.change import project_texts, settled
from loomwright.files.load import understood
from loomwright.files.schema import FOLDERS, shape_of
from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.message import Signal
from loomwright.model.table import Table
from loomwright.model.vehicle import Place, Vehicle
from loomwright.terms.fact import Assumed, Known, Source, Unknown
from tests.files.build import BODY, COMPONENT, HEADS, TEXTS
from tests.files.generate import vehicles


@pytest.fixture
def folder(tmp_path):
    for name, text in TEXTS.items():
        (tmp_path / "p" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "p" / name).write_bytes(text)
    return tmp_path / "p"


def told(loaded):
    return [(item.file, item.message) for item in loaded.problems]


# Facts


def test_every_way_to_say_a_fact():
    port = b"""
termination = "switchable"
termination_source = "page 31"
node_resistance = "25 .. 30 .. 40 kohm"
node_resistance_source = "TR-90 data sheet: table 4: row 2"
termination_resistance = "120 ohm +- 1 %"
termination_resistance_source = "TR-90 data sheet:"
pigtail = "0.3 m"
pigtail_assumed = "looks like it in the photograph"
bit_rates = "?"
bit_rates_ask = "Can it be set to 500 kbit/s?"
identifiers = "?"
protocols = ["J1939", "raw"]
"""
    manual = b'manual = "the manual, edition 2"\n'
    found = understood({**TEXTS, "components/box.toml": manual + COMPONENT + port})
    assert found.problems == ()
    assert found.vehicle.components["box"].ports["can"] == Port(
        protocols=Known(("J1939", "raw")),
        bit_rates_bit_per_s=Unknown("Can it be set to 500 kbit/s?"),
        identifiers=Unknown(),
        termination=Known("switchable", source=Source("the manual, edition 2", "page 31")),
        termination_ohm=Known(120.0, 118.8, 121.2, Source("TR-90 data sheet")),
        pigtail_m=Assumed(0.3, "looks like it in the photograph"),
        node_resistance_ohm=Known(30e3, 25e3, 40e3, Source("TR-90 data sheet", "table 4: row 2")),
    )


def test_a_source_without_a_manual_is_the_document_itself():
    found = understood({**TEXTS, "components/box.toml": COMPONENT + b'pigtail = "1 m"\npigtail_source = "tape"\n'})
    assert found.vehicle.components["box"].ports["can"].pigtail_m == Known(1.0, source=Source("tape"))


def test_the_same_project_in_other_spellings_is_the_same_vehicle():
    body = b"""places = { b = { y = "0 mm", x = "200 cm" }, "a" = {x="1000 mm",y="-0 m"} }
width = '2.000 m'
"length" = \"\"\"4 m\"\"\" # far
name = "\\u0078"
format = 1
"""
    line = b'stations = [\n  { port = "box.can" }, # the only one\n]\ncontroller = "box.can"\n'
    texts = {**TEXTS, "vehicle.toml": body.replace(b"\n", b"\r\n"), "lines/one.toml": line}
    assert understood(texts).problems == ()
    assert understood(texts).vehicle == understood(TEXTS).vehicle


@pytest.mark.parametrize("cls", [Vehicle, Component, Port, Line, Station, Place, Signal])
def test_the_model_alone_says_what_a_file_may_hold(cls):
    shape = shape_of(cls)
    assert {slot.item.name for slot in shape.slots.values()} | set(shape.tables) | set(shape.lists) == {
        name for name in cls.__dataclass_fields__ if name not in FOLDERS
    }


# Places


@pytest.mark.parametrize("example", examples())
def test_every_place_of_every_example_shows_the_key_of_its_field(example, tmp_path):
    start_from_example(tmp_path / "p", example)
    loaded = load(tmp_path / "p")
    assert loaded.problems == ()
    assert len(loaded.places) > 50
    for path in loaded.places:
        spot = loaded.places[path]
        text = loaded.texts[spot.file].decode("utf-8")
        assert text[: spot.start].count("\n") + 1 == spot.line
        assert spot.start - text.rfind("\n", 0, spot.start) == spot.column
        before = text[: spot.start].rpartition("\n")[2]
        if before.rstrip().endswith("="):
            key = before.split("=")[0].strip()
            assert str(path[-1]).startswith(key.split("_")[0]) or key in (
                "from",
                "to",
                "with",
                "termination_resistance",
            )


def test_a_default_is_shown_at_the_table_that_leaves_it_out():
    loaded = understood(TEXTS)
    assert spot_of(loaded, ("places", "a", "x_m")).line == 6
    assert spot_of(loaded, ("places", "a", "z_m")) == spot_of(loaded, ("places", "a"))
    assert spot_of(loaded, ("places", "a", "z_m")).line == 5
    assert spot_of(loaded, ("lines", "one", "stations", 0, "at")).line == 2
    assert spot_of(loaded, ("components", "box", "ports", "can", "pigtail_m")).file == "components/box.toml"


# Folders and files


def test_the_exact_bytes_are_kept(folder):
    assert load(folder).texts == TEXTS


def test_folders_that_are_none(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "empty").mkdir()
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    assert told(load(tmp_path / "nothing")) == [(str(tmp_path / "nothing"), "there is no such folder")]
    assert told(load(tmp_path / "file")) == [(str(tmp_path / "file"), "is not a folder")]
    assert told(load(tmp_path / "empty")) == [("vehicle.toml", "is missing")]
    assert len(load(tmp_path / "loop").problems) == 1
    assert len(load(Path("a\0b")).problems) == 1
    assert load(tmp_path / "nothing").vehicle is None


def test_the_file_that_was_meant_is_offered(folder):
    (folder / "vehicle.toml").rename(folder / "vehicel.toml")
    assert load(folder).problems[0].nearest == "vehicel.toml"


def test_what_is_no_toml_file_is_passed_over(folder):
    for name in ("notes.txt", "box.toml~", ".box.toml", ".box.toml.1a2b.new", "README"):
        (folder / "components" / name).write_bytes(b"no toml")
    (folder / "drawings").mkdir()
    (folder / "components" / "old").mkdir()
    (folder / "components" / "old" / "box.toml").write_bytes(b"no toml")
    assert load(folder).problems == ()


def test_a_huge_file_is_refused_without_reading_it(folder):
    with (folder / "components" / "huge.toml").open("wb") as stream:
        stream.truncate(50_000_000)
    begin = time.process_time()
    found = load(folder)
    assert time.process_time() - begin < 1
    assert told(found) == [("components/huge.toml", "is 50.0 MB large and was not read")]
    assert "components/huge.toml" not in found.texts


def test_a_large_file_within_the_limit_is_read_in_good_time(folder):
    more = b"".join(b'[places.p%d]\nx = "1.25 m"\ny = "0.5 m"\ntitle = "here"\n' % n for n in range(30_000))
    (folder / "vehicle.toml").write_bytes(BODY + more)
    assert len(BODY + more) > 1_500_000
    begin = time.process_time()
    assert len(load(folder).vehicle.places) == 30_002
    assert time.process_time() - begin < 15


def test_five_hundred_component_files_load_well_under_a_second(tmp_path):
    place = Place(1.0, 0.0)
    port = Port(bit_rates_bit_per_s=Known((250e3,)), identifiers=Known("29 bit"), termination=Known("none"))
    components = {f"c{n}": Component("other", "a", ports=Table({"can": port})) for n in range(500)}
    lines = {
        f"l{n}": Line(stations=tuple(Station(f"c{each}.can") for each in range(n * 25, n * 25 + 25))) for n in range(20)
    }
    vehicle = Vehicle("x", 4.0, 2.0, places=Table({"a": place}), components=Table(components), lines=Table(lines))
    new_project(tmp_path / "p", vehicle)
    seconds = []
    for _ in range(3):
        begin = time.process_time()
        assert load(tmp_path / "p").vehicle == vehicle
        seconds.append(time.process_time() - begin)
    assert min(seconds) < 1


def test_links_that_lead_outside_are_refused(folder, tmp_path):
    outside = tmp_path / "secret.toml"
    outside.write_bytes(COMPONENT)
    (folder / "components" / "linked.toml").symlink_to(outside)
    (folder / "components" / "inner.toml").symlink_to(folder / "components" / "box.toml")
    (folder / "components" / "lost.toml").symlink_to(folder / "nowhere.toml")
    found = load(folder)
    assert [(item.file, item.message.partition(" that ")[0]) for item in found.problems] == [
        ("components/linked.toml", "is a link"),
        ("components/lost.toml", "is a link to a file"),
    ]
    assert "components/linked.toml" not in found.texts
    assert found.texts["components/inner.toml"] == COMPONENT
    (tmp_path / "elsewhere").mkdir()
    (folder / "lines" / "one.toml").unlink()
    (folder / "lines").rmdir()
    (folder / "lines").symlink_to(tmp_path / "elsewhere")
    assert ("lines", "is a link that leads out of the project") in told(load(folder))


def test_a_project_reached_by_a_link_is_fine(folder, tmp_path):
    (tmp_path / "short").symlink_to(folder)
    assert load(tmp_path / "short").problems == ()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_not_waited_for(folder):
    os.mkfifo(folder / "components" / "pipe.toml")
    (folder / "components" / "dir.toml").mkdir()
    assert told(load(folder)) == [
        ("components/dir.toml", "is not a file"),
        ("components/pipe.toml", "is not a file"),
    ]


RIGHTS = """
import os, sys
from pathlib import Path
from loomwright.files import load
if os.geteuid() == 0:
    os.seteuid(65534)
for item in load(Path(sys.argv[1])).problems:
    print(item.file, item.message, sep=": ")
"""


@pytest.mark.skipif(not hasattr(os, "seteuid"), reason="rights are another matter here")
def test_what_may_not_be_read_is_told(folder):
    for path in (folder, *folder.parents[:4]):
        path.chmod(0o755)
    (folder / "vehicle.toml").chmod(0)
    (folder / "lines").chmod(0)
    done = subprocess.run(
        [sys.executable, "-c", RIGHTS, str(folder)], capture_output=True, text=True, check=True, env={**os.environ}
    )
    (folder / "lines").chmod(0o755)
    assert done.stdout.splitlines() == [
        "lines: cannot be read: Permission denied",
        "vehicle.toml: cannot be read: Permission denied",
    ]


# Everything


@settings(max_examples=60, deadline=None)
@given(vehicles())
def test_a_project_written_out_loads_as_the_same_vehicle(vehicle):
    loaded = understood(project_texts(vehicle))
    assert loaded.problems == ()
    assert loaded.vehicle == settled(vehicle)


def test_a_project_in_a_folder_loads_as_the_same_vehicle(tmp_path):
    vehicle = understood(TEXTS).vehicle
    new_project(tmp_path / "p", vehicle)
    assert load(tmp_path / "p").vehicle == vehicle


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_random_bytes_never_raise(data):
    noise = st.binary(max_size=60) | st.text(max_size=40).map(lambda text: text.encode("utf-8", "surrogatepass"))
    understood({name: data.draw(noise) for name in TEXTS})


SCRAPS = [
    b"", b"\n", b'"', b"[", b"]", b"=", b"{}", b"[[stations]]", b"3", b"true", b"[]", b'"?"', b"\xff", b"x.y", b"{a=1}",
    b"nan", b'["a",1]', b"1979-05-27", b"\r", b"\0", b"#", b'"""', b"[ports]", b"[places.a]",
]  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_a_valid_project_bent_anywhere_never_raises(data):
    name = data.draw(st.sampled_from(sorted(TEXTS)))
    text = TEXTS[name]
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 10)))
        text = text[:start] + data.draw(st.sampled_from(SCRAPS)) + text[end:]
    loaded = understood({**TEXTS, name: text})
    well_formed(loaded)


VALUES = [
    b"3", b"true", b"[]", b"{}", b'"?"', b'""', b"nan", b'["a", 1]', b"1979-05-27", b'{ a = "x" }', b'[["a"]]', b"[{}]",
    b'"1 m"', b'[ "1 kbit/s" ]', b'"a"', b"-1", b"inf", b'"1 .. 2 ohm"', b'"box.can"', b"07:32:00", b'"' + b"x" * 500 + b'"',
]  # fmt: skip


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_any_value_at_any_key_never_raises(data):
    name = data.draw(st.sampled_from(sorted(HEADS)))
    head, cls = data.draw(st.sampled_from(HEADS[name]))
    keys = data.draw(st.lists(st.sampled_from(sorted(shape_of(cls).keys)), max_size=6, unique=True))
    lines = [f"{key} = ".encode() + data.draw(st.sampled_from(VALUES)) for key in keys]
    well_formed(understood({**TEXTS, name: head + b"\n".join(lines)}))


def well_formed(loaded):
    """What every face relies on."""
    assert isinstance(loaded, Loaded)
    assert loaded.problems or loaded.vehicle is not None
    for item in loaded.problems:
        assert item.message
        assert item.expected
        assert item.line >= 0
        assert item.column >= (1 if item.line else 0)
        assert item.width >= 1
        assert "\n" not in item.excerpt
        if item.excerpt:
            assert item.column <= len(item.excerpt) + 1
    for path in loaded.places:
        assert loaded.places[path].line >= 1


def test_a_line_is_read(folder):
    assert load(folder).vehicle.lines["one"] == Line(controller="box.can", stations=(Station("box.can"),))
