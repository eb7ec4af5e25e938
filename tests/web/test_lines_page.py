"""The pages of lines in a browser: order, branches, terminations, readings, facts, locks, planning with progress."""

import re
import threading

import pytest
from playwright.sync_api import expect

from loomwright.app import arrange as arranged
from loomwright.app import edits
from loomwright.terms.fact import Known, Unknown
from tests.web.axe import serious
from tests.web.hands import drop, middle, place, ring, settled, step_done, take, undo


@pytest.fixture
def body_line(workbench, browse):
    workbench.open_example("tipper")
    page = browse()
    page.goto(f"{workbench.origin}/lines/body")
    return page


def vehicle(workbench):
    return workbench.session.view().vehicle


def stations(workbench, line="body"):
    return vehicle(workbench).lines[line].stations


def ports(workbench, line="body"):
    return [station.port or station.at for station in stations(workbench, line)]


def texts(workbench):
    folder = workbench.session.folder
    return {path.name: path.read_bytes() for path in sorted(folder.rglob("*.toml"))}


def stop(page, index):
    return page.locator(f'tr[data-row="{index}"]')


def reads(page, index):
    """The meter reading in a stop's row, with everything plugged in."""
    return stop(page, index).locator("button.why").nth(2)


def test_a_stop_dragged_along_the_ruler_tells_the_trunk_and_is_dropped_into_its_new_order(workbench, body_line):
    page, before, order = body_line, texts(workbench), ports(workbench)
    ruler = page.locator("[data-drawing=ruler] svg")
    drawn = ruler.inner_html()
    (x, y), (end, _) = middle(ring(page, 3)), middle(ring(page, 7))
    take(page, (x, y), (end + 5, y))
    expect(page.locator("#reading")).to_contain_text("reorder body")
    expect(page.locator("#reading")).to_contain_text(re.compile(r"trunk \d+\.\d\d → \d+\.\d\d m"))
    assert ruler.inner_html() != drawn
    assert texts(workbench) == before, "a try writes nothing"
    drop(page)
    moved = [*order[:3], *order[4:8], order[3], *order[8:]]
    assert ports(workbench) == moved
    expect(stop(page, 7).locator("th")).to_contain_text(moved[7])
    undo(page, workbench)
    assert texts(workbench) == before
    expect(stop(page, 3).locator("th")).to_contain_text(order[3])


def test_a_row_dragged_through_the_table_is_put_back_by_escape_and_dropped_else(workbench, body_line):
    page, order = body_line, ports(workbench)
    start, end = middle(page.locator("#grip-2")), middle(page.locator("#grip-5"))
    below = (end[0], end[1] + 14)
    take(page, start, below)
    expect(page.locator("#reading")).to_contain_text("trunk")
    page.keyboard.press("Escape")
    page.mouse.up()
    settled(page)
    assert ports(workbench) == order
    take(page, start, below)
    drop(page)
    assert ports(workbench) == [*order[:2], *order[3:6], order[2], *order[6:]]


def test_order_branches_and_terminations_by_keys_and_buttons_alone(workbench, body_line):
    page, order = body_line, ports(workbench)
    revision = workbench.session.revision
    page.locator("#grip-3").focus()
    page.keyboard.press("ArrowDown")
    step_done(page, workbench, revision)
    assert ports(workbench)[4] == order[3]
    expect(page.locator("#grip-4")).to_be_focused()

    revision = workbench.session.revision
    page.locator('[data-drawing=ruler] [data-handle=station][data-index="4"]').focus()
    page.keyboard.press("ArrowLeft")
    step_done(page, workbench, revision)
    assert ports(workbench) == order

    revision = workbench.session.revision
    stop(page, 5).get_by_role("button", name="earlier").press("Enter")
    step_done(page, workbench, revision)
    assert ports(workbench)[4] == order[5]

    # Where a branch leaves the trunk is typed; "lead through" takes the branch away.
    index = next(n for n, station in enumerate(stations(workbench)) if station.at and station.port)
    revision = workbench.session.revision
    stop(page, index).get_by_role("button", name="lead through").press("Enter")
    step_done(page, workbench, revision)
    assert stations(workbench)[index].at == ""
    revision = workbench.session.revision
    field = stop(page, index).locator("[data-cell]")
    field.fill("seat_left")
    field.press("Enter")
    step_done(page, workbench, revision)
    assert stations(workbench)[index].at == "seat_left"


def test_a_branch_is_dragged_to_another_place_on_the_plan(workbench, body_line):
    page = body_line
    index = ports(workbench).index("radiator_fan.can")
    handle = page.locator(f'[data-drawing=plan] [data-handle=stop][data-path="lines.body.stations[{index}]"]')
    handle.scroll_into_view_if_needed()
    take(page, middle(handle.locator(".stop").first), middle(place(page, "bulkhead")))
    expect(page.locator("#reading")).to_contain_text("radiator_fan.can branches at bulkhead")
    drop(page)
    assert stations(workbench)[index].at == "bulkhead"
    expect(stop(page, index).locator("[data-cell]")).to_have_value("bulkhead")


