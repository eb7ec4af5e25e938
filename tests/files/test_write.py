import signal
import subprocess
import sys
import textwrap
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.app.start import examples, start_from_example
from loomwright.files import difference, load, preview, write
from loomwright.files.load import understood
from loomwright.files.write import new_project, write_texts
from loomwright.model.line import Station
from loomwright.model.variant import changed
from loomwright.terms.change import Change, Edit
from loomwright.terms.errors import RefusedWriteError, StaleWriteError
from loomwright.terms.fact import Assumed, Known, Source, Unknown

VEHICLE = b"""# the van
format = 1
name = "x"  # its name
length = "4 m"
width = "2 m"

# where things sit
[places.a]
x = "1 m"   # by tape
y = "0 m"

# beside the wheel
[places.b]
x = "2 m"
y = "0 m"

[runs.r]
from = "a"
to = "b"
length = "1.2 m"
"""
BOX = b"""role = "other"
place = "a"
manual = "a manual"

[ports.can]
pigtail = "300 mm"  # measured twice
pigtail_source = "page 3"
"""
LINE = b"""title = "One"

# first: the box
[[stations]]
port = "box.can"

# then the other
[[stations]]
port = "bix.can"   # with a remark
branch = "0.4 m"

# the plug
[[stations]]
terminator = "120 ohm"
at = "b"
"""
TEXTS = {"vehicle.toml": VEHICLE, "components/box.toml": BOX, "components/bix.toml": BOX, "lines/one.toml": LINE}


def after(*edits, texts=TEXTS):
    """New bytes of every file that the edits touch."""
    loaded = understood(texts)
    assert loaded.problems == ()
    return {
        name: new for name, (_, new) in preview(loaded, Change("test", tuple(Edit(*edit) for edit in edits))).items()
    }


def test_one_value_changes_and_every_other_byte_stays():
    new = after((("places", "a", "x_m"), 1.25))
    assert new == {"vehicle.toml": VEHICLE.replace(b'x = "1 m"   #', b'x = "1.25 m"   #')}


def test_a_value_keeps_the_unit_its_writer_chose():
    new = after((("components", "box", "ports", "can", "pigtail_m"), Known(0.35, source=Source("a manual", "page 3"))))
    assert new == {"components/box.toml": BOX.replace(b'"300 mm"', b'"350 mm"')}


def test_a_fact_that_becomes_assumed_loses_its_source_and_keeps_its_comment():
    new = after((("components", "box", "ports", "can", "pigtail_m"), Assumed(0.3, "looks like it")))
    expected = BOX.replace(b'pigtail_source = "page 3"\n', b'pigtail_assumed = "looks like it"\n')
    assert new == {"components/box.toml": expected}


def test_an_unknown_is_a_question_mark():
    new = after((("components", "box", "ports", "can", "pigtail_m"), Unknown("How long?")))["components/box.toml"]
    assert b'pigtail = "?"  # measured twice\npigtail_ask = "How long?"\n' in new


def test_stations_move_as_blocks_with_their_comments():
    loaded = understood(TEXTS)
    first, second, third = loaded.vehicle.lines["one"].stations
    new = after((("lines", "one", "stations"), (second, first, third)))["lines/one.toml"]
    blocks = LINE.decode().split("\n\n")
    assert new.decode() == "\n\n".join([blocks[0], blocks[2], blocks[1], blocks[3]])


def test_a_station_can_be_edited_added_and_taken_out():
    loaded = understood(TEXTS)
    first, second, third = loaded.vehicle.lines["one"].stations
    new = after((("lines", "one", "stations"), (first, replace(second, terminated=True), third)))["lines/one.toml"]
    assert new == LINE.replace(b'branch = "0.4 m"\n', b'branch = "0.4 m"\nterminated = true\n')
    new = after((("lines", "one", "stations"), (first, third)))["lines/one.toml"]
    assert b"bix" not in new
    assert b"# the plug" in new
    new = after((("lines", "one", "stations"), (*(first, second, third), Station("box.can", at="b"))))["lines/one.toml"]
    assert new.startswith(LINE.rstrip())
    assert new.endswith(b'port = "box.can"\nat = "b"\n')


def test_the_first_stations_of_a_bare_line_go_under_its_keys():
    texts = {**TEXTS, "lines/one.toml": b'title = "One"\n'}
    new = after((("lines", "one", "stations"), (Station("box.can"),)), texts=texts)["lines/one.toml"]
    assert new == b'title = "One"\n\n[[stations]]\nport = "box.can"\n'
    assert after((("lines", "one", "stations"), ()))["lines/one.toml"] == b'title = "One"\n'


