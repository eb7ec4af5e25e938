"""The search field finds everything that has a name, and the keyboard leads there."""

import re

from playwright.sync_api import expect


def test_slash_words_and_enter_lead_to_the_first_hit(workbench, browse):
    workbench.open_example("tipper")
    page = browse()
    page.keyboard.press("/")
    expect(page.get_by_role("searchbox")).to_be_focused()
    page.keyboard.type("inveretr")
    expect(page.locator("#hits a").first).to_contain_text("Drive inverter")
    expect(page.locator("#hits a").first.locator(".kind")).to_have_text("component")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/components/inverter"))


def test_arrows_walk_along_the_hits_and_terms_open_over_the_page(workbench, browse):
    workbench.open_example("tipper")
    page = browse()
    page.keyboard.press("/")
    page.keyboard.type("precharge")
    expect(page.locator("#hits a").first).to_contain_text("precharge")
    page.keyboard.press("ArrowDown")
    expect(page.locator("#hits a").first).to_be_focused()
    page.keyboard.press("ArrowUp")
    expect(page.get_by_role("searchbox")).to_be_focused()
    address = page.url
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_contain_text("weld the contactor")
    expect(page.locator("#hits a")).to_have_count(0)
    assert page.url == address


def test_every_kind_of_thing_leads_somewhere(workbench, client):
    workbench.open_example("bench")
    names = {"component": "controller", "port": "can", "line": "bench", "place": "end", "run": "middle", "cable": "pair",
             "term": "precharge", "rule": "branch-length"}  # fmt: skip
    first = {}
    for words in names.values():
        text = client.get("/search", params={"q": words}).text
        for address, kind in re.findall(r'<a href="([^"#]+)[^>]*><span class="kind">(\w+)', text):
            first.setdefault(kind, address)
    assert set(first) >= {"component", "port", "line", "term", "rule"}
    for address in set(first.values()):
        assert client.get(address).status_code == 200, address
