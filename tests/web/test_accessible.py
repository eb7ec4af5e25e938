"""axe-core finds no serious trouble on any page, light and dark; the frame has its landmarks."""

import pytest

from tests.web.axe import serious
from tests.web.pages import EXAMPLE, PAGES


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_has_a_serious_violation(workbench, browse, scheme):
    workbench.open_example(EXAMPLE)
    page = browse(color_scheme=scheme)
    for _, path in PAGES:
        page.goto(workbench.origin + path)
        assert serious(page) == [], path
        wide = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
        assert not wide, f"{path} scrolls sideways"


def test_no_sheet_has_a_serious_violation(workbench, browse):
    workbench.open_example(EXAMPLE)
    page = browse()
    for name in ("Try it", "Accept…", "Exactly two terminations"):
        page.get_by_role("button", name=name).first.click()
        page.get_by_role("dialog").locator("h2").wait_for()
        assert serious(page) == [], name
        page.keyboard.press("Escape")
        page.get_by_role("dialog").wait_for(state="hidden")
    page.get_by_role("link", name="Show the").click()
    page.get_by_role("link", name="Hide the").wait_for()
    assert serious(page) == []


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (1180, 820), (820, 1180)])
def test_pages_fit_a_screen_and_a_tablet(workbench, browse, width, height):
    workbench.open_example(EXAMPLE)
    page = browse(width=width, height=height)
    for _, path in PAGES:
        page.goto(workbench.origin + path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path


def test_printing_leaves_out_what_cannot_be_pressed(workbench, browse):
    workbench.open_example(EXAMPLE)
    page = browse(color_scheme="dark")
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    for hidden in ("#rail", "#undo", "#search", "#margin .finding button >> nth=0"):
        assert not page.locator(hidden).is_visible(), hidden
    assert page.locator("#margin .finding").first.is_visible()
