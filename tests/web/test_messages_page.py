"""The pages of messages: what they tell agrees with the answers, leads to its place, and can be changed where it stands."""

import io
import re
from urllib.parse import unquote

import pytest
from playwright.sync_api import expect

from loomwright.app.margin import key_of
from loomwright.files.spreadsheet import read_workbook
from loomwright.show.quantity import bare
from loomwright.terms.answer import Solved
from loomwright.terms.finding import Verdict, Weight
from loomwright.terms.quantity import Kind
from tests.web.hands import undo

MESSAGE = "/messages/controller_drive/torque_command"


@pytest.fixture
def found(workbench):
    return workbench.open_example("tipper-as-found")


@pytest.fixture
def at(workbench, browse, found):
    def go(address, **more):
        page = browse(**more)
        page.goto(workbench.origin + address)
        return page

    return go


def said(workbench):
    """The project's traffic as it is answered."""
    return workbench.session.ask(lambda project: project.answers.traffic(project.vehicle))


def findings(workbench):
    return workbench.session.ask(lambda project: project.answers.marked_traffic(project.vehicle))


def text_of(folder, name):
    return (folder / "messages" / f"{name}.toml").read_text("utf-8")


def main_of(client, address):
    answer = client.get(address)
    assert answer.status_code == 200, address
    return answer.text[answer.text.index("<main") : answer.text.index("</main>")]


def test_the_rail_counts_what_is_broken_and_unknown_of_all_that_is_said(workbench, client, found):
    counting = [f.verdict for f in findings(workbench) if f.reading.weight is Weight.GOVERNS and not f.accepted]
    broken, unknown = counting.count(Verdict.BROKEN), counting.count(Verdict.UNKNOWN)
    assert broken > 10
    assert unknown > 0
    entry = re.search(r'<a href="/messages"[^>]*>(.*?)</a>', client.get("/lines").text, re.DOTALL)
    assert re.findall(r'title="(\d+) (\w+)"', entry[1]) == [(str(broken), "broken"), (str(unknown), "unknown")]


def test_a_line_s_table_has_the_numbers_of_its_chart(workbench, client, found):
    text = main_of(client, "/messages?line=old")
    assert text.index('data-drawing="load"') < text.index('data-drawing="timing"') < text.index('class="times"')
    rows = re.findall(r"<tr data-path.*?</tr>", text[text.index('class="times"') :], re.DOTALL)
    answer = said(workbench).responses["old"]
    assert isinstance(answer, Solved)
    assert len(rows) == len(answer.value.responses) > 10
    for row, each in zip(rows, answer.value.responses, strict=True):
        plain = re.sub(r"<[^>]+>", " ", row)
        assert f"0x{each.stream.identifier:03X}" in plain
        for time_s in (each.here_s, each.best_s, each.deadline_s - each.due_s, each.slack_s):
            assert bare(time_s, Kind.TIME, "ms") in plain, (each.stream.name, time_s)


def test_the_line_in_most_trouble_is_shown_first_and_all_are_shown_when_asked(workbench, client, found):
    assert re.findall(r'<section class="line-times" aria-label="([^"]+)"', main_of(client, "/messages")) == [
        "Body line"
    ]
    shown = re.findall(r'<section class="line-times" aria-label="([^"]+)"', main_of(client, "/messages?line=all"))
    assert shown == ["Body line", "Drive line", "Old line", "Fan and pump"]


def test_a_worst_response_can_be_asked_why(at):
    page = at("/messages?line=old")
    page.locator("table.times tbody tr", has_text="Wheel pulses").get_by_role("button", name=re.compile("why")).click()
    sheet = page.get_by_role("dialog")
    expect(sheet).to_contain_text("longest lower frame")
    expect(sheet).to_contain_text("34")


def test_a_missing_fact_is_named_and_leads_to_where_it_is_entered(workbench, at, found):
    file = found / "lines" / "old.toml"
    file.write_text(re.sub(r"(?m)^bit_rate = .*$", 'bit_rate = "?"', file.read_text("utf-8")), "utf-8")
    workbench.session.follow(surely=True)
    page = at("/messages?line=old")
    expect(page.locator("main .waits").first).to_contain_text("Bit rate of line old")
    expect(page.locator("table.times")).to_have_count(0)
    page.locator("main .waits").first.get_by_role("link").click()
    page.wait_for_url(re.compile(r"/lines/old#"))
    expect(page.get_by_label("bit rate", exact=True)).to_be_visible()


