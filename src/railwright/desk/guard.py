"""What keeps others off the page: own host, own origin, the token, and a policy for contents.

A page from elsewhere may send requests to loopback, and a name of its own may be made to mean
loopback (DNS rebinding): so Host and Origin must be ours, and a cookie that only the printed
address gives must be there. RFC 6454 (origins), RFC 6265 (cookies; SameSite after its successor),
W3C Content Security Policy Level 3.
"""

from __future__ import annotations

import secrets
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HOSTS = ("127.0.0.1", "localhost")
LARGEST = 4_000_000
"""Bytes of a message."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; worker-src 'self'; connect-src 'self'; frame-src 'self'; "
    "font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'self'"
)
"""Styles stand in the drawing itself; scripts only in our own files."""
HEADERS = {
    "content-security-policy": POLICY,
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "cache-control": "no-store",
}


class Guard:
    """Lets through what the page itself asks, and nothing else."""

    def __init__(self, app: ASGIApp, port: int, token: str) -> None:
        self.app = app
        self.token = token
        self.cookie = f"railwright-{port}"  # cookies do not tell ports apart
        self.hosts = {f"{host}:{port}" for host in HOSTS}
        self.origins = {f"http://{host}" for host in self.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, sent)
            return
        await self.app(scope, _bounded(receive), sent)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        if headers.get("host", "") not in self.hosts:
            return _no(421, "This address is not the page's own. Open the one that was printed.")
        origin = headers.get("origin")
        if origin is not None and origin not in self.origins:
            return _no(403, "Another page asks: refused.")
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return _no(403, "Another page asks: refused.")
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return _no(405, "Only GET and POST are known here.")
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
        if scope["path"] == "/" and self._is_token(given):
            answer = RedirectResponse("/", 303)
            answer.set_cookie(self.cookie, self.token, httponly=True, samesite="strict")
            return answer
        if not self._is_token(self._cookie_of(headers)):
            return _no(403, "The token is missing. Open the address that was printed at the start.")
        if scope["method"] == "POST":
            return _unposted(headers, origin)
        return None

    def _is_token(self, given: str) -> bool:
        return secrets.compare_digest(given.encode(), self.token.encode())

    def _cookie_of(self, headers: Headers) -> str:
        try:
            found = SimpleCookie(headers.get("cookie", "")).get(self.cookie)
        except CookieError:
            return ""
        return found.value if found else ""


class TooLarge(Exception):
    """A message beyond what any design needs."""


def _bounded(receive: Receive) -> Receive:
    """Ends a message that grows beyond bounds without saying so before."""
    received = 0

    async def bounded() -> Message:
        nonlocal received
        message = await receive()
        received += len(message.get("body", b""))
        if received > LARGEST:
            raise TooLarge
        return message

    return bounded


def _unposted(headers: Headers, origin: str | None) -> Response | None:
    """Why something that would change a thing is not taken."""
    if origin is None:
        return _no(403, "A change must tell the page it comes from (Origin).")
    kind = headers.get("content-type", "").partition(";")[0].strip()
    if kind != "application/json":
        return _no(415, f"Sent was {kind or 'nothing'}; wanted is application/json.")
    length = headers.get("content-length", "0")
    if not length.isdecimal() or int(length) > LARGEST:
        return _no(413, f"At most {LARGEST} bytes are taken at once.")
    return None


def _no(status: int, words: str) -> Response:
    return PlainTextResponse(words + "\n", status)
