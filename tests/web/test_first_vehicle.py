"""One whole journey: start a vehicle, enter three components, arrange, break something, mend it, take it back."""

import re

from playwright.sync_api import expect

ROWS = """component\tport\ttitle\trole\tplace\tprotocols\tbit_rates\tidentifiers\ttermination
vehicle_controller\tcan1\t\t\t\traw\t250 kbit/s, 500 kbit/s\t29 bit\tswitchable
inverter\tcan\tDrive inverter\tinverter\trear\traw\t250 kbit/s\t29 bit\tfixed
heater\tcan\tCab heater\theater\tmiddle\traw\t250 kbit/s\t29 bit\tnone
pump\tcan\tCoolant pump\tcoolant pump\tnose\traw\t250 kbit/s\t29 bit\tnone
"""


def test_a_first_vehicle_from_four_questions_to_a_mended_line(workbench, browse):
    page = browse()
    page.get_by_label("What is the vehicle called?").fill("First van")
    page.get_by_label("How long is it?").fill("4.60 m")
    page.get_by_label("How wide is it?").fill("1.75 m")
    page.get_by_label("Where do its axles stand").fill("0.85 m, 3.40 m")
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.locator("#top")).to_contain_text("First van")
    session = workbench.session

    # Three components, and what the controller's manual says.
    page.goto(f"{workbench.origin}/table/components")
    page.get_by_label("Paste rows").fill(ROWS)
    page.get_by_role("button", name="Show what would change").click()
    page.locator("#preview").get_by_role("button", name="Apply as one step").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Components")
    assert {"inverter", "heater", "pump"} <= set(session.view().vehicle.components)

    # The line's own facts, typed on its page.
    page.goto(f"{workbench.origin}/lines/main")
    rate = page.locator('form[data-path="lines.main.bit_rate_bit_per_s"] [name=words]')
    rate.fill("250 kbit/s")
    rate.press("Enter")
    expect(page.locator("#undo")).to_contain_text("bit rate")
    page.locator('form[data-path="lines.main.identifiers"] select[name=words]').select_option("29 bit")
    expect(page.locator("#undo")).to_contain_text("identifiers")

    # Arrange puts everybody on the line and terminates both ends.
    page.goto(f"{workbench.origin}/lines")
    page.get_by_role("button", name="Arrange", exact=True).click()
    arranging = page.locator("#arrange")
    expect(arranging).to_contain_text(re.compile("Proved optimal|gap"), timeout=60_000)
    page.locator("#arrange-apply").click()
    expect(page.locator("#undo")).to_contain_text("Lay all lines")
    line = session.view().vehicle.lines["main"]
    assert {station.port for station in line.stations if station.port} >= {"inverter.can", "heater.can", "pump.can"}
    assert "broken" not in {
        finding.verdict for finding in session.view().findings if finding.reading.weight == "governs"
    }

    # Somebody takes the plug-in terminator out; the finding offers a cure, and undo brings it back.
    page.goto(f"{workbench.origin}/lines/main")
    page.get_by_label(re.compile("^Take .*erminator.* off the line")).first.click()
    sheet = page.get_by_role("dialog")
    sheet.get_by_role("button", name="Apply").click()
    expect(sheet).to_be_hidden()
    wrong = page.locator("#margin .finding", has_text="needs exactly 2").first
    expect(wrong).to_contain_text("broken")
    broken = session.revision
    wrong.get_by_role("button", name="Try it").click()
    sheet.get_by_role("button", name="Apply").click()
    expect(page.locator("#margin")).not_to_contain_text("needs exactly 2")
    page.locator("#undo").click()
    expect(page.locator("#margin")).to_contain_text("needs exactly 2")
    assert session.revision == broken