def test_tables_and_files_come_and_go():
    box = understood(TEXTS).vehicle.components["box"]
    place = understood(TEXTS).vehicle.places["a"]
    new = after((("components", "more"), box), (("places", "c"), place))
    assert set(new) == {"components/more.toml", "vehicle.toml"}
    assert b'[places.c]\nx = "1 m"' in new["vehicle.toml"]
    bare = {name: text for name, text in TEXTS.items() if name != "lines/one.toml"}
    assert after((("components", "bix"), None), texts=bare) == {"components/bix.toml": b""}
    assert after((("runs", "r"), None))["vehicle.toml"] == VEHICLE[: VEHICLE.index(b"\n[runs.r]")]


def test_windows_line_ends_stay():
    texts = {name: text.replace(b"\n", b"\r\n") for name, text in TEXTS.items()}
    new = after((("lines", "one", "stations", 0, "terminated"), True), texts=texts)["lines/one.toml"]
    assert new == texts["lines/one.toml"].replace(b'"box.can"\r\n', b'"box.can"\r\nterminated = true\r\n')


def test_inline_tables_and_dotted_keys_are_edited_where_they_stand():
    texts = {**TEXTS, "vehicle.toml": VEHICLE + b'[places]\nc = { x = "1 m", y = "0 m" }\nd.x = "3 m"\nd.y = "0 m"\n'}
    vehicle = b'format = 1\nname = "x"\nlength = "4 m"\nwidth = "2 m"\nplaces.a = { x = "1 m", y = "0 m" }\nplaces.b.x = "3 m"\nplaces.b.y = "0 m"\n'
    texts = {**TEXTS, "vehicle.toml": vehicle}
    new = after((("places", "a", "z_m"), 0.5), (("places", "b", "z_m"), 0.7), texts=texts)["vehicle.toml"]
    assert b'places.a = { x = "1 m", y = "0 m", z = "0.5 m" }' in new
    assert b'places.b.z = "0.7 m"\n' in new


def test_a_change_that_files_cannot_say_is_refused_whole():
    with pytest.raises(RefusedWriteError, match="nothing was written"):
        after((("components", "box", "place"), "nowhere"))


def test_the_difference_is_told_in_the_usual_form():
    loaded = understood(TEXTS)
    pairs = preview(loaded, Change("", (Edit(("places", "a", "x_m"), 1.25),)))
    text = difference("vehicle.toml", *pairs["vehicle.toml"])
    assert '-x = "1 m"   # by tape' in text
    assert '+x = "1.25 m"   # by tape' in text


def all_edits(vehicle):
    """One edit for every place, component lead and line of a vehicle."""
    for name in vehicle.places:
        yield Edit(("places", name, "x_m"), 0.777)
    for name, component in vehicle.components.items():
        yield Edit(("components", name, "title"), 'said "so" \\ here')
        for port in component.ports:
            yield Edit(("components", name, "ports", port, "pigtail_m"), Known(0.123, source=Source("tape", "today")))
            yield Edit(("components", name, "ports", port, "node_resistance_ohm"), Unknown())
    for name, line in vehicle.lines.items():
        yield Edit(("lines", name, "stations"), tuple(reversed(line.stations)))
        yield Edit(("lines", name, "bit_rate_bit_per_s"), Known(125e3))
        yield Edit(("lines", name, "stations", 0), None)


@pytest.mark.parametrize("example", ["bench", "tipper"])
def test_every_kind_of_edit_of_an_example_reads_back_and_keeps_comments(example, tmp_path):
    start_from_example(tmp_path / "p", example)
    loaded = load(tmp_path / "p")
    for edit in all_edits(loaded.vehicle):
        pairs = preview(loaded, Change("", (edit,)))
        texts = {**loaded.texts, **{name: new for name, (_, new) in pairs.items()}}
        assert understood(texts).vehicle == changed(loaded.vehicle, Change("", (edit,)))
        assert len(pairs) <= 1
        for old, new in pairs.values():
            if edit.value is not None:
                kept = [line for line in old.decode().splitlines() if line.startswith("#")]
                assert sorted(kept) == sorted(line for line in new.decode().splitlines() if line.startswith("#"))


@pytest.mark.parametrize("example", examples())
def test_a_change_and_its_opposite_leave_the_same_vehicle(example, tmp_path):
    start_from_example(tmp_path / "p", example)
    loaded = load(tmp_path / "p")
    for name, line in loaded.vehicle.lines.items():
        path = ("lines", name, "stations")
        write(tmp_path / "p", load(tmp_path / "p"), Change("", (Edit(path, line.stations[::-1]),)))
        write(tmp_path / "p", load(tmp_path / "p"), Change("", (Edit(path, line.stations),)))
    assert load(tmp_path / "p").vehicle == loaded.vehicle


