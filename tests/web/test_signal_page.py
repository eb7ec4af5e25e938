"""The page that tells whether the bits of a line arrive, in a browser that reports every trouble."""

import re
from dataclasses import replace

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect
from typer.testing import CliRunner

import loomwright.app.signal as signal_module
from loomwright.app.signal_jobs import begin, title_of
from loomwright.cli import app
from loomwright.terms.answer import Solved
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Known
from tests.web.conftest import WAIT_S

SLOW_MS = 30_000
SERIOUS = ("serious", "critical")


@pytest.fixture(autouse=True)
def patience():
    """Waves are compiled on first use, once a machine."""
    expect.set_options(timeout=SLOW_MS)
    yield
    expect.set_options(timeout=WAIT_S * 1e3)


GROUND_TOLD = Change("tell the ground", (Edit(("components", "insulation_monitor", "ground_offset_v"), Known(0.2)),))
"""Of the tipper's drive line; nobody looked it up yet, and so its grounds are not known to be close enough."""


def on_signal(workbench, browse, example, line, change=None, **more):
    folder = workbench.open_example(example)
    if change is not None:
        workbench.session.apply(change)
    page = browse(**more)
    page.set_default_timeout(SLOW_MS)
    page.goto(f"{workbench.origin}/lines/{line}")
    page.get_by_role("link", name="Will the bits arrive?").click()
    page.locator("#signal .headline").wait_for()
    return page, folder


@pytest.fixture
def timed(monkeypatch):
    """Sets when receivers are sure, in shares of the time there is, whatever the wave engine says of an example.

    Only the recessive edge is slow: an answer, which is dominant, is back in time, so that a bit timing is found.
    """

    def set_times(times, otherwise=(0.1, 0.2)):
        real = signal_module.line_signal

        def made(*words, **more):
            signal = real(*words, **more).value
            there_s = signal.sample_s - signal.electronics_s
            pairs = []
            for pair in signal.pairs:
                typical, worst = (share * there_s for share in times.get(pair.receiver, otherwise))
                pairs.append(replace(pair, typical_s=typical, dominant_s=0.1 * there_s, recessive_s=worst))
            return Solved(replace(signal, pairs=tuple(pairs)))

        monkeypatch.setattr(signal_module, "line_signal", made)

    return set_times


def row_of(page, title):
    rows = page.locator("#signal table[data-rows] tbody tr")
    return rows.filter(has=page.get_by_role("button", name=title, exact=True))


def test_what_is_wrong_with_the_truck_as_found_can_be_read_without_wave_theory(workbench, browse):
    page, _ = on_signal(workbench, browse, "tipper-as-found", "body")
    told = page.locator("#signal .remarks")
    expect(told).to_contain_text("3 terminations are on instead of 2")
    expect(told).to_contain_text("The termination of Display stands on the way, not at an end")
    expect(told).to_contain_text("The branch to Telematics box is 4.25")
    expect(told).to_contain_text(
        re.compile(r"28\.00.m of trunk between Gear selector and Switch panel, entered by hand")
    )
    page.goto(f"{workbench.origin}/lines/old/signal")
    told = page.locator("#signal .remarks")
    expect(told).to_contain_text("The trunk ends open at")
    expect(told).to_contain_text(re.compile(r"The cable has 95\.0.Ω where 120.Ω belongs"))
    expect(told).to_contain_text(
        re.compile(r"has 60\.0.Ω instead of 120.Ω: .* it alone sends back 23 % of each edge, 44 %")
    )
    page.goto(f"{workbench.origin}/lines/pumps/signal")
    expect(page.locator("#signal .headline")).to_contain_text("Nobody can say yet")
    expect(page.locator("#signal .headline")).to_contain_text("the way to Radiator fan (radiator_fan.can, at ")
    expect(page.locator("#first")).to_contain_text("No way along the runs leads to Radiator fan")
    expect(page.locator("#wave, select")).to_have_count(0)
    # Where nothing was computed there is nothing that could be left out.
    expect(page.locator("#left-out")).to_be_hidden()


