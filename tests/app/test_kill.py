"""A crash or kill -9 in the middle of a write loses nothing: the project is as before, or as after, never between."""

import os
import signal
import sys
from pathlib import Path

import pytest

from loomwright.app import edits
from loomwright.app.project import open_project
from loomwright.app.session import Session
from loomwright.app.start import start_from_example
from loomwright.files import journal, preview

CALLS = ("replace", "unlink", "fsync", "write", "mkdir")
MOST = 200

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no kill -9 there")


def texts(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*.toml"))
        if not path.name.startswith(".")
    }


def killed_at(moment, folder, change):
    """Write the change in a child that is killed at its n-th call that touches the disk; whether it lived to the end."""
    child = os.fork()
    if child:
        _, status = os.waitpid(child, 0)
        assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0
        return not os.WIFSIGNALED(status)
    code = 1
    try:
        calls = []

        def deadly(real):
            def call(*args, **named):
                calls.append(real)
                if len(calls) == moment:
                    os.kill(os.getpid(), signal.SIGKILL)
                return real(*args, **named)

            return call

        session = Session(folder)
        for name in CALLS:
            setattr(os, name, deadly(getattr(os, name)))
        Path.replace = deadly(Path.replace)
        Path.unlink = deadly(Path.unlink)
        session.apply(change)
        code = 0
    finally:
        os._exit(code)


def test_a_kill_at_any_moment_leaves_the_project_as_before_or_as_after(tmp_path):
    start_from_example(tmp_path / "model", "tipper")
    project = open_project(tmp_path / "model")
    change = edits.rename_component(project.vehicle, "vehicle_controller", "main_controller")
    before = texts(tmp_path / "model")
    after = dict(before)
    for name, (_, new) in preview(project.loaded, change).items():
        after[name] = new
    after = {name: text for name, text in after.items() if text}
    assert len([name for name in {*before, *after} if before.get(name) != after.get(name)]) >= 4
    seen = []
    for moment in range(1, MOST):
        folder = tmp_path / f"killed-{moment}"
        start_from_example(folder, "tipper")
        lived = killed_at(moment, folder, change)
        opened = open_project(folder)
        assert opened.loaded.problems == ()
        assert texts(folder) in (before, after), moment
        assert not (folder / journal.NAME).exists()
        seen.append(texts(folder) == after)
        if lived:
            break
    assert lived
    assert len(seen) > 8
    assert seen == sorted(seen), "once the step is on the disk it is finished"
    assert any(seen[:-1]), "some kill came after the step was on the disk and before it was done"


def test_a_step_left_behind_does_not_undo_what_was_edited_since(tmp_path):
    folder = tmp_path / "bench"
    start_from_example(folder, "bench")
    from loomwright.files.write import write_file

    name = "components/battery_manager.toml"
    old = (folder / name).read_bytes()
    journal.begin(folder, {name: (old, b"lost"), "vehicle.toml": (b"x", b"lost")}, write_file)
    (folder / name).write_bytes(old + b"# by hand\n")
    assert open_project(folder).loaded.problems == ()
    assert (folder / name).read_bytes() == old + b"# by hand\n"
    assert not (folder / journal.NAME).exists()


@pytest.mark.parametrize(
    "text", [b"", b"{", b"[]", b'{"step": 1}', b'{"step": [{"file": "../evil.toml", "old": "", "new": ""}]}']
)
def test_a_foreign_or_torn_step_file_writes_nothing(tmp_path, text):
    folder = tmp_path / "bench"
    start_from_example(folder, "bench")
    before = texts(tmp_path)
    (folder / journal.NAME).write_bytes(text)
    assert open_project(folder).loaded.problems == ()
    assert texts(tmp_path) == before
