"""Whole journeys through the frame, in a browser that reports every trouble."""

import re

from playwright.sync_api import expect


def finding(page, rule_title, words=""):
    """A finding in the margin, by its rule's title and words of its sentence."""
    return page.locator("#margin .finding").filter(has_text=rule_title).filter(has_text=words).first


def on_lines(workbench, browse, example, **more):
    """A page on the lines of a fresh copy of an example, and the copy's folder."""
    folder = workbench.open_example(example)
    page = browse(**more)
    page.goto(f"{workbench.origin}/lines")
    return page, folder


def text_of(folder, name):
    return (folder / name).read_text("utf-8")


def test_start_an_example_try_a_cure_apply_it_and_take_it_back(workbench, browse):
    page = browse()
    expect(page).to_have_title(re.compile("Start"))
    page.get_by_label("Example", exact=True).select_option("tipper-as-found")
    page.get_by_role("button", name="Open a copy").click()
    page.get_by_role("navigation", name="Pages").get_by_role("link", name="Lines").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Lines")
    folder = workbench.session.folder
    assert folder == workbench.base / "tipper-as-found"
    before = text_of(folder, "lines/old.toml")

    # The margin tells what is broken; the rail counts it.
    rail = page.get_by_role("navigation", name="Pages").get_by_role("link", name="Lines")
    expect(rail).to_contain_text("broken")
    wrong = finding(page, "terminat", "60.0 Ω; it should have")
    expect(wrong).to_contain_text("broken")
    expect(wrong).to_contain_text("60.0 Ω")
    count = rail.locator(".broken").get_attribute("title")

    # Try it: the difference and the findings before it is written.
    wrong.get_by_role("button", name="Try it").click()
    sheet = page.get_by_role("dialog")
    expect(sheet).to_contain_text("Would be cured")
    expect(sheet.locator("pre .in").first).to_contain_text("+")
    assert text_of(folder, "lines/old.toml") == before
    sheet.get_by_role("button", name="Apply").click()
    expect(sheet).to_be_hidden()
    expect(page.locator("#margin")).not_to_contain_text("60.0 Ω; it should have")
    assert text_of(folder, "lines/old.toml") != before
    expect(rail.locator(".broken")).not_to_have_attribute("title", count)

    # Undo names the step and brings the bytes back.
    undo = page.get_by_role("button", name=re.compile("^↶"))
    expect(undo).to_be_enabled()
    title = workbench.session.view().undo
    expect(undo).to_contain_text(title)
    undo.click()
    expect(page.locator("#margin")).to_contain_text("60.0 Ω; it should have")
    assert text_of(folder, "lines/old.toml") == before
    expect(page.get_by_role("button", name=re.compile("^↷"))).to_contain_text(title)


def test_the_page_follows_an_edit_outside(workbench, browse):
    folder = workbench.open_example("tipper")
    page = browse()
    page.goto(f"{workbench.origin}/lines/drive")
    expect(page.get_by_role("heading", level=1)).to_have_text("Drive line")
    shown = page.locator("#top .revision").inner_text()
    path = folder / "lines" / "drive.toml"
    path.write_text(path.read_text("utf-8").replace('title = "Drive line"', 'title = "Line of the motor"'), "utf-8")
    expect(page.get_by_role("heading", level=1)).to_have_text("Line of the motor")
    expect(page.locator("#top .revision")).not_to_have_text(shown)
    expect(page.locator("#margin")).to_have_attribute("data-revision", workbench.session.revision)


def test_text_that_cannot_be_read_is_told_and_the_last_figures_stay(workbench, browse):
    page, folder = on_lines(workbench, browse, "tipper")
    path = folder / "lines" / "drive.toml"
    good = path.read_bytes()
    row = page.locator("tr", has_text="Drive line")
    length = row.locator("td.number").nth(1).inner_text()
    path.write_bytes(good + b"\nlenght = 3\n")
    expect(page.get_by_role("alert").first).to_contain_text("cannot be read now")
    expect(page.locator("#news")).to_contain_text("lines/drive.toml:")
    expect(row.locator("td.number").nth(1)).to_have_text(length)
    expect(page.locator("main")).to_have_class("old")
    path.write_bytes(good)
    expect(page.locator("#news .banner[role=alert]").first).to_be_hidden()