def test_the_first_box_tells_what_is_wrong_and_its_cure_can_be_tried_there(workbench, browse):
    page, folder = on_signal(workbench, browse, "tipper-as-found", "body")
    assert page.locator("#signal section").first.get_attribute("id") == "first"
    titles = page.locator("#first ol > li .what button").all_inner_texts()
    assert titles.index("Exactly two terminations") < titles.index("Length of each branch")
    assert titles[-1] == "Ohm-meter reading between the wires"
    branch = page.locator("#first ol > li").filter(has=page.get_by_role("button", name="Length of each branch"))
    expect(branch).to_contain_text("Telematics box (roof shelf), 31.75 m along the trunk")
    expect(branch.locator(".size")).to_have_text(re.compile(r"1\.25.m too much \(42 %\)"))
    before = (folder / "lines" / "body.toml").read_text("utf-8")
    page.get_by_role("button", name="Try it: Switch off the termination of Display").click()
    page.get_by_role("dialog").get_by_role("button", name="Apply").click()
    expect(page.get_by_role("dialog")).to_be_hidden()
    assert (folder / "lines" / "body.toml").read_text("utf-8") != before
    expect(page.locator("#signal > .older")).to_have_count(0)
    expect(page.locator("#first")).not_to_contain_text("Exactly two terminations")
    expect(page.locator("#signal")).not_to_contain_text("`loomwright")
    expect(page.locator("#first")).not_to_contain_text(re.compile(r"\w\.can\b"))


def test_one_drawing_counts_one_population_and_says_which(workbench, browse):
    page, folder = on_signal(workbench, browse, "tipper-as-found", "body")
    figure = page.locator("#signal figure")
    expect(figure.get_by_text("all rules", exact=True)).to_have_count(1)
    expect(page.locator("#signal table[data-rows] thead")).to_contain_text("Bits")
    counted = re.search(
        r"Checks of the bits: (\d+) hold.* Other rules of this line: (\d+) hold", page.locator("#first").inner_text()
    )
    assert counted
    expect(figure.get_by_text(f"{int(counted[1]) + int(counted[2])} holds", exact=True)).to_have_count(1)
    others = (
        f"18 signal checks hold. {len(page.locator('#first .spots > li').all())} other findings on this line are broken"
    )
    told = " ".join(CliRunner().invoke(app, ["signal", str(folder), "--line", "body"]).stdout.split())
    assert others in told, "a terminal counts alike"
    assert "3 terminations are on instead of 2" in told, "what an edge meets stands in the terminal too"


def test_bits_that_hold_say_with_how_much_and_the_margin_says_where_they_are_judged(workbench, browse, timed):
    timed({})
    page, _ = on_signal(workbench, browse, "tipper", "drive", GROUND_TOLD)
    expect(page.locator("#first-title")).to_contain_text("Nothing is wrong on this line")
    expect(page.locator("#first")).to_contain_text("90 % of the time there is are left at typical values, 80 %")
    expect(page.locator("#signal .headline .verdict")).to_have_text("holds")
    expect(page.locator("#signal .headline")).to_contain_text("of the 1245 ns there are (10 %): comfortable")
    expect(page.locator("#margin-bits")).to_contain_text(
        re.compile(r"judged in the middle of this page: \d+ signal checks hold\.")
    )
    page.locator("#margin").get_by_role("link", name=re.compile("^Show the")).click()
    expect(page.locator("#margin .findings li").first).to_be_visible()
    expect(page.locator("#margin-bits")).to_contain_text("judged in the middle")


def test_bits_in_time_over_a_ground_that_nobody_looked_up_are_not_called_fine(workbench, browse, timed):
    timed({})
    page, _ = on_signal(workbench, browse, "tipper", "drive")
    expect(page.locator("#signal .headline .verdict")).to_have_text("unknown")
    box = page.locator("#first")
    expect(page.locator("#first-title")).to_contain_text("Nothing is known to be wrong")
    expect(box).to_contain_text("Every rule that can be judged is kept, and every bit is in time")
    expect(box).to_contain_text(
        "Not known yet: Grounds are close enough (look up: ground offset of Insulation monitor)."
    )
    expect(page.locator("#margin-bits")).to_contain_text(re.compile(r"\d+ signal checks hold, 1 is unknown\."))


