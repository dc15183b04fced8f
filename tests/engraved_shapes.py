"""Areas that engraving is tried on; all invented."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, box
from shapely.affinity import translate

from kerfwright.geometry.regions import as_area


def square(side_mm: float = 12.0) -> MultiPolygon:
    return as_area(box(100.0, 100.0, 100.0 + side_mm, 100.0 + side_mm))


def disc(radius_mm: float = 6.0) -> MultiPolygon:
    return as_area(Point(110.0, 110.0).buffer(radius_mm, quad_segs=90))


def ring() -> MultiPolygon:
    return as_area(disc(6.0).difference(disc(4.63)))


def comb() -> MultiPolygon:
    teeth = [box(100.0 + 1.3 * i, 102.0, 100.57 + 1.3 * i, 110.0) for i in range(12)]
    return as_area(shapely.union_all([box(100.0, 100.0, 114.87, 102.03), *teeth]))


def islands() -> MultiPolygon:
    holes = [Point(104.0 + 4 * i, 105.0).buffer(1.33, quad_segs=40) for i in range(3)]
    dots = [Point(104.0 + 4 * i, 105.0).buffer(0.61, quad_segs=40) for i in range(3)]
    plate = box(100.0, 101.0, 116.0, 109.0).difference(shapely.union_all(holes))
    return as_area(shapely.union_all([plate, *dots]))


def strokes() -> MultiPolygon:
    lines = [
        LineString([(100.0, 100.0), (108.0, 100.7)]).buffer(0.17),
        LineString([(100.0, 102.0), (108.0, 106.0)]).buffer(0.15, cap_style="flat"),
        LineString([(100.0, 104.0), (101.0, 110.0), (107.0, 110.03)]).buffer(0.2),
    ]
    return as_area(shapely.union_all(lines))


def letters() -> MultiPolygon:
    """A, B and S of 7 mm, with holes, bent strokes and slanted ones."""
    a = Polygon([(0, 0), (2.6, 7), (3.4, 7), (6, 0), (5, 0), (4.3, 2), (1.7, 2), (1, 0)])
    a = a.difference(Polygon([(2.03, 2.9), (3.97, 2.9), (3.0, 5.6)]))
    bows = [Point(1.7, y).buffer(2.0, quad_segs=40) for y in (1.9, 5.1)]
    b = shapely.union_all([*bows, box(0, 0, 0.9, 7)]).intersection(box(0, 0, 5, 7))
    b = b.difference(box(0.9, 2.6, 2.2, 0.95)).difference(box(0.9, 4.4, 2.2, 6.1))
    t = np.linspace(0.0, 1.0, 80)
    s = LineString(np.column_stack([1.8 - 1.5 * np.sin(2 * np.pi * t), 0.4 + 6.2 * t])).buffer(0.43)
    return as_area(
        shapely.union_all([translate(g, 100 + 7 * i, 100) for i, g in enumerate((a, b, s))])
    )


def hairlines() -> MultiPolygon:
    """Thinner than one interval, each by itself."""
    return as_area(
        shapely.union_all(
            [
                box(100.0, 100.0, 110.0, 100.06),
                box(112.0, 100.0, 112.05, 108.0),
                LineString([(100.0, 103.0), (108.0, 108.0)]).buffer(0.03, cap_style="flat"),
                box(100.0, 110.0, 106.0, 114.0),
            ]
        )
    )


SHAPES = {
    "square": square,
    "disc": disc,
    "ring": ring,
    "comb": comb,
    "islands": islands,
    "strokes": strokes,
    "letters": letters,
}


def bordered_sign(width_mm: float = 600.0, height_mm: float = 290.0) -> MultiPolygon:
    """A border 13 mm wide, 10 mm inside the edge of a sign."""
    x, y = 120.0, 100.0
    outer = box(x + 10.0, y + 10.0, x + width_mm - 10.0, y + height_mm - 10.0)
    inner = box(x + 23.0, y + 23.0, x + width_mm - 23.0, y + height_mm - 23.0)
    return as_area(outer.difference(inner))
