"""Bytes on the disk: whole or not at all, never over somebody else's change, never outside the project."""

import contextlib
import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from loomwright.app.start import examples, start_from_example
from loomwright.files import copy_project, load, new_project, preview, write, write_file
from loomwright.files.write import write_texts
from loomwright.model.component import Component
from loomwright.model.vehicle import Place
from loomwright.terms.change import Change, Edit
from loomwright.terms.errors import RefusedWriteError, StaleWriteError
from tests.files.test_change import BOX, LINE, TEXTS, VEHICLE

MOVE = Change("move", (Edit(("places", "a", "x_m"), 1.25), Edit(("lines", "one", "title"), "Two")))
SWAP = Change(
    "swap",
    (
        Edit(("components", "new"), Component("other", "a")),
        Edit(("components", "bix"), None),
        Edit(("lines", "one", "stations", 1), None),
        Edit(("places", "c"), Place(0.0, 0.0)),
    ),
)


@pytest.fixture
def folder(tmp_path):
    for name, text in TEXTS.items():
        (tmp_path / "p" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "p" / name).write_bytes(text)
    return tmp_path / "p"


def files_of(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_what_is_written_is_what_was_shown_and_what_loads(folder):
    loaded = load(folder)
    pairs = preview(loaded, SWAP)
    written = write(folder, loaded, SWAP)
    assert written.files == ("components/bix.toml", "components/new.toml", "lines/one.toml", "vehicle.toml")
    assert files_of(folder) == {n: t for n, t in (TEXTS | {n: new for n, (_, new) in pairs.items()}).items() if t}
    again = load(folder)
    assert again.problems == ()
    assert again.vehicle == written.loaded.vehicle
    assert again.texts == written.loaded.texts


def test_writing_twice_writes_once(folder):
    written = write(folder, load(folder), MOVE)
    times = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    assert write(folder, written.loaded, MOVE).files == ()
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*")} == times


@pytest.mark.parametrize("example", examples())
def test_a_change_and_its_opposite_leave_the_same_vehicle(example, tmp_path):
    folder = tmp_path / "p"
    start_from_example(folder, example)
    loaded = load(folder)
    for name, line in loaded.vehicle.lines.items():
        path = ("lines", name, "stations")
        there = write(folder, load(folder), Change("", (Edit(path, line.stations[::-1]),)))
        write(folder, there.loaded, Change("", (Edit(path, line.stations),)))
    assert load(folder).vehicle == loaded.vehicle


# Somebody else


def test_a_stale_write_is_refused_and_carries_both_versions(folder):
    loaded = load(folder)
    theirs = LINE + b"# somebody else\n"
    (folder / "lines/one.toml").write_bytes(theirs)
    with pytest.raises(StaleWriteError) as refused:
        write(folder, loaded, MOVE)
    assert (refused.value.file, refused.value.read, refused.value.found) == ("lines/one.toml", LINE, theirs)
    assert files_of(folder) == TEXTS | {"lines/one.toml": theirs}


def test_a_file_that_came_or_went_meanwhile_is_stale_too(folder):
    loaded = load(folder)
    (folder / "components/new.toml").write_bytes(b"theirs")
    with pytest.raises(StaleWriteError):
        write(folder, loaded, SWAP)
    (folder / "components/new.toml").unlink()
    (folder / "lines/one.toml").unlink()
    with pytest.raises(StaleWriteError):
        write(folder, loaded, MOVE)
    assert set(files_of(folder)) == set(TEXTS) - {"lines/one.toml"}


def test_a_change_that_comes_while_the_new_text_is_prepared_is_seen(folder, monkeypatch):
    loaded = load(folder)
    real = os.fsync

    def meddle(handle):
        (folder / "lines/one.toml").write_bytes(LINE + b"# just now\n")
        return real(handle)

    monkeypatch.setattr(os, "fsync", meddle)
    with pytest.raises(StaleWriteError):
        write(folder, loaded, MOVE)
    assert files_of(folder) == TEXTS | {"lines/one.toml": LINE + b"# just now\n"}


def test_a_change_elsewhere_is_no_hindrance(folder):
    loaded = load(folder)
    (folder / "components/bix.toml").write_bytes(BOX + b"# mine\n")
    write(folder, loaded, MOVE)
    assert b"1.25 m" in (folder / "vehicle.toml").read_bytes()


# A disk that refuses


CALLS = {"replace": 4, "fsync": 7}
"""How often a change of four files calls these before its step is done: the journal and three files are renamed."""


@pytest.mark.parametrize("moment", range(1, 9))
@pytest.mark.parametrize("call", CALLS)
def test_when_the_disk_refuses_all_files_are_as_they_were(call, moment, folder, monkeypatch):
    loaded = load(folder)
    after = {n: t for n, t in (TEXTS | {n: new for n, (_, new) in preview(loaded, SWAP).items()}).items() if t}
    real, calls = getattr(os, call), []

    def refuse(*args, **named):
        calls.append(args)
        if len(calls) == moment:
            raise OSError(28, "No space left on device")
        return real(*args, **named)

    monkeypatch.setattr(os, call, refuse)
    refused = (
        contextlib.nullcontext() if moment > CALLS[call] else pytest.raises(RefusedWriteError, match="No space left")
    )
    with refused:
        write(folder, loaded, SWAP)
    assert files_of(folder) == (after if moment > CALLS[call] else TEXTS)
    monkeypatch.undo()
    write(folder, load(folder), MOVE)


def test_when_nothing_can_be_put_back_the_step_can_still_be_finished(folder, monkeypatch):
    from loomwright.files.write import finish

    loaded = load(folder)
    real, calls = os.replace, []

    def refuse(*args, **named):
        calls.append(args)
        if len(calls) > 2:
            raise OSError(5, "Input/output error")
        return real(*args, **named)

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(RefusedWriteError, match="will be finished"):
        write(folder, loaded, MOVE)
    monkeypatch.undo()
    finish(folder)
    assert load(folder).vehicle.lines["one"].title == "Two"
    assert load(folder).vehicle.places["a"].x_m == 1.25
    assert set(files_of(folder)) == set(TEXTS)


def test_a_folder_made_for_a_new_file_goes_when_the_write_fails(tmp_path, monkeypatch):
    (tmp_path / "vehicle.toml").write_bytes(VEHICLE)
    loaded = load(tmp_path)
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(OSError(30, "Read-only file system")))
    with pytest.raises(RefusedWriteError, match="Read-only"):
        write(tmp_path, loaded, Change("", (Edit(("components", "new"), Component("other", "a")),)))
    assert [path.name for path in tmp_path.iterdir()] == ["vehicle.toml"]


