"""A strip that cannot be made shorter is disturbed: blocks turned half round, pieces exchanged."""

from __future__ import annotations

import math

import numpy as np
import pytest
from search_layouts import star
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import rotate, translate

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.search.separation import Limit, State
from kerfwright.nesting.strip_search.no_fit import Turns, no_fits, turns_of
from kerfwright.nesting.strip_search.searcher import Searcher, turns_of_copies
from kerfwright.nesting.strip_search.shortest import shortest

HALF_TURNS = (0.0, 180.0)


def ring(area: Polygon) -> FloatArray:
    points = np.array(area.exterior.coords)[:-1]
    return points - 0.5 * (points.min(axis=0) + points.max(axis=0))


def three_kinds(turns_deg: tuple[float, ...]) -> Turns:
    kinds = [star([10, 4, 9, 6, 12]), star([5, 8, 5, 14, 6, 6]), star([7, 3, 9])]
    return turns_of([ring(kind) for kind in kinds], [turns_deg] * 3)


def searcher(turns: Turns, seed: int) -> Searcher:
    limit = Limit(math.inf, math.inf, lambda: False)
    copies = turns_of_copies(turns.first, [4] * 3)
    return Searcher(no_fits(turns), copies, 60.0, seed=seed, limit=limit)


def placed(turns: Turns, state: State) -> list[Polygon]:
    where = zip(state.shape, state.x, state.y, strict=True)
    return [translate(Polygon(turns.rings[shape]), x, y) for shape, x, y in where]


def changed(one: State, other: State) -> list[int]:
    pieces = zip(one.shape, one.x, one.y, other.shape, other.x, other.y, strict=True)
    return [n for n, (s, x, y, *to) in enumerate(pieces) if [s, x, y] != to]


def test_a_piece_that_looks_alike_half_turned_needs_no_other_outline() -> None:
    lath, sail = ring(box(0, 0, 30, 4)), ring(Polygon([(0, 0), (9, 0), (0, 20)]))
    turns = turns_of([lath, sail, sail], [(0.0, 90.0), HALF_TURNS, (0.0,)])
    assert turns.half_turned().tolist() == [0, 1, 3, 2, -1]


@pytest.mark.parametrize("seed", range(8))
def test_a_block_is_turned_as_one_or_two_pieces_are_exchanged(seed: int) -> None:
    turns = three_kinds(HALF_TURNS)
    search = searcher(turns, seed)
    before = search.lay_first()
    assert before is not None
    search.length_mm = search.reach_mm(before)
    sizes = []
    for _ in range(40):
        after = search.disturbed(before)
        moved = changed(before, after)
        sizes.append(len(moved))
        if np.array_equal(before.shape, after.shape):
            assert len(moved) == 2
            continue
        block = MultiPolygon([placed(turns, before)[n] for n in moved])
        expected = rotate(block, 180.0, origin="center")
        for piece, n in zip(expected.geoms, moved, strict=True):
            assert piece.symmetric_difference(placed(turns, after)[n]).area < 1e-6
    assert min(sizes) == 2
    assert max(sizes) > 2


def test_no_piece_is_turned_that_may_not_be() -> None:
    search = searcher(three_kinds((0.0,)), 1)
    before = search.lay_first()
    assert before is not None
    for _ in range(40):
        after = search.disturbed(before)
        assert np.array_equal(before.shape, after.shape)
        assert len(changed(before, after)) == 2


def test_half_the_tries_cut_the_strip_at_another_place(monkeypatch: pytest.MonkeyPatch) -> None:
    turns, ways = three_kinds(HALF_TURNS), []

    def counted(name: str) -> None:
        whole = getattr(Searcher, name)

        def count(search: Searcher, *args: object) -> State:
            ways.append(name)
            return whole(search, *args)

        monkeypatch.setattr(Searcher, name, count)

    counted("shortened")
    counted("disturbed")
    monkeypatch.setattr(Searcher, "separate", lambda search, **_: (False, search.state(), 1.0))
    shortest(
        no_fits(turns),
        turns_of_copies(turns.first, [4] * 3),
        60.0,
        least_mm=0.0,
        seconds=math.inf,
        seed=1,
        stop=lambda: len(ways) > 2000,
        better=lambda _: None,
    )
    assert 0.45 < ways.count("disturbed") / len(ways) < 0.55