def test_a_termination_switched_on_the_ruler_changes_every_reading(workbench, body_line):
    page = body_line
    index = ports(workbench).index("vehicle_controller.can2")
    expect(reads(page, 0)).to_have_text(re.compile(r"^5[89]\.\d$"))
    mark = page.locator(f'[data-drawing=ruler] [data-handle=termination][data-index="{index}"]')
    mark.click()
    expect(reads(page, 0)).to_have_text(re.compile(r"^39\.\d$"))  # three times 120 ohm side by side
    assert stations(workbench)[index].terminated
    expect(page.locator("#margin .finding").first).to_contain_text("broken")
    settled(page)
    # The same by its button, and by the keyboard on the mark.
    stop(page, index).get_by_role("button", name="Switch the termination").click()
    expect(reads(page, 0)).to_have_text(re.compile(r"^5[89]\.\d$"))
    settled(page)
    mark.focus()
    page.keyboard.press("Enter")
    expect(reads(page, 0)).to_have_text(re.compile(r"^39\.\d$"))


def test_the_readings_with_one_thing_unplugged(workbench, body_line):
    page = body_line
    page.get_by_label("Meter reads").select_option(label="with terminator 1 unplugged")
    left = stop(page, 3).locator("td.number strong")
    expect(left).to_have_text(re.compile(r"^11\d$"))  # one terminator of 120 ohm is left, beside the inputs
    expect(reads(page, 3)).to_have_text(re.compile(r"^5[89]\.\d$"))
    expect(page.locator("[data-drawing=ruler]")).to_contain_text(left.inner_text())


def test_stops_and_terminators_come_and_go(workbench, body_line):
    page, count = body_line, len(stations(workbench))
    form = page.locator("form.add", has_text="Add a stop")
    form.get_by_label("port").select_option("lamp_module.can")
    form.get_by_label("before").select_option("2")
    form.get_by_role("button", name="Add").click()
    expect(stop(page, 2).locator("th")).to_contain_text("lamp_module.can")
    settled(page)
    page.get_by_label(re.compile("^Take .*Rear lamp.* off the line")).click()
    sheet = page.get_by_role("dialog")
    sheet.get_by_role("button", name="Apply").click()
    expect(sheet).to_be_hidden()
    expect(page.locator("tr[data-row]")).to_have_count(count)
    settled(page)
    form = page.locator("form.add", has_text="Plug in a terminator")
    form.get_by_label("at").fill("nose_tie")
    form.get_by_label("of").fill("100 ohm")
    form.get_by_role("button", name="Plug in").click()
    expect(page.locator("tr[data-row]")).to_have_count(count + 1)
    last = stations(workbench)[-1]
    assert (last.at, last.terminator_ohm) == ("nose_tie", Known(100.0))


def test_what_is_settled_about_a_line_is_typed_and_a_refusal_stands_at_its_field(workbench, body_line):
    page = body_line
    page.trouble.refusals_expected = True
    rate = page.locator('form[data-path="lines.body.bit_rate_bit_per_s"]')
    rate.locator("[name=words]").fill("fast")
    rate.locator("[name=words]").press("Enter")
    expect(rate.get_by_role("alert")).to_contain_text("'fast'")
    revision = workbench.session.revision
    rate.locator("[name=words]").fill("125 kbit/s")
    rate.locator("[name=words]").press("Enter")
    step_done(page, workbench, revision)
    expect(page.locator("[data-drawing=ruler]")).to_contain_text("125 kbit/s · J1939")
    assert vehicle(workbench).lines["body"].bit_rate_bit_per_s.value == 125e3

    revision = workbench.session.revision
    page.locator('form[data-path="lines.body.rule_set"] select').select_option("CiA 303-1")
    step_done(page, workbench, revision)
    expect(page.locator('form[data-path="lines.body.rule_set"] select')).to_have_value("CiA 303-1")
    assert vehicle(workbench).lines["body"].rule_set == "CiA 303-1"


def test_a_line_is_begun_from_nothing_and_says_what_comes_next(workbench, browse):
    workbench.open_example("tipper")
    page = browse()
    page.goto(f"{workbench.origin}/lines")
    form = page.locator("form.add", has_text="Begin a line")
    form.get_by_label("called").fill("Trailer line")
    form.get_by_role("button", name="Begin").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Trailer line")
    expect(page.locator(".empty")).to_contain_text("Add the port of its controller first")
    assert isinstance(vehicle(workbench).lines["trailer_line"].bit_rate_bit_per_s, Unknown)
    page.get_by_role("button", name="Remove this line").click()
    page.get_by_role("dialog").get_by_role("button", name="Apply").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Lines")
    assert "trailer_line" not in vehicle(workbench).lines


