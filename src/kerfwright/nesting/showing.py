"""Hands over the best layouts so far while a search goes on, but not too often."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

from kerfwright.nesting.job import Filling, Job
from kerfwright.nesting.mending import layouts_of
from kerfwright.nesting.until import Better

LEAST_S = 0.2
"""So much time passes between two layouts that are shown, at least."""

MOST_SHARE = 0.2
"""Making layouts to be shown takes no larger share of the search's time."""


class Showing:
    """Tells ``better`` of every filling that betters what it was told of before."""

    def __init__(self, job: Job, better: Better | None) -> None:
        self._job = job
        self._better = better
        self._best: tuple[float, ...] | None = None
        self._due_s = -math.inf

    def offer(self, filling: Filling) -> None:
        """Show a filling at once, if it is better."""
        if self._better is None or (self._best is not None and filling.rank >= self._best):
            return
        self._best = filling.rank
        self._better(layouts_of(self._job, filling))
        self._due_s = time.monotonic() + LEAST_S

    def offer_in_turn(self, made: Callable[[], Filling]) -> None:
        """Make a filling and show it if it is better; left out where one was just shown."""
        begun_s = time.monotonic()
        if self._better is None or begun_s < self._due_s:
            return
        self.offer(made())
        now_s = time.monotonic()
        self._due_s = now_s + max(LEAST_S, (now_s - begun_s) * (1.0 / MOST_SHARE - 1.0))
