import re

import pytest

from loomwright.app.margin import key_of
from loomwright.app.project import open_project
from loomwright.app.start import start_from_example
from loomwright.app.why import NoSuchFigureError, why
from loomwright.model.variant import changed
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Unknown


@pytest.fixture(scope="module")
def projects(tmp_path_factory):
    base = tmp_path_factory.mktemp("projects")
    made = {}
    for name in ("tipper", "tipper-as-found", "minibus", "bench"):
        start_from_example(base / name, name)
        made[name] = open_project(base / name)
    return made


def metres(text):
    return float(re.match(r"[\d.]+", text).group())


def added(found):
    """The inputs added up as a reader would with a pencil."""
    total = 0.0
    for entry in found.inputs:
        times = re.search(r", (\d+) times$", entry.name)
        total += metres(entry.value) * (int(times.group(1)) if times else 1)
    return total


@pytest.mark.parametrize("example", ["tipper", "minibus", "bench"])
def test_the_inputs_of_every_length_add_up_to_it(projects, example):
    project = projects[example]
    checked = 0
    for name, line in project.vehicle.lines.items():
        paths = [f"lines.{name}.{figure}" for figure in ("trunk_m", "branches_m", "cable_m")]
        for index in range(len(line.stations)):
            paths += [f"lines.{name}.stations[{index}].{figure}" for figure in ("distance_m", "branch_m")]
        for path in paths:
            found = why(project, path)
            assert added(found) == pytest.approx(metres(found.result), abs=0.006 + 0.005 * len(found.inputs)), path
            checked += 1
    assert checked >= 3 + 2 * 3


def test_every_finding_of_every_example_can_be_asked(projects):
    for project in projects.values():
        for finding in project.answers.findings(project.vehicle):
            found = why(project, f"finding:{key_of(finding)}")
            assert found.formula
            assert found.source
            assert len(found.assumptions) == len(set(finding.reading.assumed))
            assert len(found.waits_for) == len(set(finding.reading.blocked_by))


def test_a_branch_names_its_run_and_the_own_lead_with_its_source(projects):
    found = why(projects["tipper"], "lines.body.stations[6].branch_m")
    lead = next(entry for entry in found.inputs if "own lead" in entry.name)
    assert lead.path == "components.telematics.ports.can.pigtail_m"
    assert lead.status == "known"
    assert lead.note == "TB-1 fitting sheet, edition 5, page 2"
    assert any(entry.path.startswith("runs.") for entry in found.inputs)


def test_a_meter_reading_names_both_terminations_the_cable_and_what_it_leaves_out(projects):
    found = why(projects["tipper"], "lines.drive.ohm")
    assert sum("termination" in entry.name for entry in found.inputs) == 2
    assert any(entry.path == "cables.bus_pair_shielded.conductor_resistance_ohm_per_m" for entry in found.inputs)
    assert any("Contact resistance" in text for text in found.left_out)
    assert any("ISO 11898" in entry.note for entry in found.assumptions)
    nodes = sum("input of" in entry.name for entry in found.inputs)
    assert nodes >= 2


def test_what_waits_tells_for_which_facts(projects):
    project = projects["bench"]
    name = next(iter(project.vehicle.lines))
    port = next(station.port for station in project.vehicle.lines[name].stations if station.port)
    component, own = port.split(".")
    path = ("components", component, "ports", own, "pigtail_m")

    class Other:
        vehicle = changed(project.vehicle, Change("", (Edit(path, Unknown("How long?")),)))
        answers = project.answers

    found = why(Other, f"lines.{name}.trunk_m")
    assert found.result == "?"
    assert [entry.path for entry in found.waits_for] == [".".join(path)]
    assert found.waits_for[0].note == "How long?"


def test_a_fact_tells_its_source_or_its_reason(projects):
    found = why(projects["tipper"], "components.inverter.ports.can.pigtail_m")
    assert found.result.startswith("0.20")
    assert found.inputs[0].note == "DI-60 integration manual, edition 5, page 12"
    found = why(projects["tipper"], "components.inverter.ports.can.frames")
    assert found.inputs[0].status == "assumed"


@pytest.mark.parametrize(
    "path",
    [
        "lines.nowhere.trunk_m",
        "lines.drive.stations[99].ohm",
        "components.inverter",
        "nothing",
        "a[b",
        "",
        "lines.drive",
    ],
)
def test_what_is_no_figure_is_told_so(projects, path):
    with pytest.raises(NoSuchFigureError):
        why(projects["tipper"], path)


def test_a_rule_that_compares_names_both_facts_with_its_source_for_a_port(projects):
    project = projects["tipper"]
    finding = next(
        finding
        for finding in project.answers.findings(project.vehicle)
        if finding.rule == "identifier-match" and dict(finding.reading.because).get("port") == "inverter.can"
    )
    inputs = why(project, f"finding:{key_of(finding)}").inputs
    assert [entry.path for entry in inputs] == [
        "lines.drive.identifiers",
        "components.inverter.ports.can.identifiers",
    ]
    assert inputs[1].note == "DI-60 integration manual, edition 5, page 31"