def test_locks_are_drawn_with_their_reason_added_and_taken_out(workbench, browse):
    workbench.open_example("tipper")
    page = browse()
    page.trouble.refusals_expected = True
    page.goto(f"{workbench.origin}/lines")
    drawn = page.locator("[data-drawing=plan] .lock")
    count = drawn.count()
    assert count == len(vehicle(workbench).locks) > 0
    form = page.locator("#lock-form")
    form.get_by_label("port").first.fill("inverter.can")
    form.get_by_label("must").select_option("share a line with")
    form.get_by_label("other port").fill("inverter.can")
    form.get_by_label("because").fill("one box in the end")
    form.get_by_role("button", name="Lock").click()
    expect(form.get_by_role("alert")).to_contain_text("itself")
    form.get_by_label("other port").fill("dcdc.can")
    form.get_by_role("button", name="Lock").click()
    expect(drawn).to_have_count(count + 1)
    row = page.locator("#locks tr", has_text="inverter.can")
    expect(row.locator("textarea")).to_have_value("one box in the end")
    expect(page.locator("[data-drawing=plan] .lock title", has_text="one box in the end")).to_have_count(1)
    settled(page)
    row.get_by_role("button", name="Remove the lock").click()
    page.get_by_role("dialog").get_by_role("button", name="Apply").click()
    expect(drawn).to_have_count(count)


def test_lines_are_arranged_with_progress_applied_as_one_step_and_taken_back(workbench, browse, monkeypatch):
    """On lines spoiled by hand, so that there is something to gain; the planner waits until its progress was seen."""
    workbench.open_example("tipper")
    workbench.session.apply(_spoiled(vehicle(workbench)))
    page, before = browse(), texts(workbench)
    page.goto(f"{workbench.origin}/lines")
    seen, plan = threading.Event(), arranged.arrange

    def waiting(whole, *, progress, **more):
        progress("shortest cable", 12.5, 10.25)
        assert seen.wait(10.0)
        return plan(whole, progress=progress, **more)

    monkeypatch.setattr(arranged, "arrange", waiting)
    page.get_by_label("seconds to look").fill("20")
    page.get_by_role("button", name="Arrange", exact=True).click()
    arranging = page.locator("#arrange")
    expect(arranging.get_by_role("status")).to_contain_text(
        "shortest cable: best so far 12.50 m, none can go below 10.25 m"
    )
    seen.set()
    expect(arranging).not_to_have_attribute("data-running", "", timeout=60_000)
    expect(arranging).to_contain_text(re.compile("Proved optimal|gap"))
    expect(arranging.locator("tr", has_text="Body line")).to_contain_text("→")
    expect(arranging).to_contain_text("second-best plan")
    expect(page.locator("#locks td.number").first).to_have_text(re.compile(r"\d\.\d\d"))
    assert texts(workbench) == before, "nothing is written before it is applied"
    arranging.locator("summary").click()
    expect(arranging.locator("pre .in").first).to_be_visible()
    assert serious(page) == []

    page.locator("#arrange-apply").click()
    expect(page.locator("#undo")).to_contain_text("Lay all lines")
    settled(page)
    assert texts(workbench) != before
    expect(page.get_by_role("button", name="Arrange", exact=True)).to_be_visible()
    undo(page, workbench)
    assert texts(workbench) == before


def test_planning_is_stopped_with_what_there_is(workbench, browse, monkeypatch):
    workbench.open_example("tipper")
    page = browse()
    page.goto(f"{workbench.origin}/lines")
    begun = threading.Event()

    def endless(whole, *, cancel, **_):
        begun.set()
        stopped = threading.Event()
        while not cancel():
            stopped.wait(0.02)
        return plan(whole, cancel=cancel, seconds=0.1)

    plan = arranged.arrange
    monkeypatch.setattr(arranged, "arrange", endless)
    page.get_by_role("button", name="Arrange", exact=True).click()
    assert begun.wait(10.0)
    late = []
    page.route("**/lines", lambda route: late.append((route, route.fetch())), times=1)
    page.get_by_role("button", name="Stop with what there is").click()
    put_away = page.get_by_role("button", name=re.compile("^(Leave it|Put away)$"))
    expect(put_away).to_be_visible()
    while not late:
        page.wait_for_timeout(20)
    put_away.click()
    expect(page.get_by_role("button", name="Arrange", exact=True)).to_be_visible()
    # The page that was asked for when planning ended comes now; it is out of date and must not be shown.
    route, answer = late[0]
    route.fulfill(response=answer)
    page.wait_for_timeout(500)
    expect(page.get_by_role("button", name="Arrange", exact=True)).to_be_visible()
    assert workbench.session.view().undo == ""


def _spoiled(whole):
    """The body line with two stops in the wrong order: more trunk than it needs."""
    return edits.move_station(whole, "body", 3, 9)