def test_chains_show_their_hops_to_scale_and_in_numbers(workbench, at):
    page = at("/messages/chains")
    chains = said(workbench).chains
    expect(page.locator("[data-drawing=chain] svg")).to_have_count(len(chains))
    row = page.locator("tbody tr", has_text="Charging plug to charger told to start").first
    expect(row).to_contain_text("1233")
    expect(row).to_contain_text("broken")
    strip = page.locator("#chain-plug_to_charging")
    strip.get_by_text("hops in numbers").click()
    expect(strip.locator("details tbody tr")).to_have_count(len(chains["plug_to_charging"].value.hops))


def test_what_a_chain_lacks_is_entered_where_it_is_shown(workbench, at, found):
    page = at("/messages/chains")
    strip = page.locator("#chain-wheels_to_steering")
    expect(strip.locator(".head")).to_contain_text("unknown")
    field = strip.get_by_label("within", exact=True)
    field.fill("200 ms")
    field.press("Enter")
    expect(strip.locator(".head")).to_contain_text("holds")
    assert 'within = "200 ms"' in (found / "vehicle.toml").read_text("utf-8")
    undo(page, workbench)
    expect(strip.locator(".head")).to_contain_text("unknown")


def test_the_matrix_marks_every_need_and_counts_those_not_heard(workbench, client, found):
    text = main_of(client, "/messages/matrix")
    unheard = {f.reading.subject for f in findings(workbench) if f.rule in ("message-sent", "message-heard")
               and f.verdict is Verdict.BROKEN}  # fmt: skip
    assert len(unheard) == 10
    assert f"{len(unheard)} needs are not heard" in text
    assert len(re.findall(r'<svg class="tie misses"', text)) - 1 == len(unheard)  # one stands in the legend
    columns = text[text.index("<thead>") : text.index("</thead>")].count('scope="col"')
    rows = re.findall(r'<tr data-path="messages.*?</tr>', text)
    assert len(rows) > 80
    assert {row.count("<td") for row in rows} == {columns}


def test_a_finding_and_a_need_that_is_not_heard_have_marks_of_their_own_and_both_are_in_the_legend(client, found):
    text = main_of(client, "/messages/matrix")
    legend, table = text[: text.index("<table")], text[text.index("<table") :]
    assert 'class="tie misses"' in legend
    assert 'class="nowrap verdict broken"' in legend
    assert "Beside a name, findings about the message" in legend
    (misses,) = set(re.findall(r'<svg class="tie misses".*?</svg>', table))
    (broken,) = set(re.findall(r'<span class="verdict broken".*?(<svg.*?</svg>)', table))
    assert re.findall(r' d="[^"]+"', misses) != re.findall(r' d="[^"]+"', broken)


def test_on_a_small_screen_the_matrix_keeps_its_messages_in_view_and_says_that_it_scrolls(at):
    page = at("/messages/matrix", width=1024, height=768)
    box, words = page.locator(".matrix"), page.get_by_text("More components to the right")
    expect(box).to_have_attribute("data-more", "right")
    expect(words).to_be_visible()
    name = page.locator(".matrix tbody th[scope=row]").first
    before = name.bounding_box()
    box.evaluate("box => box.scrollTo(9999, 0)")
    expect(box).to_have_attribute("data-more", "left")
    expect(words).to_be_hidden()
    assert name.bounding_box() == before
    heads = page.locator(".matrix thead th[scope=col]")
    assert heads.last.bounding_box()["x"] < box.bounding_box()["x"] + box.bounding_box()["width"]


@pytest.mark.parametrize("address", ["/messages?line=all", "/messages/chains", MESSAGE, "/messages/matrix"])
def test_on_a_small_screen_nothing_runs_out_of_the_page_and_letters_stay_large(at, address):
    page = at(address, width=1024, height=768)
    edge = page.locator("#margin").bounding_box()["x"]
    for field in page.locator("main .fact-row input:not([type=hidden]), main .fact-row select").all():
        box = field.bounding_box()
        assert box["x"] + box["width"] <= edge
    for drawing in page.locator("main figure.drawing > svg").all():
        assert drawing.bounding_box()["width"] >= 840
    cut = page.evaluate(
        "[...document.querySelectorAll('main .scroll, main figure.drawing')]"
        ".filter(e => e.scrollWidth > e.clientWidth + 1 && (!e.dataset.more || e.tabIndex !== 0)).length"
    )
    assert cut == 0


