"""In the end all searchers follow the best trail together, and none goes on in vain."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from kerfwright.nesting.search.separation import Limit, State
from kerfwright.nesting.strip_search import shortest as shortest_module
from kerfwright.nesting.strip_search.no_fit import no_fits, turns_of
from kerfwright.nesting.strip_search.searcher import Searcher, turns_of_copies
from kerfwright.nesting.strip_search.shortest import EXPLORING, STEP, shortest

SQUARE = 10.0 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
TURNS = turns_of([SQUARE], [(0.0,)])
FITS = no_fits(TURNS)
FOUR = turns_of_copies(TURNS.first, [4])


def in_a_row(length_mm: float) -> State:
    return State(np.zeros(4, dtype=np.int64), np.linspace(10.0, length_mm - 10.0, 4), np.ones(4))


def searcher() -> Searcher:
    return Searcher(FITS, FOUR, 30.0, seed=1, limit=Limit(math.inf, math.inf, lambda: False))


@pytest.mark.parametrize("cores", [1, 2, 3, 8])
def test_half_of_the_trails_go_on_until_one_is_left_for_all(
    cores: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    followed: list[tuple[float, int]] = []
    lock = threading.Lock()

    def follow(trails: Sequence[Any], search: Searcher, tell: Callable[[State], None]) -> None:
        for trail in trails:
            trail.best = in_a_row(90.0)
            with lock:
                trail.length_mm = min(trail.length_mm, 90.0 + len(followed))
                followed.append((search.limit.deadline_s, id(trail)))
        tell(in_a_row(90.0))

    monkeypatch.setattr(shortest_module, "cores", lambda: cores)
    monkeypatch.setattr(shortest_module, "_follow", follow)
    monkeypatch.setattr(shortest_module, "_squeeze", lambda *_: None)
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
        [trail for until_s, trail in followed if until_s == one]
        for one in sorted({until_s for until_s, _ in followed})
    ]
    assert len(rounds[0]) == 8 * cores
    assert all(len(followers) >= cores for followers in rounds)  # no core has nothing to do
    numbers = [len(set(followers)) for followers in rounds]
    assert numbers == [max(numbers[0] // 2**n, 1) for n in range(len(rounds))]
    assert numbers[-1] == 1
    assert numbers[0] == 8 * cores


def test_a_try_ends_when_another_searcher_has_got_as_far(monkeypatch: pytest.MonkeyPatch) -> None:
    trail = shortest_module._Trail(FITS, in_a_row(90.0), 90.0, STEP)
    search = searcher()

    def separate(one: Searcher, **_: int) -> tuple[bool, State, float]:
        assert not one.limit.is_reached(0)
        trail.best, trail.length_mm = in_a_row(89.0), 89.0  # as another searcher would
        assert one.limit.is_reached(0)
        return False, one.state(), 1.0

    monkeypatch.setattr(Searcher, "separate", separate)
    assert trail.shorten(search, in_a_row(89.91), STEP, EXPLORING) is None
    assert trail.nearly == []
    assert trail.length_mm == 89.0
    assert not search.limit.is_reached(0)


def test_what_nearly_succeeded_is_kept_until_a_shorter_strip_is_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    trail = shortest_module._Trail(FITS, in_a_row(90.0), 90.0, STEP)
    ends = [
        (False, in_a_row(89.91), 2.0),
        (False, in_a_row(89.91), 1.0),
        (True, in_a_row(88.0), 0.0),
    ]
    monkeypatch.setattr(Searcher, "separate", lambda *_, **__: ends.pop(0))
    search = searcher()
    for nearly in ([2.0], [1.0, 2.0]):
        assert trail.shorten(search, in_a_row(89.91), STEP, EXPLORING) is None
        assert [least for least, _ in trail.nearly] == nearly
    assert trail.shorten(search, in_a_row(89.91), STEP, EXPLORING) is trail.best
    assert (trail.length_mm, trail.nearly) == (pytest.approx(88.0), [])


def test_one_trail_is_begun_but_once() -> None:
    trail = shortest_module._Trail(FITS)
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
