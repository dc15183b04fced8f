"""Hands news to the pages that listen, each by its own line; old news gives way to new."""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import AsyncIterator, Iterable
from contextlib import suppress
from dataclasses import dataclass
from threading import Lock

from pydantic import BaseModel


@dataclass(frozen=True, slots=True)
class Event:
    """One piece of news. A later one with the same ``topic`` takes its place if it still waits."""

    kind: str
    topic: tuple[str, ...]
    data: BaseModel


class News:
    """Everyone who listens."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._lines: set[Line] = set()
        self._closed = False

    def tell(self, event: Event) -> None:
        """Tell everyone, from any thread."""
        with self._lock:
            lines = tuple(self._lines)
        for line in lines:
            line.put(event)

    def listen(self, first: Iterable[Event]) -> Line:
        """Begin a line for one listener in a running loop; ``first`` is what it missed."""
        line = Line(first)
        with self._lock:
            if self._closed:
                line.close()
            self._lines.add(line)
        return line

    def leave(self, line: Line) -> None:
        """End a line."""
        with self._lock:
            self._lines.discard(line)

    def close(self) -> None:
        """Let everyone go, and whoever comes later."""
        with self._lock:
            self._closed = True
            lines = tuple(self._lines)
        for line in lines:
            line.close()


class Line:
    """News that wait for one listener."""

    def __init__(self, first: Iterable[Event]) -> None:
        self._loop = asyncio.get_running_loop()
        self._more = asyncio.Event()
        self._lock = Lock()
        self._waiting: OrderedDict[tuple[str, ...], Event] = OrderedDict()
        self._closed = False
        for event in first:
            self.put(event)

    def put(self, event: Event) -> None:
        """Add a piece of news, from any thread."""
        topic = (event.kind, *event.topic)
        with self._lock:
            self._waiting[topic] = event
            self._waiting.move_to_end(topic)
        self._wake()

    def close(self) -> None:
        """End the line, from any thread."""
        self._closed = True
        self._wake()

    async def events(self) -> AsyncIterator[Event]:
        """News as they come, until the line is closed."""
        while not self._closed:
            await self._more.wait()
            self._more.clear()
            with self._lock:
                events = tuple(self._waiting.values())
                self._waiting.clear()
            for event in events:
                yield event

    def _wake(self) -> None:
        with suppress(RuntimeError):  # the loop is closed, and the listener gone with it
            self._loop.call_soon_threadsafe(self._more.set)