def test_the_verdict_of_every_line_can_be_read_whole_on_a_small_screen(at):
    page = at("/messages?line=old", width=1024, height=768)
    table = page.locator(".scroll:has(table.loads)")
    assert table.evaluate("e => e.scrollWidth - e.clientWidth") <= 1


def test_a_line_narrows_the_matrix_and_keeps_whoever_misses_what_is_said_there(workbench, at):
    page = at("/messages/matrix")
    page.locator("#by-line").select_option("old")
    row = page.locator("tr", has_text="State of the power unit")
    expect(row.locator('td[data-path="components.display.needs.body_angle"]')).to_have_attribute(
        "title", "Display: needs body_angle, not heard here"
    )
    expect(page.locator(".matrix thead th[scope=col]")).to_have_count(6)


def test_a_row_of_the_matrix_leads_to_its_message_by_mouse_and_by_keyboard(at):
    page = at("/messages/matrix")
    page.locator(".matrix tbody tr", has_text="0x181").locator("td").nth(1).click()
    page.wait_for_url(re.compile("/messages/inverter/motion"))
    page.go_back()
    links = page.locator(".matrix tbody th[scope=row] a")
    links.nth(3).focus()
    page.keyboard.press("ArrowDown")
    expect(links.nth(4)).to_be_focused()
    page.keyboard.press("End")
    expect(links.last).to_be_focused()
    page.keyboard.press("Home")
    page.keyboard.press("Enter")
    expect(page.locator("article.message h1")).to_be_visible()


def test_the_matrix_comes_out_as_a_workbook_for_the_printer(workbench, client, found):
    answer = client.get("/messages/matrix.xlsx")
    assert "attachment" in answer.headers["content-disposition"]
    head, *rows = read_workbook(io.BytesIO(answer.content).getvalue())
    assert len(rows) == len(re.findall(r'<tr data-path="messages', main_of(client, "/messages/matrix")))
    assert head[:2] == ("Identifier", "Message")
    of_line = client.get("/messages/matrix.xlsx?line=old")
    assert 'filename="messages-old.xlsx"' in of_line.headers["content-disposition"]
    assert 1 < len(read_workbook(of_line.content)) < len(rows)
    assert client.get("/messages/matrix.xlsx?line=nothing").content[:2] == b"PK"


def test_a_cell_of_a_signal_is_written_refused_with_its_reason_and_taken_back(workbench, at, found):
    before = text_of(found, "controller_drive")
    page = at(MESSAGE)
    cell = page.get_by_label("factor of torque_wanted")
    cell.fill("0.5")
    cell.press("Enter")
    expect(page.locator("[data-drawing=layout]").first).to_contain_text("0.5")
    assert text_of(found, "controller_drive") != before
    expect(page.locator("section.twin")).to_contain_text("factor 0.5 sent, 0.1 expected")
    page.trouble.refusals_expected = True
    bits = page.get_by_label("bits of torque_wanted")
    third = page.locator("table.signals th").nth(3).bounding_box()
    bits.fill("many")
    bits.press("Enter")
    expect(page.locator("table.signals .wrong[role=alert]")).to_be_visible()
    assert page.locator("table.signals th").nth(3).bounding_box()["x"] == pytest.approx(third["x"], abs=8)  # a letter
    bits.press("Escape")
    page.reload()
    undo(page, workbench)
    assert text_of(found, "controller_drive") == before


def test_a_change_of_what_somebody_else_changed_meanwhile_is_refused(workbench, client, found):
    base = workbench.session.revision
    path = "messages.controller_drive.messages.torque_command.period_s"
    first = client.post("/edit/field", data={"path": path, "words": "20 ms", "status": "known"},
                        headers={"loomwright-revision": base})  # fmt: skip
    assert first.status_code == 204
    late = client.post("/edit/field", data={"path": path, "words": "40 ms", "status": "known"},
                       headers={"loomwright-revision": base, "hx-request": "true"})  # fmt: skip
    assert late.status_code == 409
    assert "40 ms" in late.text
    assert "20 ms" in text_of(found, "controller_drive")


