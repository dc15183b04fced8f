"""What lies on a sheet slides to the sides asked for, whole, and what is fixed stays."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from kerfwright.nesting.check import check_layouts
from kerfwright.nesting.model import Body, FixedPlace, Layouts, Placement, SheetLayout, SheetSize
from kerfwright.nesting.to_sides import MOST_POLYGONS, slid_to_sides
from kerfwright.shop.order import CompactTo

PLATE = SheetSize("plate", 300.0, 200.0, 1)
CUT_OFF = SheetSize(
    "cut-off", 300.0, 200.0, 1, outline=Polygon([(0, 0), (300, 0), (200, 200), (0, 200)])
)
PAIR = (box(0.0, 0.0, 20.0, 20.0), box(30.0, 30.0, 50.0, 50.0))


def body(*shapes: Polygon, fixed: FixedPlace | None = None) -> Body:
    return Body("pair", shapes, 1, (0.0,), fixed=fixed)


def slid(
    bodies: list[Body],
    sides: list[CompactTo | None],
    spots: list[tuple[float, float]],
    sheet: SheetSize = PLATE,
) -> Layouts:
    placements = tuple(Placement(i, 0.0, x, y) for i, (x, y) in enumerate(spots))
    used = math.fsum(p.area for one in bodies for p in one.footprint) / sheet.area_mm2
    layouts = Layouts((SheetLayout(sheet, placements, used),), {})
    found = slid_to_sides(bodies, sides, layouts, spacing_mm=2.0, margin_mm=5.0)
    assert check_layouts(bodies, found, spacing_mm=2.0, margin_mm=5.0) == ()
    return found


def spots(layouts: Layouts) -> list[tuple[float, float]]:
    return [(p.x_mm, p.y_mm) for p in layouts.sheets[0].placements]


def test_drawings_slide_whole_to_the_corner_and_the_spacing_apart() -> None:
    bodies = [body(*PAIR), body(*PAIR)]
    found = spots(slid(bodies, ["top-right"] * 2, [(5.0, 5.0), (60.0, 5.0)]))
    assert max(found) == pytest.approx((245.0, 145.0))
    # the pairs interlock: one lies a square and the spacing to the left of the other or below it
    assert sum(245.0 - x + 145.0 - y for x, y in found) == pytest.approx(22.0, abs=1e-3)


def test_what_has_no_side_goes_along() -> None:
    bodies = [body(box(0, 0, 20, 20)), body(box(0, 0, 10, 10))]
    found = spots(slid(bodies, ["right", None], [(5.0, 5.0), (27.0, 5.0)]))
    assert [x for x, _ in found] == pytest.approx([295.0 - 20.0 - 12.0, 285.0])


def test_two_sides_on_one_sheet() -> None:
    bodies = [body(box(0, 0, 20, 20)), body(box(0, 0, 10, 10))]
    found = spots(slid(bodies, ["left", "right"], [(100.0, 5.0), (122.0, 5.0)]))
    assert [x for x, _ in found] == pytest.approx([5.0, 285.0])


def test_what_has_a_fixed_place_stays() -> None:
    bodies = [body(box(0, 0, 20, 20), fixed=FixedPlace("plate", 100.0, 5.0)), body(*PAIR)]
    found = spots(slid(bodies, ["left", "left"], [(100.0, 5.0), (150.0, 5.0)]))
    assert found[0] == (100.0, 5.0)
    assert found[1] == pytest.approx((122.0, 5.0))


def test_a_slanting_edge_is_kept() -> None:
    found = slid([body(box(0, 0, 40, 40))], ["top-right"], [(5.0, 5.0)], CUT_OFF)
    placed = shapely.affinity.translate(box(0, 0, 40, 40), *spots(found)[0])
    assert placed.distance(CUT_OFF.material.exterior) == pytest.approx(5.0, abs=1e-3)


def test_many_parts_move_as_one_piece() -> None:
    squares = [
        box(4.0 * i, 4.0 * j, 4.0 * i + 2.0, 4.0 * j + 2.0) for i in range(30) for j in range(20)
    ]
    assert len(squares) > MOST_POLYGONS
    found = spots(slid([body(*squares)], ["top-right"], [(5.0, 5.0)]))
    assert np.array(found[0]) == pytest.approx([295.0 - 118.0, 195.0 - 78.0])


def test_nobody_asks() -> None:
    bodies = [body(*PAIR)]
    assert spots(slid(bodies, [None], [(40.0, 40.0)])) == [(40.0, 40.0)]
