"""Hands for journeys over drawings: where a shape is on the screen, dragging it in steps as a person would."""

from playwright.sync_api import expect


def middle(locator):
    """The middle of a shape on the screen."""
    locator.wait_for(state="attached")
    box = locator.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def place(page, name, drawing="plan"):
    """A place as it is drawn."""
    return page.locator(f'[data-drawing={drawing}] g[data-path="places.{name}"] > circle.place')


def card(page, name):
    """A component's handle on the plan."""
    return page.locator(f'[data-drawing=plan] [data-handle=component][data-path="components.{name}"]')


def ring(page, index):
    """A stop's ring on the ruler."""
    return page.locator(f'[data-drawing=ruler] g[data-x][data-index="{index}"] > circle.stop')


def take(page, start, *way, steps=8):
    """Press at a point and move along a way of points; the button stays down."""
    page.mouse.move(*start)
    page.mouse.down()
    before = start
    for end in way:
        for step in range(1, steps + 1):
            page.mouse.move(*(a + (b - a) * step / steps for a, b in zip(before, end, strict=True)))
        before = end


def drop(page):
    """Let go, and wait until the page has settled."""
    page.mouse.up()
    settled(page)


def settled(page):
    """Nothing is in hand, and the page shows the state that the server told last."""
    expect(page.locator(".ghost, .lifted, tr.moved")).to_have_count(0)
    state = page.locator("body").get_attribute("data-state")
    expect(page.locator("#page")).to_have_attribute("data-state", state)


def undo(page, workbench):
    """Take the last step back with the button, and wait for the page."""
    before = workbench.session.revision
    page.locator("#undo").click()
    expect(page.locator("#page")).not_to_have_attribute("data-revision", before)
    settled(page)


def step_done(page, workbench, revision):
    """Wait until another revision is shown."""
    expect(page.locator("#page")).not_to_have_attribute("data-revision", revision)
    settled(page)
    assert workbench.session.revision != revision
