"""Every page of the workbench on ``tipper-as-found``: what is looked at for accessibility and in screenshots.

A new page gets its line here. Run ``make screens`` to see them all, light and dark, on a screen and on a tablet.
"""

import sys
import tempfile
from pathlib import Path

EXAMPLE = "tipper-as-found"
PAGES = (
    ("start", "/start"),
    ("vehicle", "/vehicle"),
    ("components", "/components"),
    ("component", "/components/inverter"),
    ("glossary", "/glossary"),
    ("lines", "/lines"),
    ("line", "/lines/body"),
    ("line-without-a-way", "/lines/pumps"),
    ("messages", "/messages"),
    ("messages-of-a-line", "/messages?line=old"),
    ("messages-chains", "/messages/chains"),
    ("messages-matrix", "/messages/matrix"),
    ("message", "/messages/controller_drive/torque_command"),
    ("message-with-pages", "/messages/battery_manager/cell_voltages?signal=group"),
    ("message-wrong", "/messages/junction_box/box_state"),
    ("signal", "/lines/old/signal"),
    ("signal-fault", "/lines/old/signal?fault=no+terminator+at+seat_box"),
)
SIZES = ((1280, 800), (1180, 820))


def write_screens(folder: Path) -> int:
    """Write a screenshot of every page into a folder, as seen first and as a whole; how many."""
    from playwright.sync_api import sync_playwright

    from tests.web.conftest import CHROMIUM, Running

    folder.mkdir(parents=True, exist_ok=True)
    count = 0
    with tempfile.TemporaryDirectory() as base, sync_playwright() as playwright:
        running = Running(Path(base))
        running.open_example(EXAMPLE)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        for scheme in ("light", "dark"):
            for width, height in SIZES:
                context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
                page = context.new_page()
                page.goto(running.address)
                for name, path in PAGES:
                    page.goto(running.origin + path)
                    page.evaluate("document.fonts.ready")
                    page.screenshot(path=folder / f"{name}-{scheme}-{width}.png")
                    count += 1
                context.close()
        browser.close()
        running.stop()
    return count


if __name__ == "__main__":
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "build/screens")
    sys.stdout.write(f"{write_screens(target)} pictures in {target}\n")
