"""Shared edges of the seven tangram pieces, whose lengths follow from Pythagoras.

The dissection of the square is the traditional one (common knowledge, no single source): two large
triangles, one of middle size, two small ones, a square and a parallelogram, all cut on a grid of
quarters of the side. With side 1 the perimeters are √2 + 1 for each large triangle, 1 + √2/2 for
the middle one, √2/2 + 1/2 for each small one, √2 for the square and 1 + √2/2 for the
parallelogram: 5 + 5√2 in all.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.cutting.shared_edges import merge_edges
from kerfwright.geometry.affine import rotation, scaling
from kerfwright.geometry.paths import Path

QUARTERS = {
    "large triangle, left": [(0, 0), (2, 2), (0, 4)],
    "large triangle, below": [(0, 0), (4, 0), (2, 2)],
    "middle triangle": [(4, 2), (4, 4), (2, 4)],
    "small triangle, right": [(4, 0), (4, 2), (3, 1)],
    "small triangle, inside": [(2, 2), (3, 3), (1, 3)],
    "square": [(2, 2), (3, 1), (4, 2), (3, 3)],
    "parallelogram": [(0, 4), (1, 3), (3, 3), (2, 4)],
}
SIDE_MM = 80.0
SEPARATE = 5.0 + 5.0 * math.sqrt(2.0)
UNIQUE = (SEPARATE + 4.0) / 2.0
"""In sides of the square: inner edges belong to two pieces, the rim to one."""


def pieces(angle_deg: float) -> list[Path]:
    turn = rotation(angle_deg) @ scaling(SIDE_MM / 4.0, SIDE_MM / 4.0)
    return [
        Path(np.array(corners, dtype=np.float64), closed=True).transformed(turn)
        for corners in QUARTERS.values()
    ]


def test_the_pieces_fill_the_square() -> None:
    areas = [path.signed_area_mm2 / SIDE_MM**2 for path in pieces(0.0)]
    assert areas == pytest.approx([1 / 4, 1 / 4, 1 / 8, 1 / 16, 1 / 16, 1 / 8, 1 / 8])
    assert sum(areas) == pytest.approx(1.0)


@pytest.mark.parametrize("tolerance_mm", [0.01, 0.1])
@pytest.mark.parametrize("angle_deg", [0.0, 45.0, 28.9])
def test_lengths_follow_the_closed_form(angle_deg: float, tolerance_mm: float) -> None:
    merged = merge_edges(pieces(angle_deg), range(7), tolerance_mm)
    assert merged.separate_mm == pytest.approx(SEPARATE * SIDE_MM)
    assert merged.unique_mm == pytest.approx(UNIQUE * SIDE_MM)
    assert merged.shared_mm == pytest.approx((UNIQUE - 4.0) * SIDE_MM)