def test_what_is_sent_twice_by_the_enter_key_is_no_clash(workbench, client, found):
    base = {"loomwright-revision": workbench.session.revision}
    path = "messages.controller_drive.messages.torque_command.signals.enable.values"
    given = {"path": path, "words": "0 off, 1 on"}
    assert [client.post("/edit/field", data=given, headers=base).status_code for _ in range(2)] == [204, 204]


def test_a_page_of_the_manual_stays_a_bare_page_when_its_value_is_edited(workbench, client, found):
    path = "messages.battery_manager.messages.pack_status.period_s"
    answer = client.post("/edit/field", data={"path": path, "words": "25 ms", "status": "known", "source": "page 50"})
    assert answer.status_code == 204
    assert 'period_source = "page 50"' in text_of(found, "battery_manager")
    fact = workbench.session.view().vehicle.messages["battery_manager"].messages["pack_status"].period_s
    assert str(fact.source) == "BM-3 pack manual, edition 2, page 50"


def test_messages_signals_and_needs_are_added_and_removed(workbench, at, found):
    page = at("/messages/matrix")
    form = page.locator("form", has_text="Add a message")
    form.locator("[name=owner]").select_option("inverter")
    form.get_by_label("called").fill("Cooling wish")
    form.get_by_label("identifier").fill("0x189")
    form.get_by_role("button", name="Add").click()
    page.wait_for_url(re.compile("/messages/inverter/cooling_wish"))
    expect(page.locator("main")).to_contain_text("No signals yet")
    add = page.locator("form", has_text="Add a signal")
    add.get_by_label("called").fill("Flow wanted")
    add.get_by_role("button", name="Add").click()
    expect(page.locator("table.signals tbody tr")).to_have_count(1)
    expect(page.get_by_role("heading", name="Flow wanted, further")).to_be_visible()
    page.wait_for_load_state("networkidle")  # what was added is drawn anew before anything else is typed
    page.get_by_label("values").fill("0 off, 255 full")
    page.get_by_label("values").press("Enter")
    expect(page.locator("table.signals")).to_contain_text("0 off, 255 full")
    need = page.locator("form", has_text="It is needed")
    need.locator("[name=component]").select_option("thermal_controller")
    need.get_by_role("button", name="Add").click()
    expect(page.locator("table.needs")).to_contain_text("not heard here")
    assert "[messages.cooling_wish.signals.flow_wanted]" in text_of(found, "inverter")
    page.get_by_role("button", name="Remove this message").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("components/thermal_controller.toml")
    dialog.get_by_role("button", name="Apply").click()
    page.wait_for_url(re.compile("/messages/matrix"))
    assert "cooling_wish" not in text_of(found, "inverter")


def test_a_forward_that_is_offered_is_tried_and_applied_and_the_need_is_heard(workbench, at, found):
    page = at("/messages/tipper_pump/tipper_status")
    finding = page.locator("#margin .finding", has_text="Display needs")
    finding.get_by_role("button", name="Try it").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("Would be cured")
    dialog.get_by_role("button", name="Apply").click()
    expect(page.locator("section", has_text="Passed on by gateways").last).to_contain_text("Body line")
    expect(finding).to_have_count(0)
    assert "tipper_pump.tipper_status" in (found / "components" / "vehicle_controller.toml").read_text("utf-8")


def test_a_finding_leads_to_its_place_and_lights_it_there(workbench, at):
    page = at("/messages/chains")
    page.get_by_role("link", name="all", exact=True).click()
    finding = page.locator("#margin .finding", has_text="Dcdc may hear nothing")
    finding.get_by_role("link", name="Show it").click()
    page.wait_for_url(re.compile("/messages/controller_drive/converter_command"))
    page.mouse.move(2, 2)
    expect(page.locator('td[data-path="components.dcdc.needs.converter_command.time_out_s"].lit')).to_have_count(1)
    page.goto(f"{workbench.origin}/messages")
    full = page.locator("#margin .finding", has_text="Old is 67.9")
    full.get_by_role("link", name="Show it").click()
    page.wait_for_url(re.compile(r"/messages\?line=old"))


