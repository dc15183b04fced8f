"""Parts with straight edges lie one kerf apart along them; nothing leaves a sliver."""

from __future__ import annotations

import itertools
import math
from collections import Counter

import pytest
import shapely
from shapely import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.edge_matching import EdgeMatching, match_edges, matched_mm
from kerfwright.nesting.model import Body, Layouts, Placement, SheetLayout, SheetSize

KERF_MM = 0.2
SPACING_MM = 1.0
QUARTERS = (0.0, 90.0, 180.0, 270.0)
SIXTHS = tuple(60.0 * i for i in range(6))
TRIANGLE = Polygon([(0, 0), (40, 0), (20, 20 * math.sqrt(3))])
CORNER = Polygon([(0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)])


def matched(bodies: list[Body], width_mm: float = 300.0, height_mm: float = 200.0) -> EdgeMatching:
    """Match edges, and demand that the layout is legal for one kerf."""
    sheet = SheetSize("board", width_mm, height_mm, 1)
    wanted = Counter({i: body.quantity for i, body in enumerate(bodies)})
    found = match_edges(
        bodies,
        wanted,
        sheet.usable(5.0),
        kerf_mm=KERF_MM,
        spacing_mm=SPACING_MM,
        work=1,
    )
    used = math.fsum(bodies[p.body].footprint[0].area for p in found.placements) / sheet.area_mm2
    left = dict(wanted - Counter(p.body for p in found.placements))
    layouts = Layouts((SheetLayout(sheet, found.placements, used),), left)
    assert check_layouts(bodies, layouts, spacing_mm=KERF_MM, margin_mm=5.0) == ()
    assert found.matched_mm == pytest.approx(matched_mm(bodies, found.placements, KERF_MM))
    return found


def placed(bodies: list[Body], placements: tuple[Placement, ...]) -> list[BaseGeometry]:
    return [shapely.transform(bodies[p.body].footprint[0], p.transform.apply) for p in placements]


def test_two_squares_share_a_side_and_its_kerf() -> None:
    found = matched([Body("tile", (box(0, 0, 40, 40),), 2, QUARTERS)])
    # the cut between them is as long as the side and half a kerf at either end
    assert found.matched_mm == pytest.approx(40.0 + KERF_MM)


def test_tiles_make_a_grid() -> None:
    # 4 · 40.2 = 160.8 fit into a height of 190, so that 12 tiles make 3 columns of 4
    found = matched([Body("tile", (box(0, 0, 40, 40),), 12, QUARTERS)])
    assert found.matched_mm == pytest.approx((2 * 4 + 3 * 3) * (40.0 + KERF_MM))


def test_triangles_are_turned_to_match() -> None:
    found = matched([Body("triangle", (TRIANGLE,), 12, SIXTHS)])
    # a strip of n triangles shares n - 1 sides; matching in rows shares more than that
    assert found.matched_mm > 11 * 40.0


def test_what_has_no_straight_edge_keeps_the_full_spacing() -> None:
    bodies = [
        Body("tile", (box(0, 0, 40, 40),), 6, QUARTERS),
        Body("disc", (Point(0, 0).buffer(15.0),), 4, QUARTERS),
    ]
    found = matched(bodies)
    assert len(found.placements) == 10
    shapes = placed(bodies, found.placements)
    for (i, one), (j, other) in itertools.combinations(enumerate(shapes), 2):
        if {found.placements[i].body, found.placements[j].body} != {0}:
            assert one.distance(other) >= SPACING_MM - 1e-6


@pytest.mark.parametrize("shape", [CORNER, box(0, 0, 40, 25), TRIANGLE])
def test_no_sliver_is_left_between_parts(shape: Polygon) -> None:
    bodies = [
        Body("part", (shape,), 8, QUARTERS),
        Body("tile", (box(0, 0, 33, 21),), 6, QUARTERS),
    ]
    shapes = placed(bodies, matched(bodies).placements)
    tiles = [s.buffer(KERF_MM / 2, join_style="mitre") for s in shapes]
    for i, j in itertools.combinations(range(len(shapes)), 2):
        touching = tiles[i].distance(tiles[j]) <= 1e-4
        assert touching or shapes[i].distance(shapes[j]) >= SPACING_MM - 1e-6


def test_holes_of_the_sheet_are_kept_free() -> None:
    area = box(0, 0, 200, 120).difference(box(50, 30, 80, 90))
    tile = Body("tile", (box(0, 0, 30, 20),), 20, QUARTERS)
    found = match_edges(
        [tile], Counter({0: 20}), area, kerf_mm=KERF_MM, spacing_mm=SPACING_MM, work=1
    )
    assert len(found.placements) == 20
    roomy = area.buffer(1e-6, join_style="mitre")
    assert all(roomy.covers(shape) for shape in placed([tile], found.placements))


def test_sheets_that_take_nothing_stay_empty() -> None:
    found = matched([Body("tile", (box(0, 0, 400, 40),), 2, (0.0,))])
    assert found == EdgeMatching((), 0.0, 0.0)


def test_the_same_parts_are_matched_the_same_way() -> None:
    bodies = [Body("corner", (CORNER,), 9, QUARTERS)]
    wanted = Counter({0: 9})
    one, other = (
        match_edges(bodies, wanted, box(0, 0, 200, 150), kerf_mm=0.1, spacing_mm=1.0, work=120)
        for _ in range(2)
    )
    assert one == other


def test_what_may_not_share_keeps_the_spacing_from_all() -> None:
    tiles = Body("tile", (box(0, 0, 40, 40),), 4, QUARTERS)
    alone = Body("alone", (box(0, 0, 40, 40),), 3, QUARTERS, shares_edges=False)
    found = matched([tiles, alone])
    assert len(found.placements) == 7
    there = placed([tiles, alone], found.placements)
    for (one, p), (other, q) in itertools.combinations(
        zip(there, found.placements, strict=True), 2
    ):
        apart_mm = SPACING_MM if 1 in (p.body, q.body) else KERF_MM
        assert one.distance(other) >= apart_mm - 1e-6
    # four tiles in a column of 160.8 mm, or two by two
    assert found.matched_mm >= 3 * (40.0 + KERF_MM) - 1e-6


def test_where_nothing_may_share_all_keep_the_spacing() -> None:
    found = matched([Body("alone", (box(0, 0, 40, 40),), 5, QUARTERS, shares_edges=False)])
    assert len(found.placements) == 5
    assert found.matched_mm == 0.0