def test_a_kill_at_any_moment_leaves_each_file_whole(folder):
    """kill -9 before each rename: every file is the old or the new one, never half."""
    loaded = load(folder)
    pairs = preview(loaded, MOVE)
    for moment in (1, 2, 3):
        script = textwrap.dedent(f"""
            import os, signal, sys
            from pathlib import Path
            from loomwright.files import load, write
            from loomwright.terms.change import Change, Edit
            real, calls = os.replace, []
            def kill(*args, **named):
                calls.append(args)
                if len(calls) == {moment}:
                    os.kill(os.getpid(), signal.SIGKILL)
                return real(*args, **named)
            os.replace = kill
            folder = Path(sys.argv[1])
            write(folder, load(folder), Change("move", (Edit(("places", "a", "x_m"), 1.25), Edit(("lines", "one", "title"), "Two"))))
        """)
        done = subprocess.run([sys.executable, "-c", script, str(folder)], check=False)
        assert done.returncode == -signal.SIGKILL
        now = {name: text for name, text in files_of(folder).items() if not Path(name).name.startswith(".")}
        assert set(now) == set(TEXTS)
        for name, text in now.items():
            assert text in (TEXTS[name], pairs.get(name, (b"", TEXTS[name]))[1])
        assert load(folder).problems == ()
        for path in folder.rglob(".*"):
            path.unlink()
        for name, text in TEXTS.items():
            (folder / name).write_bytes(text)


# Rights and borders


def test_the_mode_of_a_file_stays_and_a_new_one_gets_the_usual(folder):
    (folder / "vehicle.toml").chmod(0o640)
    old = os.umask(0o027)
    try:
        write(folder, load(folder), SWAP)
    finally:
        os.umask(old)
    assert (folder / "vehicle.toml").stat().st_mode & 0o777 == 0o640
    assert (folder / "components/new.toml").stat().st_mode & 0o777 == 0o640


