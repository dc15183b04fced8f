"""Puts the pages and their interface together."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from pathlib import Path

from anyio import to_thread
from fastapi import FastAPI
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from kerfwright import __version__
from kerfwright.web.api import ROUTERS
from kerfwright.web.errors_told import tell_errors
from kerfwright.web.guard import LONGEST_SILENCE_S, LOOPBACK, MOST_BYTES, Guard
from kerfwright.web.planning.plannings import Plannings
from kerfwright.web.shell import shell_routes
from kerfwright.web.telling import told as told  # noqa: PLC0414 (for whoever imports this)
from kerfwright.web.workshop import Workshop

PAGES = Path(__file__).with_name("pages")


def make_app(workshop: Workshop) -> FastAPI:
    """Make the application for a workshop's folder, without its guard."""
    plannings = Plannings(workshop)

    @asynccontextmanager
    async def planning(_app: FastAPI) -> AsyncIterator[None]:
        yield
        await to_thread.run_sync(plannings.close)

    app = FastAPI(
        title="Kerfwright",
        version=__version__,
        summary="Orders of a small laser shop: drawings in, proven programs and tickets out.",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=planning,
    )
    app.state.workshop = workshop
    app.state.plannings = plannings
    for router in ROUTERS:
        app.include_router(router, prefix="/api")
    app.include_router(shell_routes())
    app.mount("/pages", StaticFiles(directory=PAGES), name="pages")
    tell_errors(app)
    return app


def guarded(
    app: ASGIApp,
    *,
    hosts: Iterable[str] = LOOPBACK,
    token: str | None = None,
    by_number: bool = False,
    most_bytes: int = MOST_BYTES,
    silence_s: float = LONGEST_SILENCE_S,
) -> Guard:
    """Put the guard before an application."""
    return Guard(app, frozenset(hosts), token, by_number, most_bytes, silence_s)
