"""Whatever is placed lies on its sheet, keeps its distance and is all there."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box
from shapely.affinity import affine_transform, translate

from kerfwright.errors import KerfwrightError
from kerfwright.nesting import board as board_module
from kerfwright.nesting import by_strip, own_search
from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.model import Body, Layouts, Placement, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.strip import Strip, StripError, StripPiece, StripSpot
from kerfwright.nesting.until import Control

QUARTERS = (0.0, 90.0, 180.0, 270.0)
SHEET = SheetSize("board", 300.0, 200.0, 20)


def placed(body: Body, placement: Placement) -> MultiPolygon:
    t = placement.transform
    return affine_transform(shapely.union_all(list(body.footprint)), [t.a, t.c, t.b, t.d, t.e, t.f])


def laid_out(
    *bodies: Body,
    sheets: tuple[SheetSize, ...] = (SHEET,),
    spacing_mm: float = 2.0,
    margin_mm: float = 5.0,
    seconds: float = 0.2,
) -> Layouts:
    """Nest, and demand that the result is legal and complete."""
    layouts = nest(
        bodies, sheets, spacing_mm=spacing_mm, margin_mm=margin_mm, seconds=seconds, seed=1
    )
    assert check_layouts(bodies, layouts, spacing_mm=spacing_mm, margin_mm=margin_mm) == ()
    counts = Counter(p.body for layout in layouts.sheets for p in layout.placements)
    for number, body in enumerate(bodies):
        assert counts[number] + layouts.unplaced.get(number, 0) == body.quantity
    return layouts


def star(radii: list[float], x_mm: float = 0.0, y_mm: float = 0.0) -> Polygon:
    angles = np.linspace(0.0, 2.0 * math.pi, len(radii), endpoint=False)
    return Polygon(np.column_stack([x_mm + radii * np.cos(angles), y_mm + radii * np.sin(angles)]))


stars = st.builds(
    star,
    st.lists(st.floats(4.0, 60.0), min_size=3, max_size=14).map(np.array),
    st.floats(-500.0, 500.0),
    st.floats(-500.0, 500.0),
).filter(lambda p: p.is_valid and p.area > 1.0)

bodies_of_stars = st.lists(
    st.builds(
        lambda polygon, quantity, turns: Body("star", (polygon,), quantity, turns),
        stars,
        st.integers(1, 4),
        st.sampled_from([(0.0,), QUARTERS, (0.0, 180.0), (15.0, 37.5)]),
    ),
    min_size=1,
    max_size=5,
)


@settings(max_examples=12)
@given(bodies_of_stars, st.sampled_from([0.0, 0.5, 3.0]), st.sampled_from([0.0, 7.0]))
def test_any_stars_are_placed_legally(
    bodies: list[Body], spacing_mm: float, margin_mm: float
) -> None:
    layouts = laid_out(*bodies, spacing_mm=spacing_mm, margin_mm=margin_mm, seconds=0.1)
    assert not layouts.unplaced


@settings(max_examples=8)
@given(bodies_of_stars, st.sampled_from([0.0, 1.0]))
def test_the_engine_failing_changes_nothing_but_the_density(
    bodies: list[Body], spacing_mm: float
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise StripError("no layout today")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(by_strip, "solve_strip", broken)
        assert not laid_out(*bodies, spacing_mm=spacing_mm).unplaced


def test_two_constructive_layouts_are_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise StripError("no layout today")

    monkeypatch.setattr(by_strip, "solve_strip", broken)
    monkeypatch.setattr(own_search, "improve", lambda _pieces, _boards, spots, **_: spots)
    rng = np.random.default_rng(5)
    bodies = [Body(f"s{i}", (star(rng.uniform(10.0, 40.0, 9)),), 3, QUARTERS) for i in range(5)]
    # with time to spare: what the clock cuts off depends on the machine
    assert laid_out(*bodies, seconds=60.0) == laid_out(*bodies, seconds=60.0)


def test_a_layout_that_the_engine_spoils_is_not_let_out(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []

    def all_at_one_place(pieces: list[StripPiece], height_mm: float, **_: object) -> Strip:
        asked.append(len(pieces))
        spots = [
            StripSpot(i, piece.turns_deg[0], 0.0, 0.0)
            for i, piece in enumerate(pieces)
            for _ in range(piece.quantity)
        ]
        return Strip(1.0, height_mm, tuple(spots), 1.0)

    monkeypatch.setattr(by_strip, "solve_strip", all_at_one_place)
    monkeypatch.setattr(board_module.Board, "is_free", lambda *_: True)
    rng = np.random.default_rng(3)
    stars = [Body(f"s{i}", (star(rng.uniform(10.0, 40.0, 9)),), 4, QUARTERS) for i in range(4)]
    laid_out(*stars, seconds=0.4)
    assert asked


def test_nothing_wanted_needs_no_sheet() -> None:
    assert laid_out() == Layouts((), {})
    assert laid_out(Body("none", (box(0, 0, 5, 5),), 0, (0.0,))) == Layouts((), {})


def test_a_body_without_area_is_named() -> None:
    line = Body("hairline", (Polygon([(0, 0), (10, 0), (20, 0)]),), 1, (0.0,))
    with pytest.raises(KerfwrightError, match="hairline") as error:
        laid_out(line)
    assert error.value.code == "nesting/no-area"


def test_one_part_lies_in_the_lower_left_corner_of_the_margin() -> None:
    body = Body("plate", (box(700.0, -80.0, 750.0, -50.0),), 1, (0.0,))
    layouts = laid_out(body, margin_mm=6.0)
    assert placed(body, layouts.sheets[0].placements[0]).bounds == pytest.approx(
        (6.0, 6.0, 56.0, 36.0)
    )


def test_a_turn_that_is_not_allowed_is_not_used() -> None:
    tall = Body("lath", (box(0.0, 0.0, 10.0, 195.0),), 3, (90.0,))
    layouts = laid_out(tall, margin_mm=0.0)
    assert {p.turn_deg for p in layouts.sheets[0].placements} == {90.0}


def test_a_part_is_turned_where_it_fits_only_turned() -> None:
    tall = Body("lath", (box(0.0, 0.0, 10.0, 280.0),), 2, (0.0, 90.0))
    layouts = laid_out(tall)
    assert {p.turn_deg for p in layouts.sheets[0].placements} == {90.0}


def test_a_part_as_large_as_the_usable_area_is_placed() -> None:
    curved = box(0.0, 0.0, 290.0, 190.0).buffer(-20.0).buffer(20.0, quad_segs=200)
    for exact in (box(0.0, 0.0, 290.0, 190.0), curved):
        assert not laid_out(Body("full", (exact,), 2, (0.0, 180.0))).unplaced


def test_curved_parts_with_thousands_of_points_are_placed() -> None:
    disc = Point(40.0, 40.0).buffer(14.0, quad_segs=1000)
    layouts = laid_out(Body("token", (disc,), 24, QUARTERS))
    assert len(layouts.sheets) == 1


def test_a_rings_hole_is_out_of_the_used_area() -> None:
    ring = Point(0.0, 0.0).buffer(40.0).difference(Point(0.0, 0.0).buffer(30.0))
    layouts = laid_out(Body("ring", (ring,), 2, (0.0,)), Body("dot", (box(0, 0, 9, 9),), 3, (0.0,)))
    assert layouts.sheets[0].used_fraction == pytest.approx((2 * ring.area + 3 * 81.0) / 60000.0)


def test_pieces_of_one_body_keep_their_places() -> None:
    pieces = (
        box(0.0, 0.0, 20.0, 20.0),
        box(20.2, 0.0, 40.0, 20.0),  # closer than the spacing: drawn so
        translate(Point(0.0, 0.0).buffer(8.0, quad_segs=40), 60.0, 50.0),
    )
    body = Body("set", pieces, 3, QUARTERS)
    layouts = laid_out(body, Body("dot", (box(0, 0, 12, 12),), 10, QUARTERS))
    assert len(layouts.sheets) == 1


def test_pieces_that_touch_at_a_point_are_one_body() -> None:
    body = Body("corner to corner", (box(0, 0, 20, 20), box(20, 20, 40, 40)), 3, QUARTERS)
    assert not laid_out(body).unplaced


def test_an_outline_that_crosses_itself_is_placed_all_the_same() -> None:
    bow = Polygon([(0.0, 0.0), (40.0, 30.0), (40.0, 0.0), (0.0, 30.0)])
    assert not laid_out(Body("bow tie", (bow,), 3, QUARTERS)).unplaced


def test_negative_spacing_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        nest([], [SHEET], spacing_mm=-1.0, margin_mm=0.0, seconds=0.1, seed=1)


def test_progress_is_told() -> None:
    lines: list[str] = []
    body = Body("plate", (box(0.0, 0.0, 50.0, 30.0),), 4, QUARTERS)
    nest(
        [body],
        [SHEET],
        spacing_mm=1.0,
        margin_mm=5.0,
        seconds=0.1,
        seed=1,
        control=Control(progress=lines.append),
    )
    assert lines
    assert all("sheet" in line for line in lines)
