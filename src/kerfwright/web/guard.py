"""Keeps strangers out: who may ask, what a page may load, how much may be sent.

A page on the open internet can make a browser ask this server for things. It is stopped by the
name it must ask for (Host, against names that are bound to this computer from outside), by where
it stands (Origin), and by a header that no form and no other site's script can send. Sources:
OWASP Cross-Site Request Forgery Prevention Cheat Sheet (custom request headers); Fetch Standard,
section 3.2 (CORS-preflight); W3C Content Security Policy Level 3.
"""

from __future__ import annotations

import hmac
from collections.abc import Iterable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

PAGE_HEADER = "x-kerfwright"
"""Sent by the pages with everything that changes something."""

COOKIE = "kerfwright"

MOST_BYTES = 64 * 1024 * 1024
"""Of one request."""

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

LOOPBACK = ("localhost", "127.0.0.1", "::1")

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)

PAPERS_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""For tickets, quotes and help pages, which carry their own styles and run nothing."""

TOLD = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
}


@dataclass(frozen=True, slots=True)
class Guard:
    """An ASGI layer before everything else.

    ``hosts`` are the names this server may be asked by, without port; with ``token`` whoever
    does not know it is sent away.
    """

    app: ASGIApp
    hosts: Iterable[str] = LOOPBACK
    token: str | None = None
    most_bytes: int = MOST_BYTES
    _told: dict[str, str] = field(default_factory=lambda: dict(TOLD))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer what may not pass, and hand on the rest."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)

        async def telling(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in self._told.items():
                    out.setdefault(name, value)
                if not scope["path"].startswith("/pages/"):
                    out.setdefault("cache-control", "no-store")
            await send(message)

        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await refusal(scope, receive, telling)
            return
        await self.app(scope, _counted(receive, self.most_bytes), telling)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        host = _name_of(headers.get("host", ""))
        if host not in set(self.hosts):
            return _no(421, "host-unknown", "This server is not known by that name.")
        if self.token is not None:
            given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
            if scope["method"] == "GET" and given and self._knows(given):
                answer = RedirectResponse(scope["path"], status_code=303)
                answer.set_cookie(COOKIE, given, httponly=True, samesite="strict")
                return answer
            if not self._knows(_given(headers)):
                return _no(401, "token-needed", "Open the address that was printed at the start.")
        if scope["method"] not in SAFE_METHODS:
            origin = headers.get("origin")
            if origin is not None and urlsplit(origin).netloc != headers.get("host"):
                return _no(403, "from-elsewhere", "Another site asked for this.")
            if headers.get("sec-fetch-site", "same-origin") not in {"same-origin", "none"}:
                return _no(403, "from-elsewhere", "Another site asked for this.")
            if PAGE_HEADER not in headers:
                return _no(403, "from-elsewhere", f"The header {PAGE_HEADER} is missing.")
        try:
            length = int(headers.get("content-length", "0"))
        except ValueError:
            length = -1
        if not 0 <= length <= self.most_bytes:
            return _no(413, "too-large", f"At most {self.most_bytes // 2**20} MiB at a time.")
        return None

    def _knows(self, given: str) -> bool:
        assert self.token is not None
        return hmac.compare_digest(given.encode(), self.token.encode())


class TooMuchError(HTTPException):
    """A request goes on for longer than it may."""

    def __init__(self) -> None:
        super().__init__(413)


def _counted(receive: Receive, most_bytes: int) -> Receive:
    """Count what comes in, whatever the request said of its length."""
    seen = 0

    async def counting() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most_bytes:
            raise TooMuchError
        return message

    return counting


def _name_of(host: str) -> str:
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""


def _given(headers: Headers) -> str:
    kind, _, token = headers.get("authorization", "").partition(" ")
    if kind.lower() == "bearer":
        return token.strip()
    try:
        cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return "" if cookie is None else cookie.value


def _no(status: int, slug: str, thing: str) -> Response:
    code = f"pages/{slug}"
    return JSONResponse(
        {"code": code, "file": "", "thing": thing, "remedy": "", "help": help_address(code)},
        status_code=status,
    )


def help_address(code: str) -> str:
    """Address of the help page for a code ``page/heading``."""
    page, _, heading = code.partition("/")
    return f"/help/{page}" + (f"#{heading}" if heading else "")
