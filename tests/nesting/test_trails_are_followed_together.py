"""The better beginnings are gone on with, and from the best of them all searchers."""

from __future__ import annotations

import itertools
import math
import threading
from collections.abc import Callable, Sequence

import numpy as np
import pytest

from kerfwright.nesting.search.separation import Limit, State
from kerfwright.nesting.strip_search import shortest as shortest_module
from kerfwright.nesting.strip_search.no_fit import no_fits, turns_of
from kerfwright.nesting.strip_search.searcher import Searcher, turns_of_copies
from kerfwright.nesting.strip_search.shortest import shortest
from kerfwright.nesting.strip_search.trail import EXPLORING, STEP, Trail

SQUARE = 10.0 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
TURNS = turns_of([SQUARE], [(0.0,)])
FITS = no_fits(TURNS)
FOUR = turns_of_copies(TURNS.first, [4])


def in_a_row(length_mm: float) -> State:
    return State(np.zeros(4, dtype=np.int64), np.linspace(10.0, length_mm - 10.0, 4), np.ones(4))


def searcher() -> Searcher:
    return Searcher(FITS, FOUR, 30.0, seed=1, limit=Limit(math.inf, math.inf, lambda: False))


@pytest.mark.parametrize("cores", [1, 2, 3, 8])
def test_half_of_the_trails_go_on_until_all_searchers_walk_from_the_best(
    cores: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    followed: list[tuple[float, int, float]] = []
    ends: dict[str, list[tuple[float, float]]] = {"walk": [], "_squeeze": []}
    lock = threading.Lock()

    def follow(trails: Sequence[Trail], search: Searcher, tell: Callable[[State], None]) -> None:
        for trail in trails:
            trail.best = in_a_row(90.0)
            with lock:
                trail.length_mm = min(trail.length_mm, 90.0 + len(followed))
                followed.append((search.limit.deadline_s, id(trail), trail.length_mm))
        tell(in_a_row(90.0))

    def ended(name: str) -> Callable[[Trail, Searcher, Callable[[State], None]], None]:
        def end(trail: Trail, search: Searcher, _: Callable[[State], None]) -> None:
            ends[name].append((search.limit.deadline_s, trail.length_mm))

        return end

    monkeypatch.setattr(shortest_module, "cores", lambda: cores)
    monkeypatch.setattr(shortest_module, "_follow", follow)
    for name in ends:
        monkeypatch.setattr(shortest_module, name, ended(name))
    shortest(
        FITS,
        FOUR,
        30.0,
        least_mm=0.0,
        seconds=1000.0,
        seed=1,
        stop=lambda: False,
        better=lambda _: None,
    )
    rounds = [
        [trail for until_s, trail, _ in followed if until_s == one]
        for one in sorted({until_s for until_s, *_ in followed})
    ]
    assert [len(trails) for trails in rounds] == [8 * cores, 4 * cores, 2 * cores, cores]
    assert all(set(after) <= set(before) for before, after in itertools.pairwise(rounds))
    chosen_s = max(until_s for until_s, *_ in followed)
    for name, after_s in (("walk", 0.6 * 997.6), ("_squeeze", 0.6 * 997.6 + 2.4)):
        assert [length_mm for _, length_mm in ends[name]] == [90.0] * cores  # the shortest
        assert ends[name][0][0] - chosen_s == pytest.approx(after_s)


def test_a_try_ends_when_another_searcher_has_got_as_far(monkeypatch: pytest.MonkeyPatch) -> None:
    trail = Trail(FITS, in_a_row(90.0), 90.0, STEP)
    search, told = searcher(), list[State]()

    def separate(one: Searcher, **_: int) -> tuple[bool, State, float]:
        assert not one.limit.is_reached(0)
        trail.best, trail.length_mm = in_a_row(89.0), 89.0  # as another searcher would
        assert one.limit.is_reached(0)
        return True, in_a_row(89.5), 0.0

    monkeypatch.setattr(Searcher, "separate", separate)
    assert not trail.shorten(search, STEP, EXPLORING, told.append)
    assert (trail.length_mm, told) == (89.0, [])
    assert not search.limit.is_reached(0)


def test_a_shorter_strip_is_kept_and_told(monkeypatch: pytest.MonkeyPatch) -> None:
    trail = Trail(FITS, in_a_row(90.0), 90.0, STEP)
    ends, told = [(False, in_a_row(80.0), 1.0), (True, in_a_row(88.0), 0.0)], list[State]()
    monkeypatch.setattr(Searcher, "separate", lambda *_, **__: ends.pop(0))
    assert not trail.shorten(searcher(), STEP, EXPLORING, told.append)
    assert trail.length_mm == 90.0
    assert trail.shorten(searcher(), STEP, EXPLORING, told.append)
    assert trail.length_mm == pytest.approx(88.0)
    assert told == [trail.best]


def test_one_trail_is_begun_but_once() -> None:
    trail = Trail(FITS)
    searchers = [searcher() for _ in range(4)]
    threads = [threading.Thread(target=trail.begin, args=(one,)) for one in searchers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    begun = trail.best
    trail.begin(searcher())
    assert begun is not None
    assert trail.best is begun