def test_a_stale_write_is_refused_with_both_versions(workbench, browse):
    """The cure was looked at, then somebody edited the same list of stations in an editor."""
    page, folder = on_lines(workbench, browse, "tipper-as-found")
    page.trouble.refusals_expected = True
    finding(page, "terminat", "3 terminations are on").get_by_role("button", name="Try it").click()
    sheet = page.get_by_role("dialog")
    expect(sheet).to_contain_text("Try it")
    path = folder / "lines" / "body.toml"
    text = path.read_text("utf-8")
    by_hand = text.replace("[[stations]]", '[[stations]]\nsection = "9.99 m"', 2).replace(
        '[[stations]]\nsection = "9.99 m"', "[[stations]]", 1
    )
    path.write_text(by_hand, "utf-8")
    workbench.session.follow(surely=True)
    assert workbench.session.view().problems == ()
    sheet.get_by_role("button", name="Apply").click()
    expect(sheet).to_contain_text("Changed by somebody else meanwhile")
    expect(sheet).to_contain_text("stands there now")
    expect(sheet).to_contain_text("9.99 m")
    expect(sheet).to_contain_text("what you wanted")
    assert path.read_text("utf-8") == by_hand
    sheet.get_by_role("button", name="Keep what stands there").click()
    expect(sheet).to_be_hidden()


def test_a_deviation_is_accepted_with_reason_and_name_kept_in_the_files_and_withdrawn(workbench, browse):
    page, folder = on_lines(workbench, browse, "tipper-as-found")
    page.trouble.refusals_expected = True
    before = text_of(folder, "vehicle.toml")
    row = finding(page, "Branch", "The branch to telematics")
    row.get_by_role("button", name="Accept").click()
    sheet = page.get_by_role("dialog")
    expect(sheet.get_by_label("Why is it acceptable?")).to_be_focused()
    sheet.get_by_label("Why is it acceptable?").fill("   ")
    sheet.get_by_label("Who answers for it?").fill("M. Berger")
    sheet.get_by_role("button", name="Accept", exact=True).click()
    expect(sheet.locator(".wrong")).to_contain_text("reason")
    sheet.get_by_label("Why is it acceptable?").fill('Measured clean with a "scope"')
    sheet.get_by_role("button", name="Accept", exact=True).click()
    expect(sheet).to_be_hidden()
    text = text_of(folder, "vehicle.toml")
    assert 'by = "M. Berger"' in text
    assert r'reason = "Measured clean with a \"scope\""' in text
    accepted = page.locator("#accepted")
    accepted.locator("summary").click()
    expect(accepted).to_contain_text("M. Berger")
    accepted.get_by_role("button", name="Withdraw").click()
    expect(page.locator("#accepted")).to_have_count(0)
    assert text_of(folder, "vehicle.toml") == before


def test_pointing_at_a_row_lights_its_shape_and_its_findings(workbench, browse):
    workbench.open_example("tipper-as-found")
    page = browse()
    page.goto(f"{workbench.origin}/lines/body")
    row = page.locator("tbody tr", has_text="telematics.can")
    row.locator("th").click(position={"x": 1, "y": 1})  # beside its buttons, which would change something
    path = row.get_attribute("data-path")
    expect(row).to_have_class(re.compile("lit"))
    expect(page.locator(f'figure svg [data-path="{path}"]').first).to_have_class(re.compile("lit"))
    expect(finding(page, "Branch", "The branch to telematics")).to_have_class(re.compile("lit"))
    # and the other way round: the finding lights the row
    page.keyboard.press("Escape")
    expect(row).not_to_have_class(re.compile("lit"))
    finding(page, "Branch", "The branch to telematics").locator("p").nth(1).click()
    expect(row).to_have_class(re.compile("lit"))


