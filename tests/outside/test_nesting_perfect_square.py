"""The perfect squared square of lowest order is found from its squares alone.

A. J. W. Duijvestijn 1978, "Simple perfect squared square of lowest order", *Journal of
Combinatorial Theory, Series B* 25: 21 squares, no two alike, fill a square of side 112.
"""

from __future__ import annotations

from collections import Counter

import shapely
from shapely import box

from kerfwright.nesting.model import Body
from kerfwright.nesting.rectangles import pack_rectangles
from squared_square import BOUWKAMP_CODE, SIDE

SIDES = [side for row in BOUWKAMP_CODE for side in row]


def test_all_squares_fill_the_square() -> None:
    bodies = [Body(f"{side}", (box(0, 0, side, side),), 1, (0.0,)) for side in SIDES]
    area = box(0, 0, SIDE, SIDE)
    placements = pack_rectangles(bodies, Counter(range(21)), area, spacing_mm=0.0, seed=1, work=50)
    assert placements is not None
    assert sorted(p.body for p in placements) == list(range(21))
    placed = [shapely.transform(bodies[p.body].footprint[0], p.transform.apply) for p in placements]
    # by shapely: together they are the square, and their areas add up to no more
    assert shapely.union_all(placed).symmetric_difference(area).area < 1e-6
    assert sum(square.area for square in placed) == SIDE**2


def test_a_unit_less_is_proved_or_left_but_never_filled() -> None:
    bodies = [Body(f"{side}", (box(0, 0, side, side),), 1, (0.0,)) for side in SIDES]
    area = box(0, 0, SIDE - 1, SIDE)
    placements = pack_rectangles(bodies, Counter(range(21)), area, spacing_mm=0.0, seed=1, work=50)
    assert placements is not None
    assert len(placements) < 21
