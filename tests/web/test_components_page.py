"""Components in the browser: table, filter, sheet, spreadsheet; nothing typed is lost and nothing typed is run."""

import io
import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from loomwright.files.spreadsheet import read_workbook
from tests.web.axe import serious

NASTY = '<script>alert(1)</script><svg onload="alert(2)">'


@pytest.fixture
def tipper(workbench):
    return workbench.open_example("tipper")


@pytest.fixture
def at(workbench, browse, tipper):
    def go(address, **more):
        page = browse(**more)
        page.goto(workbench.origin + address)
        return page

    return go


def row_of(page, label):
    return page.locator(".fact-row").filter(has=page.get_by_text(label, exact=True))


def text_of(folder, name):
    return (folder / name).read_text("utf-8")


def test_the_table_narrows_by_line_role_place_and_what_is_unknown(at, tipper):
    page = at("/components")
    rows = page.locator("table.components tbody tr")
    everything = rows.count()
    page.get_by_label("Role").select_option("coolant pump")
    expect(rows).to_have_count(2)
    page.get_by_label("Role").select_option("")
    page.get_by_label("Line").select_option("-")
    expect(page.locator("#page")).to_contain_text("No component is like that")
    page.get_by_role("link", name=f"Show all {everything}").click()
    expect(rows).to_have_count(everything)
    path = tipper / "components" / "display.toml"
    path.write_text(path.read_text("utf-8").replace('termination = "', 'termination = "?" # "'), "utf-8")
    path.write_text(re.sub(r"termination_source.*\n", "", path.read_text("utf-8")), "utf-8")
    page.get_by_role("link", name="with something unknown").click()
    expect(rows.filter(has_text="Display")).to_have_count(1)
    assert rows.count() < everything


def test_a_fact_is_looked_up_and_only_its_bytes_change(at, tipper, workbench):
    before = text_of(tipper, "components/inverter.toml")
    page = at("/components/inverter")
    row = row_of(page, "pigtail")
    row.locator("input.figure").fill("0.35 m")
    row.locator("input.figure").press("Tab")
    expect(page.locator("#undo")).to_contain_text("pigtail")
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        row.get_by_label("Source of pigtail").fill("page 13")
        row.get_by_label("Source of pigtail").press("Tab")
    expect(page.locator("#top .revision")).to_have_text(workbench.session.revision)
    wanted = before.replace('pigtail = "0.20 m"', 'pigtail = "0.35 m"').replace(
        'pigtail_source = "page 12"', 'pigtail_source = "page 13"'
    )
    expect(row.get_by_label("Source of pigtail")).to_have_value("page 13")
    assert text_of(tipper, "components/inverter.toml") == wanted


def test_what_cannot_be_read_is_told_at_the_field_and_stays_there(at, tipper):
    page = at("/components/inverter")
    page.trouble.refusals_expected = True
    row = row_of(page, "pigtail")
    row.locator("input.figure").fill("0,35 m")
    row.locator("input.figure").press("Tab")
    expect(row.get_by_role("alert")).to_contain_text("decimal point")
    expect(row.locator("input.figure")).to_have_value("0,35 m")
    expect(row.locator("input.figure")).to_have_attribute("aria-invalid", "true")
    # an assumption without a reason: the value typed stays, and the reason is asked for
    row.locator("input.figure").fill("0.35 m")
    row.get_by_label("How pigtail is known").select_option("assumed")
    expect(row.get_by_role("alert")).to_contain_text("why")
    expect(row.locator("input.figure")).to_have_value("0.35 m")
    assert "pigtail_assumed" not in text_of(tipper, "components/inverter.toml")
    row.get_by_label("Why pigtail is assumed").fill("held a tape to it")
    row.get_by_label("Why pigtail is assumed").press("Tab")
    expect(row.get_by_role("alert")).to_have_count(0)
    expect(page.locator("#undo")).to_be_enabled()
    assert 'pigtail_assumed = "held a tape to it"' in text_of(tipper, "components/inverter.toml")


