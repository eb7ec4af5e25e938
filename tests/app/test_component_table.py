from dataclasses import replace

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings

from loomwright.app.component_table import columns, preview, table_rows
from loomwright.app.project import open_project
from loomwright.app.session import Session
from loomwright.app.start import start_from_example
from loomwright.files.spreadsheet import read_separated, read_workbook, separated_text, workbook
from loomwright.model.component import Component
from loomwright.model.table import Table
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.solve.unknowns import facts_of
from loomwright.terms.fact import Assumed, Known, Source, Unknown
from loomwright.terms.field import fields_of
from tests.files.generate import vehicles

QUICK = (Phase.explicit, Phase.reuse, Phase.generate)
"""A failing vehicle is printed as found: making it smaller takes minutes."""


@pytest.fixture
def tipper(tmp_path):
    start_from_example(tmp_path / "tipper", "tipper")
    return tmp_path / "tipper"


def stripped(vehicle: Vehicle) -> Vehicle:
    """Titles as a cell gives them back: without blanks around; a table cannot say more."""

    def bare(owner):
        facts = {
            item.name: replace(fact, why=fact.why.strip())
            for item in fields_of(type(owner))
            if isinstance(fact := getattr(owner, item.name), Assumed)
        }
        return replace(owner, **facts)

    def of(component: Component) -> Component:
        ports = Table((name, bare(port)) for name, port in component.ports.items())
        said = {"needs": Table(), "forwards": Table()}  # a table of components is not about what they say
        return replace(
            bare(component), title=component.title.strip(), maker=component.maker.strip(), ports=ports, **said
        )

    return replace(vehicle, components=Table((name, of(it)) for name, it in vehicle.components.items()))


