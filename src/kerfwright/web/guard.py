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

import anyio
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

PAGE_HEADER = "x-kerfwright"
"""Sent by the pages with everything that changes something."""

COOKIE = "kerfwright"

MOST_BYTES = 64 * 1024 * 1024
"""Of one request."""

MOST_TEXT_BYTES = 16 * 1024 * 1024
"""Of one that sends no files: what is read as a whole takes many times its size."""

LONGEST_SILENCE_S = 30.0
"""While something is being sent; whoever is silent for longer holds a place that others need."""

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

    ``hosts`` are the names this server may be asked by, without port, and ``by_number`` lets it be
    asked by the address that a request came in by; with ``token`` whoever does not know it is
    sent away.
    """

    app: ASGIApp
    hosts: Iterable[str] = LOOPBACK
    token: str | None = None
    by_number: bool = False
    most_bytes: int = MOST_BYTES
    silence_s: float = LONGEST_SILENCE_S
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
        await self.app(scope, _bounded(receive, self._most_of(headers), self.silence_s), telling)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        address, port = scope.get("server") or ("", None)
        host = _name_of(headers.get("host", ""))
        # no name can be bound to another address and still be the number of this one
        if host not in self.hosts and not (self.by_number and host == address):
            return _no(421, "host-unknown", "This server is not known by that name.")
        if self.token is not None and not self._knows(_given(headers, _cookie(port))):
            asked = _asked_token(scope)
            if scope["method"] == "GET" and self._knows(asked):
                return _welcome(scope["path"], _cookie(port), asked)
            return _no(401, "token-needed", "Open the address that was printed at the start.")
        if _is_from_elsewhere(scope, headers):
            return _no(403, "from-elsewhere", "Another site asked for this.")
        if scope["method"] not in SAFE_METHODS and PAGE_HEADER not in headers:
            return _no(403, "from-elsewhere", f"The header {PAGE_HEADER} is missing.")
        most, length = self._most_of(headers), headers.get("content-length", "0")
        if not (length.isascii() and length.isdigit() and len(length) < 20 and int(length) <= most):
            return _no(413, "too-large", f"At most {most // 2**20} MiB at a time.")
        return None

    def _most_of(self, headers: Headers) -> int:
        if headers.get("content-type", "").lower().startswith("multipart/"):
            return self.most_bytes
        return min(self.most_bytes, MOST_TEXT_BYTES)

    def _knows(self, given: str) -> bool:
        assert self.token is not None
        return hmac.compare_digest(given.encode(), self.token.encode())


class TooMuchError(HTTPException):
    """A request goes on for longer than it may."""

    def __init__(self) -> None:
        super().__init__(413)


class TooSlowError(HTTPException):
    """A request stopped in the middle of what it sends."""

    def __init__(self) -> None:
        super().__init__(408)


def _bounded(receive: Receive, most_bytes: int, silence_s: float) -> Receive:
    """Count what comes in, whatever the request said of its length, and wait only so long."""
    seen, complete = 0, False

    async def bounded() -> Message:
        nonlocal seen, complete
        if complete:  # what is waited for now is that the other side goes
            return await receive()
        try:
            with anyio.fail_after(silence_s):
                message = await receive()
        except TimeoutError:
            raise TooSlowError from None
        seen += len(message.get("body", b""))
        complete = not message.get("more_body", False)
        if seen > most_bytes:
            raise TooMuchError
        return message

    return bounded


def _is_from_elsewhere(scope: Scope, headers: Headers) -> bool:
    """Whether another site's page asks (W3C Fetch Metadata Request Headers; Fetch, Origin).

    It could not read what the interface answers, but might have drawings read until nobody else
    is served. A link to a page may be followed from anywhere.
    """
    site = headers.get("sec-fetch-site", "same-origin")
    if scope["method"] in SAFE_METHODS:
        return scope["path"].startswith("/api/") and site in {"cross-site", "same-site"}
    origin = headers.get("origin")
    if origin is not None and _netloc(origin) != headers.get("host"):
        return True
    return site not in {"same-origin", "none"}


def _netloc(origin: str) -> str | None:
    try:
        return urlsplit(origin).netloc
    except ValueError:
        return None


def _welcome(path: str, cookie: str, token: str) -> Response:
    """Have a browser remember the token, and show its page without it in the address."""
    # more than one stroke at its begin would make another site's address of the path
    answer = RedirectResponse("/" + path.lstrip("/\\"), status_code=303)
    answer.set_cookie(cookie, token, httponly=True, samesite="strict")
    return answer


def _cookie(port: int | None) -> str:
    """Cookies do not tell ports of a computer apart (RFC 6265, section 8.5)."""
    return f"{COOKIE}-{port}"


def _asked_token(scope: Scope) -> str:
    try:
        asked = parse_qs(scope["query_string"].decode("latin-1"), max_num_fields=20)
    except ValueError:
        return ""
    return str(asked.get("token", [""])[0])


def _name_of(host: str) -> str:
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""


def _given(headers: Headers, cookie_name: str) -> str:
    kind, _, token = headers.get("authorization", "").partition(" ")
    if kind.lower() == "bearer":
        return token.strip()
    try:
        cookie = SimpleCookie(headers.get("cookie", "")).get(cookie_name)
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