def test_a_component_is_added_renamed_doubled_and_removed(at, tipper, workbench):
    page = at("/components")
    page.trouble.refusals_expected = True
    before = {path: path.read_bytes() for path in Path(tipper).rglob("*.toml")}
    page.get_by_role("button", name="Add a component").click()
    sheet = page.get_by_role("dialog")
    sheet.get_by_label("What do people call it?").fill("Winch")
    sheet.get_by_label("What is its job?").select_option("hydraulic pump")
    sheet.get_by_label("Its name in the files").fill("The Winch")
    sheet.get_by_role("button", name="Add", exact=True).click()
    expect(sheet.get_by_role("alert")).to_contain_text("small letters")
    expect(sheet.get_by_label("What do people call it?")).to_have_value("Winch")
    sheet.get_by_label("Its name in the files").fill("")
    sheet.get_by_role("button", name="Add", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Winch")
    expect(page.locator(".fact-row.unknown").first).to_be_visible()

    # rename: references follow
    page.goto(f"{workbench.origin}/components/vehicle_controller")
    page.get_by_role("button", name="Rename").click()
    expect(sheet).to_contain_text("Body line: its controller")
    sheet.get_by_label("New name in the files").fill("inverter")
    sheet.get_by_role("button", name="Rename").click()
    expect(sheet.get_by_role("alert")).to_contain_text("already")
    sheet.get_by_label("New name in the files").fill("brain")
    sheet.get_by_role("button", name="Rename").click()
    page.wait_for_url(re.compile("/components/brain"))
    assert 'controller = "brain.can2"' in text_of(tipper, "lines/body.toml")
    assert not (tipper / "components" / "vehicle_controller.toml").exists()

    page.get_by_role("button", name="Duplicate").click()
    sheet.get_by_role("button", name="Duplicate").click()
    page.wait_for_url(re.compile("/components/brain_2"))
    expect(page.locator(".port-sheet").first).to_contain_text("On no line yet")

    # remove: asks, and tells what goes with it
    page.goto(f"{workbench.origin}/components/brain")
    page.get_by_role("button", name="Remove").click()
    expect(sheet).to_contain_text("goes with it")
    expect(sheet).to_contain_text("Drive line, stop")
    expect(sheet.get_by_role("button", name="Keep it")).to_be_focused()
    sheet.get_by_role("button", name="Remove").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Components")
    assert "brain." not in text_of(tipper, "lines/drive.toml")
    for _ in range(4):
        workbench.session.undo()
    assert {path: path.read_bytes() for path in Path(tipper).rglob("*.toml")} == before


def test_rows_are_pasted_seen_and_applied_as_one_step(at, tipper, workbench):
    page = at("/table/components")
    page.get_by_label("Paste rows").fill(
        "component\ttitle\trole\tplace\tpigtail\nwinch\tWinch\tother\trear_midle\t1 m\ninverter\t\t\t\t0,3 m\n"
    )
    page.get_by_role("button", name="Show what would change").click()
    preview = page.locator("#preview")
    expect(preview).to_contain_text("2 cells have a problem")
    expect(preview.locator("td.wrong").first).to_contain_text("rear_middle")
    expect(preview.locator("td.wrong").nth(1)).to_contain_text("decimal point")
    expect(preview.get_by_role("button", name="Apply")).to_have_count(0)
    text = page.get_by_label("Paste rows").input_value()
    page.get_by_label("Paste rows").fill(text.replace("midle", "middle").replace("0,3", "0.3"))
    page.get_by_role("button", name="Show what would change").click()
    expect(preview).to_contain_text("1 new, 1 changed")
    expect(preview.locator("td.changed")).to_contain_text("was 0.2 m")
    revision = workbench.session.revision
    preview.get_by_role("button", name="Apply as one step").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Components")
    assert workbench.session.view().vehicle.components["winch"].ports["can"].pigtail_m.value == 1.0
    workbench.session.undo()
    assert workbench.session.revision == revision


def test_files_of_spreadsheets_go_out_and_come_back(client, tipper, workbench):
    raw = client.get("/table/components.xlsx").content
    assert read_workbook(raw)[0][0] == "component"
    text = client.get("/table/components.csv").text
    for name, content in (("c.xlsx", raw), ("c.csv", text.encode())):
        answer = client.post("/table/components/preview", files={"file": (name, io.BytesIO(content))})
        assert "Nothing would change" in answer.text
    answer = client.post("/table/components/preview", files={"file": ("c.xlsx", io.BytesIO(b"PKnot"))})
    assert answer.status_code == 422
    assert "no workbook" in answer.text


def test_text_that_looks_like_code_is_shown_as_text(workbench, browse, tipper, client):
    revision = workbench.session.revision
    answer = client.post(
        "/edit/field",
        data={"path": "components.inverter.title", "words": NASTY},
        headers={"loomwright-revision": revision},
    )
    assert answer.status_code == 204
    client.post("/edit/field", data={"path": "components.inverter.maker", "words": "=cmd|' /C calc'!A0"})
    page = browse()
    for address in ("/components", "/components/inverter", "/components/display", "/table/components", "/lines/drive"):
        page.goto(workbench.origin + address)
        assert page.locator("main script, main svg[onload]").count() == 0
    expect(page.locator("main")).to_contain_text("<script>alert(1)</script>")
    page.keyboard.press("/")
    page.keyboard.type("<script")
    expect(page.locator("#hits a").first).to_contain_text(NASTY)
    assert page.locator("#hits script, #hits svg").count() == 0
    assert "'=cmd" in client.get("/table/components.csv").text


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nobody_is_kept_out(at, workbench, scheme):
    page = at("/components", color_scheme=scheme)
    assert serious(page) == []
    for address in ("/components/inverter", "/table/components", "/glossary"):
        page.goto(workbench.origin + address)
        assert serious(page) == [], address
    page.goto(f"{workbench.origin}/components/telematics")
    page.locator(".stop button.why").first.click()
    expect(page.get_by_role("dialog")).to_be_visible()
    assert serious(page) == []


def test_a_printed_sheet_is_a_checklist(at):
    page = at("/components/inverter")
    page.emulate_media(media="print")
    expect(page.locator("#margin")).to_be_hidden()
    expect(page.locator("#rail")).to_be_hidden()
    expect(page.locator(".asks").first).to_be_visible()
    expect(page.locator(".fact-row .question").first).to_be_visible()
    expect(page.locator(".fact-row input.figure").first).to_be_visible()
    expect(page.get_by_text("trained and licensed")).to_be_visible()
