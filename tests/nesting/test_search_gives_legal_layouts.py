"""Whatever a search finds is legal by shapely's word, and never worse than before."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from search_layouts import QUARTERS, faults, frame, piece, reach_mm, ring, star
from shapely import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from kerfwright.nesting.search.improve import improve
from kerfwright.nesting.search.model import Budget, Piece, Spot

WORK = Budget(work=10_000, searchers=1)

BOARDS: tuple[BaseGeometry, ...] = (
    box(5.0, 5.0, 205.0, 155.0),
    Polygon([(0, 0), (220, 0), (220, 80), (110, 80), (110, 170), (0, 170)]),
    Point(100.0, 100.0).buffer(100.0).difference(Point(120.0, 90.0).buffer(25.0)),
    box(0.0, 0.0, 90.0, 90.0).union(box(120.0, 20.0, 220.0, 160.0)),
)

stars = st.builds(
    star, st.lists(st.floats(5.0, 40.0), min_size=3, max_size=12).map(np.array)
).filter(lambda p: p.is_valid and p.area > 20.0)

shapes = st.one_of(
    stars,
    st.builds(ring, st.floats(20.0, 45.0), st.floats(3.0, 12.0)),
    st.builds(frame, st.floats(30.0, 90.0), st.floats(30.0, 70.0), st.floats(3.0, 12.0)),
)

pieces_of_all_kinds = st.lists(
    st.builds(
        piece,
        shapes,
        st.integers(1, 4),
        st.sampled_from([(0.0,), QUARTERS, (15.0, 37.5)]),
        st.booleans(),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=8, deadline=None)
@given(pieces_of_all_kinds, st.sampled_from(BOARDS), st.sampled_from([0.0, 0.5, 3.0]))
def test_any_pieces_lie_legally_on_any_board(
    pieces: list[Piece], board: BaseGeometry, spacing_mm: float
) -> None:
    boards = [board, box(0.0, 0.0, 150.0, 100.0)]
    told: list[tuple[Spot, ...]] = []
    spots = improve(
        pieces, boards, [], spacing_mm=spacing_mm, budget=WORK, seed=1, progress=told.append
    )
    assert faults(pieces, boards, spots, spacing_mm) == []
    for layout in told[:: max(len(told) // 4, 1)]:
        assert faults(pieces, boards, layout, spacing_mm) == []


def test_a_wide_layout_becomes_much_shorter() -> None:
    triangle = Polygon([(0.0, 0.0), (40.0, 0.0), (0.0, 60.0)])
    pieces = [piece(triangle, 6, (0.0, 180.0)), piece(box(0, 0, 30, 20), 6, (0.0, 90.0))]
    start = [Spot(k, 0, 0.0, 45.0 * n, 65.0 * k) for k in (0, 1) for n in range(6)]
    board = box(0.0, 0.0, 300.0, 125.0)
    assert faults(pieces, [board], start, 1.0) == []
    spots = improve(
        pieces, [board], start, spacing_mm=1.0, budget=Budget(work=200_000, searchers=2), seed=3
    )
    assert faults(pieces, [board], spots, 1.0) == []
    assert len(spots) == 12
    # material alone would take 86 mm of this width
    assert reach_mm(pieces, spots) < 125.0


def test_pieces_gather_at_the_bottom_where_that_is_wanted() -> None:
    pieces = [piece(box(0.0, 0.0, 40.0, 40.0), 3)]
    start = [Spot(0, 0, 0.0, 10.0, 60.0 * n) for n in range(3)]
    board = box(0.0, 0.0, 130.0, 200.0)
    spots = improve(pieces, [board], start, spacing_mm=1.0, budget=WORK, seed=1, towards="bottom")
    assert faults(pieces, [board], spots, 1.0) == []
    assert reach_mm(pieces, spots, axis=1) < 50.0


def test_a_board_with_room_takes_what_lay_on_the_last_one() -> None:
    pieces = [piece(box(0.0, 0.0, 60.0, 60.0), 4)]
    boards = [box(0.0, 0.0, 130.0, 130.0), box(0.0, 0.0, 130.0, 130.0)]
    start = [Spot(0, 0, 0.0, 35.0, 35.0), *(Spot(0, 1, 0.0, 0.0, y) for y in (0.0, 65.0))]
    spots = improve(pieces, boards, start, spacing_mm=2.0, budget=WORK, seed=1)
    assert faults(pieces, boards, spots, 2.0) == []
    assert [spot.board for spot in spots] == [0, 0, 0, 0]


def test_what_comes_first_is_placed_first() -> None:
    pieces = [piece(box(0.0, 0.0, 10.0, 90.0)), piece(box(0.0, 0.0, 95.0, 95.0))]
    spots = improve(pieces, [box(0.0, 0.0, 100.0, 100.0)], [], spacing_mm=1.0, budget=WORK, seed=1)
    assert [spot.piece for spot in spots] == [0]


def test_a_mirrored_piece_fits_where_the_other_face_does_not() -> None:
    hook = Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 90), (0, 90)])
    board = Polygon([(0, 0), (62, 0), (62, 92), (40, 92), (40, 22), (0, 22)])
    for may_mirror, count in ((False, 0), (True, 1)):
        pieces = [piece(hook, 1, (0.0,), may_mirror)]
        spots = improve(pieces, [board], [], spacing_mm=1.0, budget=WORK, seed=1)
        assert len(spots) == count
        assert faults(pieces, [board], spots, 1.0) == []


def test_a_layout_that_cannot_be_better_stays_as_it_is() -> None:
    pieces = [piece(box(0.0, 0.0, 50.0, 50.0), 4)]
    start = tuple(Spot(0, 0, 0.0, x, y) for x in (0.0, 50.0) for y in (0.0, 50.0))
    board = box(0.0, 0.0, 100.0, 100.0)
    assert improve(pieces, [board], start, spacing_mm=0.0, budget=WORK, seed=1) == start


def test_nothing_to_place_and_nowhere_to_place_it() -> None:
    assert improve([], [box(0, 0, 9, 9)], [], spacing_mm=1.0, budget=WORK, seed=1) == ()
    alone = [piece(box(0.0, 0.0, 5.0, 5.0))]
    assert improve(alone, [], [], spacing_mm=1.0, budget=WORK, seed=1) == ()


def test_a_search_without_a_limit_is_refused() -> None:
    with pytest.raises(ValueError, match="limit"):
        Budget(seconds=math.inf, work=None)