@pytest.fixture
def folder(tmp_path):
    for name, text in TEXTS.items():
        (tmp_path / "p" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "p" / name).write_bytes(text)
    return tmp_path / "p"


MOVE = Change("move", (Edit(("places", "a", "x_m"), 1.25), Edit(("lines", "one", "title"), "Two")))


def files_of(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_stale_write_is_refused_and_carries_both_versions(folder):
    loaded = load(folder)
    theirs = LINE + b"# somebody else\n"
    (folder / "lines/one.toml").write_bytes(theirs)
    with pytest.raises(StaleWriteError) as refused:
        write(folder, loaded, MOVE)
    assert (refused.value.file, refused.value.read, refused.value.found) == ("lines/one.toml", LINE, theirs)
    assert (folder / "vehicle.toml").read_bytes() == VEHICLE


def test_a_change_elsewhere_is_no_hindrance(folder):
    loaded = load(folder)
    (folder / "components/bix.toml").write_bytes(BOX + b"# mine\n")
    write(folder, loaded, MOVE)
    assert b"1.25 m" in (folder / "vehicle.toml").read_bytes()


def test_when_the_disk_refuses_midway_all_files_are_as_they_were(folder, monkeypatch):
    before = files_of(folder)
    real, calls = Path.replace, []

    def refuse_second(self, target):
        calls.append(target)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", refuse_second)
    with pytest.raises(RefusedWriteError, match="No space left"):
        write(folder, load(folder), MOVE)
    assert files_of(folder) == before


def test_the_mode_of_a_file_stays(folder):
    (folder / "vehicle.toml").chmod(0o640)
    write(folder, load(folder), MOVE)
    assert (folder / "vehicle.toml").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize(
    "name", ["../outside.toml", "/etc/hosts", "components/../../x.toml", "components/.x.toml", "notes.txt"]
)
def test_nothing_outside_the_project_is_written(folder, name):
    with pytest.raises(RefusedWriteError, match="not a file of this project"):
        write_texts(folder, {name: (b"", b"x")})


def test_a_link_out_of_the_project_is_not_followed(folder, tmp_path):
    outside = tmp_path / "elsewhere.toml"
    outside.write_bytes(BOX)
    (folder / "components/box.toml").unlink()
    (folder / "components/box.toml").symlink_to(outside)
    with pytest.raises(RefusedWriteError, match="not a file of this project"):
        write_texts(folder, {"components/box.toml": (BOX, b"x")})
    assert outside.read_bytes() == BOX


def test_a_kill_at_any_moment_leaves_each_file_whole(folder):
    """kill -9 between the temporary file and the rename, and between two renames: old or new, never half."""
    before = files_of(folder)
    loaded = load(folder)
    pairs = preview(loaded, MOVE)
    for moment in (1, 2):
        script = textwrap.dedent(f"""
            import os, signal, sys
            from pathlib import Path
            from loomwright.files import load, write
            from loomwright.terms.change import Change, Edit
            real, calls = Path.replace, []
            def kill(self, target):
                calls.append(target)
                if len(calls) == {moment}:
                    os.kill(os.getpid(), signal.SIGKILL)
                return real(self, target)
            Path.replace = kill
            folder = Path(sys.argv[1])
            write(folder, load(folder), Change("move", (Edit(("places", "a", "x_m"), 1.25), Edit(("lines", "one", "title"), "Two"))))
        """)
        done = subprocess.run([sys.executable, "-c", script, str(folder)], check=False)
        assert done.returncode == -signal.SIGKILL
        now = {name: text for name, text in files_of(folder).items() if not Path(name).name.startswith(".")}
        for name, text in now.items():
            assert text in (before[name], pairs.get(name, (b"", before[name]))[1])
        assert load(folder).problems == ()
        for name, text in before.items():
            (folder / name).write_bytes(text)


def test_new_project_refuses_a_folder_that_holds_something(folder):
    before = files_of(folder)
    with pytest.raises(RefusedWriteError, match="holds something"):
        new_project(folder, load(folder).vehicle)
    assert files_of(folder) == before


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_coordinate_can_be_written(data):
    value = data.draw(st.floats(-1e3, 1e3))
    new = after((("places", "a", "x_m"), value))
    texts = {**TEXTS, **new}
    assert understood(texts).vehicle.places["a"].x_m == value