def test_a_link_within_the_project_stays_a_link(folder):
    (folder / "lines/one.toml").rename(folder / "kept.toml")
    (folder / "lines/one.toml").symlink_to("../kept.toml")
    write(folder, load(folder), MOVE)
    assert (folder / "lines/one.toml").is_symlink()
    assert b'"Two"' in (folder / "kept.toml").read_bytes()


@pytest.mark.parametrize(
    "name", ["../outside.toml", "/etc/hosts", "components/../../x.toml", "components/.x.toml", "notes.txt", "lines/"]
)
def test_nothing_outside_the_project_is_written(folder, name):
    before = files_of(folder.parent)
    with pytest.raises(RefusedWriteError, match="no file of this project"):
        write_texts(folder, {name: (b"", b"x")})
    assert files_of(folder.parent) == before


def test_a_link_out_of_the_project_is_not_followed(folder, tmp_path):
    outside = tmp_path / "elsewhere.toml"
    outside.write_bytes(BOX)
    (folder / "components/box.toml").unlink()
    (folder / "components/box.toml").symlink_to(outside)
    with pytest.raises(RefusedWriteError, match="no file of this project"):
        write_texts(folder, {"components/box.toml": (BOX, b"x")})
    assert outside.read_bytes() == BOX


RIGHTS = """
import os, sys
from pathlib import Path
from loomwright.files import load, write
from loomwright.terms.change import Change, Edit
from loomwright.terms.errors import RefusedWriteError
if os.geteuid() == 0:
    os.seteuid(65534)
folder = Path(sys.argv[1])
try:
    write(folder, load(folder), Change("", (Edit(("places", "a", "x_m"), 1.25),)))
except RefusedWriteError as error:
    print(error)
"""


@pytest.mark.skipif(not hasattr(os, "seteuid"), reason="rights are another matter here")
def test_a_folder_without_rights_is_left_alone(folder):
    for path in (*folder.parents[:3],):
        path.chmod(0o755)
    folder.chmod(0o555)
    done = subprocess.run([sys.executable, "-c", RIGHTS, str(folder)], capture_output=True, text=True, check=True)
    folder.chmod(0o755)
    assert "written" in done.stdout
    assert files_of(folder) == TEXTS


# New projects


def test_a_new_project_needs_an_empty_folder(folder, tmp_path):
    vehicle = load(folder).vehicle
    for target in (folder, folder / "vehicle.toml"):
        with pytest.raises(RefusedWriteError, match="holds something"):
            new_project(target, vehicle)
        with pytest.raises(RefusedWriteError, match="holds something"):
            copy_project(folder, target)
    assert files_of(folder) == TEXTS
    (tmp_path / "empty").mkdir()
    new_project(tmp_path / "empty", vehicle)
    assert load(tmp_path / "empty").vehicle == vehicle
    with pytest.raises(RefusedWriteError, match="cannot be made"):
        new_project(folder / "vehicle.toml" / "below", vehicle)


def test_a_new_project_that_fails_leaves_nothing(folder, tmp_path, monkeypatch):
    vehicle = load(folder).vehicle
    monkeypatch.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(RefusedWriteError, match="No space"):
        new_project(tmp_path / "new", vehicle)
    assert list(tmp_path.glob("new/**/*")) == []


def test_a_copy_is_the_same_bytes(folder, tmp_path):
    (folder / "notes.txt").write_bytes(b"mine")
    copy_project(folder, tmp_path / "copy")
    assert files_of(tmp_path / "copy") == TEXTS
    (folder / "vehicle.toml").unlink()
    with pytest.raises(RefusedWriteError, match="cannot be copied"):
        copy_project(folder, tmp_path / "other")


def test_one_file_is_written_whole_or_not_at_all(tmp_path, monkeypatch):
    write_file(tmp_path / "a.svg", b"one")
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(RefusedWriteError, match="No space"):
        write_file(tmp_path / "a.svg", b"two")
    assert files_of(tmp_path) == {"a.svg": b"one"}
    with pytest.raises(RefusedWriteError, match="cannot be written"):
        write_file(tmp_path / "nowhere" / "a.svg", b"two")
