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
from kerfwright.nesting.strip_search.shortest import (
    EXPLORING,
    LOOSE,
    POOL,
    STEP,
    STUCK,
    shortest,
)

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
    trail = shortest_module._Trail(FITS, in_a_row(90.0), 90.0, STEP)
    ends, told = [(False, in_a_row(80.0), 1.0), (True, in_a_row(88.0), 0.0)], list[State]()
    monkeypatch.setattr(Searcher, "separate", lambda *_, **__: ends.pop(0))
    assert not trail.shorten(searcher(), STEP, EXPLORING, told.append)
    assert trail.length_mm == 90.0
    assert trail.shorten(searcher(), STEP, EXPLORING, told.append)
    assert trail.length_mm == pytest.approx(88.0)
    assert told == [trail.best]


def test_strips_are_gone_on_from_that_are_hardly_longer(monkeypatch: pytest.MonkeyPatch) -> None:
    trail = shortest_module._Trail(FITS, in_a_row(90.0), 90.0, STEP)
    search, begun = searcher(), list[float]()
    lengths_mm = [90.0 * (1.0 + 0.5 * LOOSE), 90.0 * (1.0 + 0.9 * LOOSE), 85.0, 85.1, 84.0]

    def separate(_: Searcher, **__: int) -> tuple[bool, State, float]:
        return True, in_a_row(lengths_mm[len(begun) - 1]), 0.0

    def remembered(name: str) -> None:
        whole = getattr(Searcher, name)

        def begin(one: Searcher, state: State, *by_mm: float) -> State:
            begun.append(one.reach_mm(state))
            if len(begun) == len(lengths_mm):
                search.limit = Limit(math.inf, -math.inf, lambda: True)
            return whole(one, state, *by_mm)

        monkeypatch.setattr(Searcher, name, begin)

    remembered("shortened")
    remembered("disturbed")
    monkeypatch.setattr(Searcher, "separate", separate)
    told: list[State] = []
    shortest_module._wander(search, trail, told.append)
    assert begun == pytest.approx([90.0, *lengths_mm[:-1]])
    assert [search.reach_mm(state) for state in told] == pytest.approx([85.0, 84.0])


def test_who_is_left_behind_goes_on_from_the_shortest_strip(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    trail = shortest_module._Trail(FITS, in_a_row(90.0), 90.0, STEP)
    search, begun = searcher(), list[float]()

    def separate(one: Searcher, **_: int) -> tuple[bool, State, float]:
        trail.best, trail.length_mm = in_a_row(88.0), 88.0  # as another searcher would
        if len(begun) == 2:
            one.limit = Limit(math.inf, -math.inf, lambda: True)
        return True, in_a_row(89.9), 0.0

    def begin(one: Searcher, state: State, *_: float) -> State:
        begun.append(one.reach_mm(state))
        return state

    monkeypatch.setattr(Searcher, "shortened", begin)
    monkeypatch.setattr(Searcher, "disturbed", begin)
    monkeypatch.setattr(Searcher, "separate", separate)
    shortest_module._wander(search, trail, lambda _: None)
    assert begun == pytest.approx([90.0, 88.0])


def ways_of_tries(trail: Any) -> dict[str, float]:
    """Shares of what is tried next, of 4,000 tries."""
    search, here = searcher(), in_a_row(90.0 * (1.0 + 0.5 * LOOSE))
    goals_mm = [shortest_module._next_try(search, trail, here)[1] for _ in range(4000)]
    ways = {
        "cut": (1.0 - STEP) * search.reach_mm(here),
        "again": (1.0 - STEP) * 90.0,
        "other": (1.0 + LOOSE) * 90.0,
    }
    return {
        way: sum(math.isclose(goal_mm, one) for goal_mm in goals_mm) / len(goals_mm)
        for way, one in ways.items()
    }


def test_other_strips_are_looked_for_where_a_trail_is_stuck() -> None:
    trail = shortest_module._Trail(FITS, in_a_row(90.0), 90.0, STEP)
    assert ways_of_tries(trail) == {"cut": 1.0, "again": 0.0, "other": 0.0}
    for _ in range(STUCK - 1):
        trail.tried_in_vain(89.91, 1.0, in_a_row(89.91))
    assert ways_of_tries(trail) == pytest.approx({"cut": 0.5, "again": 0.5, "other": 0.0}, abs=0.03)
    trail.tried_in_vain(89.91, 1.0, in_a_row(89.91))
    assert ways_of_tries(trail) == pytest.approx(
        {"cut": 0.5, "again": 0.25, "other": 0.25}, abs=0.03
    )
    taken_up = trail.nearly
    assert trail.improve(89.9, in_a_row(89.9), lambda _: None)
    assert (trail.vain, trail.nearly) == (0, ())
    assert len(taken_up) == POOL  # another searcher may be choosing from them


def test_the_least_overlapping_states_are_kept_that_were_nearly_shorter() -> None:
    trail = shortest_module._Trail(FITS, in_a_row(90.0), 90.0, STEP)
    for least in (3.0, 1.0, 2.0, 0.0):  # the last fits, but is not shorter
        trail.tried_in_vain(89.91, least, in_a_row(89.91))
    trail.tried_in_vain(90.1, 0.5, in_a_row(90.1))
    assert [least for least, _ in trail.nearly] == [1.0, 2.0, 3.0]
    for _ in range(2 * POOL):
        trail.tried_in_vain(89.91, 0.1, in_a_row(89.91))
    assert len(trail.nearly) == POOL


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
