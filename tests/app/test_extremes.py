"""Times far from anything in a vehicle are told on every page and in every command; nothing fails over them."""

import pytest

from loomwright.app.messages_chains import chain_strips
from loomwright.app.messages_matrix import matrix
from loomwright.app.messages_message import message_page
from loomwright.app.messages_page import EVERY, messages_page
from loomwright.app.plain_traffic import of_traffic
from loomwright.app.project import Project
from loomwright.app.start import start_from_example
from loomwright.app.traffic import traffic_report
from loomwright.files.load import load, understood
from loomwright.show import traffic_tables
from loomwright.show.words import finding_cure, finding_sentence

SIZES = ("0.001 ns", "1 ns", "3.7 us", "1 h", "1e8 s")
PLACES = {
    "period": ("messages/pedal.toml", b'period = "5 ms"', b'period = "%s"'),
    "deadline": ("messages/pedal.toml", b'period = "5 ms"', b'deadline = "%s"\nperiod = "5 ms"'),
    "jitter": ("messages/pedal.toml", b'period = "5 ms"', b'jitter = "%s"\nperiod = "5 ms"'),
}


@pytest.fixture(scope="module")
def texts(tmp_path_factory):
    folder = tmp_path_factory.mktemp("extremes") / "tipper"
    start_from_example(folder, "tipper")
    return folder, dict(load(folder).texts)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("place", sorted(PLACES))
def test_every_page_and_command_tells_it(texts, place, size):
    folder, before = texts
    file, old, new = PLACES[place]
    raw = before[file].replace(old, new.replace(b"%s", size.encode()), 1)
    loaded = understood(before | {file: raw})
    assert loaded.problems == ()
    project = Project(folder, loaded)
    for finding in project.answers.findings(project.vehicle):
        assert finding_sentence(finding)
        finding_cure(finding)
    assert "<svg" in messages_page(project, EVERY).drawing
    matrix(project, "")
    message_page(project, "pedal", "travel")
    chain_strips(project)
    report = traffic_report(project, "drive", margins=True, seconds=0.2)
    assert of_traffic(report, "", (), ())["lines"]
    for line in report.lines:
        assert traffic_tables.responses_text(line.name, line.responses).row_count
        traffic_tables.load_text(line.name, line.load, line.least)
        traffic_tables.play_text(line.play)
        assert traffic_tables.margins_text(line.margins, line.bit_rate_bit_per_s).plain
