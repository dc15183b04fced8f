"""Runs the server until it is stopped."""

from __future__ import annotations

import asyncio
import secrets
import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

from kerfwright.errors import KerfwrightError
from kerfwright.web.guard import LOOPBACK
from kerfwright.web.reading import READERS
from kerfwright.web.workshop import Workshop

HEAD_S = 20.0
"""For the head of a request; browsers send it at once."""

MOST_AT_ONCE = 200
"""Lines and requests; a page that is seen keeps one of them for its news."""

EVERYWHERE = frozenset({"0.0.0.0", "::", ""})


def serve(
    folder: Path,
    *,
    host: str,
    port: int,
    records: str | None,
    started: Callable[[str], None],
) -> None:
    """Serve a workshop's folder; ``started`` is told the address to open.

    Beyond this computer nobody gets in without the token in that address.

    Raises:
        KerfwrightError: the folder is none, or the port is taken.
    """
    if not folder.is_dir():
        raise KerfwrightError(
            "pages/no-folder",
            file=str(folder),
            thing="is no folder.",
            remedy="Give the folder that the orders are in, or make it first.",
        )
    listening = _listening(host, port)
    bound = listening.getsockname()[1]
    token = None if host in LOOPBACK else secrets.token_urlsafe(24)
    hosts = (*LOOPBACK, host.lower(), socket.gethostname().lower())
    workshop = Workshop(folder.resolve(), records)
    started(f"http://{_shown(host)}:{bound}/" + (f"?token={token}" if token else ""))
    # what the pages need takes as long to load as a browser, which waits at the open door
    from kerfwright.web.app import guarded, make_app  # noqa: PLC0415
    from kerfwright.web.left_over import clear_unfinished  # noqa: PLC0415

    clear_unfinished(workshop)
    pages = make_app(workshop)
    app = guarded(pages, hosts=hosts, token=token, by_number=token is not None)
    config = uvicorn.Config(
        app,
        http=PatientProtocol,
        ws="none",
        log_level="warning",
        server_header=False,
        lifespan="on",
        limit_concurrency=MOST_AT_ONCE,
    )
    READERS.start()
    with listening:
        PageServer(config, pages.state.plannings.hush).run(sockets=[listening])


class PatientProtocol(H11Protocol):
    """A line to a browser that is cut if no whole request comes over it in good time.

    Otherwise a few hundred lines that say one letter a minute would keep everybody else out
    (CWE-400, Uncontrolled Resource Consumption). What follows the head is bounded by the guard.
    """

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the head of the first request."""
        super().connection_made(transport)
        self.loop.call_later(HEAD_S, self._cut_silent, None)

    def on_response_complete(self) -> None:
        """Begin to wait for the head of the next."""
        self.loop.call_later(HEAD_S, self._cut_silent, self.cycle)
        super().on_response_complete()

    def _cut_silent(self, last: RequestResponseCycle | None) -> None:
        if self.cycle is last and not self.transport.is_closing():
            self.transport.close()


class PageServer(uvicorn.Server):
    """A server that first lets go of the pages that listen, which would keep it from ending."""

    def __init__(self, config: uvicorn.Config, hush: Callable[[], None]) -> None:
        super().__init__(config)
        self._hush = hush

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the server, pages that listen first."""
        self._hush()
        await super().shutdown(sockets)


def _shown(host: str) -> str:
    """The name by which a server that listens everywhere is asked."""
    if host in EVERYWHERE:
        return socket.gethostname().lower()
    return f"[{host}]" if ":" in host else host


def _listening(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    one = socket.socket(family, socket.SOCK_STREAM)
    one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        one.bind((host, port))
        # from now on a browser that is faster than the server waits for it
        one.listen(MOST_AT_ONCE)
    except OSError as error:
        one.close()
        raise KerfwrightError(
            "pages/port-taken",
            file=f"{host}:{port}",
            thing=f"cannot be listened on ({error.strerror}).",
            remedy="Give another port with --port, or 0 for any that is free.",
        ) from None
    return one
