"""Any figure tells why it is what it is, and any trade term what it means."""

import re

import pytest
from playwright.sync_api import expect

from loomwright.show.glossary import glossary

# Words of headings and labels that need no entry: everyday English, and what stands beside a term.
PLAIN = frozenset(
    """line lines role place on each worst component at m now why row how value input source or reason title name maker manual
    needed from to what ask question and of the in is kind with start end length x y z who leaves order also own must
    because costs remove allowed longest holds off high voltage wet workshop calls it run straight plug plugged unplugged
    without cable meter reads lowest highest ω clock oscillator tolerance ground offset bytes ms left share verdict state limit
    least most said by acts it latest allowed age gap longest kind waits takes adds bits number sent as where there delay
    mean load start unit heard out""".split()  # noqa: SIM905 - a list of words reads better as words
)


@pytest.fixture
def page(workbench, browse):
    workbench.open_example("tipper")
    return browse()


def test_a_figure_opens_its_formula_inputs_and_source(workbench, page):
    page.goto(f"{workbench.origin}/lines")
    page.locator("tbody tr", has_text="Drive line").get_by_role("button", name=re.compile("trunk")).click()
    sheet = page.get_by_role("dialog")
    expect(sheet.get_by_role("heading", level=2)).to_have_text("Length of the trunk, Drive line")
    expect(sheet).to_contain_text("The sum of all sections")
    sheet.get_by_role("link", name="Motor top to").first.click()
    page.wait_for_url(re.compile("#runs"))


def test_a_finding_tells_its_limit_and_where_that_comes_from(workbench, page):
    page.goto(f"{workbench.origin}/lines/body")
    page.get_by_role("link", name=re.compile("that hold")).click()
    page.locator("#margin .finding", has_text="branch to telematics").get_by_role(
        "button", name=re.compile("why")
    ).first.click()
    sheet = page.get_by_role("dialog")
    expect(sheet).to_contain_text("TB-1 fitting sheet, edition 5, page 2")
    expect(sheet).to_contain_text("Where the limit comes from")
    expect(sheet).to_contain_text("SAE J1939-15")


def test_a_term_is_explained_over_the_page_by_keyboard_and_gives_the_focus_back(workbench, page):
    page.goto(f"{workbench.origin}/components/inverter")
    link = page.locator("main a.term", has_text="high voltage")
    link.focus()
    page.keyboard.press("Enter")
    sheet = page.get_by_role("dialog")
    expect(sheet).to_contain_text("trained and licensed")
    page.keyboard.press("Escape")
    expect(sheet).to_be_hidden()
    expect(link).to_be_focused()


def test_every_term_linked_exists_and_is_linked_once(workbench, client):
    workbench.open_example("tipper-as-found")
    met = set()
    for address in (
        "/lines", "/lines/drive", "/components", "/components/inverter", "/table/components", "/vehicle", "/messages",
        "/messages/chains", "/messages/matrix", "/messages/controller_drive/torque_command",
    ):  # fmt: skip
        text = client.get(address).text
        main = text[text.index("<main") :]
        linked = re.findall(r'<a class="term" href="/glossary#([^"]+)"', main)
        assert len(linked) == len(set(linked)), address
        met.update(linked)
    assert met <= set(glossary())
    assert len(met) >= 10
    for name in glossary():
        assert client.get(f"/glossary/{name}").status_code == 200


def test_every_heading_of_a_table_is_a_term_or_plain_english(workbench, client):
    workbench.open_example("tipper")
    spelt = {word.lower() for t in glossary().values() for name in (t.term, *t.also) for word in name.split()}
    headings = 0
    addresses = ("/lines", "/lines/drive", "/components", "/messages", "/messages/chains", "/messages/inverter/motion")
    for address in addresses:
        for table_head in re.findall(r"<thead>(.*?)</thead>", client.get(address).text, re.DOTALL):
            for head in re.findall(r"<th\b[^>]*>(.*?)</th>", table_head, re.DOTALL):
                words = {word.lower() for word in re.findall(r"[^\W\d_]+", re.sub("<[^>]+>", " ", head))}
                assert words <= PLAIN | spelt, (address, head)
                headings += 1
    assert headings > 15


def test_every_fact_that_a_sheet_asks_for_is_explained_or_plain(workbench, client):
    workbench.open_example("tipper")
    spelt = {word.lower() for t in glossary().values() for name in (t.term, *t.also) for word in name.split()}
    labels = re.findall(r'<div class="asked"><label[^>]*>(.*?)</label>', client.get("/components/inverter").text)
    assert len(labels) > 8
    for label in labels:
        assert set(label.lower().split()) <= PLAIN | spelt, label


def test_what_has_no_reason_is_refused_kindly(workbench, client):
    workbench.open_example("bench")
    answer = client.get("/why", params={"of": "lines.none.trunk_m"}, headers={"hx-request": "true"})
    assert answer.status_code == 422
    assert client.get("/glossary/none", headers={"hx-request": "true"}).status_code == 422
