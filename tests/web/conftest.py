"""A workbench on loopback in a thread, with a copy of an example, and a browser that is strict with it."""

import threading
import time
from contextlib import contextmanager
from urllib.parse import urlsplit

import httpx
import pytest
from playwright.sync_api import expect, sync_playwright

from loomwright.web.server import Server

CHROMIUM = "/usr/bin/chromium"
# A whole suite beside it on two cores slows a browser several times; what fails still fails, only later.
WAIT_S = 20.0
# Hands wait for what can be seen. A button that is there before its scripts are would be pressed for nothing.
UNSEEN_UNTIL_LOADED = """
const veil = new CSSStyleSheet();
veil.replaceSync("body { visibility: hidden !important }");
document.adoptedStyleSheets = [veil];
window.addEventListener("load", () => { document.adoptedStyleSheets = []; });
"""


class Running:
    """A server in a thread. ``origin`` has no token, ``address`` has it."""

    def __init__(self, base):
        self.base = base
        self.server = Server(base)
        self.address = self.server.address
        parts = urlsplit(self.address)
        self.origin = f"{parts.scheme}://{parts.netloc}"
        self.token = parts.query.removeprefix("token=")
        self._thread = threading.Thread(target=self.server.run, name="workbench")
        self._thread.start()
        end = time.monotonic() + WAIT_S
        while not self.server.started:
            assert time.monotonic() < end, "the server did not start"
            time.sleep(0.01)

    @property
    def session(self):
        session = self.server.workbench.session
        assert session is not None
        return session

    def open_example(self, name, folder=""):
        self.server.workbench.open_example(name, folder)
        return self.session.folder

    @contextmanager
    def client(self):
        """A client that has traded the token, and sends what a browser would from our own page."""
        headers = {"origin": self.origin, "sec-fetch-site": "same-origin"}
        with httpx.Client(base_url=self.origin, headers=headers, timeout=WAIT_S) as client:
            assert client.get("/", params={"token": self.token}).status_code == 303
            yield client

    def stop(self):
        self.server.stop()
        self._thread.join(WAIT_S)
        assert not self._thread.is_alive()


@pytest.fixture
def workbench(tmp_path):
    base = tmp_path / "projects"
    base.mkdir()
    running = Running(base)
    yield running
    running.stop()


@pytest.fixture
def client(workbench):
    with workbench.client() as made:
        yield made


@pytest.fixture(scope="session")
def chromium():
    expect.set_options(timeout=WAIT_S * 1e3)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


class Trouble(list):
    """What no journey may see: console errors, uncaught exceptions, requests that leave this machine."""

    def watch(self, page, origin):
        self.refusals_expected = False
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.append(f"uncaught: {error}"))
        page.on("request", lambda request: self._request(request.url, origin))
        page.on("response", self._response)

    def _console(self, message):
        # For every answer of 400 and above the browser writes a line that does not say which; _response does.
        if message.type in ("error", "warning") and "Failed to load resource" not in message.text:
            self.append(f"{message.type}: {message.text}")

    def _response(self, response):
        refused = response.status in (409, 422, 404) and self.refusals_expected
        if response.status >= 400 and not refused:
            self.append(f"{response.status}: {response.url}")

    def _request(self, url, origin):
        if not url.startswith((origin, "data:", "about:")):
            self.append(f"left this machine: {url}")


@pytest.fixture
def browse(workbench, chromium):
    """A page of a fresh browser context; the test fails on any trouble it saw."""
    contexts, troubles = [], []

    def new_page(*, width=1280, height=800, **more):
        context = chromium.new_context(viewport={"width": width, "height": height}, **more)
        context.set_default_timeout(WAIT_S * 1e3)
        context.add_init_script(UNSEEN_UNTIL_LOADED)
        page = context.new_page()
        page.trouble = Trouble()
        page.trouble.watch(page, workbench.origin)
        contexts.append(context)
        troubles.append(page.trouble)
        page.goto(workbench.address)
        return page

    yield new_page
    for context in contexts:
        context.close()
    assert [list(trouble) for trouble in troubles if trouble] == []