def test_every_finding_of_traffic_leads_to_a_page_that_is_there(workbench, client, found):
    text = client.get("/margin", params={"show": "all"}).text
    addresses = set(re.findall(r'href="(/messages[^"#]*)', text))
    assert len(addresses) > 15
    for address in addresses:
        assert client.get(address, follow_redirects=True).status_code == 200, address


def test_a_receiver_s_description_stands_beside_what_is_sent(workbench, at):
    page = at("/messages/inverter/torque_command")
    expect(page.locator(".said-by")).to_contain_text("A receiver's description: inverter.can wants to hear this")
    twin = page.locator("section.twin")
    expect(twin.get_by_role("heading")).to_contain_text("What is sent: Torque command")
    expect(twin).to_contain_text("the checksum is sent by CRC-8/AUTOSAR and expected by CRC-8/SAE-J1850")
    expect(twin.locator("tbody tr", has_text="byte 7")).to_contain_text("broken")
    expect(twin.locator("tbody tr", has_text="bytes 0–1")).to_contain_text("holds")


def test_a_description_that_nobody_serves_says_so(at):
    page = at("/messages/display/trip")
    expect(page.locator(".said-by")).to_contain_text("Nobody sends this identifier")
    expect(page.locator("table.needs")).to_contain_text("sent by nobody")


def test_signals_out_of_place_are_told_with_their_row(at):
    page = at("/messages/junction_box/box_state")
    expect(page.locator("table.signals tr", has_text="charge_in_all")).to_contain_text("reaches beyond the last byte")


def test_an_identifier_finds_its_message_and_a_name_its_signal(workbench, at):
    page = at("/messages")
    for typed, address in (
        ("0x201", "controller_drive/torque_command"),
        ("pack current", "battery_manager/pack_status"),
    ):
        page.goto(f"{workbench.origin}/messages")
        page.locator("#search").press_sequentially(typed)
        expect(page.locator("#hits a").first.locator(".kind")).to_have_text("message" if "0x" in typed else "signal")
        page.keyboard.press("Enter")
        page.wait_for_url(re.compile(f"/messages/{address}"))


def test_a_vehicle_that_says_nothing_is_told_what_to_do_next_and_begins_with_one_message(workbench, browse):
    workbench.server.workbench.start_vehicle("", "Van", "5.0 m", "2.0 m", "1.0 m, 4.0 m")
    page = browse()
    page.goto(f"{workbench.origin}/messages")
    expect(page.locator("main")).to_contain_text("Nothing is written down yet")
    expect(page.locator("main")).to_contain_text("loomwright take")
    form = page.locator("form", has_text="Add a message")
    form.locator("[name=owner]").select_option("vehicle_controller.can1")
    form.get_by_label("called").fill("Driving")
    form.get_by_role("button", name="Add").click()
    page.wait_for_url(re.compile("/messages/vehicle_controller/driving"))
    expect(page.locator("main")).to_contain_text("Which identifier does the message have?")
    page.goto(f"{workbench.origin}/messages")
    expect(page.locator("main .waits").first).to_contain_text("waiting for these facts")


def test_what_is_not_there_leads_back(client, found):
    assert client.get("/messages/nobody/nothing").headers["location"] == "/messages/matrix"
    assert client.get("/messages/via/display/needs/nothing").headers["location"] == "/components/display"
    assert client.get("/messages?line=nothing").status_code == 200


def test_every_message_has_a_page(workbench, client, found):
    sets = workbench.session.view().vehicle.messages
    pages = [f"/messages/{one}/{name}" for one, of in sets.items() for name in of.messages]
    assert len(pages) > 90
    for address in pages:
        assert 'id="signals"' in main_of(client, address), address


def test_keys_of_findings_in_tables_are_those_of_findings(workbench, client, found):
    known = {key_of(finding) for finding in findings(workbench)}
    text = "".join(main_of(client, address) for address in ("/messages?line=all", "/messages/chains", MESSAGE))
    asked = set(re.findall(r"/why\?of=finding%3A([^\"]+)", text)) | set(re.findall(r"/why\?of=finding:([^\"]+)", text))
    assert len(asked) > 80
    for key in asked:
        assert unquote(key) in known, key