def test_what_is_late_at_the_worst_corner_alone_is_never_plain_green(workbench, browse, timed):
    timed({"inverter.can": (0.3, 1.2), "charger.can": (0.9, 0.95)})
    page, _ = on_signal(workbench, browse, "tipper", "drive", GROUND_TOLD)
    expect(page.locator("#signal .headline .verdict")).to_have_text("tight typically, late at worst")
    inverter, charger = row_of(page, "Drive inverter"), row_of(page, "On-board charger")
    expect(inverter.locator(".verdict")).to_have_text("holds typically, late at worst")
    expect(inverter.locator(".verdict.holds")).to_have_count(0)
    expect(inverter).to_contain_text("30 % comfortable")
    expect(charger.locator(".verdict")).to_have_text("tight")
    expect(charger).to_contain_text("90 % close")
    expect(row_of(page, "Insulation monitor").locator(".verdict")).to_have_text("holds")
    box = page.locator("#first")
    expect(box).to_contain_text("Nothing is broken. This is near its limit:")
    expect(box).to_contain_text("Drive inverter")
    expect(page.locator("#margin-bits")).to_contain_text("of ten extremes of tolerance some are late")
    expect(page.locator("#margin")).not_to_contain_text("Nothing is broken, tight or unknown")


def test_a_receiver_that_is_never_sure_is_called_so_in_the_picture_as_in_the_table(workbench, browse, timed):
    timed({"charge_controller.can": (float("inf"), float("inf"))})
    page, _ = on_signal(workbench, browse, "tipper-as-found", "drive")
    expect(row_of(page, "Charge controller")).to_contain_text("never sure")
    expect(page.locator("#signal figure").get_by_text("never", exact=True)).to_have_count(2)
    expect(page.locator("#signal .headline")).to_contain_text("Bits do not arrive")


def test_figures_of_before_a_change_say_so(workbench, browse):
    page, _ = on_signal(workbench, browse, "tipper", "old")
    expect(page.locator("#signal .stale")).to_have_count(0)
    other = begin(workbench.session, "draws", "drive")
    try:
        workbench.session.apply(Change("call the line so", (Edit(("lines", "old", "title"), "Oldest line"),)))
        page.reload()
        expect(page.locator("#signal .stale")).to_contain_text("Figures of before the last change")
    finally:
        other.cancel()
        other.wait(SLOW_MS / 1e3)


@pytest.mark.parametrize("width", [1024, 1366])
def test_the_verdict_of_every_receiver_is_seen_on_a_small_screen(workbench, browse, width):
    page, _ = on_signal(workbench, browse, "tipper", "body", width=width, height=768)
    table = page.locator("#signal table[data-rows]")
    edge = page.locator("#signal").bounding_box()
    for verdict in table.locator("tbody tr .verdict").all():
        box = verdict.bounding_box()
        assert box["x"] + box["width"] <= edge["x"] + edge["width"]
    scrolls = page.locator("#signal .scroll").first.evaluate("one => one.scrollWidth > one.clientWidth")
    assert not scrolls
    drawn = page.locator("#signal figure svg").bounding_box()
    assert drawn["width"] >= 820, "lettering of 10 px stays legible; the drawing scrolls sideways"


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
    share = page.locator("#signal .headline .share")
    expect(share).to_contain_text("somebody looks too early in", timeout=10 * SLOW_MS)


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
    marks = page.locator("#wave-marks")
    expect(marks).to_be_hidden()
    page.locator("#wave-echoes summary").click()
    expect(marks).to_contain_text(
        re.compile(r"end of the branch to Telematics box: 44 ns after the edge.*one of the causes told above")
    )
    # No figures before the mouse is there; then three of them, and no comma.
    legend = page.locator("#wave-chart .u-legend")
    expect(legend).not_to_contain_text("--")
    page.locator("#wave-chart .u-over").hover()
    expect(legend.locator(".u-value:visible").first).to_have_text(re.compile(r"^\d{3,4}$"))
    latest = page.locator("#wave-latest")
    expect(latest).to_be_hidden()
    told = page.locator("#signal")
    page.get_by_label("sent by").select_option(told.get_attribute("data-sender"))
    page.get_by_label("seen at").select_option(told.get_attribute("data-receiver"))
    expect(latest).to_be_visible()
    page.get_by_role("link", name="Back up to the receivers").click()
    expect(page.locator("#rows-title")).to_be_in_viewport()


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
    assert data["deadline"] == "must be sure by here (sampled 255 ns later)"
    assert 0 <= data["view"] < len(data["views"])
    assert client.get("/lines/drive/signal/wave", params={**asked, "receiver": "nobody.can"}).status_code == 422


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_has_no_serious_violation(workbench, browse, scheme):
    page, _ = on_signal(workbench, browse, "tipper-as-found", "old", color_scheme=scheme)
    expect(page.locator("#wave-words")).to_contain_text("Line: everything typical")
    result = Axe().run(page).response
    found = [(item["id"], item["nodes"][0]["html"][:160]) for item in result["violations"] if item["impact"] in SERIOUS]
    assert found == []
    assert not page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