def test_the_keyboard_reaches_everything(workbench, browse):
    page, folder = on_lines(workbench, browse, "tipper-as-found")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    page.keyboard.press("/")
    page.keyboard.type("drive line")
    expect(page.locator("#hits a").first).to_contain_text("Drive line")
    page.keyboard.press("ArrowDown")
    expect(page.locator("#hits a").first).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Drive line")
    # From the page into the margin by Tab alone, to the first cure; try it, apply it, undo it.
    before = workbench.session.revision
    for _ in range(260):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Accept…":
            break
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_be_visible()
    page.keyboard.type("Agreed with the maker")
    page.keyboard.press("Tab")
    page.keyboard.type("M. Berger")
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_be_hidden()
    expect(page.locator("#accepted summary")).to_be_visible()
    assert "Agreed with the maker" in text_of(folder, "vehicle.toml")
    expect(page.locator("#undo")).to_be_enabled()
    page.keyboard.press("Control+z")
    expect(page.locator("#accepted")).to_have_count(0)
    assert workbench.session.revision == before


def test_light_and_dark_can_be_chosen_and_stay(workbench, browse):
    workbench.open_example("bench")
    page = browse(color_scheme="light")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(250, 247, 241)"
    page.get_by_role("button", name="Light or dark").click()
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(22, 27, 33)"
    page.reload()
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"


def test_a_typed_field_keeps_its_text_while_the_page_follows(workbench, browse):
    """Nothing is taken out of somebody's hands: the search field stays as it is while everything else is renewed."""
    page, folder = on_lines(workbench, browse, "tipper")
    page.get_by_role("searchbox").fill("inv")
    expect(page.locator("#hits a").first).to_be_visible()
    path = folder / "lines" / "drive.toml"
    path.write_text(path.read_text("utf-8").replace('title = "Drive line"', 'title = "Line of the motor"'), "utf-8")
    expect(page.locator("main")).to_contain_text("Line of the motor")
    expect(page.get_by_role("searchbox")).to_have_value("inv")
    expect(page.locator("#hits a").first).to_be_visible()


def test_four_questions_start_a_vehicle(workbench, browse):
    page = browse()
    page.get_by_label("What is the vehicle called?").fill("Garden truck")
    page.get_by_label("How long is it?").fill("4,60 m")
    page.get_by_label("How wide is it?").fill("1.75 m")
    page.get_by_label("Where do its axles stand").fill("0.85 m, 3.40 m")
    page.trouble.refusals_expected = True
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("decimal point")
    expect(page.get_by_label("What is the vehicle called?")).to_have_value("Garden truck")
    page.get_by_label("How long is it?").fill("4.60 m")
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.locator("#top")).to_contain_text("Garden truck")
    assert (workbench.base / "garden-truck" / "vehicle.toml").is_file()


def test_a_page_says_so_when_the_workbench_has_ended(workbench, browse):
    page, _ = on_lines(workbench, browse, "bench")
    page.trouble.refusals_expected = True
    expect(page.locator("#alone")).to_be_hidden()
    workbench.stop()
    expect(page.locator("#alone")).to_be_visible()


def test_an_address_that_leads_nowhere_is_told_on_a_page(workbench, browse):
    page, _ = on_lines(workbench, browse, "bench")
    page.trouble.refusals_expected = True
    page.goto(f"{workbench.origin}/nowhere")
    expect(page.get_by_role("heading", level=1)).to_have_text("There is no such page")
    page.goto(f"{workbench.origin}/lines/nowhere")
    expect(page.get_by_role("heading", level=1)).to_have_text("Lines")


def test_a_form_that_does_not_fit_opens_the_sheet(workbench, browse):
    page, _ = on_lines(workbench, browse, "bench")
    page.trouble.refusals_expected = True
    page.evaluate("htmx.ajax('POST', '/edit/component/move', {values: {name: 'x'}, swap: 'none'})")
    expect(page.get_by_role("dialog")).to_contain_text("place")