def test_a_chain_is_begun_changed_taken_out_and_brought_back_on_its_page(workbench, at, found):
    before = (found / "vehicle.toml").read_text("utf-8")
    page = at("/messages/chains")
    form = page.locator("#chain-begin")
    form.get_by_label("called").fill("Foot to wheels")
    form.get_by_label("begins with the message").select_option("pedal.travel")
    form.get_by_label("acts on the last").select_option("inverter")
    form.get_by_label("within").fill("80 ms")
    form.get_by_role("button", name="Begin").click()
    strip = page.locator("#chain-foot_to_wheels")
    expect(strip.locator(".head")).to_contain_text("holds")
    strip.get_by_text("Change its steps").click()
    strip.locator("form.add select").select_option("controller_drive.torque_command")
    strip.get_by_role("button", name="Add step").click()
    expect(strip.locator("ol select")).to_have_count(2)
    strip.get_by_label("effect").select_option("display")  # hears the body line alone
    expect(strip).to_contain_text("the chain ends there")
    undo(page, workbench)
    strip.get_by_role("button", name="Step 2 of Foot to wheels earlier").click()
    expect(strip.locator("ol select").first).to_have_value("controller_drive.torque_command")
    undo(page, workbench)
    expect(strip.locator("ol select").first).to_have_value("pedal.travel")
    page.trouble.refusals_expected = True
    strip.locator("ol select").nth(1).select_option("pedal.travel")
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("Step 2: pedal.travel is a step of this chain already")
    dialog.get_by_role("button", name="Close").first.click()
    strip.get_by_role("button", name="Remove this chain").click()
    dialog.get_by_role("button", name="Apply").click()
    expect(strip).to_have_count(0)
    assert (found / "vehicle.toml").read_text("utf-8") == before


def test_the_page_of_chains_tells_from_when_age_counts(client, found):
    assert "Age counts from when the first sender reads the value" in main_of(client, "/messages/chains")


def test_a_message_is_renamed_from_its_page_and_what_names_it_follows(workbench, at, found):
    page = at(MESSAGE)
    page.get_by_role("button", name="Rename this message").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("Drive inverter needs it")
    expect(dialog).to_contain_text("Chain Pedal to torque: step 2")
    page.trouble.refusals_expected = True
    dialog.get_by_label("New name").fill("Torque wish")
    dialog.get_by_role("button", name="Rename").click()
    expect(dialog.get_by_role("alert")).to_contain_text("small letters")
    dialog.get_by_label("New name").fill("torque_wish")
    dialog.get_by_role("button", name="Rename").click()
    page.wait_for_url(re.compile("/messages/controller_drive/torque_wish"))
    expect(page.locator("table.needs")).to_contain_text("Drive inverter")
    assert "controller_drive.torque_wish" in (found / "vehicle.toml").read_text("utf-8")
    assert "controller_drive.torque_command" not in (found / "components" / "inverter.toml").read_text("utf-8")
    page.locator("#undo").click()  # the page goes back to the old name along with the message
    page.wait_for_url(re.compile("/messages/controller_drive/torque_command"))
    assert "controller_drive.torque_command" in (found / "vehicle.toml").read_text("utf-8")


def test_a_taken_identifier_is_told_while_it_is_typed_and_all_slips_at_once(at):
    page = at("/messages/matrix")
    form = page.locator("form", has_text="Add a message")
    form.locator("[name=identifier]").press_sequentially("0x201")
    expect(form.get_by_role("status")).to_contain_text("0x201 is taken by Vehicle controller: Torque command")
    form.locator("[name=owner]").select_option("inverter")
    page.trouble.refusals_expected = True
    form.get_by_label("called").fill("Horn")
    form.locator("[name=identifier]").fill("much")
    expect(form.get_by_role("status")).to_be_hidden()
    form.get_by_label("every").fill("often")
    form.get_by_role("button", name="Add").click()
    alert = page.get_by_role("dialog").get_by_role("alert")
    expect(alert).to_contain_text("much")
    expect(alert).to_contain_text("often")


def test_the_title_of_a_sheet_keeps_clear_of_its_close_button(at):
    page = at("/messages/tipper_pump/tipper_status", width=1024, height=768)
    page.locator("#margin .finding", has_text="Display needs").get_by_role("button", name="Try it").click()
    head, close = page.locator("#sheet-body h2").first, page.locator("#sheet .close")
    expect(head).to_be_visible()
    free = head.evaluate("e => e.getBoundingClientRect().right - parseFloat(getComputedStyle(e).paddingRight)")
    assert free <= close.bounding_box()["x"]
