import pytest

from loomwright.app.component_sheet import component_sheet, fact_form, references
from loomwright.app.components import FACTS, Filter, choices, component_rows, scope_of
from loomwright.app.fields import FieldWords, set_field
from loomwright.app.margin import in_scope
from loomwright.app.project import open_project
from loomwright.app.role_questions import CAUTION, HIGH_VOLTAGE, ROLE_QUESTIONS
from loomwright.app.start import start_from_example
from loomwright.model.component import ROLES, Component, Port
from loomwright.model.table import Table
from loomwright.model.variant import changed
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.field import fields_of
from loomwright.terms.finding import Weight

LEAD = ("components", "inverter", "ports", "can", "pigtail_m")


@pytest.fixture
def tipper(tmp_path):
    start_from_example(tmp_path / "tipper", "tipper")
    return open_project(tmp_path / "tipper")


class With:
    """A project with a change that is written nowhere."""

    def __init__(self, project, *edits):
        self.vehicle = changed(project.vehicle, Change("", edits))
        self.answers = project.answers


def test_every_role_brings_questions_of_its_own():
    assert set(ROLE_QUESTIONS) == set(ROLES)
    fields = {item.name for item in fields_of(Port)}
    for role, questions in ROLE_QUESTIONS.items():
        assert len(questions.also) >= 2, role
        assert set(questions.sharper) <= fields, role
        assert all(text.endswith(("?", ".")) for text in (*questions.also, *questions.sharper.values())), role
        assert role == "other" or questions.sharper, role


def test_an_inverter_is_asked_for_termination_bit_rates_identifiers_and_connector(tipper):
    sheet = component_sheet(tipper, "inverter")
    asked = {fact.form.label: fact.question for fact in sheet.ports[0].facts}
    assert "switched off" in asked["termination"]
    assert "bit rates" in asked
    assert "identifiers" in asked
    assert any("connector" in text for text in sheet.also)
    assert sheet.caution == CAUTION
    assert "trained and licensed" in CAUTION


def test_an_empty_sheet_is_a_checklist(tipper):
    blank = Component("inverter", "motor_top", ports=Table({"can": Port()}))
    sheet = component_sheet(With(tipper, Edit(("components", "spare"), blank)), "spare")
    for fact in sheet.ports[0].facts:
        assert fact.question.endswith("?"), fact.form.label
        assert fact.where, fact.form.label
    assert any(fact.status == "unknown" for fact in sheet.ports[0].facts)
    assert sheet.ports[0].stops == ()
    assert sheet.references == ()


def test_high_voltage_roles_are_roles():
    assert set(ROLES) >= HIGH_VOLTAGE


def test_filters_narrow(tipper):
    all_rows = component_rows(tipper)
    assert len(all_rows) == len(tipper.vehicle.components)
    project = With(tipper, Edit(LEAD, Unknown("How long?")))
    open_now, open_then = (
        {row.name for row in component_rows(it, Filter(status="unknown"))} for it in (tipper, project)
    )
    assert open_then - open_now == {"inverter"}
    assert {row.role for row in component_rows(tipper, Filter(role="coolant pump"))} == {"coolant pump"}
    assert [row.name for row in component_rows(tipper, Filter(place="motor_top"))] == ["inverter"]
    drive = {row.name for row in component_rows(tipper, Filter(line="drive"))}
    assert "inverter" in drive
    assert "display" not in drive
    bare = With(tipper, Edit(("components", "spare"), Component("other", "motor_top", ports=Table({"can": Port()}))))
    assert [row.name for row in component_rows(bare, Filter(line="-"))] == ["spare"]


def test_a_row_counts_and_marks_every_fact(tipper):
    row = next(row for row in component_rows(tipper) if row.name == "vehicle_controller")
    assert len(row.ports) == 3
    assert all(len(port.marks) == len(FACTS) for port in row.ports)
    assert row.known + row.assumed + row.unknown <= 3 * len(FACTS) + 1
    assert row.known > 0


def test_what_there_is_to_filter_by(tipper):
    offered = choices(tipper.vehicle)
    assert ("drive", "Drive line") in offered.lines
    assert "inverter" in offered.roles
    assert "compressor" not in offered.roles


def test_references_tell_stops_controllers_and_locks(tipper):
    words = [entry.words for entry in references(tipper.vehicle, "vehicle_controller")]
    assert "Body line: its controller" in words
    assert any(word.startswith("Drive line, stop") for word in words)
    assert any(word.startswith("Lock") for word in [e.words for e in references(tipper.vehicle, "battery_manager")])


def test_the_scope_of_a_component_holds_its_stops(tipper):
    assert scope_of(tipper.vehicle, "inverter")[0] == "components.inverter"
    assert any(path.startswith("lines.drive.stations[") for path in scope_of(tipper.vehicle, "inverter"))


def value_set(project, path, words):
    change = set_field(project.vehicle, path, words)
    return change.edits[0].value


def test_a_value_typed_where_nothing_was_known_makes_it_known(tipper):
    project = With(tipper, Edit(LEAD, Unknown("How long?")))
    assert value_set(project, LEAD, FieldWords("0.4 m", "unknown", ask="How long?")) == Known(0.4)
    assert value_set(tipper, LEAD, FieldWords("0.4 m", "unknown")) == Unknown()


def test_a_new_value_does_not_take_over_the_reason_of_the_usual_one(tipper):
    path = (*LEAD[:-1], "termination_ohm")
    usual = Port().termination_ohm
    assert isinstance(usual, Assumed)
    assert value_set(tipper, path, FieldWords("100 ohm", "assumed", why=usual.why)) == Known(100.0)
    assert value_set(tipper, path, FieldWords("100 ohm", "assumed", why="board looks so")) == Assumed(
        100.0, "board looks so"
    )


def test_facts_of_other_things_stand_on_sheets_too(tipper):
    fact = fact_form(tipper.vehicle, ("lines", "drive", "bit_rate_bit_per_s"))
    assert "bit rate" in fact.question
    assert fact.status == "known"


def test_the_worst_finding_of_a_row_is_that_of_its_facts_or_stops(tmp_path):
    start_from_example(tmp_path / "found", "tipper-as-found")
    project = open_project(tmp_path / "found")
    for row in component_rows(project):
        scope = scope_of(project.vehicle, row.name)
        own = {
            finding.verdict.value
            for finding in project.answers.findings(project.vehicle)
            if finding.reading.weight is Weight.GOVERNS
            and not finding.accepted
            and in_scope(finding.reading.subject, scope)
        }
        worst = next((word for word in ("broken", "unknown", "tight") if word in own), "holds")
        assert row.verdict == worst, row.name
    assert {row.verdict for row in component_rows(project)} >= {"broken", "holds"}
