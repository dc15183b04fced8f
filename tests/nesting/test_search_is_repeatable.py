"""A search that is limited by work gives the same layout every time, and ends when told to."""

from __future__ import annotations

import numpy as np
from search_layouts import QUARTERS, faults, piece, ring, star
from shapely import box

from kerfwright.nesting.search.improve import improve
from kerfwright.nesting.search.model import Budget, Piece, Spot

BOARD = box(0.0, 0.0, 260.0, 160.0)


def some_pieces() -> list[Piece]:
    rng = np.random.default_rng(4)
    stars = [piece(star(rng.uniform(12.0, 30.0, 9)), 3, QUARTERS) for _ in range(4)]
    return [piece(ring(40.0, 6.0), 2), *stars]


def searched(seed: int, searchers: int = 2) -> tuple[Spot, ...]:
    budget = Budget(work=20_000, searchers=searchers)
    return improve(some_pieces(), [BOARD], [], spacing_mm=1.5, budget=budget, seed=seed)


def test_the_same_seed_gives_the_same_layout_to_the_last_bit() -> None:
    assert searched(seed=7) == searched(seed=7)


def test_another_seed_searches_another_way() -> None:
    assert searched(seed=7) != searched(seed=8)


def test_a_search_that_is_stopped_keeps_its_best_layout() -> None:
    pieces = some_pieces()
    told: list[tuple[Spot, ...]] = []
    spots = improve(
        pieces,
        [BOARD],
        [],
        spacing_mm=1.5,
        budget=Budget(seconds=120.0),
        seed=1,
        stop=lambda: len(told) >= 6,
        progress=told.append,
    )
    assert len(told) >= 6
    assert len(spots) >= 6
    assert faults(pieces, [BOARD], spots, 1.5) == []


def test_a_search_stopped_at_once_changes_nothing() -> None:
    start = (Spot(0, 0, 0.0, 50.0, 50.0),)
    found = improve(
        some_pieces(),
        [BOARD],
        start,
        spacing_mm=1.5,
        budget=Budget(seconds=60.0),
        seed=1,
        stop=lambda: True,
    )
    assert found == start
