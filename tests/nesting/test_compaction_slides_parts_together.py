"""Parts slide to the side asked for, stay legal, and none of it makes anything worse."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.compaction import SIDES, Compaction, CompactTo, compacted
from kerfwright.nesting.convex_pieces import convex_pieces
from kerfwright.nesting.model import Body, Layouts, Placement, SheetLayout, SheetSize

SHEET = SheetSize("board", 400.0, 300.0, 1)
AREA = box(5.0, 5.0, 395.0, 295.0)
HOOK = Polygon([(0, 0), (40, 0), (40, 40), (30, 40), (30, 10), (10, 10), (10, 40), (0, 40)])


def body(shape: Polygon, name: str = "part") -> Body:
    return Body(name, (shape,), 1, (0.0, 90.0))


def placed(one: Body, placement: Placement) -> BaseGeometry:
    return shapely.transform(shapely.union_all(list(one.footprint)), placement.transform.apply)


def faults(bodies: list[Body], placements: tuple[Placement, ...], spacing_mm: float) -> object:
    counts = Counter(p.body for p in placements)
    real = [Body(b.name, b.footprint, counts[i], b.turns_deg) for i, b in enumerate(bodies)]
    used = math.fsum(bodies[p.body].footprint[0].area for p in placements) / SHEET.area_mm2
    layouts = Layouts((SheetLayout(SHEET, placements, used),), {})
    return check_layouts(real, layouts, spacing_mm=spacing_mm, margin_mm=5.0)


def slid(
    bodies: list[Body], spots: list[tuple[float, float]], to: CompactTo = "bottom-left"
) -> Compaction:
    placements = [Placement(i, 0.0, x, y) for i, (x, y) in enumerate(spots)]
    return compacted(bodies, placements, AREA, spacing_mm=2.0, to=to)


@pytest.mark.parametrize(
    ("to", "x_mm", "y_mm"),
    [
        ("left", 5.0, 100.0),
        ("right", 375.0, 100.0),
        ("bottom", 150.0, 5.0),
        ("top", 150.0, 285.0),
        ("bottom-left", 5.0, 5.0),
        ("top-right", 375.0, 285.0),
    ],
)
def test_a_part_alone_goes_to_the_edge(to: CompactTo, x_mm: float, y_mm: float) -> None:
    found = slid([body(box(0, 0, 20, 10))], [(150.0, 100.0)], to)
    assert (found.placements[0].x_mm, found.placements[0].y_mm) == pytest.approx((x_mm, y_mm))


def test_a_row_gives_way_together() -> None:
    bodies = [body(box(0, 0, 20, 10)) for _ in range(5)]
    found = slid(bodies, [(60.0 * i + 20.0, 100.0) for i in range(5)], "left")
    assert [p.x_mm for p in found.placements] == pytest.approx([5 + 22 * i for i in range(5)])
    assert found.shorter_mm[0] == pytest.approx(260.0 - 108.0)


def test_a_bar_slides_into_a_hook() -> None:
    # the hook opens upward over 20 mm: a bar 10 wide goes down to 2 mm above its bottom
    found = slid([body(HOOK), body(box(0, 0, 10, 60))], [(5.0, 5.0), (20.0, 120.0)], "bottom")
    assert found.placements[1].y_mm == pytest.approx(5.0 + 10.0 + 2.0, abs=1e-3)


def test_a_part_within_a_ring_stays_within() -> None:
    ring = Point(0, 0).buffer(60.0, quad_segs=64).difference(Point(0, 0).buffer(40.0, quad_segs=64))
    bodies = [body(ring), body(Point(0, 0).buffer(20.0, quad_segs=64))]
    found = slid(bodies, [(200.0, 150.0), (200.0, 150.0)], "left")
    one, other = (placed(b, p) for b, p in zip(bodies, found.placements, strict=True))
    assert Polygon(one.exterior).contains(other)
    assert one.distance(other) >= 2.0 - 1e-6
    assert found.placements[0].x_mm == pytest.approx(65.0, abs=0.1)
    # as far left in the ring as the spacing lets it: 40 - 2 - 20 from the middle
    assert found.placements[1].x_mm == pytest.approx(65.0 - 18.0, abs=0.3)


def test_areas_to_keep_free_and_slanting_edges_are_kept() -> None:
    area = Polygon(
        [(5, 5), (395, 5), (395, 200), (300, 295), (5, 295)],
        [[(80, 5.5), (120, 5.5), (120, 280), (80, 280)]],
    )
    bodies = [body(box(0, 0, 30, 30)) for _ in range(4)]
    starts = [Placement(i, 0.0, 150.0 + 40.0 * i, 100.0) for i in range(4)]
    for to in SIDES:
        found = compacted(bodies, starts, area, spacing_mm=2.0, to=to)
        assert found.legal
        assert found.gained_mm > 0.0
        grown = area.buffer(1e-6, join_style="mitre")
        assert all(grown.covers(placed(bodies[p.body], p)) for p in found.placements)
        assert faults(bodies, found.placements, 2.0) == ()


def test_what_is_fixed_stays_and_is_gone_round() -> None:
    bodies = [body(box(0, 0, 30, 290)), body(box(0, 0, 20, 20))]
    starts = [Placement(0, 0.0, 100.0, 5.0), Placement(1, 0.0, 200.0, 50.0)]
    found = compacted(bodies, starts, AREA, spacing_mm=2.0, to="left", fixed=frozenset([0]))
    assert found.placements[0] == starts[0]
    assert found.placements[1].x_mm == pytest.approx(132.0)


def test_parts_drawn_too_close_are_pushed_apart_first() -> None:
    bodies = [body(box(0, 0, 20, 20)) for _ in range(3)]
    found = slid(bodies, [(50.0, 50.0), (60.0, 55.0), (380.0, 50.0)])
    assert found.legal
    assert faults(bodies, found.placements, 2.0) == ()


def test_what_cannot_be_legal_comes_back_as_it_was() -> None:
    bodies = [body(box(0, 0, 380, 200)) for _ in range(2)]
    found = slid(bodies, [(5.0, 5.0), (5.0, 60.0)])
    assert not found.legal
    assert [(p.x_mm, p.y_mm) for p in found.placements] == [(5.0, 5.0), (5.0, 60.0)]


stars = st.lists(st.floats(0.35, 1.0), min_size=5, max_size=9)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(stars, st.sampled_from([0.0, 90.0])), min_size=2, max_size=8),
    st.sampled_from(SIDES),
    st.sampled_from([0.0, 0.5, 3.0]),
)
def test_any_parts_stay_legal_and_come_no_further_off(
    drawn: list[tuple[list[float], float]], to: CompactTo, spacing_mm: float
) -> None:
    bodies, starts = [], []
    for i, (radii, turn_deg) in enumerate(drawn):
        angles = np.linspace(0.0, 2.0 * math.pi, len(radii), endpoint=False)
        points = 40.0 * np.array(radii)[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
        bodies.append(body(Polygon(points)))
        starts.append(Placement(i, turn_deg, 50.0 + 90.0 * (i % 4), 60.0 + 100.0 * (i // 4)))
    found = compacted(bodies, starts, AREA, spacing_mm=spacing_mm, to=to)
    assert found.legal
    assert faults(bodies, found.placements, spacing_mm) == ()
    ways = {"left": (0, 1.0), "right": (2, -1.0), "bottom": (1, 1.0), "top": (3, -1.0)}
    for word in to.split("-"):
        at, sign = ways[word]
        before = [placed(bodies[p.body], p).bounds for p in starts]
        after = [placed(bodies[p.body], p).bounds for p in found.placements]
        far = {0: 2, 2: 0, 1: 3, 3: 1}[at]
        furthest_before = max(sign * bounds[far] for bounds in before)
        furthest_after = max(sign * bounds[far] for bounds in after)
        if "-" not in to:
            assert furthest_after <= furthest_before + 1e-6


@settings(max_examples=30, deadline=None)
@given(stars, st.booleans())
def test_convex_pieces_cover_a_shape_and_hardly_more(radii: list[float], holed: bool) -> None:
    angles = np.linspace(0.0, 2.0 * math.pi, len(radii), endpoint=False)
    points = 40.0 * np.array(radii)[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
    shape = Polygon(points)
    if holed:
        shape = shape.difference(Point(0, 0).buffer(4.0, quad_segs=3))
    pieces = [Polygon(piece) for piece in convex_pieces(shape, allowance_mm=0.0)]
    for piece in pieces:
        assert piece.convex_hull.area == pytest.approx(piece.area, rel=1e-9)
    assert math.fsum(piece.area for piece in pieces) == pytest.approx(shape.area, rel=1e-9)
    assert shapely.union_all(pieces).symmetric_difference(shape).area < 1e-6 * shape.area
