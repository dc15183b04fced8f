"""Parts lie in the holes of other parts, and on sheets that are no rectangles."""

from __future__ import annotations

import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from search_layouts import QUARTERS, faults, frame, piece, ring
from shapely import MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from kerfwright.nesting.board import Board, Kind, kind_of
from kerfwright.nesting.footprint import footprints, outlines
from kerfwright.nesting.model import Body
from kerfwright.nesting.search.improve import improve
from kerfwright.nesting.search.model import Budget, Spot


def kinds_of(bodies: list[Body], spacing_mm: float) -> list[Kind]:
    areas = outlines(bodies, spacing_mm=spacing_mm)
    kinds = [
        kind_of(i, area, body.turns_deg, spacing_mm, may_mirror=body.may_mirror)
        for i, (body, area) in enumerate(zip(bodies, areas, strict=True))
    ]
    return sorted(kinds, key=lambda kind: -kind.outer_mm2)


def filled(bodies: list[Body], area: BaseGeometry, spacing_mm: float) -> Board:
    """Fill a board by corners and demand that it is legal."""
    board = Board(area, spacing_mm)
    for kind in kinds_of(bodies, spacing_mm):
        for _ in range(bodies[kind.body].quantity):
            board.place(kind)
    assert board_faults(bodies, board) == []
    return board


def board_faults(bodies: list[Body], board: Board) -> list[str]:
    pieces = [
        piece(shapely.union_all(list(b.footprint)), b.quantity, b.turns_deg, b.may_mirror)
        for b in bodies
    ]
    spots = [Spot(p.body, 0, p.turn_deg, p.x_mm, p.y_mm, p.mirrored) for p in board.placements()]
    return faults(pieces, [board.area], spots, board.spacing_mm)


def test_rings_lie_in_rings_in_rings() -> None:
    bodies = [Body(f"{r}", (ring(r, 6.0),), 1, (0.0,)) for r in (60.0, 50.0, 40.0, 30.0)]
    board = filled(bodies, box(0.0, 0.0, 125.0, 125.0), 2.0)
    assert len(board.lying) == 4


def test_the_search_finds_places_in_holes_of_holes() -> None:
    pieces = [piece(ring(r, 6.0)) for r in (60.0, 50.0, 40.0, 30.0)]
    board = box(0.0, 0.0, 125.0, 125.0)
    budget = Budget(work=40_000, searchers=1)
    spots = improve(pieces, [board], [], spacing_mm=2.0, budget=budget, seed=1)
    assert len(spots) == 4
    assert faults(pieces, [board], spots, 2.0) == []


def test_a_part_that_fills_a_hole_exactly_is_placed_in_it() -> None:
    bodies = [
        Body("frame", (frame(100.0, 80.0, 10.0),), 1, (0.0,)),
        Body("panel", (box(0.0, 0.0, 76.0, 56.0),), 1, (0.0,)),
    ]
    board = filled(bodies, box(0.0, 0.0, 100.0, 80.0), 2.0)
    assert len(board.lying) == 2


def test_a_disc_finds_the_middle_of_a_round_hole() -> None:
    bodies = [
        Body("ring", (ring(50.0, 10.0),), 1, (0.0,)),
        Body("disc", (Point(0.0, 0.0).buffer(37.8),), 1, (0.0,)),
    ]
    board = filled(bodies, box(0.0, 0.0, 100.0, 100.0), 2.0)
    assert len(board.lying) == 2


def test_holes_too_small_for_any_part_are_left_out_of_footprints() -> None:
    sieve = box(0.0, 0.0, 100.0, 100.0)
    for x in range(10, 100, 10):
        sieve = sieve.difference(Point(x, 50.0).buffer(3.0))
    bodies = [Body("sieve", (sieve,), 1, (0.0,)), Body("plate", (box(0, 0, 20, 20),), 1, (0.0,))]
    assert len(outlines(bodies, spacing_mm=1.0)[0].geoms[0].interiors) == 0


def test_an_island_in_a_hole_of_the_same_body_stays_clear() -> None:
    framed = MultiPolygon([frame(100.0, 100.0, 10.0), box(40.0, 40.0, 60.0, 60.0)])
    bodies = [
        Body("framed", tuple(framed.geoms), 1, (0.0,)),
        Body("bar", (box(0.0, 0.0, 70.0, 20.0),), 6, QUARTERS),
    ]
    board = filled(bodies, box(0.0, 0.0, 100.0, 100.0), 2.0)
    # one along each of the hole's four sides
    assert 3 <= len(board.lying) <= 5


def test_a_footprint_with_holes_lies_between_its_body_and_its_ring() -> None:
    round_hole = box(0.0, 0.0, 90.0, 90.0).difference(Point(45.0, 45.0).buffer(35.0, 200))
    bodies = [
        Body("plate", (round_hole,), 1, (0.0,)),
        Body("dot", (box(0.0, 0.0, 5.0, 5.0),), 1, (0.0,)),
    ]
    area = outlines(bodies, spacing_mm=1.0)[0]
    ring_of_it = Polygon(footprints(bodies, spacing_mm=1.0)[0])
    assert area.buffer(1e-9).covers(round_hole)
    assert ring_of_it.buffer(1e-9).covers(area)
    assert area.area < 1.05 * round_hole.area


IRREGULAR = (
    Polygon([(0, 0), (220, 0), (220, 80), (110, 80), (110, 170), (0, 170)]),
    Point(110.0, 110.0).buffer(110.0).difference(box(90.0, 90.0, 130.0, 150.0)),
    box(0.0, 0.0, 90.0, 120.0).union(box(120.0, 20.0, 220.0, 160.0)),
)

shapes = st.one_of(
    st.builds(ring, st.floats(15.0, 45.0), st.floats(3.0, 12.0)),
    st.builds(frame, st.floats(30.0, 90.0), st.floats(30.0, 70.0), st.floats(3.0, 12.0)),
    st.builds(lambda w, h: box(0.0, 0.0, w, h), st.floats(4.0, 60.0), st.floats(4.0, 60.0)),
)

bodies_with_holes = st.lists(
    st.builds(
        lambda area, quantity, mirror: Body("part", (area,), quantity, QUARTERS, mirror),
        shapes,
        st.integers(1, 5),
        st.booleans(),
    ),
    min_size=1,
    max_size=5,
)


@settings(max_examples=30, deadline=None)
@given(bodies_with_holes, st.sampled_from(IRREGULAR), st.sampled_from([0.0, 0.3, 3.0]))
def test_boards_of_any_outline_are_filled_legally(
    bodies: list[Body], area: BaseGeometry, spacing_mm: float
) -> None:
    board = filled(bodies, area, spacing_mm)
    board.settle()
    assert board_faults(bodies, board) == []


def test_what_is_taken_off_leaves_its_place_free() -> None:
    bodies = [Body("plate", (box(0.0, 0.0, 40.0, 40.0),), 4, (0.0,))]
    board = filled(bodies, box(0.0, 0.0, 82.0, 82.0), 2.0)
    before = board.placements()
    assert len(before) == 4
    board.take_off(1)
    assert board.placements() == before[:1]
    kind = kinds_of(bodies, 2.0)[0]
    while board.place(kind):
        pass
    assert board.placements() == before
