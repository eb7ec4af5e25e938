"""One project at a time below a base folder, followed while it is open; slow work beside it; search."""

import threading
import time

import pytest

from loomwright.app import edits
from loomwright.app.arrange import apply_proposed, begin_arranging
from loomwright.app.jobs import BusyError, Job, JobState
from loomwright.app.project import UnreadableError, open_project
from loomwright.app.search import search
from loomwright.app.stale import StaleChangeError
from loomwright.app.start import start_from_example
from loomwright.app.workbench import RefusedFolderError, Workbench
from loomwright.terms.change import Change, Edit
from loomwright.terms.errors import LoomwrightError, RefusedWriteError

WAIT_S = 5.0


@pytest.fixture
def workbench(tmp_path):
    made = Workbench(tmp_path)
    yield made
    made.close()


def wait_for(condition):
    end = time.monotonic() + WAIT_S
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.01)


def test_an_edit_outside_is_followed_by_itself(workbench):
    session = workbench.open_example("tipper", "")
    told = threading.Event()
    workbench.listen(told.set)
    before = session.revision
    path = session.folder / "lines" / "drive.toml"
    path.write_text(path.read_text("utf-8").replace("Drive line", "By hand"), "utf-8")
    assert told.wait(WAIT_S)
    assert session.revision != before
    assert session.view().vehicle.lines["drive"].title == "By hand"


def test_new_and_removed_files_are_followed(workbench):
    session = workbench.open_example("bench", "")
    text = (session.folder / "components" / "battery_manager.toml").read_bytes()
    (session.folder / "components" / "second.toml").write_bytes(text)
    wait_for(lambda: "second" in session.view().vehicle.components)
    (session.folder / "components" / "second.toml").unlink()
    wait_for(lambda: "second" not in session.view().vehicle.components)


def test_an_editor_that_replaces_the_file_is_followed(workbench):
    session = workbench.open_example("bench", "")
    path = session.folder / "lines" / "bench.toml"
    other = session.folder / "lines" / ".bench.toml.swp"
    other.write_text(path.read_text("utf-8").replace('title = "', 'title = "Other '), "utf-8")
    other.replace(path)
    wait_for(lambda: session.view().vehicle.lines["bench"].title.startswith("Other"))


def test_opening_another_project_closes_the_first(workbench):
    first = workbench.open_example("bench", "")
    second = workbench.open_example("bench", "")
    assert workbench.session is second
    assert second.folder.name == "bench-2"
    path = first.folder / "lines" / "bench.toml"
    before = first.revision
    path.write_bytes(path.read_bytes() + b"# remark\n")
    time.sleep(0.4)
    assert first.revision == before


def test_projects_are_listed(workbench):
    workbench.open_example("bench", "one")
    workbench.open_example("bench", "two")
    (workbench.base / "no-project").mkdir()
    assert workbench.projects() == ("one", "two")
    assert workbench.open_folder("one").folder == workbench.base / "one"


@pytest.mark.parametrize("words", ["no-project", "missing", "", "..", "one/../.."])
def test_what_is_no_project_below_the_base_is_refused(workbench, words):
    (workbench.base / "no-project").mkdir()
    with pytest.raises(RefusedFolderError):
        workbench.open_folder(words)


def test_an_unreadable_project_tells_its_problems(workbench):
    session = workbench.open_example("bench", "")
    (session.folder / "vehicle.toml").write_text("name = \n", "utf-8")
    with pytest.raises(UnreadableError) as told:
        workbench.open_folder("bench")
    assert "vehicle.toml" in {problem.file for problem in told.value.problems}


def test_a_folder_that_holds_something_is_not_written_over(workbench):
    workbench.open_example("bench", "one")
    with pytest.raises(RefusedWriteError):
        workbench.open_example("tipper", "one")
    with pytest.raises(RefusedWriteError):
        workbench.start_vehicle("one", "Van", "4 m", "2 m", "1 m")


def test_the_name_of_a_vehicle_becomes_a_folder(workbench):
    session = workbench.start_vehicle("", "Gärtner's  Truck #2", "4.60 m", "1.75 m", "0.85 m, 3.40 m")
    assert session.folder.name == "g-rtner-s-truck-2"
    assert session.view().vehicle.name == "Gärtner's  Truck #2"


