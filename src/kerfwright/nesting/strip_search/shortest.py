"""The strip search's front: a strip as short as a timed search finds.

Exploring and squeezing are the phases of Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329).
How short a strip gets depends much on how it began: several are begun, and the better half of them
is gone on with, again and again, each time for longer (successive halving, K. Jamieson &
A. Talwalkar 2016, *Non-stochastic best arm identification and hyperparameter optimization*), in
the end all searchers with the same one, which they squeeze last.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from kerfwright.cores import cores
from kerfwright.nesting.search.model import Stop
from kerfwright.nesting.search.separation import Limit, State
from kerfwright.nesting.search.workers import Crew
from kerfwright.nesting.strip_search.no_fit import weighed_by_size
from kerfwright.nesting.strip_search.no_fit_kernel import IntArray, NoFits
from kerfwright.nesting.strip_search.searcher import Searcher, reach_mm

SQUEEZING_SHARE, SHORT_OF_TIME_SHARE = 0.3, 0.1
"""Share of the time for squeezing the shortest strips; the rest finds them. The lesser one is for a
time in which not even one round ends."""

MOST_SQUEEZING_S = 0.6
"""Squeezing for longer than this for each piece wins next to nothing."""

FIRST_STEP, STEP = 0.02, 0.001
"""Shares by which the strip is shortened: at first, halved after every failure, and at last."""

STEPS = (5e-4, 1e-5)
"""First and last step of squeezing."""

HASTY = {"patience": 40, "strikes": 1}
EXPLORING = {"patience": 100, "strikes": 2}
SQUEEZING = {"patience": 100, "strikes": 5}

SHORTEST = 1e-6
"""A strip is as short as can be to within this share."""

POOL = 20
"""So many of the states that nearly succeeded are kept."""

LOOSE = 0.002
"""A strip that is longer than the shortest by at most this share is gone on from all the same."""

ANEW_SHARE, AGAIN_SHARE = 0.5, 0.25
"""Shares of tries that take a stretch out of a strip, and that take up what nearly succeeded where
a trail is stuck; the rest looks for another strip that is hardly longer."""

STUCK = 100
"""So many tries in vain, one after another, and a trail is stuck."""

BEGINNING_S = 0.05
"""Time that a beginning needs for each piece before it can be judged."""

MOST_BEGINNINGS = 8
"""A searcher begins so often at most."""

EMPHASES = (0.5, 0.0)
"""How much more overlaps of large pieces count: more helps as a rule, but not everywhere, so that
with time for more trails every other does without."""

Patience = dict[str, int]
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
    weighed = tuple(weighed_by_size(fits, emphasis) for emphasis in EMPHASES)
    search = _Search(weighed, turns, height_mm, seed, crew, better)
    enough_mm = least_mm * (1.0 + SHORTEST)
    squeezing_s = min(SQUEEZING_SHARE * seconds, MOST_SQUEEZING_S * len(turns))
    together = rounds_together(crew.searchers)
    rounds = rounds_in(seconds - squeezing_s, len(turns), together)
    if rounds == 1:
        squeezing_s = min(squeezing_s, SHORT_OF_TIME_SHARE * seconds)
    trail = search.explore(rounds, begun_s, seconds - squeezing_s)
    search.squeeze(trail, begun_s + seconds)
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

    def explore(self, rounds: int, begun_s: float, seconds: float) -> _Trail:
        """Follow several trails, the better half of them after each round; returns the last."""
        at_once = self.crew.searchers
        trails = [
            _Trail(self.weighed[n // at_once % len(self.weighed)])
            for n in range(at_once * 2 ** (rounds - 1))
        ]
        together = rounds_together(at_once)
        for number in range(rounds + together):
            shares = [trails[n::at_once] or [trails[n % len(trails)]] for n in range(at_once)]
            until_s = begun_s + seconds * (number + 1) / (rounds + together)
            self._run([partial(_follow, share) for share in shares], until_s)
            trails = sorted(trails, key=lambda trail: trail.length_mm)
            trails = trails[: max(len(trails) // 2, 1)]
        return trails[0]

    def squeeze(self, trail: _Trail, until_s: float) -> None:
        """Let all searchers squeeze the strip of one trail."""
        if trail.best is not None:
            self._run([partial(_squeeze, trail)] * self.crew.searchers, until_s)

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


def rounds_in(seconds: float, count: int, together: int) -> int:
    """In how many rounds each searcher has trails of its own, before those ``together``.

    As many as leave each beginning of ``count`` pieces time enough.
    """
    if math.isinf(seconds):
        return 1
    most = 1 + round(math.log2(MOST_BEGINNINGS))
    enough_s = BEGINNING_S * count
    enough = [n for n in range(1, most + 1) if seconds / (n + together) / 2 ** (n - 1) >= enough_s]
    return max(enough, default=1)


def rounds_together(searchers: int) -> int:
    """In how many further rounds there are fewer trails than searchers, the last with but one."""
    return math.ceil(math.log2(searchers))


@dataclass(slots=True)
class _Trail:
    """One beginning, the shortest strip that became of it, and states that were nearly shorter.

    Several searchers may follow the same.
    """

    fits: NoFits
    best: State | None = None
    length_mm: float = math.inf
    step: float = FIRST_STEP
    vain: int = 0
    nearly: tuple[tuple[float, State], ...] = ()
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
            self.nearly = ()
            self.vain = 0
            tell(found)
            return True

    def tried_in_vain(self, length_mm: float, least: float, state: State) -> None:
        """Count it, and keep a state that nearly fitted into a strip shorter than the shortest."""
        with self.lock:
            self.vain += 1
            if least > 0.0 and length_mm < self.length_mm:
                nearly = sorted([*self.nearly, (least, state)], key=lambda pair: pair[0])
                self.nearly = tuple(nearly[:POOL])


def _follow(trails: Sequence[_Trail], search: Searcher, tell: Tell) -> None:
    """Go on with each trail for as long as with the others."""
    limit = search.limit
    for number, trail in enumerate(trails):
        if number > 0 and limit.is_reached(0):
            break
        now_s = time.monotonic()
        until_s = now_s + (limit.deadline_s - now_s) / (len(trails) - number)
        search.limit, search.fits = replace(limit, deadline_s=until_s), trail.fits
        _go_on(search, trail, tell)


def _go_on(search: Searcher, trail: _Trail, tell: Tell) -> None:
    trail.begin(search)
    if trail.best is None:
        return
    tell(trail.best)
    while trail.step > STEP and not search.limit.is_reached(0):
        step = trail.step
        if not trail.shorten(search, step, HASTY, tell):
            trail.step = min(trail.step, max(0.5 * step, STEP))
    _wander(search, trail, tell)


def _wander(search: Searcher, trail: _Trail, tell: Tell) -> None:
    """Try to shorten the shortest strip; where that is stuck, others that are hardly longer too.

    How easily a strip is shortened differs much between strips of the same length.
    """
    here = trail.best
    while here is not None and not search.limit.is_reached(0):
        if search.reach_mm(here) > (1.0 + LOOSE) * trail.length_mm:
            here = trail.best
            continue
        start, goal_mm = _next_try(search, trail, here)
        done, found, least = search.drawn_apart(start, goal_mm, **EXPLORING)
        if done:
            here = found
        if not done or not trail.improve(search.reach_mm(found), found, tell):
            trail.tried_in_vain(goal_mm, least, found)


def _next_try(search: Searcher, trail: _Trail, here: State) -> tuple[State, float]:
    """What to draw apart next, and in how long a strip."""
    chance, stuck, nearly = search.random(), trail.vain >= STUCK, trail.nearly
    shorter_mm = (1.0 - STEP) * trail.length_mm
    if chance < ANEW_SHARE or not (stuck or nearly):
        here_mm = search.reach_mm(here)
        return search.shortened(here, STEP * here_mm), (1.0 - STEP) * here_mm
    if nearly and not (stuck and chance >= ANEW_SHARE + AGAIN_SHARE):
        # the least overlapping states are taken up again most often
        return search.disturbed(nearly[int(search.random() ** 3 * len(nearly))][1]), shorter_mm
    return search.disturbed(here), (1.0 + LOOSE) * trail.length_mm


def _squeeze(trail: _Trail, search: Searcher, tell: Tell) -> None:
    """Shorten the strip by ever smaller steps."""
    first, last = STEPS
    begun_s = time.monotonic()
    whole_s = max(search.limit.deadline_s - begun_s, 1e-3)
    while not search.limit.is_reached(0):
        over = (time.monotonic() - begun_s) / whole_s
        trail.shorten(search, first * (last / first) ** over, SQUEEZING, tell)
