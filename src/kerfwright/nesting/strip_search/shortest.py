"""The strip search's front: a strip as short as a timed search finds.

How short a strip gets depends much on how it began: several are begun, and the better half of them
is gone on with, again and again, each time for longer (successive halving, K. Jamieson &
A. Talwalkar 2016, *Non-stochastic best arm identification and hyperparameter optimization*). From
the best all searchers walk on (:mod:`.walk`), and in the end they squeeze the shortest. Shortening
first and squeezing last, both by states that overlap, is from Gardeyn, Vanden Berghe & Wauters 2025
(arXiv:2509.13329).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from kerfwright.cores import cores
from kerfwright.nesting.search.model import Stop
from kerfwright.nesting.search.separation import Limit, State
from kerfwright.nesting.search.workers import Crew
from kerfwright.nesting.strip_search.no_fit import weighed_by_size
from kerfwright.nesting.strip_search.no_fit_kernel import IntArray, NoFits
from kerfwright.nesting.strip_search.searcher import Searcher, reach_mm
from kerfwright.nesting.strip_search.trail import HASTY, SQUEEZING, STEP, Tell, Trail
from kerfwright.nesting.strip_search.walk import falling, walk

SQUEEZING_SHARE = 0.1
"""Share of the time for squeezing the shortest strip; the rest finds it."""

MOST_SQUEEZING_S = 0.6
"""Squeezing for longer than this for each piece wins next to nothing."""

CHOOSING_SHARE = 0.4
"""Share of the time before squeezing in which beginnings are chosen from."""

STEPS = (5e-4, 1e-5)
"""First and last step of squeezing."""

SHORTEST = 1e-6
"""A strip is as short as can be to within this share."""

BEGINNING_S = 0.05
"""Time that a beginning needs for each piece before it can be judged."""

MOST_BEGINNINGS = 8
"""A searcher begins so often at most."""

EMPHASES = (0.5, 0.0)
"""How much more overlaps of large pieces count: more helps as a rule, but not everywhere, so that
with time for more trails every other does without."""

Task = Callable[[Searcher, Tell], None]


def shortest(
    fits: NoFits,
    turns: IntArray,
    height_mm: float,
    *,
    least_mm: float,
    seconds: float,
    seed: int,
    stop: Stop,
    better: Tell,
) -> State | None:
    """Search until the time is up or ``stop`` says so, on all cores.

    ``turns``: shape (n, 2), first outline and one past the last of each piece. No strip can be
    shorter than ``least_mm``: one that is as short ends the search. ``better`` is told every
    shorter strip in the calling thread. ``None`` if a piece does not fit into the strip.
    """
    begun_s = time.monotonic()
    crew = Crew(cores(), begun_s + seconds, lambda: stop() or search.length_mm <= enough_mm)
    weighed = tuple(weighed_by_size(fits, emphasis) for emphasis in EMPHASES)
    search = _Search(weighed, turns, height_mm, seed, crew, better)
    enough_mm = least_mm * (1.0 + SHORTEST)
    squeezing_s = min(SQUEEZING_SHARE * seconds, MOST_SQUEEZING_S * len(turns))
    rounds = rounds_in(CHOOSING_SHARE * (seconds - squeezing_s), len(turns))
    trail = search.choose(rounds, begun_s, CHOOSING_SHARE * (seconds - squeezing_s))
    search.all_at(trail, walk, begun_s + seconds - squeezing_s)
    search.all_at(trail, _squeeze, begun_s + seconds)
    return search.best


@dataclass(slots=True)
class _Search:
    weighed: tuple[NoFits, ...]
    turns: IntArray
    height_mm: float
    seed: int
    crew: Crew
    better: Tell
    best: State | None = None
    length_mm: float = math.inf
    _searchers: int = 0

    def choose(self, rounds: int, begun_s: float, seconds: float) -> Trail:
        """Follow several trails, the better half of them after each round; returns the best."""
        at_once = self.crew.searchers
        trails = [
            Trail(self.weighed[n // at_once % len(self.weighed)])
            for n in range(at_once * 2 ** (rounds - 1))
        ]
        for number in range(rounds):
            shares = [trails[n::at_once] for n in range(at_once)]
            until_s = begun_s + seconds * (number + 1) / rounds
            self._run([partial(_follow, share) for share in shares], until_s)
            trails = sorted(trails, key=lambda trail: trail.length_mm)
            trails = trails[: max(len(trails) // 2, at_once)]
        return trails[0]

    def all_at(
        self, trail: Trail, work: Callable[[Trail, Searcher, Tell], None], until_s: float
    ) -> None:
        """Let all searchers work at one trail."""
        if trail.best is not None:
            self._run([partial(work, trail)] * self.crew.searchers, until_s)

    def _run(self, tasks: Sequence[Task], until_s: float) -> None:
        numbers = range(self._searchers, self._searchers + len(tasks))
        self._searchers += len(tasks)
        numbered = [
            partial(self._one, task, self.seed * 1_000_003 + number)
            for task, number in zip(tasks, numbers, strict=True)
        ]
        self.crew.run(numbered, math.inf, until_s, self._hear)

    def _one(self, task: Task, seed: int, limit: Limit, tell: Tell) -> None:
        task(Searcher(self.weighed[0], self.turns, self.height_mm, seed=seed, limit=limit), tell)

    def _hear(self, state: State) -> None:
        length_mm = reach_mm(self.weighed[0], state)
        if length_mm < self.length_mm:
            self.best, self.length_mm = state, length_mm
            self.better(state)


def rounds_in(seconds: float, count: int) -> int:
    """In how many rounds the better half of the beginnings is chosen.

    As many as leave each beginning of ``count`` pieces time enough.
    """
    if math.isinf(seconds):
        return 1
    most = 1 + round(math.log2(MOST_BEGINNINGS))
    enough_s = BEGINNING_S * count
    enough = [n for n in range(1, most + 1) if seconds / n / 2 ** (n - 1) >= enough_s]
    return max(enough, default=1)


def _follow(trails: Sequence[Trail], search: Searcher, tell: Tell) -> None:
    """Go on with each trail for as long as with the others."""
    limit = search.limit
    for number, trail in enumerate(trails):
        if number > 0 and limit.is_reached(0):
            break
        now_s = time.monotonic()
        until_s = now_s + (limit.deadline_s - now_s) / (len(trails) - number)
        search.limit, search.fits = replace(limit, deadline_s=until_s), trail.fits
        _go_on(trail, search, tell)


def _go_on(trail: Trail, search: Searcher, tell: Tell) -> None:
    trail.begin(search)
    if trail.best is None:
        return
    tell(trail.best)
    while trail.step > STEP and not search.limit.is_reached(0):
        step = trail.step
        if not trail.shorten(search, step, HASTY, tell):
            trail.step = max(0.5 * step, STEP)
    walk(trail, search, tell)


def _squeeze(trail: Trail, search: Searcher, tell: Tell) -> None:
    """Shorten the strip by ever smaller steps."""
    begun_s = time.monotonic()
    whole_s = max(search.limit.deadline_s - begun_s, 1e-3)
    while not search.limit.is_reached(0):
        over = (time.monotonic() - begun_s) / whole_s
        trail.shorten(search, falling(STEPS, over), SQUEEZING, tell)
