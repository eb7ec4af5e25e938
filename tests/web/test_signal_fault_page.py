"""A line with a fault in the browser: chosen on the page of its bits, told apart from the line as drawn."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from loomwright.app.signal_fault import fault_look
from tests.web.conftest import WAIT_S

SLOW_MS = 30_000
SERIOUS = ("serious", "critical")


@pytest.fixture(autouse=True)
def patience():
    """Waves are compiled on first use, once a machine."""
    expect.set_options(timeout=SLOW_MS)
    yield
    expect.set_options(timeout=WAIT_S * 1e3)


def on_line(workbench, browse, line="drive", query="", **more):
    folder = workbench.open_example("tipper")
    page = browse(**more)
    page.set_default_timeout(SLOW_MS)
    page.goto(f"{workbench.origin}/lines/{line}/signal{query}")
    return page, folder


def test_a_missing_terminator_is_chosen_from_the_list_and_shown_beside_the_sound_line(workbench, browse):
    page, folder = on_line(workbench, browse)
    before = (folder / "lines" / "drive.toml").read_bytes()
    group = page.locator('#fault-choice optgroup[label="A termination that is missing or broken"] option')
    expect(group).to_have_text(
        [
            "no terminator: Battery manager, front face of the left battery box",
            "no terminator: Terminator, pedal bracket",
        ]
    )
    page.locator("#fault-choice").select_option(label="no terminator: Terminator, pedal bracket")
    page.locator("#fault-look").click()
    page.wait_for_url(re.compile(r"/lines/drive/signal\?fault=no\+terminator\+at\+pedal_box$"))
    expect(page.locator(".fault-notice")).to_contain_text("The terminator (pedal bracket) is missing.")
    expect(page.locator(".fault-notice")).to_contain_text("not the line as drawn")
    found = workbench.session.ask(lambda project: fault_look(project, "drive", "no terminator at pedal_box"))
    own = next(own for own in found.receivers if own.port == "pedal.can")
    pedal = page.locator("#signal table[data-rows] tbody tr").filter(
        has=page.get_by_role("rowheader", name="Accelerator pedal")
    )
    expect(pedal.locator(".verdict")).to_have_text([own.before.verdict.value, own.after.verdict.value])
    expect(page.locator("#signal")).to_contain_text("Only 1 termination is on instead of 2")
    expect(page.locator("#wave-title")).to_have_text("What arrives with the fault")
    expect(page.locator("#wave-words")).to_contain_text("Line: everything typical")
    walks = page.locator("#signal .find li")
    expect(walks).to_have_count(2)
    expect(walks.nth(1)).to_contain_text("Take the plug of Battery manager off")
    expect(walks.nth(1).locator("tr.looked-for")).to_contain_text("kΩ everywhere")
    # The vehicle is what it was: its findings, its file, its line.
    expect(page.locator("#margin .verdict.broken")).to_have_count(0)
    assert (folder / "lines" / "drive.toml").read_bytes() == before
    page.get_by_role("link", name="Back to the line as drawn").click()
    expect(page.locator("#wave-title")).not_to_contain_text("with the fault")
    expect(page.locator("#signal .find")).to_have_count(0)
    expect(page.locator(".fault-notice")).to_have_count(0)


def test_a_forgotten_lead_of_any_length_hangs_anywhere(workbench, browse):
    page, _ = on_line(workbench, browse)
    page.get_by_label("forgotten lead of").fill("150 cm")
    page.locator("#stub-at").select_option("charger")
    page.locator("#stub-look").click()
    expect(page.locator(".fault-notice")).to_contain_text(
        "A forgotten lead of 1.50\u202fm hangs open at On-board charger"
    )
    expect(page.locator("#signal figure")).to_contain_text("Forgotten lead")
    expect(page.locator("#signal .find")).to_contain_text("The meter cannot see it")
    expect(page.locator("#stub-length")).to_have_value("150 cm")
    expect(page.locator("#stub-at")).to_have_value("charger")


def test_a_wrong_fault_is_told_what_is_possible(workbench, browse):
    page, _ = on_line(workbench, browse, query="?fault=unplugged+at+the+moon")
    expect(page.locator("#signal [role=alert]")).to_contain_text("possible are: no terminator at battery_manager")
    expect(page.locator("#fault-choice")).to_be_visible()


def test_a_fault_that_an_edit_takes_away_is_not_shown_any_more(workbench, client):
    folder = workbench.open_example("tipper")
    asked = {"fault": "no terminator at battery_manager"}
    assert "possible are" not in client.get("/lines/drive/signal", params=asked).text
    file = folder / "lines" / "drive.toml"
    file.write_text(file.read_text("utf-8").replace("terminated = true", "terminated = false"), "utf-8")
    workbench.session.follow(surely=True)
    assert "possible are" in client.get("/lines/drive/signal", params=asked).text


def test_the_chart_of_a_cut_off_node_is_refused_and_a_torn_trunk_carries_nothing(workbench, client):
    workbench.open_example("tipper")
    asked = {"sender": "pedal.can", "receiver": "charger.can"}
    refused = client.get("/lines/drive/signal/wave", params={**asked, "fault": "unplugged at charger"}, timeout=60)
    assert refused.status_code == 422
    torn = {**asked, "fault": "open trunk between inverter and vehicle_controller"}
    data = client.get("/lines/drive/signal/wave", params=torn, timeout=60).json()
    assert max(map(abs, data["typical"])) == 0.0


def test_a_torn_line_is_shown_half_by_half(workbench, browse):
    query = "?fault=open+trunk+between+inverter+and+vehicle_controller"
    page, _ = on_line(workbench, browse, query=query)
    expect(page.locator("#signal .headline")).to_contain_text("Two halves: Battery manager, ")
    expect(page.locator("#signal .headline")).to_contain_text("nothing passes between")
    expect(page.locator("#signal .piece h2")).to_have_text(
        [
            "Half from Battery manager to Drive inverter",
            "Half from Vehicle controller to the terminator (pedal bracket)",
        ]
    )
    for half in page.locator("#signal .piece").all():
        expect(half).to_contain_text("1 termination is on")
        expect(half).to_contain_text("the tear between Drive inverter and Vehicle controller")
        expect(half.locator("figure")).to_contain_text("Tear")


def test_what_is_advice_on_the_page_is_not_called_broken(workbench, browse):
    page, _ = on_line(workbench, browse)
    folded = page.locator("#for-information")
    folded.locator("summary").click()
    expect(folded.locator(".finding .what").first).to_contain_text("advice")
    assert folded.locator(".finding").count() >= 2
    assert folded.get_by_text("broken").count() == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_has_no_serious_violation(workbench, browse, scheme):
    query = "?fault=open+trunk+between+dcdc+and+charge_controller"
    page, _ = on_line(workbench, browse, query=query, color_scheme=scheme)
    expect(page.locator("#wave-words")).to_contain_text("Line: everything typical")
    result = Axe().run(page).response
    found = [(item["id"], item["nodes"][0]["html"][:160]) for item in result["violations"] if item["impact"] in SERIOUS]
    assert found == []
    assert not page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
