"""The strip search's front: a strip as short as a timed search finds.

Exploring and squeezing are the phases of Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329).
How short a strip gets depends much on how it began: several are begun, and the better half of them
is gone on with, again and again, each time for longer (successive halving, K. Jamieson &
A. Talwalkar 2016, *Non-stochastic best arm identification and hyperparameter optimization*). In
the end all searchers squeeze the best strip.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from kerfwright.cores import cores
from kerfwright.nesting.search.model import Stop
from kerfwright.nesting.search.separation import Limit, State
from kerfwright.nesting.search.workers import Crew
from kerfwright.nesting.strip_search.no_fit_kernel import IntArray, NoFits
from kerfwright.nesting.strip_search.searcher import Searcher

EXPLORING_SHARE = 0.88
"""Share of the time for finding shorter strips; the rest squeezes the shortest."""

SQUEEZES = 3
"""So often all searchers go on squeezing from the best of them."""

FIRST_STEP, STEP = 0.02, 0.001
"""Shares by which the strip is shortened: at first, halved after every failure, and at last."""

STEPS = (5e-4, 1e-5)
"""First and last step of squeezing."""

HASTY = {"patience": 40, "strikes": 1}
EXPLORING = {"patience": 200, "strikes": 3}
SQUEEZING = {"patience": 100, "strikes": 5}

SHORTEST = 1e-6
"""A strip is as short as can be to within this share."""

POOL = 20
"""So many of the states that nearly succeeded are kept."""

BEGINNING_S = 0.05
"""Time that a beginning needs for each piece before it can be judged."""

MOST_BEGINNINGS = 8
"""A searcher begins so often at most."""

Tell = Callable[[State], None]
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
    search = _Search(fits, turns, height_mm, seed, crew, better)
    enough_mm = least_mm * (1.0 + SHORTEST)
    search.explore(begun_s, EXPLORING_SHARE * seconds)
    search.squeeze(begun_s + EXPLORING_SHARE * seconds, (1.0 - EXPLORING_SHARE) * seconds)
    return search.best


@dataclass(slots=True)
class _Search:
    fits: NoFits
    turns: IntArray
    height_mm: float
    seed: int
    crew: Crew
    better: Tell
    best: State | None = None
    length_mm: float = math.inf
    _searchers: int = 0

    def explore(self, begun_s: float, seconds: float) -> None:
        """Follow several trails, the better half of them after each round."""
        at_once = self.crew.searchers
        rounds = _rounds(seconds, len(self.turns))
        trails = [_Trail() for _ in range(at_once * 2 ** (rounds - 1))]
        for number in range(rounds):
            shares = [trails[n::at_once] for n in range(at_once)]
            until_s = begun_s + seconds * (number + 1) / rounds
            self._run([partial(_follow, share) for share in shares], until_s)
            trails = sorted(trails, key=lambda trail: trail.length_mm)
            trails = trails[: max(len(trails) // 2, at_once)]

    def squeeze(self, begun_s: float, seconds: float) -> None:
        """Let all squeeze the best strip, some times over."""
        first, last = STEPS
        for number in range(SQUEEZES):
            if self.best is None or self.crew.is_over:
                return
            steps = [first * (last / first) ** ((number + end) / SQUEEZES) for end in (0, 1)]
            until_s = begun_s + seconds * (number + 1) / SQUEEZES
            self._run([partial(_squeeze, self.best, steps)] * self.crew.searchers, until_s)

    def _run(self, tasks: Sequence[Task], until_s: float) -> None:
        numbers = range(self._searchers, self._searchers + len(tasks))
        self._searchers += len(tasks)
        numbered = [
            partial(self._one, task, self.seed * 1_000_003 + number)
            for task, number in zip(tasks, numbers, strict=True)
        ]
        self.crew.run(numbered, math.inf, until_s, self._hear)

    def _one(self, task: Task, seed: int, limit: Limit, tell: Tell) -> None:
        task(Searcher(self.fits, self.turns, self.height_mm, seed=seed, limit=limit), tell)

    def _hear(self, state: State) -> None:
        length_mm = float((state.x + self.fits.box[state.shape, 2]).max())
        if length_mm < self.length_mm:
            self.best, self.length_mm = state, length_mm
            self.better(state)


def _rounds(seconds: float, count: int) -> int:
    """How often the better half is taken: as often as each beginning gets time enough."""
    if math.isinf(seconds):
        return 1
    most = 1 + round(math.log2(MOST_BEGINNINGS))
    enough = [n for n in range(1, most + 1) if seconds / n / 2 ** (n - 1) >= BEGINNING_S * count]
    return max(enough, default=1)


@dataclass(slots=True)
class _Trail:
    """One beginning and what became of it: the shortest strip, and states that nearly succeeded."""

    best: State | None = None
    length_mm: float = math.inf
    step: float = FIRST_STEP
    nearly: list[tuple[float, State]] = field(default_factory=list)


def _follow(trails: Sequence[_Trail], search: Searcher, tell: Tell) -> None:
    """Go on with each trail for as long as with the others."""
    limit = search.limit
    for number, trail in enumerate(trails):
        if number > 0 and limit.is_reached(0):
            break
        now_s = time.monotonic()
        until_s = now_s + (limit.deadline_s - now_s) / (len(trails) - number)
        search.limit = replace(limit, deadline_s=until_s)
        _go_on(search, trail, tell)


def _go_on(search: Searcher, trail: _Trail, tell: Tell) -> None:
    if trail.best is None:
        trail.best = search.lay_first()
        if trail.best is None:
            return
        trail.length_mm = search.reach_mm(trail.best)
        tell(trail.best)
    while not search.limit.is_reached(0):
        step, length_mm, nearly = trail.step, trail.length_mm, trail.nearly
        if nearly:
            # the least overlapping states are taken up again most often
            start = search.exchanged(nearly[int(search.random() ** 3 * len(nearly))][1])
        else:
            search.length_mm = length_mm
            start = search.shortened(trail.best, step * length_mm)
        search.length_mm = (1.0 - step) * length_mm
        search.put(start)
        done, state, least = search.separate(**(EXPLORING if step <= STEP else HASTY))
        if done:
            trail.best, trail.length_mm = state, search.reach_mm(state)
            tell(state)
            nearly.clear()
        elif step > STEP:
            trail.step = max(0.5 * step, STEP)
        else:
            trail.nearly = sorted([*nearly, (least, state)], key=lambda pair: pair[0])[:POOL]


def _squeeze(start: State, steps: Sequence[float], search: Searcher, tell: Tell) -> None:
    """Shorten the strip by ever smaller steps, from the one to the other."""
    best, length_mm = start, search.reach_mm(start)
    begun_s = time.monotonic()
    whole_s = max(search.limit.deadline_s - begun_s, 1e-3)
    while not search.limit.is_reached(0):
        over = (time.monotonic() - begun_s) / whole_s
        step = steps[0] * (steps[1] / steps[0]) ** over
        search.length_mm = length_mm
        shorter = search.shortened(best, step * length_mm)
        search.length_mm = (1.0 - step) * length_mm
        search.put(shorter)
        done, state, _ = search.separate(**SQUEEZING)
        if done:
            best, length_mm = state, search.reach_mm(state)
            tell(best)
