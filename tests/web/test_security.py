"""Nobody but the browser that was given the token may read or change anything, and nothing outside the base folder."""

import asyncio
import html
import json
import re
import socket
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest

from loomwright.web.security import BODY_LIMIT, Guard
from loomwright.web.server import ROUTERS


def ran(coroutine):
    """What a coroutine returns, in a thread of its own: the browser driver keeps a loop running in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, coroutine).result()


@pytest.fixture
def tipper(workbench):
    return workbench.open_example("tipper")


def texts(folder):
    return {path.name: path.read_bytes() for path in sorted(folder.rglob("*.toml"))}


# Where it listens


def test_it_listens_on_loopback_alone(workbench):
    assert workbench.server._socket.getsockname()[0] == "127.0.0.1"
    own = socket.gethostbyname(socket.gethostname())
    if not own.startswith("127."):
        with pytest.raises(OSError, match="refused"):
            socket.create_connection((own, workbench.server.port), 1).close()


# Token and cookie


@pytest.mark.parametrize(
    "path", ["/", "/lines", "/start", "/margin", "/events", "/static/workbench.css", "/look/tokens.css"]
)
def test_without_the_token_nothing_is_told(workbench, tipper, path):
    answer = httpx.get(workbench.origin + path)
    assert answer.status_code == 403
    assert "tipper" not in answer.text.lower()


def test_a_wrong_token_opens_nothing(workbench):
    answer = httpx.get(workbench.origin, params={"token": "guess"})
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


def test_the_token_is_traded_for_a_cookie_that_other_sites_and_scripts_never_get(workbench):
    answer = httpx.get(workbench.address)
    cookie = answer.headers["set-cookie"].lower()
    assert answer.status_code == 303
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert workbench.token.lower() not in cookie
    assert answer.headers["location"] == "/"


def test_every_start_has_its_own_token(tmp_path):
    from loomwright.web.server import Server

    servers = [Server(tmp_path), Server(tmp_path)]
    assert len({server.address.partition("token=")[2] for server in servers}) == 2
    for server in servers:
        server._socket.close()


# Other names, other pages


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1.evil.example:{port}", "localhost:1", ""]
)
def test_a_foreign_name_that_resolves_here_is_refused(workbench, tipper, client, host):
    """DNS rebinding: the browser believes to speak to its own site, so its name stands in the Host header."""
    answer = client.get("/lines", headers={"host": host.format(port=workbench.server.port)})
    assert answer.status_code in (400, 403)
    assert "tipper" not in answer.text.lower()


def test_two_host_headers_are_refused(workbench):
    with socket.create_connection(("127.0.0.1", workbench.server.port), 5) as raw:
        host = f"127.0.0.1:{workbench.server.port}"
        raw.sendall(f"GET / HTTP/1.1\r\nHost: {host}\r\nHost: evil.example\r\nConnection: close\r\n\r\n".encode())
        assert raw.recv(64).split()[1] in (b"400", b"403")


FOREIGN = [
    {"origin": "http://evil.example", "sec-fetch-site": "cross-site"},
    {"origin": "http://evil.example", "sec-fetch-site": ""},
    {"origin": "null", "sec-fetch-site": ""},
    {"origin": "http://127.0.0.1:1", "sec-fetch-site": "same-site"},
    {"origin": "http://127.0.0.1:1", "sec-fetch-site": ""},
    {"origin": "http://localhost", "sec-fetch-site": ""},
    {"origin": "", "sec-fetch-site": ""},
]


@pytest.mark.parametrize("headers", FOREIGN)
@pytest.mark.parametrize("path", ["/undo", "/edit/component/move", "/open/folder"])
def test_a_page_elsewhere_cannot_post_even_with_the_cookie(workbench, tipper, headers, path):
    before = texts(tipper)
    with workbench.client() as client:
        cookies = dict(client.cookies)
    sent = {name: value for name, value in headers.items() if value}
    fields = {"name": "inverter", "place": "nose_tie", "folder": "."}
    answer = httpx.post(workbench.origin + path, data=fields, headers=sent, cookies=cookies)
    assert answer.status_code == 403
    assert texts(tipper) == before


def test_a_page_elsewhere_cannot_even_read(workbench, tipper, client):
    for site in ("cross-site", "same-site"):
        answer = client.get("/lines", headers={"sec-fetch-site": site})
        assert answer.status_code == 403
        assert "access-control-allow-origin" not in answer.headers


def test_our_own_page_can_post(workbench, tipper, client):
    answer = client.post("/edit/component/move", data={"name": "inverter", "place": "nose_tie"})
    assert answer.status_code == 204
    assert workbench.session.view().vehicle.components["inverter"].place == "nose_tie"


def test_get_changes_nothing(workbench, tipper, client):
    before = texts(tipper)
    paths = [route.path for router in ROUTERS for route in router.routes]
    assert len(paths) > 30
    for path in paths:
        if "{" not in path and path != "/events":
            client.get(
                path, params={"name": "inverter", "place": "nose_tie", "path": "lines.drive.title", "finding": "x"}
            )
    assert texts(tipper) == before


# What answers forbid


@pytest.mark.parametrize("path", ["/lines", "/start", "/static/js/frame.js", "/nothing", "/look/tokens.css"])
def test_every_answer_carries_the_strict_policy(workbench, tipper, client, path):
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_refusals_carry_the_policy_too(workbench):
    assert "content-security-policy" in httpx.get(workbench.origin).headers


def test_pages_have_no_inline_script_and_no_inline_style(workbench, tipper, client):
    for path in ("/lines", "/lines/drive", "/start", "/margin?show=all&holds=true"):
        text = client.get(path).text
        assert re.search(r"<script(?![^>]*\bsrc=)", text) is None, path
        assert re.search(r"\sstyle=|<style|\son[a-z]+=|javascript:|hx-on|js:", text) is None, path


def test_pages_name_no_address_outside(workbench, tipper, client):
    for path in ("/lines", "/lines/drive", "/start"):
        found = set(re.findall(r"https?://[^\"'\s)<]+", client.get(path).text))
        assert found <= {"http://www.w3.org/2000/svg"}, path


# Sizes


def test_a_body_past_the_limit_is_refused_by_its_length(client):
    answer = client.post("/open/folder", data={"folder": "x" * (BODY_LIMIT + 1)})
    assert answer.status_code == 413


def test_a_body_without_length_is_refused_when_it_grows_past_the_limit(client):
    def endless():
        for _ in range(BODY_LIMIT // 65536 + 2):
            yield b"x" * 65536

    try:
        answer = client.post(
            "/open/folder", content=endless(), headers={"content-type": "application/x-www-form-urlencoded"}
        )
    except httpx.WriteError:
        return  # the server closed the connection, which refuses it as well
    assert answer.status_code in (400, 413)


def test_the_gate_counts_what_it_lets_through():
    """The gate itself, without a server: an application that reads everything gets no more than the limit."""
    got = []

    async def greedy(scope, receive, send):
        while True:
            message = await receive()
            got.append(len(message["body"]))

    async def drive():
        guard = Guard(greedy, 80, "t", body_limit=100)
        scope = {
            "type": "http", "method": "POST", "path": "/x", "query_string": b"",
            "headers": [(b"host", b"localhost:80"), (b"origin", b"http://localhost:80"),
                        (b"cookie", f"loomwright_80={guard.secret}".encode())],
        }  # fmt: skip
        sent = []

        async def receive():
            return {"type": "http.request", "body": b"x" * 40, "more_body": True}

        async def send(message):
            sent.append(message)

        await guard(scope, receive, send)
        return sent[0]["status"]

    assert ran(drive()) == 413
    assert sum(got) <= 100


def test_websockets_are_closed():
    sent = []

    async def send(message):
        sent.append(message)

    async def nothing(*_):
        raise AssertionError("the application must not be asked")

    ran(Guard(nothing, 80, "t")({"type": "websocket", "headers": []}, nothing, send))
    assert sent == [{"type": "websocket.close", "code": 1008}]


# Folders


OUTSIDE = ["..", "../..", "/", "/etc", "tipper/../..", "./../projects/../x", "~", "\0", " ", "link", "link/inner"]


@pytest.mark.parametrize("folder", OUTSIDE)
def test_no_folder_outside_the_base_is_opened(workbench, tipper, client, tmp_path, folder):
    outside = tmp_path / "outside"
    (outside / "inner").mkdir(parents=True)
    for place in (outside, outside / "inner", tmp_path):
        (place / "vehicle.toml").write_bytes((tipper / "vehicle.toml").read_bytes())
    (workbench.base / "link").symlink_to(outside)
    answer = client.post("/open/folder", data={"folder": folder})
    assert answer.status_code == 422
    assert workbench.session.folder == tipper


@pytest.mark.parametrize("folder", [name for name in OUTSIDE if name.strip()])
def test_no_example_is_copied_outside_the_base(workbench, client, tmp_path, folder):
    (tmp_path / "outside").mkdir()
    (workbench.base / "link").symlink_to(tmp_path / "outside")
    before = sorted(tmp_path.rglob("*"))
    assert client.post("/open/example", data={"example": "bench", "folder": folder}).status_code == 422
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("example", ["../files", "tipper/..", "", "nothing"])
def test_only_shipped_examples_are_copied(workbench, client, example):
    assert client.post("/open/example", data={"example": example}).status_code == 422
    assert list(workbench.base.iterdir()) == []


@pytest.mark.parametrize("path", ["/static/../server.py", "/static/%2e%2e/server.py", "/static/..%2fserver.py", "/static//etc/passwd",
                                  "/fonts/../tokens.py", "/fonts/%2e%2e/tokens.py", "/look/tokens.py", "/look/..%2ftokens.py"])  # fmt: skip
def test_no_file_beside_the_shipped_ones_is_served(workbench, path):
    with workbench.client() as client, socket.create_connection(("127.0.0.1", workbench.server.port), 5) as raw:
        cookie = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
        request = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{workbench.server.port}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"
        raw.sendall(request.encode())
        assert raw.recv(64).split()[1] in (b"404", b"400")


BAD_NAMES = ["../../evil", "..", "a/b", "/etc/x", "A", "", "a.b", "a b", "\u00e4", "con\0", "a" * 200]


@pytest.mark.parametrize("name", BAD_NAMES)
def test_names_that_are_paths_are_no_names(workbench, tipper, client, name):
    before = texts(workbench.base)
    place = next(iter(workbench.session.view().vehicle.places))
    posts = [
        ("/edit/component/add", {"name": name, "role": "other", "place": place}),
        ("/edit/component/rename", {"name": "inverter", "new": name}),
        ("/edit/component/duplicate", {"name": "inverter", "new": name}),
        ("/edit/place/add", {"name": name, "x": "1 m", "y": "0 m"}),
        ("/edit/place/rename", {"name": place, "new": name}),
    ]
    for address, fields in posts:
        assert client.post(address, data=fields).status_code == 422, address
    assert texts(workbench.base) == before


def test_a_file_that_is_a_link_out_of_the_project_is_neither_read_nor_written(workbench, tipper, client, tmp_path):
    secret = tmp_path / "secret.toml"
    secret.write_text('role = "other"\nplace = "kick_left"\ntitle = "SECRET"\n', "utf-8")
    (tipper / "components" / "spy.toml").symlink_to(secret)
    workbench.session.follow(surely=True)
    assert workbench.session.view().problems
    assert "SECRET" not in client.get("/lines").text
    answer = client.post("/edit/component/move", data={"name": "inverter", "place": "nose_tie"})
    assert answer.status_code == 409
    assert secret.read_text("utf-8").startswith('role = "other"')


def test_a_components_folder_that_leads_out_is_not_written_through(workbench, tipper, client, tmp_path):
    outside = tmp_path / "outside"
    (tipper / "components").rename(outside)
    (tipper / "components").symlink_to(outside)
    before = texts(outside)
    client.post("/edit/component/move", data={"name": "inverter", "place": "nose_tie"})
    assert texts(outside) == before


# User text


EVIL = "<img src=x onerror=alert(1)>'\"]]></svg><script>alert(1)</script>{{7*7}}"


def test_user_text_is_escaped_in_pages_and_drawings(workbench, tipper, client):
    quoted = json.dumps(EVIL)
    for file in ("vehicle.toml", "lines/drive.toml", "components/inverter.toml"):
        path = tipper / file
        key = "name" if file == "vehicle.toml" else "title"
        path.write_text(
            re.sub(rf'(?m)^{key} = ".*"$', lambda _, k=key: f"{k} = {quoted}", path.read_text("utf-8"), count=1),
            "utf-8",
        )
    workbench.session.follow(surely=True)
    assert not workbench.session.view().problems
    for path in ("/lines", "/lines/drive", "/margin?show=all&holds=true", "/search?q=img", "/search?q=" + "%3Cscript"):
        answer = client.get(path)
        assert answer.status_code == 200, path
        text = answer.text
        assert "<img" not in text, path
        assert "<script>alert" not in text, path
        assert "{{7*7}}" in text or "7*7" not in text, path
    assert html.escape("<img src=x") in client.get("/lines").text


def test_user_text_in_errors_is_escaped(client):
    answer = client.post("/open/folder", data={"folder": EVIL})
    assert answer.status_code == 422
    assert "<img" not in answer.text
