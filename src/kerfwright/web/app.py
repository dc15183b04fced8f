"""Puts the pages and their interface together."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from pathlib import Path

from anyio import to_thread
from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from kerfwright import __version__
from kerfwright.errors import KerfwrightError
from kerfwright.web.api import ROUTERS
from kerfwright.web.guard import LOOPBACK, MOST_BYTES, Guard, TooMuchError, help_address
from kerfwright.web.planning.plannings import Plannings
from kerfwright.web.shell import shell_routes
from kerfwright.web.telling import told as told  # noqa: PLC0414 (for whoever imports this)
from kerfwright.web.workshop import Workshop

PAGES = Path(__file__).with_name("pages")

MISSING = frozenset({"pages/no-such-order", "pages/nothing-there", "ticket/help-page-missing"})
"""Errors that say that what was asked for is not there."""


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
    app.add_exception_handler(KerfwrightError, _told)
    app.add_exception_handler(TooMuchError, _too_much)
    return app


def guarded(
    app: ASGIApp,
    *,
    hosts: Iterable[str] = LOOPBACK,
    token: str | None = None,
    most_bytes: int = MOST_BYTES,
) -> Guard:
    """Put the guard before an application."""
    return Guard(app, tuple(hosts), token, most_bytes)


async def _told(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, KerfwrightError)
    status = 404 if error.code in MISSING else 422
    return JSONResponse(told(error, request.app.state.workshop), status_code=status)


async def _too_much(_request: Request, _error: Exception) -> JSONResponse:
    code = "pages/too-large"
    answer = {"code": code, "file": "", "thing": "That is too much at once.", "remedy": ""}
    return JSONResponse(answer | {"help": help_address(code)}, status_code=413)
