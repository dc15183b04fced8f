"""Runs the server until it is stopped."""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn

from kerfwright.errors import KerfwrightError
from kerfwright.web.app import guarded, make_app
from kerfwright.web.guard import LOOPBACK
from kerfwright.web.reading import READERS
from kerfwright.web.workshop import Workshop


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
    pages = make_app(Workshop(folder.resolve(), records))
    app = guarded(pages, hosts=hosts, token=token)
    shown = f"[{host}]" if ":" in host else host
    started(f"http://{shown}:{bound}/" + (f"?token={token}" if token else ""))
    config = uvicorn.Config(app, log_level="warning", server_header=False, lifespan="on")
    READERS.start()
    with listening:
        PageServer(config, pages.state.plannings.hush).run(sockets=[listening])


class PageServer(uvicorn.Server):
    """A server that first lets go of the pages that listen, which would keep it from ending."""

    def __init__(self, config: uvicorn.Config, hush: Callable[[], None]) -> None:
        super().__init__(config)
        self._hush = hush

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the server, pages that listen first."""
        self._hush()
        await super().shutdown(sockets)


def _listening(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    one = socket.socket(family, socket.SOCK_STREAM)
    one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        one.bind((host, port))
    except OSError as error:
        one.close()
        raise KerfwrightError(
            "pages/port-taken",
            file=f"{host}:{port}",
            thing=f"cannot be listened on ({error.strerror}).",
            remedy="Give another port with --port, or 0 for any that is free.",
        ) from None
    return one
