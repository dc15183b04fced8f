"""One beginning, and the shortest strip that becomes of it."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from kerfwright.nesting.search.separation import State
from kerfwright.nesting.strip_search.no_fit_kernel import NoFits
from kerfwright.nesting.strip_search.searcher import Searcher

FIRST_STEP, STEP = 0.02, 0.001
"""Shares by which the strip is shortened: at first, halved after every failure, and at last."""

HASTY = {"patience": 40, "strikes": 1}
EXPLORING = {"patience": 100, "strikes": 2}
SQUEEZING = {"patience": 100, "strikes": 5}

Patience = dict[str, int]
Tell = Callable[[State], None]


@dataclass(slots=True)
class Trail:
    """The shortest strip so far, which several searchers may shorten."""

    fits: NoFits
    best: State | None = None
    length_mm: float = math.inf
    step: float = FIRST_STEP
    lock: threading.Lock = field(default_factory=threading.Lock)

    def begin(self, search: Searcher) -> None:
        """Lay everything once, if that is possible."""
        with self.lock:
            if self.best is None and (first := search.lay_first()) is not None:
                self.best, self.length_mm = first, search.reach_mm(first)

    def shorten(self, search: Searcher, step: float, how: Patience, tell: Tell) -> bool:
        """Take a stretch out of the shortest strip; whether that succeeds.

        Another searcher that gets as far ends this one's try.
        """
        assert self.best is not None
        limit, short_mm = search.limit, (1.0 - step) * self.length_mm
        start = search.shortened(self.best, step * self.length_mm)
        search.limit = replace(limit, stop=lambda: limit.stop() or self.length_mm <= short_mm)
        done, found, _ = search.drawn_apart(start, short_mm, **how)
        search.limit = limit
        return done and self.improve(search.reach_mm(found), found, tell)

    def improve(self, length_mm: float, found: State, tell: Tell) -> bool:
        """Take a strip if it is shorter than the shortest."""
        with self.lock:
            if length_mm >= self.length_mm:
                return False
            self.best, self.length_mm = found, length_mm
            tell(found)
            return True
