"""Walks go on from strips that are hardly longer than the shortest, less and less so."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
import pytest

from kerfwright.nesting.search.separation import Limit, State
from kerfwright.nesting.strip_search.no_fit import no_fits, turns_of
from kerfwright.nesting.strip_search.searcher import Searcher, turns_of_copies
from kerfwright.nesting.strip_search.trail import STEP, Trail
from kerfwright.nesting.strip_search.walk import CEILINGS, LEFT_BEHIND, falling, walk

SQUARE = 10.0 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
TURNS = turns_of([SQUARE], [(0.0,)])
FITS = no_fits(TURNS)
HIGH, LOW = CEILINGS


def in_a_row(length_mm: float) -> State:
    return State(np.zeros(4, dtype=np.int64), np.linspace(10.0, length_mm - 10.0, 4), np.ones(4))


class Walk:
    """A walk of so many tries from a strip of 90 mm, whose ends are made up."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, end: Callable[[int], float | None]) -> None:
        """``end``: length of the strip that a try finds, ``None`` where it is in vain."""
        self.trail = Trail(FITS, in_a_row(90.0), 90.0, STEP)
        self.begun_mm: list[float] = []
        self.ways: list[str] = []
        self.goals_mm: list[float] = []
        self.told_mm: list[float] = []
        self.end = end

        def begin(way: str) -> Callable[..., State]:
            def begun(search: Searcher, state: State, *_: float) -> State:
                self.begun_mm.append(search.reach_mm(state))
                self.ways.append(way)
                return state

            return begun

        def drawn_apart(
            _: Searcher, state: State, goal_mm: float, **__: int
        ) -> tuple[bool, State, float]:
            length_mm = self.end(len(self.goals_mm))
            self.goals_mm.append(goal_mm)
            return (False, state, 1.0) if length_mm is None else (True, in_a_row(length_mm), 0.0)

        for way in ("shortened", "disturbed"):
            monkeypatch.setattr(Searcher, way, begin(way))
        monkeypatch.setattr(Searcher, "drawn_apart", drawn_apart)

    def go(self, tries: int, seconds: float = math.inf) -> None:
        def is_over() -> bool:
            return len(self.goals_mm) >= tries

        limit = Limit(math.inf, time.monotonic() + seconds, is_over)
        turns = turns_of_copies(TURNS.first, [4])
        search = Searcher(FITS, turns, 30.0, seed=1, limit=limit)
        walk(self.trail, search, lambda state: self.told_mm.append(search.reach_mm(state)))


def test_strips_below_the_ceiling_are_gone_on_from_and_shorter_ones_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lengths_mm = [90.0 * (1.0 + 0.5 * HIGH), 90.0 * (1.0 + 0.9 * HIGH), 85.0, 85.1, 84.0]
    one = Walk(monkeypatch, lambda n: lengths_mm[n])
    one.go(5)
    assert one.begun_mm == pytest.approx([90.0, *lengths_mm[:-1]])
    assert one.told_mm == pytest.approx([85.0, 84.0])
    assert one.trail.length_mm == pytest.approx(84.0)


def test_what_was_shortened_is_shortened_again(monkeypatch: pytest.MonkeyPatch) -> None:
    one = Walk(monkeypatch, lambda n: 90.0 - 0.01 * (n + 1))
    one.go(100)
    assert set(one.ways) == {"shortened"}
    assert one.goals_mm == pytest.approx([(1.0 - STEP) * (90.0 - 0.01 * n) for n in range(100)])


def test_where_a_try_was_in_vain_half_look_for_another_strip_below_the_ceiling(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    one = Walk(monkeypatch, lambda _: None)
    one.go(4000)
    goals_mm = {"shortened": (1.0 - STEP) * 90.0, "disturbed": (1.0 + HIGH) * 90.0}
    assert one.goals_mm == pytest.approx([goals_mm[way] for way in one.ways])
    assert one.ways.count("disturbed") == pytest.approx(2000, abs=130)  # four standard deviations
    assert one.told_mm == []


def test_the_ceiling_comes_down_evenly_in_shares() -> None:
    assert [falling(CEILINGS, over) for over in (0.0, 0.5, 1.0)] == pytest.approx(
        [HIGH, math.sqrt(HIGH * LOW), LOW]
    )


def test_the_ceiling_comes_down_with_time(monkeypatch: pytest.MonkeyPatch) -> None:
    now_s = 0.0

    def later(_: int) -> None:
        nonlocal now_s
        now_s += 1.0

    monkeypatch.setattr(time, "monotonic", lambda: now_s)
    one = Walk(monkeypatch, later)
    one.go(1001, seconds=1000.0)
    goals_mm = [
        (n, goal_mm) for n, goal_mm in enumerate(one.goals_mm) if one.ways[n] == "disturbed"
    ]
    assert len(goals_mm) > 300
    for n, goal_mm in goals_mm:
        assert goal_mm == pytest.approx((1.0 + HIGH * (LOW / HIGH) ** (n / 1000.0)) * 90.0)


def test_a_walk_left_behind_goes_on_from_the_shortest_strip(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def other_finds_shorter(number: int) -> float | None:
        if number == 0:
            one.trail.best, one.trail.length_mm = in_a_row(80.0), 80.0  # as another searcher would
            return 89.5
        return None

    one = Walk(monkeypatch, other_finds_shorter)
    one.go(LEFT_BEHIND + 2)
    assert one.begun_mm == pytest.approx([90.0, *[89.5] * LEFT_BEHIND, 80.0])
    # above the ceiling nothing is looked for but what is shorter
    assert set(one.ways[: LEFT_BEHIND + 1]) == {"shortened"}
    assert one.told_mm == []


def test_a_walk_left_behind_that_gets_on_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    def slowly(number: int) -> float | None:
        if number == 0:
            one.trail.best, one.trail.length_mm = in_a_row(80.0), 80.0
        return 89.0 - number / 100.0 if number % LEFT_BEHIND == 0 else None

    one = Walk(monkeypatch, slowly)
    one.go(10 * LEFT_BEHIND)
    assert all(length_mm > 85.0 for length_mm in one.begun_mm)


def test_a_strip_that_cannot_be_begun_ends_a_walk(monkeypatch: pytest.MonkeyPatch) -> None:
    one = Walk(monkeypatch, lambda _: None)
    one.trail.best = None
    one.go(5)
    assert one.begun_mm == []
