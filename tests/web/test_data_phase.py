"""The data phase of an FD line in the workbench: asked where it matters, shown beside the bit timing."""

import pytest
from playwright.sync_api import expect

from tests.fd_bench import with_fd
from tests.web.axe import serious

SLOW_MS = 30_000


@pytest.fixture
def opened(workbench, browse):
    """Open the bench as an FD line, or as it is shipped."""

    def opening(**keys):
        folder = workbench.open_example("bench")
        if keys.pop("fd", True):
            with_fd(folder, **keys)
            workbench.server.workbench.open_folder(str(folder))
        return browse(), workbench.session.folder

    return opening


def on_signal(workbench, page):
    page.goto(f"{workbench.origin}/lines/bench/signal")
    page.locator("#signal .headline").wait_for(timeout=SLOW_MS)
    return page.locator("#signal")


def test_an_fd_line_shows_both_phases_and_no_serious_violation(workbench, opened):
    page, _ = opened()
    shown = on_signal(workbench, page)
    expect(shown.get_by_role("heading", name="The data phase of FD frames")).to_be_visible()
    expect(shown).to_contain_text("sampled at 70.0 % by all nodes that tell of it")
    rows = shown.locator("table[data-phase] tbody tr")
    expect(rows).to_have_count(2)
    expect(rows.first.get_by_role("cell")).to_have_text(["2", "13", "6", "6", "70.0", "11", "21", "28"])
    expect(rows.last.get_by_role("cell").first).to_have_text("fixed")
    assert serious(page) == []


def test_a_classical_line_neither_shows_nor_asks_for_a_data_phase(workbench, opened):
    page, _ = opened(fd=False)
    expect(on_signal(workbench, page)).not_to_contain_text("data phase")
    page.goto(f"{workbench.origin}/lines/bench")
    expect(page.locator("main")).to_contain_text("bit rate")
    expect(page.locator("main")).not_to_contain_text("data bit rate")


def test_the_missing_data_bit_rate_is_named_and_can_be_given_on_the_line_s_page(workbench, opened):
    page, folder = opened(line="")
    expect(on_signal(workbench, page)).to_contain_text("data bit rate")
    page.goto(f"{workbench.origin}/lines/bench")
    expect(page.locator("main")).to_contain_text("data bit rate")
    assert "lines.bench.data_bit_rate_bit_per_s" in page.content()
    assert "data_bit_rate" not in (folder / "lines" / "bench.toml").read_text("utf-8")


def test_every_fact_of_a_port_s_data_phase_can_be_given_on_its_component_s_page(workbench, opened, client):
    opened()
    text = client.get("/components/vehicle_controller").text
    for name in ("data_bit_rates_bit_per_s", "data_sample_point"):
        assert f"components.vehicle_controller.ports.can1.{name}" in text