@settings(
    max_examples=40,
    deadline=None,
    phases=QUICK,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(vehicles())
def test_a_table_taken_out_and_brought_back_changes_nothing(vehicle):
    rows = table_rows(vehicle)
    for back in (rows, read_separated(separated_text(rows)), read_workbook(workbook(rows, "components"))):
        made = preview(vehicle, back)
        assert made.problems == 0, [cell for row in made.rows for cell in row.cells if cell.problem]
        assert made.change is None


@settings(
    max_examples=40,
    deadline=None,
    phases=QUICK,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(vehicles())
def test_a_table_builds_the_same_components_in_a_vehicle_without_any(vehicle):
    wanted = stripped(vehicle)
    assume(all(item.fact.why.strip() for item in facts_of(vehicle) if isinstance(item.fact, Assumed)))
    empty = replace(vehicle, components=Table(), lines=Table(), locks=Table(), messages=Table(), chains=Table())
    made = preview(empty, read_separated(separated_text(table_rows(vehicle))))
    assert made.problems == 0, [cell for row in made.rows for cell in row.cells if cell.problem]
    if made.change is None:
        assert not vehicle.components
    else:
        assert changed(empty, made.change).components == wanted.components


def pasted(folder, text):
    vehicle = open_project(folder).vehicle
    return vehicle, preview(vehicle, read_separated(text))


def test_a_new_component_is_one_row_and_one_step(tipper):
    text = (
        "component\ttitle\trole\tplace\tport\tbit rates\ttermination\ttermination source\n"
        "winch\tWinch\tother\trear_middle\tcan\t250 kbit/s, 500 kbit/s\tnone\tWM-2 manual: page 7\n"
        "winch_lamp\tWinch lamp\tlamps\trear_middle\t\t?\t\t\n"
    )
    session = Session(tipper)
    before = {path: path.read_bytes() for path in tipper.rglob("*.toml")}
    made = preview(session.view().vehicle, read_separated(text))
    assert (made.problems, made.added, made.changed) == (0, 2, 0)
    session.apply(made.change)
    winch = session.view().vehicle.components["winch"]
    assert winch.ports["can"].bit_rates_bit_per_s == Known((250e3, 500e3))
    assert winch.ports["can"].termination == Known("none", source=Source("WM-2 manual", "page 7"))
    assert isinstance(session.view().vehicle.components["winch_lamp"].ports["can"].bit_rates_bit_per_s, Unknown)
    session.undo()
    assert {path: path.read_bytes() for path in tipper.rglob("*.toml")} == before


def test_only_cells_that_differ_change_anything(tipper):
    vehicle, made = pasted(tipper, "component\tplace\tpigtail\ninverter\tmotor_top\t0.35 m\n")
    assert [edit.path for edit in made.change.edits] == [("components", "inverter", "ports", "can", "pigtail_m")]
    states = [cell.state for cell in made.rows[0].cells]
    assert states == ["same", "same", "changed"]
    assert made.rows[0].cells[2].was == "0.2 m"
    after = changed(vehicle, made.change).components["inverter"].ports["can"]
    assert after.pigtail_m.value == 0.35
    assert after.termination == vehicle.components["inverter"].ports["can"].termination


def test_an_empty_cell_leaves_what_is_there(tipper):
    _, made = pasted(tipper, "component\ttitle\tmaker\tpigtail\ninverter\t\t\t\n")
    assert made.problems == 0
    assert made.change is None
    assert made.rows[0].kind == "same"


def test_an_assumption_and_an_open_question_can_be_pasted(tipper):
    vehicle, made = pasted(
        tipper,
        "component\tpigtail\tpigtail_assumed\ttermination\ttermination_ask\n"
        "inverter\t0.4 m\tlooks like it\t?\tWhich revision is the board?\n",
    )
    after = changed(vehicle, made.change).components["inverter"].ports["can"]
    assert after.pigtail_m == Assumed(0.4, "looks like it")
    assert after.termination == Unknown("Which revision is the board?")


@pytest.mark.parametrize(
    ("text", "column", "told"),
    [
        ("component\trole\tplace\nCab heater\theater\tdash_left\n", 0, "small letters"),
        ("component\trole\tplace\nwinch\twench\tdash_left\n", 1, "wench"),
        ("component\trole\tplace\nwinch\tother\trear_midle\n", 2, "rear_middle"),
        ("component\tpigtail\ninverter\t0,35 m\n", 1, "decimal point"),
        ("component\tpigtail\ninverter\t35\n", 1, "unit"),
        ("component\tbit_rates\ninverter\t250 kbit\n", 1, "kbit/s"),
        ("component\ttermination\ninverter\tmaybe\n", 1, "switchable"),
        ("component\tneeded\ninverter\tperhaps\n", 1, "true"),
        ("component\tplace\ninverter\tmotor_top\ninverter\tmotor_top\n", 0, "earlier row"),
        ("component\tpigtail\ninverter\t0.2 m\tstray\n", 2, "no column"),
        ("component\ttermination\ttermination_source\ninverter\t?\tpage 4\n", 2, "no value"),
    ],
)
def test_a_problem_is_told_at_its_cell(tipper, text, column, told):
    _, made = pasted(tipper, text)
    assert made.problems == 1
    assert made.change is None
    cell = made.rows[-1].cells[column]
    assert cell.state == "wrong"
    assert told in cell.problem
    assert cell.words == text.splitlines()[-1].split("\t")[column]


def test_all_that_is_wrong_with_a_row_is_told_at_once(tipper):
    _, made = pasted(tipper, "component\trole\tplace\tpigtail\nCab heater\theeter\tdash\t35\n")
    assert made.problems == 4
    assert made.change is None
    told = [cell.problem for cell in made.rows[0].cells]
    for word, problem in zip(("small letters", "heater", "dash_left", "unit"), told, strict=True):
        assert word in problem
    _, nameless = pasted(tipper, "component\tmaker\n\tAcme\n")
    assert nameless.problems == 1


def test_what_a_new_component_lacks_is_told_where_it_would_stand(tipper):
    _, made = pasted(tipper, "component\ttitle\trole\nwinch\tWinch\t\n")
    problems = [cell.problem for cell in made.rows[0].cells if cell.problem]
    assert made.problems == 2
    assert "role" in problems[0]
    assert "place" in problems[1]


def test_headings_are_read_kindly_and_unknown_ones_told(tipper):
    _, made = pasted(tipper, "Name\tBit Rates\ttremination\ninverter\t250 kbit/s\tnone\n")
    assert made.headings[0].problem == ""
    assert "termination" in made.headings[2].problem
    assert made.change is None
    _, made = pasted(tipper, "title\trole\nWinch\tother\n")
    assert "column component" in made.headings[-1].problem


def test_every_field_of_the_files_has_its_column():
    assert {"component", "title", "role", "place", "port", "protocols", "protocols_source", "needed"} <= set(columns())
    assert len(columns()) == len(set(columns()))
