"""Several searchers at once, each with its own random numbers.

They are threads: the kernels let go of the interpreter's lock while they run, so that every
core works, and nothing has to be copied to other processes or started anew there.
"""

from __future__ import annotations

import contextlib
import queue
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TypeVar

from kerfwright.nesting.search.model import Stop
from kerfwright.nesting.search.separation import Limit

Result = TypeVar("Result")
News = TypeVar("News")

ASK_S = 0.03
"""How often the calling thread looks whether to stop."""


@dataclass(slots=True)
class Crew:
    """Runs the same task for several searchers and keeps to the limit in time."""

    searchers: int
    deadline_s: float
    stop: Stop
    _told: threading.Event = field(default_factory=threading.Event)

    @property
    def is_over(self) -> bool:
        """Whether the time is up or the caller wants to end."""
        if not self._told.is_set() and (time.monotonic() >= self.deadline_s or self.stop()):
            self._told.set()
        return self._told.is_set()

    def run(
        self,
        tasks: Sequence[Callable[[Limit, Callable[[News], None]], Result]],
        work: float,
        until_s: float,
        hear: Callable[[News], None],
    ) -> list[Result]:
        """Run the tasks, each with ``work`` positions to try; results in the order of tasks.

        A task is called with its limit and a way of telling news; ``hear`` gets the news in
        the calling thread. Ctrl-C ends the tasks before it goes on.
        """
        news: queue.SimpleQueue[News] = queue.SimpleQueue()
        limit = Limit(work, min(until_s, self.deadline_s), self._told.is_set)
        with ThreadPoolExecutor(max_workers=max(len(tasks), 1)) as pool:
            try:
                futures: list[Future[Result]] = [
                    pool.submit(task, limit, news.put) for task in tasks
                ]
                while not all(future.done() for future in futures) or not news.empty():
                    with contextlib.suppress(queue.Empty):
                        hear(news.get(timeout=ASK_S))
                    _ = self.is_over
                return [future.result() for future in futures]
            except BaseException:
                self._told.set()
                raise
