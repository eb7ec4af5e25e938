"""Who may speak to the server: the browser on this machine that was given the token, from our own pages. Nobody else.

- **Host** has to be the loopback address and port that is served, so a foreign name that resolves here is refused.
- **Sec-Fetch-Site** has to be ``same-origin`` or ``none`` where the browser sends it.
- Everything but reading needs an **Origin** that is our own address; a request with neither header is refused.
- The **token** in the first address is traded for a cookie (HttpOnly, SameSite=Strict); without either: refused.
- Bodies past ``BODY_LIMIT`` are refused before they are kept.
- Every answer forbids inline scripts and styles, frames, foreign sources and guessing of types.
"""

import hmac
import secrets
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

BODY_LIMIT = 2_000_000
"""Bytes of a request's body: a long table of components is some 100 kB."""

READING = ("GET", "HEAD")
OWN_SITE = ("same-origin", "none")

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    # not "no-referrer": with that, browsers send "Origin: null" on our own posts
    "referrer-policy": "same-origin",
}


class TooLargeError(Exception):
    """The body grew past the limit while it was read."""


class Guard:
    """The gate in front of the application. ``port`` is the one that is served, ``token`` opens the first page."""

    def __init__(self, app: ASGIApp, port: int, token: str, body_limit: int = BODY_LIMIT) -> None:
        self.app = app
        self.token = token
        self.body_limit = body_limit
        self.hosts = frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost"))
        # Cookies are shared by all ports of a host: the port in the name keeps two workbenches apart.
        self.cookie = f"loomwright_{port}"
        self.secret = secrets.token_urlsafe(32)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, trade the token, or let through with the headers that every answer carries."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        guarded = _with_headers(send)
        early = self._answer(scope, Headers(scope=scope))
        if early is not None:
            await early(scope, receive, guarded)
            return
        await self._limited(scope, receive, guarded)

    def _answer(self, scope: Scope, headers: Headers) -> Response | None:
        """What is answered without asking the application; ``None`` where the request may pass."""
        reason = self._refusal(scope["method"], headers)
        if reason:
            return _refused(reason)
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
        if given and scope["path"] == "/" and scope["method"] == "GET":
            if not _equal(given, self.token):
                return _refused("This token is not the one of the running workbench.")
            answer = RedirectResponse("/", 303)
            answer.set_cookie(self.cookie, self.secret, httponly=True, samesite="strict", path="/")
            return answer
        if not _equal(_cookie(headers, self.cookie), self.secret):
            return _refused("Open the address that the program printed when it started.")
        if int(headers.get("content-length") or 0) > self.body_limit:
            return _too_large(self.body_limit)
        return None

    def _refusal(self, method: str, headers: Headers) -> str:
        """Why these headers cannot come from our own page; empty where they can."""
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return "This name is not served here."
        length = headers.get("content-length")
        if length is not None and not length.isdecimal():
            return "The length of the body cannot be read."
        site = headers.get("sec-fetch-site")
        if site is not None and site not in OWN_SITE:
            return "Another page may not use the workbench."
        if method in READING:
            return ""
        origin = headers.get("origin")
        if origin is None:
            return "" if site == "same-origin" else "Only the workbench's own pages may change something."
        return "" if origin.lower() == f"http://{hosts[0].lower()}" else "Another page may not use the workbench."

    async def _limited(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on while counting the body, which may come without a length."""
        seen = 0
        started = False

        async def counted() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > self.body_limit:
                raise TooLargeError
            return message

        async def noted(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self.app(scope, counted, noted)
        except TooLargeError:
            if not started:
                await _too_large(self.body_limit)(scope, receive, send)


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return sending


def _cookie(headers: Headers, name: str) -> str:
    jar: SimpleCookie = SimpleCookie()
    try:
        jar.load("; ".join(headers.getlist("cookie")))
    except CookieError:
        return ""
    return jar[name].value if name in jar else ""


def _equal(given: str, wanted: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "surrogatepass"), wanted.encode())


def _refused(reason: str) -> Response:
    return PlainTextResponse(f"Refused. {reason}\n", 403)


def _too_large(limit: int) -> Response:
    return PlainTextResponse(f"Refused. A request may hold {limit} bytes at most.\n", 413)
