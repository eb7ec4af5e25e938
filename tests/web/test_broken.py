"""Where the program itself fails, the page keeps its frame, tells what happened, and undo leads back."""

import pytest
from playwright.sync_api import expect

from loomwright.app import questions
from loomwright.model.message import Message
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Known

PERIOD = ("messages", "pedal", "messages", "travel", "period_s")
SEVEN = Known(7e-3)
real = questions.traffic


def fails_at_seven(speech):
    """An answer with a mistake in it, for one value alone."""
    message: Message = speech.sets["pedal"].messages["travel"]
    if getattr(message.period_s, "value", None) == SEVEN.value:
        return message.no_such_field
    return real(speech)


@pytest.fixture
def broken(workbench, monkeypatch):
    workbench.open_example("tipper")
    monkeypatch.setattr(questions, "traffic", fails_at_seven)
    workbench.session.apply(Change("travel every 7 ms", (Edit(PERIOD, SEVEN),)))
    return workbench


@pytest.mark.parametrize("page", ["/vehicle", "/components", "/lines", "/messages", "/messages/pedal/travel"])
def test_a_page_that_cannot_be_made_keeps_its_frame_and_says_why(broken, client, page):
    answer = client.get(page)
    assert answer.status_code == 500
    for part in ('id="top"', 'id="rail"', 'id="margin"', 'id="undo"', "Undo travel every 7 ms", 'id="search"'):
        assert part in answer.text
    assert "AttributeError, " in answer.text
    assert "no_such_field" in answer.text
    assert "app/questions.py, line" in answer.text
    assert "Nothing is broken" not in answer.text
    assert answer.headers["content-security-policy"]


def test_the_margin_does_not_say_that_nothing_is_broken(broken, client):
    answer = client.get("/margin?scope=lines.drive", headers={"hx-request": "true", "hx-target": "aside#margin"})
    assert answer.status_code == 500
    assert "could not be worked out" in answer.text
    assert 'hx-get="/margin?scope=lines.drive"' in answer.text
    assert "Nothing is broken" not in answer.text


def test_a_sheet_says_why_too(broken, client):
    answer = client.get("/why?of=lines.drive", headers={"hx-request": "true", "hx-target": "#sheet-body"})
    assert answer.status_code in (422, 500)
    assert answer.headers["hx-retarget"] == "#sheet-body"


def forgive(page):
    """What the browser saw of the very thing that is tried here."""
    page.trouble[:] = [each for each in page.trouble if not each.startswith("500: ")]


def test_undo_leads_back(broken, browse):
    page = browse()
    page.goto(f"{broken.origin}/messages")
    expect(page.get_by_role("alert").first).to_contain_text("mistake here")
    page.get_by_role("button", name="Undo travel every 7 ms").last.click()
    expect(page.get_by_role("heading", name="Messages", level=1)).to_be_visible()
    expect(page.locator("#margin")).not_to_contain_text("could not be worked out")
    assert broken.session.view().vehicle.messages["pedal"].messages["travel"].period_s != SEVEN
    forgive(page)


def test_a_page_that_breaks_while_it_is_looked_at_keeps_its_frame(workbench, browse, monkeypatch):
    workbench.open_example("tipper")
    monkeypatch.setattr(questions, "traffic", fails_at_seven)
    page = browse()
    page.goto(f"{workbench.origin}/messages")
    workbench.session.apply(Change("travel every 7 ms", (Edit(PERIOD, SEVEN),)))
    expect(page.locator("#page")).to_contain_text("mistake here")
    expect(page.locator("#margin")).to_contain_text("could not be worked out")
    page.locator("#undo").click()
    expect(page.get_by_role("heading", name="Messages", level=1)).to_be_visible()
    expect(page.locator("#margin")).not_to_contain_text("could not be worked out")
    forgive(page)
