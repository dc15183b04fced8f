"""What the application holds from the first time it is asked for until the server ends."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from typing import Protocol, TypeVar

from fastapi import FastAPI, Request
from starlette.concurrency import run_in_threadpool


class Stoppable(Protocol):
    """Work beside the server that has to be ended with it."""

    def stop(self) -> None:
        """End it."""


Held = TypeVar("Held", bound=Stoppable)


def held(request: Request, name: str, make: Callable[[], Held]) -> Held:
    """Return what the application holds by that name, made now if it is not there yet."""
    state = request.app.state
    if not hasattr(state, name):
        setattr(state, name, make())
    found: Held = getattr(state, name)
    return found


def ending(name: str) -> Callable[[FastAPI], AbstractAsyncContextManager[None]]:
    """Return a router's lifespan that stops what is held by that name."""

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        yield
        found = getattr(app.state, name, None)
        if found is not None:
            await run_in_threadpool(found.stop)

    return lifespan
