"""The page that tells whether the bits of a line arrive, in a browser that reports every trouble."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect
from typer.testing import CliRunner

from loomwright.app.signal_jobs import begin, title_of
from loomwright.cli import app
from tests.web.conftest import WAIT_S

SLOW_MS = 30_000
SERIOUS = ("serious", "critical")


@pytest.fixture(autouse=True)
def patience():
    """Waves are compiled on first use, once a machine."""
    expect.set_options(timeout=SLOW_MS)
    yield
    expect.set_options(timeout=WAIT_S * 1e3)


def on_signal(workbench, browse, example, line, **more):
    folder = workbench.open_example(example)
    page = browse(**more)
    page.set_default_timeout(SLOW_MS)
    page.goto(f"{workbench.origin}/lines/{line}")
    page.get_by_role("link", name="Will the bits arrive?").click()
    page.locator("#signal .headline").wait_for()
    return page, folder


def test_what_is_wrong_with_the_truck_as_found_can_be_read_without_wave_theory(workbench, browse):
    page, _ = on_signal(workbench, browse, "tipper-as-found", "body")
    told = page.locator("#signal .remarks")
    expect(told).to_contain_text("3 terminations are on instead of 2")
    expect(told).to_contain_text("The termination of Display stands on the way, not at an end")
    expect(told).to_contain_text("The branch to Telematics box is 4.25")
    page.goto(f"{workbench.origin}/lines/old/signal")
    expect(page.locator("#signal .remarks")).to_contain_text("The trunk ends open at")
    page.goto(f"{workbench.origin}/lines/drive/signal")
    expect(page.locator("#signal .headline")).to_contain_text("Bits come too late")
    expect(page.locator("#signal .headline .verdict")).to_have_text("broken")
    expect(page.locator("#signal .remarks")).to_contain_text("branches of nearly the same length")
    page.goto(f"{workbench.origin}/lines/pumps/signal")
    expect(page.locator("#signal .headline")).to_contain_text("Nobody can say yet")
    expect(page.locator("#signal .headline")).to_contain_text("the way to Radiator fan (radiator_fan.can, at ")
    link = page.locator("#signal .others").get_by_role("link", name="A way along the runs for every piece")
    expect(page.locator(link.get_attribute("href"))).to_contain_text("No way along the runs leads to radiator_fan.can")
    expect(page.locator("#wave, select")).to_have_count(0)


def test_bits_that_hold_do_not_hide_what_else_is_broken_and_a_terminal_counts_alike(workbench, browse):
    page, folder = on_signal(workbench, browse, "tipper-as-found", "body")
    expect(page.locator("#signal .headline .verdict")).to_have_text("18 signal checks hold")
    others = page.locator("#signal .others")
    expect(others).to_contain_text("7 other findings on this line are broken:")
    assert others.get_by_role("link").all_inner_texts() == [
        "Exactly two terminations", "Ohm-meter reading between the wires", "Length of each branch",
    ]  # fmt: skip
    printed = CliRunner().invoke(app, ["signal", str(folder), "--line", "body"]).stdout
    told = " ".join(printed.split())
    assert f"18 signal checks hold. {' '.join(others.inner_text().split())}" in told
    assert "3 terminations are on instead of 2" in told, "what an edge meets stands in the terminal too"


def test_a_receiver_that_is_never_sure_is_called_so_in_the_picture_as_in_the_table(workbench, browse):
    page, _ = on_signal(workbench, browse, "tipper-as-found", "drive")
    row = page.locator("#signal table[data-rows] tbody tr").filter(has_text="Charge controller").first
    expect(row).to_contain_text("never sure")
    expect(page.locator("#signal figure").get_by_text("never", exact=True)).to_have_count(2)


def advised(page):
    """The changes that were tried: a line is computed anew for each of them."""
    page.locator("#begin-advice").click()
    page.locator("table[data-offers]").wait_for(timeout=10 * SLOW_MS)
    return page.locator("table[data-offers] tbody tr")


def test_what_would_help_offers_what_cures_and_marks_what_harms(workbench, browse):
    page, folder = on_signal(workbench, browse, "tipper-as-found", "old")
    offers = advised(page)
    right = offers.filter(has_text="Plug in a terminator of 120 ohm instead at seat_box")
    expect(right).to_contain_text("cures: Resistance of each termination; Ohm-meter reading between the wires")
    moved = offers.filter(has_text="Unplug the terminator at seat_box, and plug a terminator")
    expect(moved.locator(".wrong")).to_contain_text("makes worse what is broken already: Terminations at the ends")
    expect(moved.get_by_role("button")).to_have_count(0)
    expect(offers.first.get_by_role("button")).to_be_visible()
    expect(offers.last.locator(".wrong")).to_be_visible()
    expect(page.locator("table[data-branches]")).to_contain_text("no rule that governs speaks of it")

    right.get_by_role("button", name=re.compile("^Try it: Plug in")).click()
    sheet = page.get_by_role("dialog")
    expect(sheet).to_contain_text(
        "Of the bits of this line it cures: nothing; right by these rules; still plenty of time"
    )
    expect(sheet).to_contain_text("breaks nothing")
    sheet.get_by_role("button", name="Apply").click()
    expect(sheet).to_be_hidden()
    assert "60 ohm" not in (folder / "lines" / "old.toml").read_text("utf-8").replace("Two 120 ohm", "")
    # The old figures stay, greyed, until the new ones are there.
    expect(page.locator("#signal > .older")).to_have_count(0)
    expect(right.get_by_role("button")).to_have_count(0)
    workbench.session.undo()
    expect(right.get_by_role("button")).to_have_count(1)


def test_no_older_trouble_is_told_of_a_change_and_leads_are_told_as_their_makers(workbench, browse):
    page, _ = on_signal(workbench, browse, "tipper-as-found", "drive")
    offers = advised(page)
    unplug = offers.filter(has_text="Unplug the terminator at pedal_box")
    expect(unplug.locator(".wrong")).to_contain_text("Exactly two terminations")
    expect(unplug).not_to_contain_text("Every port")
    leads = offers.filter(has_text="Cut the maker's lead")
    assert leads.count() == offers.filter(has_text="cutting it may void warranty and sealing").count()
    page.locator("#begin-draws").click()
    expect(page.locator("#signal .headline .share")).to_contain_text("somebody looks too early in")


def test_work_can_be_stopped_and_older_figures_stay(workbench, browse):
    page, _ = on_signal(workbench, browse, "tipper", "body")
    page.locator("#begin-draws").click()
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("#begin-draws")).to_be_visible()
    assert workbench.session.latest(title_of("draws", "body")).state == "cancelled"
    expect(page.locator("#signal table[data-rows] tbody tr")).to_have_count(11)


def test_work_for_another_line_is_told_at_the_button_and_can_be_stopped_there(workbench, browse):
    page, _ = on_signal(workbench, browse, "tipper", "body")
    other = begin(workbench.session, "draws", "drive")
    page.locator("#begin-advice").click()
    told = page.locator("section[aria-labelledby=advice-title] .busy")
    expect(told).to_contain_text("tolerance draws of line drive is under way")
    told.get_by_role("button", name="Stop it").click()
    expect(page.locator("#signal .busy")).to_have_count(0)
    other.wait(SLOW_MS / 1e3)
    assert other.state == "cancelled"


def test_what_is_late_at_the_worst_corner_alone_is_marked(workbench, browse):
    page, _ = on_signal(workbench, browse, "tipper", "drive")
    rows = page.locator("#signal table[data-rows] tbody tr")
    expect(rows.filter(has=page.get_by_role("button", name="DC-DC converter"))).to_contain_text("late at worst")
    expect(rows.filter(has=page.get_by_role("button", name="Insulation monitor"))).not_to_contain_text("late at worst")
    expect(page.locator("#signal figure")).to_contain_text("worst corner, left, ns")


def test_the_waveform_of_any_pair_is_drawn_with_its_echoes(workbench, browse):
    page, _ = on_signal(workbench, browse, "tipper-as-found", "body")
    words = page.locator("#wave-words")
    expect(words).to_contain_text("Line: everything typical")
    expect(page.locator("#wave-chart canvas")).to_be_visible()
    expect(page.locator("#wave-chart .u-series.thin")).to_have_count(29)
    expect(page.locator("#wave-chart .u-series:visible")).to_have_count(7)
    expect(page.locator("#wave-chart .u-legend")).to_contain_text(re.compile(r"vehicle \d+, the latest"))
    page.get_by_label("sent by").select_option(label="Thermal controller")
    page.get_by_label("seen at").select_option(label="Display")
    expect(words).to_contain_text("Line: everything typical")
    expect(page.locator("#wave-marks")).to_contain_text("end of the branch to Telematics box: 44 ns after the edge")


def test_the_figures_of_a_chart_are_plain_data(workbench, client):
    workbench.open_example("tipper")
    asked = {"sender": "pedal.can", "receiver": "inverter.can"}
    data = client.get("/lines/drive/signal/wave", params=asked, timeout=60).json()
    count = len(data["time"])
    assert count > 1000
    assert all(len(data[name]) == count for name in ("typical", "lowest", "low", "high", "highest"))
    bounds = zip(data["lowest"], data["typical"], data["highest"], strict=True)
    assert sum(low - 0.3 <= volts <= high + 0.3 for low, volts, high in bounds) > 0.95 * count
    assert [len(trace) for trace in data["traces"]] == [count] * 30
    assert data["latest"] in data["words"]
    assert (data["dominant"], data["recessive"]) == (0.9, 0.5)
    assert client.get("/lines/drive/signal/wave", params={**asked, "receiver": "nobody.can"}).status_code == 422


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_has_no_serious_violation(workbench, browse, scheme):
    page, _ = on_signal(workbench, browse, "tipper-as-found", "old", color_scheme=scheme)
    expect(page.locator("#wave-words")).to_contain_text("Line: everything typical")
    result = Axe().run(page).response
    found = [(item["id"], item["nodes"][0]["html"][:160]) for item in result["violations"] if item["impact"] in SERIOUS]
    assert found == []
    assert not page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