def test_slow_work_tells_how_far_it_is_and_can_be_stopped():
    seen = threading.Event()

    def work(report, cancelled):
        report("looking", 3.0, 1.0)
        seen.set()
        while not cancelled():
            time.sleep(0.005)
        return "best until then"

    job = Job("look", "r", work).start()
    assert seen.wait(WAIT_S)
    assert (job.running, job.stage, job.best, job.bound) == (True, "looking", 3.0, 1.0)
    job.cancel()
    job.wait(WAIT_S)
    assert (job.state, job.result) == (JobState.CANCELLED, "best until then")


def test_slow_work_that_fails_tells_why():
    def work(report, cancelled):
        raise LoomwrightError("no way leads there")

    job = Job("look", "r", work).start()
    job.wait(WAIT_S)
    assert (job.state, job.error, job.result) == (JobState.FAILED, "no way leads there", None)


def emptied(session, name="bench"):
    """The session with the stations of a line taken out, so that there is something to plan."""
    session.apply(Change("start anew", (Edit(("lines", name, "stations"), ()),)))
    return session


def test_lines_are_arranged_beside_the_pages_and_applied_as_one_step(workbench):
    session = emptied(workbench.open_example("bench", ""))
    job = begin_arranging(session, seconds=5, compare=False)
    assert session.view().undo == "start anew"
    job.wait(60)
    assert job.state is JobState.DONE, job.error
    assert session.view().vehicle.lines["bench"].stations == ()
    apply_proposed(session, job)
    assert len(session.view().vehicle.lines["bench"].stations) >= 3
    session.undo()
    assert session.view().vehicle.lines["bench"].stations == ()


def test_a_plan_of_lines_that_were_edited_since_is_refused(workbench):
    session = emptied(workbench.open_example("bench", ""))
    job = begin_arranging(session, seconds=5, compare=False)
    job.wait(60)
    port = next(f"{n}.{p}" for n, c in session.view().vehicle.components.items() for p in c.ports)
    session.apply(edits.add_station(session.view().vehicle, "bench", port))
    with pytest.raises(StaleChangeError):
        apply_proposed(session, job)


def test_one_slow_work_at_a_time(workbench):
    session = workbench.open_example("bench", "")
    stop = threading.Event()
    job = session.begin("wait", lambda project, report, cancelled: stop.wait(WAIT_S))
    with pytest.raises(BusyError, match="wait is under way"):
        begin_arranging(session)
    stop.set()
    job.wait(WAIT_S)
    assert job.state is JobState.DONE


def test_closing_stops_slow_work(workbench):
    session = workbench.open_example("bench", "")

    def work(project, report, cancelled):
        while not cancelled():
            time.sleep(0.005)

    job = session.begin("wait", work)
    workbench.close()
    job.wait(WAIT_S)
    assert job.state is JobState.CANCELLED


@pytest.fixture
def vehicle(tmp_path):
    start_from_example(tmp_path / "tipper", "tipper")
    return open_project(tmp_path / "tipper").vehicle


@pytest.mark.parametrize(
    ("words", "kind", "name"),
    [
        ("inverter", "component", "inverter"),
        ("drive inv", "component", "inverter"),
        ("INVERTER.can", "port", "inverter.can"),
        ("rail left", "place", "rail_left_1"),
        ("vantorp", "component", "inverter"),
        ("body line", "line", "body"),
        ("bus_pair", "cable", "bus_pair"),
    ],
)
def test_everything_with_a_name_is_found(vehicle, words, kind, name):
    assert (kind, name) in [(hit.kind, hit.name) for hit in search(vehicle, words)]


def test_what_begins_with_the_words_comes_first(vehicle):
    hits = [hit for hit in search(vehicle, "pump") if hit.kind == "component"]
    begins = [hit.name.startswith("pump") or hit.title.lower().startswith("pump") for hit in hits]
    assert begins == sorted(begins, reverse=True)
    assert search(vehicle, "drive")[0].name.startswith("drive")


def test_no_words_find_nothing_and_strange_ones_neither(vehicle):
    assert search(vehicle, "  ") == search(vehicle, "xyzzy") == ()
